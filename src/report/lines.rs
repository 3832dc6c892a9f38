//! One line a finding, for editors, scripts and `grep`: `path:line:column: class rule part: message [remedy]`.
//!
//! Stable, complete and in the report's order. Everything that could not be read or judged has its line too.

use crate::findings::{DesignReport, Finding};
use crate::source::{Complaint, Severity, Sources};

use super::outcome::{DesignOutcome, Outcome};
use super::place::region_text;
use super::presentation::one_line;
use super::summary::spread_told;

/// The whole report, a line each: complaints of the run, then each design's complaints, findings and rules not judged.
#[must_use]
pub fn report_as_lines(outcome: Outcome<'_>) -> String {
    let designs = outcome.designs.iter().map(|design| design_as_lines(*design));
    general_lines(outcome.complaints, outcome.sources) + &designs.collect::<String>()
}

/// Complaints of the run, a line each.
pub(super) fn general_lines(complaints: &[Complaint], sources: &Sources) -> String {
    let mut output = String::new();
    for complaint in complaints {
        push(&mut output, &complaint_line(complaint, None, sources));
    }
    output
}

/// One design's complaints, findings and rules not judged, a line each.
pub(super) fn design_as_lines(entry: DesignOutcome<'_>) -> String {
    let mut output = String::new();
    let (design, sources) = (entry.report, entry.sources);
    for complaint in &design.complaints {
        push(&mut output, &complaint_line(complaint, Some(design), sources));
    }
    for finding in &design.findings {
        push(&mut output, &finding_line(finding, sources));
    }
    for gap in &design.not_judged {
        let line = format!("{}: not-judged {} {}: {}", design.path.display(), gap.rule, gap.part, gap.reason);
        push(&mut output, &line);
    }
    for line in spread_told(design) {
        push(&mut output, &format!("{}: spread: {line}", design.path.display()));
    }
    output
}

fn finding_line(finding: &Finding, sources: &Sources) -> String {
    let mut line = format!(
        "{}: {} {} {}: {}",
        region_text(sources, finding.span),
        finding.class.word(),
        finding.rule,
        finding.part,
        finding.message
    );
    if let Some(remedy) = finding.remedy_told() {
        line.push_str(&format!(" [{remedy}]"));
    }
    if let Some(waived) = &finding.waived {
        line.push_str(&format!(" (waived: {})", waived.because));
    }
    line
}

fn complaint_line(complaint: &Complaint, design: Option<&DesignReport>, sources: &Sources) -> String {
    let word = match complaint.severity {
        Severity::Error => "complaint",
        Severity::Warning => "remark",
    };
    let place = match (complaint.span, design) {
        (Some(span), _) => format!("{}: ", region_text(sources, span)),
        (None, Some(design)) => format!("{}: ", design.path.display()),
        (None, None) => String::new(),
    };
    let mut line = format!("{place}{word}: {}", complaint.message);
    if let Some(help) = &complaint.help {
        line.push_str(&format!(" [{help}]"));
    }
    line
}

fn push(output: &mut String, line: &str) {
    output.push_str(&one_line(line));
    output.push('\n');
}
