//! The reference of the rules: what each demands, why, from where, and what the derating sets change, as one page.
//!
//! GitHub-flavoured Markdown, by topic, in order of name. Says nothing of a design.

use super::lesson::{LessonSheet, SourceNote, paragraphs};
use super::markdown::{code, escaped};

/// What the page is made of.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Reference {
    /// The rules, in order of name.
    pub rules: Vec<ReferenceRule>,
    /// The derating sets, in order of name.
    pub sets: Vec<DeratingSheet>,
}

/// A rule as the page tells it.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferenceRule {
    /// Its lesson sheet.
    pub sheet: LessonSheet,
    /// Its remedies, as written.
    pub remedies: Vec<String>,
}

/// A derating set as the page tells it.
#[derive(Clone, Debug, PartialEq)]
pub struct DeratingSheet {
    /// The name by which a workshop chooses it.
    pub name: String,
    /// What it is.
    pub about: String,
    /// Each rule and limit with its value and where that comes from.
    pub settings: Vec<(String, String, String, Vec<SourceNote>)>,
}

const HEAD: &str = "# The rules

Made from the rule files by `coldcheck prove --reference`; a test of the project keeps `rules/README.md` in step. Text in braces is \
worked out for the design at hand: `{shelf(…)}` is the next rating on the shelf. A source marked *from memory* was \
written down without the document at hand. `coldcheck why RULE` prints the whole lesson with examples.

A rule that holds says nothing about workmanship or the parts as they are. Tube amplifiers hold voltages that kill: \
measure before touching, follow local codes, and leave mains work to those licensed for it.
";

/// The page.
#[must_use]
pub fn reference_as_markdown(reference: &Reference) -> String {
    let mut page = HEAD.to_owned();
    page.push_str(&contents(reference));
    let mut topic = "";
    for rule in &reference.rules {
        let (own, _) = rule.sheet.name.split_once('/').unwrap_or((&rule.sheet.name, ""));
        if own != topic {
            page.push_str(&format!("\n## {own}\n"));
            topic = own;
        }
        page.push_str(&chapter(rule));
    }
    if !reference.sets.is_empty() {
        page.push_str(
            "\n## Derating sets\n\nLimits set together. A workshop chooses one in `coldcheck.kdl` with \
             `derating \"NAME\"`; its own `adjust` lines win. The figures are reliability practice: what exceeds one is \
             a hint, not a fault.\n",
        );
    }
    for set in &reference.sets {
        page.push_str(&derating(set));
    }
    page
}

fn contents(reference: &Reference) -> String {
    let mut table = "\n| rule | class | about |\n|---|---|---|\n".to_owned();
    for ReferenceRule { sheet, .. } in &reference.rules {
        let anchor = sheet.name.replace('/', "");
        table.push_str(&format!("| [{}](#{anchor}) | {} | {} |\n", sheet.name, sheet.class.word(), sheet.about));
    }
    table
}

fn chapter(rule: &ReferenceRule) -> String {
    let sheet = &rule.sheet;
    let mut text = format!("\n### {}\n\n*{}*, about each {}.\n\n", sheet.name, sheet.class.word(), sheet.about);
    if let Some(when) = &sheet.when {
        text.push_str(&format!("- judged where: {}\n", code(when)));
    }
    text.push_str(&format!("- demands: {}\n", code(&sheet.demand)));
    for (class, when) in &sheet.raised {
        text.push_str(&format!("- raised to *{}* where: {}\n", class.word(), code(when)));
    }
    for limit in &sheet.limits {
        let adjusted = limit.adjusted_from.as_ref().map(|value| format!(" ({value} as built in)")).unwrap_or_default();
        let name = code(&limit.name);
        text.push_str(&format!("- limit {name} = {}{adjusted}: {}\n", limit.value, escaped(&limit.meaning)));
    }
    for remedy in &rule.remedies {
        text.push_str(&format!("- remedy: {}\n", escaped(remedy)));
    }
    for source in &sheet.sources {
        text.push_str(&format!("- source: {}\n", note(source)));
    }
    if let Some(first) = paragraphs(&sheet.lesson).first() {
        text.push_str(&format!("\n{}\n", escaped(first.trim())));
    }
    text
}

fn note(source: &SourceNote) -> String {
    let detail = source.detail.as_ref().map(|detail| format!(": {}", escaped(detail))).unwrap_or_default();
    let memory = if source.from_memory { " *(from memory)*" } else { "" };
    format!("{}{detail}{memory}", escaped(&source.title))
}

fn derating(set: &DeratingSheet) -> String {
    let mut text = format!("\n### {}\n\n{}.\n\n", set.name, escaped(&set.about));
    text.push_str("| rule | limit | value | clause |\n|---|---|---|---|\n");
    for (rule, limit, value, sources) in &set.settings {
        let clauses = sources.iter().map(note).collect::<Vec<_>>().join("; ");
        text.push_str(&format!("| {rule} | {limit} | {value} | {clauses} |\n"));
    }
    text
}
