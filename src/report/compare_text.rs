//! Two revisions compared, for people at a terminal.

use crate::facts::{SubjectKind, Value, ValueKind, fact_shown};
use crate::findings::{Moved, Turn};
use crate::units::Dimension;

use super::compare_stream::Compared;
use super::place::region_text;
use super::presentation::{Presentation, one_line, plural};
use super::text::told;

/// So many moved facts are shown in a text; JSON shows all.
const MOVED_SHOWN: usize = 12;

/// What has changed in one design; empty where there is nothing to tell.
pub(super) fn compared_as_text(compared: Compared<'_>, presentation: Presentation) -> String {
    if compared.is_silent() {
        return String::new();
    }
    let report = compared.new.or(compared.old).map(|(report, _)| report);
    let name = report.map_or("", |report| report.name.as_str());
    let revisions = compared.revisions().map(|text| format!(", {}", one_line(&text))).unwrap_or_default();
    let mut output = format!("{}{revisions} ({})", presentation.strong(&one_line(name)), compared.path);
    if let Some(standing) = compared.standing() {
        output.push_str(&format!(": {standing}"));
    }
    output.push('\n');
    let mut add = |text: &str, indent: usize| {
        output.push_str(&presentation.paragraph(&one_line(text), indent));
        output.push('\n');
    };
    for change in &compared.comparison.changes {
        let (Some(finding), Some(sources)) = (change.finding(), compared.sources(change.turn)) else { continue };
        let waived = if finding.waived.is_some() && change.turn != Turn::Waived { ", waived" } else { "" };
        let place = region_text(sources, finding.span);
        let words = change.turn.words();
        let told = told(finding);
        add(&format!("{words}{waived}: {} {} at {place}: {told}", finding.class.word(), finding.rule), 2);
        for because in &change.because {
            add(because, 6);
        }
        if let Some(remedy) = finding.remedy_told().filter(|_| matches!(change.turn, Turn::New | Turn::Worse)) {
            add(&format!("remedy: {remedy}"), 6);
        }
    }
    for open in &compared.comparison.no_longer_judged {
        add(&format!("not judged now: {} {}: {}", open.rule, open.part, open.reason), 2);
    }
    for (word, parts) in [("added", &compared.comparison.added), ("removed", &compared.comparison.removed)] {
        if !parts.is_empty() {
            add(&format!("{word}: {}", parts.join(", ")), 2);
        }
    }
    let moved = moved_lines(&compared.comparison.moved);
    for line in moved.iter().take(MOVED_SHOWN) {
        add(&format!("moved: {line}"), 2);
    }
    if moved.len() > MOVED_SHOWN {
        add(&format!("and {} more moved (`--as json` shows each)", moved.len() - MOVED_SHOWN), 2);
    }
    let unchanged = compared.comparison.unchanged;
    if unchanged > 0 {
        add(&format!("{unchanged} {} unchanged", plural(unchanged, "finding", "findings")), 2);
    }
    output.push('\n');
    output
}

/// One line a fact that moved, what a builder listens to first: outputs, then tubes, then the other figures, then what
/// follows from the connections and the values alone; within each those that moved furthest first. Copies that moved alike
/// share a line.
pub(super) fn moved_lines(moved: &[Moved]) -> Vec<String> {
    let mut sorted: Vec<&Moved> = moved.iter().collect();
    let distance = |one: &Moved| one.share().map_or(0.0, f64::abs);
    sorted.sort_by(|a, b| rank(a).cmp(&rank(b)).then_with(|| distance(b).total_cmp(&distance(a))));
    let mut lines: Vec<(Vec<&str>, &str, String)> = Vec::new();
    for one in sorted {
        let change = change_text(one);
        match lines.iter_mut().find(|(_, fact, known)| *fact == one.fact.name && *known == change) {
            Some((subjects, ..)) => subjects.push(&one.subject),
            None => lines.push((vec![&one.subject], one.fact.name, change)),
        }
    }
    lines.into_iter().map(|(subjects, fact, change)| format!("{} {fact}: {change}", listed(&subjects))).collect()
}

/// Where a fact stands in the telling.
fn rank(moved: &Moved) -> u8 {
    let computed = !matches!(moved.fact.analysis, "connectivity" | "stated" | "standard" | "catalogue");
    match (computed, moved.kind) {
        (true, SubjectKind::Output) => 0,
        (true, SubjectKind::Tube | SubjectKind::Net) if moved.fact.value == ValueKind::Quantity(Dimension::VOLTAGE) => {
            1
        }
        (true, SubjectKind::Tube) => 2,
        (true, _) if moved.fact.value != ValueKind::Word => 3,
        _ => 4,
    }
}

/// `left.R3 and right.R3`; of many the first two.
fn listed(subjects: &[&str]) -> String {
    match subjects {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [one, other] => format!("{one} and {other}"),
        [one, other, third] => format!("{one}, {other} and {third}"),
        [one, other, rest @ ..] => format!("{one}, {other} and {} more", rest.len()),
    }
}

/// `338.1 V → 389.2 V (+15 %)`.
fn change_text(moved: &Moved) -> String {
    let value = |value: &Value| match value {
        Value::Quantity(number) => fact_shown(moved.fact.name, *number),
        Value::Flag(flag) => if *flag { "yes" } else { "no" }.to_owned(),
        Value::Word(word) => word.clone(),
    };
    let share = moved.share().map(|share| {
        let percent = (share * 100.0).abs();
        let sign = if share < 0.0 { "−" } else { "+" };
        if percent >= 1000.0 { format!("{sign}{percent:.0e} %") } else { format!("{sign}{percent:.0} %") }
    });
    let share = share.map(|share| format!(" ({share})")).unwrap_or_default();
    format!("{} → {}{share}", value(&moved.before), value(&moved.after))
}
