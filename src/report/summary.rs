//! The heading and the closing summary of one design: counts, what was not judged, what is waived, and what a cold
//! check cannot see.

use std::collections::BTreeMap;

use crate::findings::{Class, DesignReport};
use crate::source::Severity;

use super::outcome::DesignOutcome;
use super::place::region_text;
use super::presentation::{Presentation, one_line, plural};

/// What a cold check cannot see.
pub(super) const BOUNDS: &str = "What was checked is the drawing: its computed voltages, currents and powers against the rules. \
Wiring as built, workmanship and the parts as they are were not; this is no substitute for measurement.";

/// What is said where no voltage could be had.
pub(super) const UNKNOWN: &str =
    "No voltage of this design could be computed: treat every conductor in it as dangerous.";

/// The title line of a design.
pub(super) fn heading(design: &DesignReport, presentation: Presentation) -> String {
    let revision =
        design.revision.as_ref().map(|revision| format!(", revision {}", one_line(revision))).unwrap_or_default();
    format!("{}{revision} ({})\n", presentation.strong(&one_line(&design.name)), design.path.display())
}

/// The closing summary of a design.
pub(super) fn closing(outcome: DesignOutcome<'_>, presentation: Presentation) -> String {
    let design = outcome.report;
    let mut output = counts(design, presentation);
    let mut add = |text: &str, indent: usize| {
        output.push_str(&presentation.paragraph(text, indent));
        output.push('\n');
    };
    let unread = design.complaints.iter().filter(|complaint| complaint.severity == Severity::Error).count();
    if unread > 0 {
        add(
            &format!(
                "{unread} {} could not be read, so what depends on {} was not judged.",
                plural(unread, "statement", "statements"),
                plural(unread, "it", "them"),
            ),
            2,
        );
    }
    if design.highest_voltage.is_none() {
        add(UNKNOWN, 2);
    }
    let not_judged = gathered(design);
    if !not_judged.is_empty() {
        add("not judged:", 2);
        for ((rule, reason), parts) in &not_judged {
            add(&one_line(&format!("{rule} ({}): {reason}", parts.join(", "))), 4);
        }
    }
    output.push_str(&waived(outcome, presentation));
    for line in spread_told(design) {
        output.push_str(&presentation.paragraph(&line, 2));
        output.push('\n');
    }
    output.push_str(&presentation.paragraph(BOUNDS, 2));
    output.push('\n');
    output
}

/// What was varied and what was assumed for it; nothing where the spread was not asked for.
pub(super) fn spread_told(design: &DesignReport) -> Vec<String> {
    let Some(spread) = &design.spread else { return Vec::new() };
    let assumed = format!("Assumed where nothing is stated: {}.", spread.assumptions.join("; "));
    std::iter::once(spread.told()).chain((!spread.assumptions.is_empty()).then_some(assumed)).collect()
}

/// The findings that the designer accepts, each with the reason; empty where there are none.
pub(super) fn waived(outcome: DesignOutcome<'_>, presentation: Presentation) -> String {
    let mut output = String::new();
    for finding in &outcome.report.findings {
        let Some(waiver) = &finding.waived else {
            continue;
        };
        let until = waiver.until.as_ref().map(|until| format!(" (until {until})")).unwrap_or_default();
        let text = format!(
            "waived {} {} {} at {}: {}; because {}{until}",
            finding.class.word(),
            finding.rule,
            finding.part,
            region_text(outcome.sources, finding.span),
            finding.message,
            waiver.because,
        );
        output.push_str(&presentation.paragraph(&one_line(&text), 2));
        output.push('\n');
    }
    output
}

fn counts(design: &DesignReport, presentation: Presentation) -> String {
    let counts: Vec<String> = Class::ALL
        .into_iter()
        .map(|class| {
            let count =
                design.findings.iter().filter(|finding| finding.class == class && finding.waived.is_none()).count();
            let word = if count > 0 { presentation.class(class) } else { class.word().into() };
            format!("{count} {word}")
        })
        .collect();
    let waived = design.findings.iter().filter(|finding| finding.waived.is_some()).count();
    let waived = if waived > 0 { format!("; {waived} waived") } else { String::new() };
    format!(
        "{}: {}{waived}; {} {} judged\n",
        presentation.strong(&one_line(&design.name)),
        counts.join(", "),
        design.rules_judged,
        plural(design.rules_judged, "rule", "rules"),
    )
}

/// The parts for which a rule was not judged, by rule and reason.
pub(super) fn gathered(design: &DesignReport) -> BTreeMap<(&str, &str), Vec<&str>> {
    let mut gathered: BTreeMap<(&str, &str), Vec<&str>> = BTreeMap::new();
    for entry in &design.not_judged {
        gathered.entry((&entry.rule, &entry.reason)).or_default().push(&entry.part);
    }
    gathered
}
