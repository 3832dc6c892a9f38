//! What is known of the word under the cursor: a part's facts in each state, its limits and their sources; a rule's lesson.

use std::fmt::Write as _;

use crate::design::{Design, DiodeKind, Entity, Index, Kind, Occurrence, Part};
use crate::facts::{Entry, Fact, FactTable, SubjectId, SubjectKind, Value, fact_shown};
use crate::report::{CAUTION, facts_need_caution};
use crate::rules::Rule;
use crate::source::{FileId, Span};
use crate::units::format_quantity;

use super::sheet::{Sheet, Standing};

/// The copies of a stage that are told of one by one.
const COPIES: usize = 2;

/// What to say at a byte of a file, as Markdown, and the word it is about.
pub(super) fn hover(sheet: &Sheet, index: &Index, file: FileId, offset: usize) -> Option<(String, Span)> {
    let found = index.word_at(file, offset)?;
    let text = match &found.entity {
        Entity::Rule { name } => lesson(sheet.bench.rules.rule(name)?),
        Entity::Part { .. } => part(sheet, index, found)?,
        Entity::Net { .. } | Entity::Port { .. } => net(sheet, found)?,
        Entity::Stage { name } => stage(index, name)?,
        Entity::Include { path } => format!("includes `{}`", path.display()),
    };
    Some((text, found.word))
}

/// What was found at a byte of a file, each finding with the lesson of its rule; and the place of the first.
pub(super) fn found_at(sheet: &Sheet, file: FileId, offset: usize) -> Option<(String, Span)> {
    let here = |span: Span| span.file == file && span.start <= offset && offset <= span.end;
    let found: Vec<_> = sheet.report.findings.iter().filter(|finding| here(finding.span)).collect();
    let span = found.first()?.span;
    let mut told: Vec<&str> = Vec::new();
    let mut text = String::new();
    for finding in found {
        let _ = writeln!(text, "- {}: {}", finding.class.word(), finding.message);
        if !told.contains(&finding.rule.as_str()) {
            told.push(&finding.rule);
        }
    }
    for rule in told.into_iter().filter_map(|name| sheet.bench.rules.rule(name)) {
        let _ = write!(text, "\n{}", lesson(rule));
    }
    Some((text, span))
}

/// A rule's lesson as Markdown.
pub(super) fn lesson(rule: &Rule) -> String {
    let mut text = format!(
        "**{}** ({})\n\ndemands `{}`\n\n{}\n",
        rule.name,
        rule.class.word(),
        rule.demand_text,
        rule.lesson.trim()
    );
    if let Some(check) = rule.check() {
        for limit in &check.limits {
            let value = format_quantity(limit.value, limit.dimension);
            let _ = writeln!(text, "\n- limit `{}` {value}: {}", limit.name, limit.meaning);
        }
    }
    for source in &rule.sources {
        let clause = source.clause.as_ref().map_or_else(String::new, |clause| format!(", {clause}"));
        let memory = if source.from_memory { " (from memory)" } else { "" };
        let _ = writeln!(text, "\n- source: {}{clause}{memory}", source.document);
    }
    text
}

/// What stands below figures: what they belong to, and the caution where a voltage can hurt.
fn below(sheet: &Sheet) -> String {
    let mut text = match sheet.standing {
        Standing::Current => String::new(),
        Standing::Stale => "\n*Figures of the last text that could be read whole.*\n".to_owned(),
        Standing::Partial => "\n*Figures without the statements that could not be read.*\n".to_owned(),
    };
    if sheet.facts.as_ref().is_some_and(|facts| facts_need_caution(facts)) {
        let _ = writeln!(text, "\n{CAUTION}");
    }
    text
}

/// The parts that a name of the text stands for: one, or one in each copy of its stage.
fn parts_of<'a>(design: &'a Design, index: &Index, found: &Occurrence) -> Vec<&'a Part> {
    let origin = index.origin(&found.entity).filter(|origin| origin.defines);
    design
        .parts
        .iter()
        .filter(|part| {
            origin.is_some_and(|origin| {
                part.name_span.file == origin.span.file && part.name_span.start == origin.span.start
            })
        })
        .collect()
}

fn part(sheet: &Sheet, index: &Index, found: &Occurrence) -> Option<String> {
    let facts = sheet.facts.as_ref()?;
    let design = sheet.design.as_ref()?;
    let word = sheet.sources.text(found.word);
    let parts = parts_of(design, index, found);
    if parts.is_empty() {
        // A copy of a stage.
        let Entity::Part { name, .. } = &found.entity else { return None };
        let prefix = format!("{name}.");
        let inside: Vec<&str> =
            design.parts.iter().map(|part| part.name.as_str()).filter(|part| part.starts_with(&prefix)).collect();
        return (!inside.is_empty()).then(|| format!("**{name}**: {}", inside.join(", ")));
    }
    let mut text = String::new();
    for part in parts.iter().take(COPIES) {
        let section = |subject: &str| word.split('.').next() == Some(subject) && subject != part.name;
        let mine: Vec<SubjectId> = subjects(facts, |subject| {
            subject.part.as_deref() == Some(&part.name)
                && subject.kind != SubjectKind::Terminal
                && subject.kind != SubjectKind::Net
        });
        let one: Vec<SubjectId> = mine
            .iter()
            .copied()
            .filter(|id| facts.subject(*id).is_some_and(|subject| section(&subject.name)))
            .collect();
        for id in if one.is_empty() { mine } else { one } {
            table(&mut text, facts, id);
        }
        sources(&mut text, sheet, part);
    }
    if parts.len() > COPIES {
        let _ = writeln!(text, "\n… and {} more copies", parts.len() - COPIES);
    }
    terminal(&mut text, facts, word);
    text.push_str(&below(sheet));
    Some(text)
}

fn subjects(facts: &FactTable, wanted: impl Fn(&crate::facts::Subject) -> bool) -> Vec<SubjectId> {
    facts
        .subjects
        .iter()
        .enumerate()
        .filter(|(_, subject)| wanted(subject))
        .map(|(index, _)| SubjectId(index))
        .collect()
}

/// The voltage at a terminal, where the word names one.
fn terminal(text: &mut String, facts: &FactTable, word: &str) {
    for id in subjects(facts, |subject| subject.kind == SubjectKind::Terminal && subject.name == word) {
        table(text, facts, id);
    }
}

fn net(sheet: &Sheet, found: &Occurrence) -> Option<String> {
    let facts = sheet.facts.as_ref()?;
    let design = sheet.design.as_ref()?;
    let mut text = String::new();
    let joined = design.parts.iter().flat_map(|part| part.connections.iter().map(move |join| (part, join)));
    let mut told = 0;
    for (part, join) in joined.filter(|(_, join)| join.to.span == found.word) {
        let label = part.terminal_label(&join.terminal);
        for id in subjects(facts, |subject| subject.kind == SubjectKind::Terminal && subject.name == label) {
            if told < COPIES {
                table(&mut text, facts, id);
                told += 1;
            }
        }
    }
    if told == 0 {
        let name = sheet.sources.text(found.span);
        for id in subjects(facts, |subject| subject.kind == SubjectKind::Net && subject.name == name) {
            table(&mut text, facts, id);
        }
    }
    if text.is_empty() {
        return None;
    }
    text.push_str(&below(sheet));
    Some(text)
}

fn stage(index: &Index, name: &str) -> Option<String> {
    let names = index.scopes.get(&Some(name.to_owned()))?;
    let fitted: Vec<&str> = index
        .scopes
        .values()
        .flat_map(|scope| scope.copies.iter().filter(|(_, stage)| *stage == name).map(|(copy, _)| copy.as_str()))
        .collect();
    Some(format!("stage **{name}**, ports {}; fitted as {}", names.ports.join(", "), fitted.join(", ")))
}

/// The facts of a subject, each with its value in every state of the design as drawn.
fn table(text: &mut String, facts: &FactTable, id: SubjectId) {
    let Some(subject) = facts.subject(id) else { return };
    let _ = writeln!(text, "**{}** ({})\n\n| fact | value | |\n|---|---|---|", subject.name, subject.kind.word());
    for (_, name, entry) in facts.iter().filter(|(of, _, _)| *of == id) {
        match entry {
            Entry::Known(fact) => {
                let note = if fact.estimated { "estimated" } else { "" };
                let _ = writeln!(text, "| {name} | {} | {note} |", values(name, fact));
            }
            Entry::Failed { reason } => {
                let _ = writeln!(text, "| {name} | not known | {} |", reason.replace('|', "\\|"));
            }
        }
    }
    text.push('\n');
}

fn values(name: &str, fact: &Fact) -> String {
    let show = |value: &Value| match value {
        Value::Quantity(number) => fact_shown(name, *number),
        Value::Flag(flag) => if *flag { "yes" } else { "no" }.to_owned(),
        Value::Word(word) => word.clone(),
    };
    let drawn = fact.samples.iter().filter(|sample| sample.lineup == 0);
    let mut shown: Vec<String> = Vec::new();
    for sample in drawn {
        let value = show(&sample.value);
        shown.push(match (sample.state, &sample.empty_socket) {
            (Some(state), Some(socket)) => format!("{value} {} {socket}", state.name()),
            (Some(state), None) => format!("{value} {}", state.name()),
            (None, _) => value,
        });
    }
    let worst = fact
        .worst_sample()
        .filter(|worst| worst.lineup != 0)
        .map(|worst| format!("worst {} with another tube", show(&worst.value)));
    shown.extend(worst);
    shown.join("<br>")
}

/// The documents that the figures of a device come from.
fn sources(text: &mut String, sheet: &Sheet, part: &Part) {
    let catalogue = &sheet.bench.catalogue;
    let documents = match &part.kind {
        Kind::Tube(tube) => catalogue.tube(&tube.canonical).map(|entry| &entry.sources),
        Kind::Diode(diode) => match &diode.kind {
            DiodeKind::Plain(device) => catalogue.diode(&device.value).map(|entry| &entry.sources),
            DiodeKind::Led(colour) => catalogue.led(&colour.value).map(|entry| &entry.sources),
            DiodeKind::Zener(_) => None,
        },
        Kind::Bridge(bridge) => catalogue.diode(&bridge.device.value).map(|entry| &entry.sources),
        _ => None,
    };
    for source in documents.into_iter().flatten() {
        let memory = if source.from_memory { " (from memory)" } else { "" };
        let _ = writeln!(text, "- source: {}{memory}", source.document);
    }
}
