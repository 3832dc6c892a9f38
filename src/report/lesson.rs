//! What a rule teaches, and how the proving of the rules went.

use crate::findings::Class;

use super::presentation::{Presentation, plural};

/// A rule as it is explained.
#[derive(Clone, Debug, PartialEq)]
pub struct LessonSheet {
    /// Its name.
    pub name: String,
    /// The consequence of breaking it.
    pub class: Class,
    /// The word for what it is about.
    pub about: String,
    /// The condition under which it is judged, as written.
    pub when: Option<String>,
    /// What it demands, as written.
    pub demand: String,
    /// What makes it more serious: the class it then has, and when.
    pub raised: Vec<(Class, String)>,
    /// Its limits.
    pub limits: Vec<Limit>,
    /// The lesson, as written: paragraphs set apart by blank lines.
    pub lesson: String,
    /// Where its figures come from.
    pub sources: Vec<SourceNote>,
    /// Its first example that keeps it, and its first that breaks it, as written.
    pub examples: Vec<(String, String)>,
}

/// A limit of a rule, which a workshop may adjust.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Limit {
    /// Its name.
    pub name: String,
    /// Its value in force, with unit.
    pub value: String,
    /// The built-in value, where the workshop has adjusted it.
    pub adjusted_from: Option<String>,
    /// The derating set that gave the value, with the clauses that it names.
    pub derated: Option<(String, Vec<SourceNote>)>,
    /// One line.
    pub meaning: String,
}

/// Where a figure comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SourceNote {
    /// The document.
    pub title: String,
    /// The place in it, or what it says.
    pub detail: Option<String>,
    /// Whether it was written down without the document at hand.
    pub from_memory: bool,
}

impl SourceNote {
    /// The document, the place in it, and whether it was recalled.
    pub(super) fn told(&self) -> String {
        let detail = self.detail.as_ref().map(|detail| format!(": {detail}")).unwrap_or_default();
        let memory = if self.from_memory { " (from memory, not from the document)" } else { "" };
        format!("{}{detail}{memory}", self.title)
    }
}

/// How the examples of the rules came out.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Proofs {
    /// How many rules were proved.
    pub rules: usize,
    /// How many examples were run.
    pub examples: usize,
    /// What came out otherwise than the rule says: the rule, and a sentence; in order of rule.
    pub failures: Vec<(String, String)>,
}

/// The lesson of a rule.
#[must_use]
pub fn lesson_as_text(sheet: &LessonSheet, presentation: Presentation) -> String {
    let mut output = format!(
        "{} ({}, about each {})\n\n",
        presentation.strong(&sheet.name),
        presentation.class(sheet.class),
        sheet.about
    );
    let mut labelled = |label: &str, text: &str| {
        output.push_str(&presentation.wrap(&format!("{label} {text}"), label.len() + 1));
        output.push('\n');
    };
    labelled("demands:", &sheet.demand);
    if let Some(when) = &sheet.when {
        labelled("judged where:", when);
    }
    for (class, when) in &sheet.raised {
        labelled(&format!("raised to {}:", class.word()), when);
    }
    for limit in &sheet.limits {
        let adjusted = limit
            .adjusted_from
            .as_ref()
            .map(|value| match &limit.derated {
                Some((set, _)) => format!(" (by the derating set {set}; {value} as built in)"),
                None => format!(" (adjusted by the workshop; {value} as built in)"),
            })
            .unwrap_or_default();
        labelled("limit:", &format!("{} = {}{adjusted}, {}", limit.name, limit.value, limit.meaning));
        for source in limit.derated.iter().flat_map(|(_, sources)| sources) {
            labelled("  by:", &source.told());
        }
    }
    for paragraph in paragraphs(&sheet.lesson) {
        output.push('\n');
        output.push_str(&presentation.paragraph(&paragraph, 0));
        output.push('\n');
    }
    if !sheet.sources.is_empty() {
        output.push('\n');
    }
    for source in &sheet.sources {
        output.push_str(&presentation.wrap(&format!("source: {}", source.told()), 8));
        output.push('\n');
    }
    for (kind, text) in &sheet.examples {
        output.push_str(&format!("\nexample that {kind}:\n"));
        for line in unindented(text) {
            output.push_str(format!("    {line}").trim_end());
            output.push('\n');
        }
    }
    output
}

/// How the proving of the rules went: what failed, then the counts.
#[must_use]
pub fn proofs_as_text(proofs: &Proofs, presentation: Presentation) -> String {
    let mut output = String::new();
    let mut failed = 0;
    let mut last = None;
    for (rule, failure) in &proofs.failures {
        if last != Some(rule) {
            output.push_str(&format!("{}\n", presentation.strong(rule)));
            failed += 1;
            last = Some(rule);
        }
        output.push_str(&presentation.paragraph(failure, 2));
        output.push('\n');
    }
    let result = if failed == 0 {
        "each gives what its rule says".to_owned()
    } else {
        format!("{failed} {}", plural(failed, "rule does not prove itself", "rules do not prove themselves"))
    };
    output.push_str(&format!(
        "{} {}, {} {}: {result}\n",
        proofs.rules,
        plural(proofs.rules, "rule", "rules"),
        proofs.examples,
        plural(proofs.examples, "example", "examples"),
    ));
    output
}

/// The paragraphs of a text that blank lines set apart, each on one line.
pub(super) fn paragraphs(text: &str) -> Vec<String> {
    let mut paragraphs = vec![String::new()];
    for line in text.lines() {
        if line.trim().is_empty() {
            paragraphs.push(String::new());
        } else if let Some(last) = paragraphs.last_mut() {
            last.push_str(line.trim());
            last.push(' ');
        }
    }
    paragraphs.retain(|paragraph| !paragraph.is_empty());
    paragraphs
}

/// The lines without the blanks that all of them begin with, and without empty lines at either end.
fn unindented(text: &str) -> Vec<&str> {
    let mut lines: Vec<&str> = text.lines().skip_while(|line| line.trim().is_empty()).collect();
    while lines.last().is_some_and(|line| line.trim().is_empty()) {
        lines.pop();
    }
    let indent = lines
        .iter()
        .filter(|line| !line.trim().is_empty())
        .map(|line| line.len() - line.trim_start().len())
        .min()
        .unwrap_or(0);
    lines.into_iter().map(|line| line.get(indent..).unwrap_or_else(|| line.trim_start())).collect()
}
