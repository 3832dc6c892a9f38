//! What an inspection says, as notices at places: every finding, every complaint, and what could not be judged.

use crate::findings::{Class, Finding};
use crate::rules::Rule;
use crate::source::{Complaint, Severity, Sources, Span};

use super::answer::{Notice, Place, Weight};
use super::sheet::Sheet;

/// The code of the notice that names rules that could not be judged.
const NOT_JUDGED: &str = "not-judged";

/// The place of a span.
pub(super) fn place(sources: &Sources, span: Span) -> Place {
    Place { path: sources.path(span.file).to_owned(), start: span.start, end: span.end }
}

/// All notices of a design, and of the workshop that it is judged by.
pub(super) fn notices(sheet: &Sheet) -> Vec<Notice> {
    let mut notices: Vec<Notice> = sheet.report.findings.iter().map(|finding| of_finding(finding, sheet)).collect();
    let start = Span::new(sheet.file, 0, 0);
    let complaints = sheet.report.complaints.iter().chain(&sheet.bench.complaints);
    notices.extend(complaints.map(|complaint| of_complaint(complaint, start, sheet)));
    notices.extend(not_judged(sheet));
    notices
}

/// A finding as a notice.
pub(super) fn of_finding(finding: &Finding, sheet: &Sheet) -> Notice {
    let rule = sheet.bench.rules.rule(&finding.rule);
    let mut related: Vec<(Place, String)> =
        finding.labels.iter().skip(1).map(|label| (place(&sheet.sources, label.span), label.text.clone())).collect();
    let here = place(&sheet.sources, finding.span);
    if let Some(remedy) = finding.remedy() {
        related.push((here.clone(), format!("what to do: {remedy}")));
    }
    if let Some(waived) = &finding.waived {
        related.push((here.clone(), format!("accepted: {}", waived.because)));
    }
    let mut data = vec![("part", finding.part.clone()), ("class", finding.class.word().to_owned())];
    data.extend(finding.state.map(|state| ("state", state.name().to_owned())));
    data.extend(finding.remedy().map(|remedy| ("remedy", remedy)));
    data.extend(rule.map(|rule| ("why", rule.summary())));
    Notice {
        place: here,
        weight: if finding.waived.is_some() { Weight::Hint } else { weight(finding.class) },
        rule: Some(finding.rule.clone()),
        message: finding.message.clone(),
        related,
        written: rule.and_then(|rule| written(rule, sheet)),
        data,
    }
}

fn weight(class: Class) -> Weight {
    match class {
        Class::Hazard | Class::Overstress => Weight::Error,
        Class::Malfunction => Weight::Warning,
        Class::Refinement => Weight::Information,
    }
}

/// The file of a rule of the workshop's own. A built-in rule lies in the program.
fn written(rule: &Rule, sheet: &Sheet) -> Option<std::path::PathBuf> {
    let text = sheet.bench.sources.text(rule.span);
    let own = !text.is_empty() && text.trim_matches('"') == rule.name;
    own.then(|| sheet.bench.sources.path(rule.span.file).to_owned())
}

fn of_complaint(complaint: &Complaint, start: Span, sheet: &Sheet) -> Notice {
    let mut related: Vec<(Place, String)> =
        complaint.others.iter().map(|(span, text)| (place(&sheet.sources, *span), text.clone())).collect();
    let here = place(&sheet.sources, complaint.span.unwrap_or(start));
    if !complaint.label.is_empty() {
        related.push((here.clone(), complaint.label.clone()));
    }
    related.extend(complaint.help.clone().map(|help| (here.clone(), help)));
    Notice {
        place: here,
        weight: if complaint.severity == Severity::Error { Weight::Error } else { Weight::Warning },
        rule: None,
        message: complaint.message.clone(),
        related,
        written: None,
        data: Vec::new(),
    }
}

/// One notice at the title for all that could not be judged: it must not look as if it had passed.
fn not_judged(sheet: &Sheet) -> Option<Notice> {
    let title = sheet.design.as_ref()?.title.span;
    let open = &sheet.report.not_judged;
    let first = open.first()?;
    let more = match open.len() {
        1 => String::new(),
        count => format!(", and {} more", count - 1),
    };
    let related = open
        .iter()
        .map(|each| (place(&sheet.sources, title), format!("{} for {}: {}", each.rule, each.part, each.reason)));
    Some(Notice {
        place: place(&sheet.sources, title),
        weight: Weight::Information,
        rule: Some(NOT_JUDGED.to_owned()),
        message: format!("not judged: {} for {}: {}{more}", first.rule, first.part, first.reason),
        related: related.collect(),
        written: None,
        data: Vec::new(),
    })
}
