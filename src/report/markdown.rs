//! A summary fit for a pull request: counts, findings by design with their remedies, the rest folded away.
//!
//! GitHub-flavoured Markdown. Code-hosting services cut comments off at 65,536 characters, so what does not fit is
//! counted instead of shown; nothing is counted wrong.

use crate::findings::{Class, Finding};
use crate::source::{Complaint, Severity, Sources};

use super::caution::CAUTION;
use super::outcome::DesignOutcome;
use super::place::region_text;
use super::presentation::{one_line, plural};
use super::summary::{BOUNDS, UNKNOWN, gathered, spread_told};
use super::text::told;

/// What a summary may hold, in bytes, with room left for what surrounds it in a comment.
const MOST: usize = 56_000;

/// One design, rendered.
#[derive(Clone, Debug)]
pub(super) struct Chapter {
    counts: [usize; 4],
    waived: usize,
    not_judged: usize,
    unread: usize,
    row: String,
    body: String,
}

impl Chapter {
    /// Renders a design.
    pub(super) fn of(entry: DesignOutcome<'_>) -> Self {
        let design = entry.report;
        let counts = Class::ALL
            .map(|class| design.findings.iter().filter(|one| one.class == class && one.waived.is_none()).count());
        let waived = design.findings.iter().filter(|one| one.waived.is_some()).count();
        let unread = design.complaints.iter().filter(|one| one.severity == Severity::Error).count();
        let path = design.path.display().to_string();
        let not_judged = design.not_judged.len();
        let cells: Vec<String> = counts.iter().chain([&waived, &not_judged, &unread]).map(usize::to_string).collect();
        let mut chapter = Self {
            counts,
            waived,
            not_judged,
            unread,
            row: format!("| {} | {} |\n", code(&path), cells.join(" | ")),
            body: String::new(),
        };
        if chapter.says_something() || design.highest_voltage.is_none() {
            chapter.body = body(entry, &path);
        }
        chapter
    }

    fn says_something(&self) -> bool {
        self.counts.iter().sum::<usize>() + self.waived + self.not_judged + self.unread > 0
    }
}

/// The summary of a run on its way: what fits is kept, the rest is counted.
#[derive(Clone, Debug, Default)]
pub(super) struct Digest {
    designs: usize,
    counts: [usize; 4],
    waived: usize,
    unread: usize,
    rows: String,
    rows_left_out: usize,
    silent: usize,
    bodies: String,
    bodies_left_out: usize,
}

impl Digest {
    /// Takes the next design.
    pub(super) fn add(&mut self, chapter: Chapter) {
        self.designs += 1;
        for (total, count) in self.counts.iter_mut().zip(chapter.counts) {
            *total += count;
        }
        self.waived += chapter.waived;
        self.unread += chapter.unread;
        if !chapter.says_something() {
            self.silent += 1;
        } else if self.rows.len() + chapter.row.len() < MOST / 4 {
            self.rows.push_str(&chapter.row);
        } else {
            self.rows_left_out += 1;
        }
        if chapter.body.is_empty() {
            return;
        }
        if self.bodies.len() + chapter.body.len() < MOST / 4 * 3 {
            self.bodies.push_str(&chapter.body);
        } else {
            self.bodies_left_out += 1;
        }
    }

    /// The whole summary.
    pub(super) fn written(&self, complaints: &[Complaint], sources: &Sources, dangerous: bool) -> String {
        let mut output = format!("## Cold check: {}\n\n", counted(self.counts));
        let waived = if self.waived > 0 { format!("; {} waived", self.waived) } else { String::new() };
        output.push_str(&format!(
            "{} {} inspected{waived}.\n\n",
            self.designs,
            plural(self.designs, "design", "designs")
        ));
        output.push_str(&complaint_list(complaints, sources));
        if self.unread > 0 {
            output.push_str(&format!(
                "**{} {} could not be read**, so what depends on {} was not judged.\n\n",
                self.unread,
                plural(self.unread, "statement", "statements"),
                plural(self.unread, "it", "them"),
            ));
        }
        if !self.rows.is_empty() {
            output.push_str(
                "| design | hazard | overstress | malfunction | refinement | waived | not judged | unread |\n",
            );
            output.push_str("|---|--:|--:|--:|--:|--:|--:|--:|\n");
            output.push_str(&self.rows);
            output.push('\n');
        }
        if self.rows_left_out > 0 {
            let designs = plural(self.rows_left_out, "design has", "designs have");
            output.push_str(&format!("{} more {designs} no room in this table.\n\n", self.rows_left_out));
        }
        if self.silent > 0 {
            let designs = plural(self.silent, "design", "designs");
            output.push_str(&format!("{} {designs} with nothing found by the rules judged.\n\n", self.silent));
        }
        output.push_str(&self.bodies);
        if self.bodies_left_out > 0 {
            let designs = plural(self.bodies_left_out, "design has", "designs have");
            output.push_str(&format!(
                "The findings of {} more {designs} no room here; the other formats show them all.\n\n",
                self.bodies_left_out
            ));
        }
        output.push_str(&ending(dangerous));
        output
    }
}

/// Complaints of no design, as a list; empty where there are none.
pub(super) fn complaint_list(complaints: &[Complaint], sources: &Sources) -> String {
    if complaints.is_empty() {
        return String::new();
    }
    let items: String = complaints
        .iter()
        .map(|complaint| {
            let word = match complaint.severity {
                Severity::Error => "**could not be read**",
                Severity::Warning => "remark",
            };
            let place =
                complaint.span.map(|span| format!(" {}", code(&region_text(sources, span)))).unwrap_or_default();
            let help = complaint.help.as_ref().map(|help| format!(" ({})", escaped(help))).unwrap_or_default();
            format!("- {word}{place}: {}{help}\n", escaped(&complaint.message))
        })
        .collect();
    items + "\n"
}

/// What stands at the end of every summary.
pub(super) fn ending(dangerous: bool) -> String {
    let caution = if dangerous { format!("> **{CAUTION}**\n>\n") } else { String::new() };
    format!("{caution}> {BOUNDS}\n")
}

/// The counts in words, by class: those that are there, or that there are none.
pub(super) fn counted(counts: [usize; 4]) -> String {
    let words: Vec<String> = Class::ALL
        .into_iter()
        .zip(counts)
        .filter(|(_, count)| *count > 0)
        .map(|(class, count)| format!("{count} {}", class.word()))
        .collect();
    if words.is_empty() { "nothing found by the rules judged".to_owned() } else { words.join(", ") }
}

/// One finding as an item of a list, with its remedy.
pub(super) fn item(finding: &Finding, sources: &Sources) -> String {
    let remedy = finding.remedy_told().map(|remedy| format!("  - remedy: {}\n", escaped(&remedy)));
    format!("- {}\n{}", headline(finding, sources), remedy.unwrap_or_default())
}

/// One finding on one line.
pub(super) fn headline(finding: &Finding, sources: &Sources) -> String {
    format!(
        "**{}** {} at {}: {}",
        finding.class.word(),
        code(&finding.rule),
        code(&region_text(sources, finding.span)),
        escaped(&told(finding)),
    )
}

/// A part that is folded away until somebody opens it; empty where there is nothing in it.
pub(super) fn folded(title: &str, content: &str) -> String {
    if content.is_empty() {
        return String::new();
    }
    format!("<details><summary>{title}</summary>\n\n{content}\n</details>\n\n")
}

/// A text as code.
pub(super) fn code(text: &str) -> String {
    let text = one_line(text).replace('|', "¦");
    if text.contains('`') { format!("`` {text} ``") } else { format!("`{text}`") }
}

/// A text from a design, made harmless in Markdown: no markup, no HTML, no mention of anybody.
pub(super) fn escaped(text: &str) -> String {
    let mut output = String::new();
    for c in one_line(text).chars() {
        match c {
            '<' => output.push_str("&lt;"),
            '>' => output.push_str("&gt;"),
            '&' => output.push_str("&amp;"),
            '@' => output.push_str("&#64;"),
            '\\' | '`' | '*' | '_' | '{' | '}' | '[' | ']' | '#' | '|' | '~' => {
                output.push('\\');
                output.push(c);
            }
            c => output.push(c),
        }
    }
    output
}

fn body(entry: DesignOutcome<'_>, path: &str) -> String {
    let (design, sources) = (entry.report, entry.sources);
    let revision = design.revision.as_ref().map(|text| format!(", revision {}", escaped(text))).unwrap_or_default();
    let mut output = format!("### {}{revision}\n\n{}\n\n", escaped(&design.name), code(path));
    output.push_str(&complaint_list(&design.complaints, sources));
    if design.highest_voltage.is_none() {
        output.push_str(&format!("**{UNKNOWN}**\n\n"));
    }
    for line in spread_told(design) {
        output.push_str(&format!("{}\n\n", escaped(&line)));
    }
    let of = |class: Class| design.findings.iter().filter(move |one| one.class == class && one.waived.is_none());
    let listed = |classes: &[Class]| -> String {
        classes.iter().flat_map(|class| of(*class)).map(|finding| item(finding, sources)).collect()
    };
    let open = listed(&[Class::Hazard, Class::Overstress, Class::Malfunction]);
    if !open.is_empty() {
        output.push_str(&open);
        output.push('\n');
    }
    let count = of(Class::Refinement).count();
    let title = format!("{count} {}", plural(count, "refinement", "refinements"));
    output.push_str(&folded(&title, &listed(&[Class::Refinement])));
    let places: String =
        design.findings.iter().filter(|one| one.waived.is_none()).map(|one| places(one, sources)).collect();
    output.push_str(&folded("Where the figures come from", &places));
    let waived: Vec<String> = design
        .findings
        .iter()
        .filter_map(|finding| {
            let waiver = finding.waived.as_ref()?;
            let until = waiver.until.as_ref().map(|until| format!(" (until {})", escaped(until))).unwrap_or_default();
            Some(format!("{}  - accepted because {}{until}\n", item(finding, sources), escaped(&waiver.because)))
        })
        .collect();
    output.push_str(&folded(&format!("{} waived", waived.len()), &waived.concat()));
    let open: String = gathered(design)
        .iter()
        .map(|((rule, reason), parts)| {
            format!("- {} ({}): {}\n", code(rule), escaped(&parts.join(", ")), escaped(reason))
        })
        .collect();
    output.push_str(&folded(&format!("{} not judged", design.not_judged.len()), &open));
    output
}

fn places(finding: &Finding, sources: &Sources) -> String {
    if finding.labels.is_empty() {
        return String::new();
    }
    let mut output = format!("- {} {}\n", code(&finding.rule), escaped(&finding.part));
    for label in &finding.labels {
        output.push_str(&format!("  - {} {}\n", code(&region_text(sources, label.span)), escaped(&label.text)));
    }
    output
}
