//! What a rule says besides judging: lesson, sources, examples.

use crate::source::{Complaint, Scalar, Span, Statement};

use super::super::rule::{Example, RuleSource, Verdict};
use super::Reader;

/// The prose of a rule.
pub(super) struct Prose {
    pub(super) lesson: String,
    pub(super) sources: Vec<RuleSource>,
    pub(super) examples: Vec<Example>,
}

pub(super) fn read_prose(statement: &Statement, reader: &mut Reader<'_>) -> Prose {
    let lesson = reader
        .single(statement, "lesson")
        .and_then(|child| reader.argument(child, 0, "the lesson's text"))
        .map(|quoted| level(&quoted.text))
        .unwrap_or_default();
    let mut sources = Vec::new();
    let mut examples = Vec::new();
    for child in &statement.children {
        match child.name.value.as_str() {
            "source" => sources.extend(read_source(child, reader)),
            "example" => examples.extend(read_example(child, reader)),
            _ => {}
        }
    }
    Prose { lesson, sources, examples }
}

/// The text without the indentation that all its lines share.
fn level(text: &str) -> String {
    let indentation = text
        .lines()
        .filter(|line| !line.trim().is_empty())
        .map(|line| line.len() - line.trim_start().len())
        .min()
        .unwrap_or(0);
    let lines: Vec<&str> = text.lines().map(|line| line.get(indentation..).unwrap_or("").trim_end()).collect();
    lines.join("\n").trim().to_owned()
}

pub(in super::super) fn read_source(child: &Statement, reader: &mut Reader<'_>) -> Option<RuleSource> {
    reader.only_properties(child, &["from-memory"]);
    let document = reader.argument(child, 0, "the document's name")?;
    let clause = match child.argument(1).map(|value| &value.value) {
        Some(Scalar::Text(clause)) => Some(clause.clone()),
        _ => None,
    };
    let from_memory = matches!(child.property("from-memory").map(|p| &p.value.value), Some(Scalar::Flag(true)));
    Some(RuleSource { document: document.text, clause, from_memory })
}

fn read_example(child: &Statement, reader: &mut Reader<'_>) -> Option<Example> {
    reader.only_properties(child, &["at"]);
    let kind = reader.argument(child, 0, "`holds` or `breaks`")?;
    let holds = match kind.text.as_str() {
        "holds" => true,
        "breaks" => false,
        other => {
            reader.complain(Complaint::at(
                kind.span,
                format!("an example `holds` or `breaks`, it cannot be `{other}`"),
                "here",
            ));
            return None;
        }
    };
    let design = reader.argument(child, 1, "the design fragment")?;
    let at = match child.property("at").map(|p| &p.value.value) {
        Some(Scalar::Text(fact)) => Some(fact.clone()),
        _ => None,
    };
    if !holds && at.is_none() {
        reader.complain(
            Complaint::at(child.name.span, "an example that breaks the rule must say where", "`at=` is missing")
                .help("name the fact whose place the finding points at: at=\"rated-voltage\""),
        );
    }
    Some(Example { holds, design: level(&design.text), at, span: child.name.span })
}

/// A rule of the built-in set teaches, names its source and proves itself.
pub(super) fn must_prove_itself(prose: &Prose, verdict: &Verdict, place: Span, reader: &mut Reader<'_>) {
    let judged = matches!(verdict, Verdict::Demand(_));
    let missing = [
        (prose.lesson.is_empty(), "lesson"),
        (prose.sources.is_empty(), "source"),
        (judged && !prose.examples.iter().any(|e| e.holds), "example that holds"),
        (judged && prose.examples.iter().all(|e| e.holds), "example that breaks it"),
    ];
    for (absent, what) in missing {
        if absent {
            reader.complain(Complaint::at(
                place,
                format!("the rule has no {what}"),
                format!("a {what} is wanted of every built-in rule"),
            ));
        }
    }
}
