//! Findings and complaints for people at a terminal.

use std::collections::HashMap;

use crate::findings::Finding;
use crate::source::{Complaint, FileId, Severity, Sources};

use super::caution::{CAUTION, report_needs_caution};
use super::drawing::{Drawing, Mark, Opening, Painter};
use super::outcome::{DesignOutcome, Outcome};
use super::presentation::{Presentation, one_line};
use super::summary::{closing, heading, waived};

/// A rule that repeats more often than this in one file is cut short in text; no other format leaves anything out.
const REPEATS: usize = 5;

/// The whole report: for each design a heading, its findings drawn on the source and a closing summary.
///
/// Complaints are not in it: they are for [`complaints_as_text`] and another stream.
#[must_use]
pub fn report_as_text(outcome: Outcome<'_>, presentation: Presentation) -> String {
    let mut output: String = outcome.designs.iter().map(|design| design_as_text(*design, presentation)).collect();
    if report_needs_caution(outcome) {
        output.push_str(&caution_as_text(presentation));
    }
    output
}

/// One design: a heading, its findings drawn on the source and a closing summary.
pub(super) fn design_as_text(design: DesignOutcome<'_>, presentation: Presentation) -> String {
    let mut output = String::new();
    if !presentation.quiet {
        output.push_str(&heading(design.report, presentation));
        output.push('\n');
    }
    write_findings(design, presentation, &mut output);
    if presentation.quiet {
        output.push_str(&waived(design, presentation));
    } else {
        output.push_str(&closing(design, presentation));
        output.push('\n');
    }
    output
}

/// The caution as the last line of a text.
pub(super) fn caution_as_text(presentation: Presentation) -> String {
    format!("{}\n", presentation.warning(&presentation.wrap(CAUTION, 2)))
}

/// Complaints, drawn where they have a place.
#[must_use]
pub fn complaints_as_text<'a>(
    complaints: impl IntoIterator<Item = &'a Complaint>,
    sources: &Sources,
    presentation: Presentation,
) -> String {
    let mut painter = Painter::new(sources, presentation);
    let mut output = String::new();
    for complaint in complaints {
        let mut marks = Vec::new();
        if let Some(span) = complaint.span {
            marks.push(Mark { span, text: &complaint.label });
        }
        marks.extend(complaint.others.iter().map(|(span, text)| Mark { span: *span, text }));
        output.push_str(&painter.draw(&Drawing {
            opening: match complaint.severity {
                Severity::Error => Opening::Complaint,
                Severity::Warning => Opening::Remark,
            },
            code: None,
            message: &complaint.message,
            marks,
            help: complaint.help.as_deref(),
        }));
        output.push('\n');
    }
    output
}

fn write_findings(design: DesignOutcome<'_>, presentation: Presentation, output: &mut String) {
    let mut painter = Painter::new(design.sources, presentation);
    // Waived findings are listed below them in one line each.
    let shown = || design.report.findings.iter().filter(|finding| finding.waived.is_none());
    let mut alike: HashMap<(&str, FileId), Vec<&Finding>> = HashMap::new();
    for finding in shown() {
        alike.entry((finding.rule.as_str(), finding.span.file)).or_default().push(finding);
    }
    let mut drawn: HashMap<(&str, FileId), usize> = HashMap::new();
    for finding in shown() {
        let key = (finding.rule.as_str(), finding.span.file);
        let count = drawn.entry(key).or_default();
        *count += 1;
        if *count > REPEATS {
            continue;
        }
        output.push_str(&draw_finding(finding, &mut painter));
        let rest =
            alike.get(&key).and_then(|all| all.get(REPEATS..)).filter(|rest| *count == REPEATS && !rest.is_empty());
        if let Some(rest) = rest {
            let parts: Vec<String> = rest.iter().map(|finding| one_line(&finding.part)).collect();
            let text = format!(
                "and {} more of the same in {}: {} ({}; `--as lines` shows each)",
                rest.len(),
                design.sources.path(finding.span.file).display(),
                parts.join(", "),
                finding.rule,
            );
            output.push_str(&presentation.paragraph(&text, 2));
            output.push('\n');
        }
        output.push('\n');
    }
}

fn draw_finding(finding: &Finding, painter: &mut Painter<'_>) -> String {
    // The first label stands at the finding's own span; a finding without labels still points there.
    let mut marks: Vec<Mark<'_>> = Vec::new();
    if finding.labels.first().is_none_or(|label| label.span != finding.span) {
        marks.push(Mark { span: finding.span, text: "here" });
    }
    marks.extend(finding.labels.iter().map(|label| Mark { span: label.span, text: &label.text }));
    let message = told(finding);
    let remedy = finding.remedy_told();
    painter.draw(&Drawing {
        opening: Opening::Finding(finding.class),
        code: Some(&finding.rule),
        message: &message,
        marks,
        help: remedy.as_deref(),
    })
}

/// A finding's message with the part, where it does not name it, and the state and line-up of its worst value.
pub(super) fn told(finding: &Finding) -> String {
    let part = if finding.message.contains(&finding.part) { String::new() } else { format!("{}: ", finding.part) };
    let circumstances = circumstances(finding).map(|text| format!(" ({text})")).unwrap_or_default();
    format!("{part}{}{circumstances}", finding.message)
}

/// The state and line-up of a finding in words: `switch-on`, `socket-empty V2`, `running with V1 = 12BH7A`.
fn circumstances(finding: &Finding) -> Option<String> {
    let mut text = finding.state.map(|state| state.name().to_owned()).unwrap_or_default();
    if let Some(socket) = &finding.empty_socket {
        text.push(' ');
        text.push_str(socket);
    }
    if !finding.lineup.is_empty() {
        let tubes: Vec<String> = finding.lineup.iter().map(|(socket, tube)| format!("{socket} = {tube}")).collect();
        text.push_str(" with ");
        text.push_str(&tubes.join(", "));
    }
    let text = text.trim().to_owned();
    (!text.is_empty()).then_some(text)
}
