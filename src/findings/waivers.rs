//! Waivers put to findings: what is accepted is marked, never removed; a waiver that does nothing is told of.

use jiff::civil::Date;

use crate::design::Waiver;
use crate::facts::FactTable;

use super::{Finding, Label, NotJudged, Spoken, Waived};

/// What waivers are judged against.
#[derive(Clone, Copy)]
pub struct WaiverBench<'a> {
    /// The facts, for which part a subject belongs to.
    pub facts: &'a FactTable,
    /// What was not judged: a waiver for that is not called unused.
    pub not_judged: &'a [NotJudged],
    /// The day of the inspection.
    pub today: Date,
    /// Whether there is a rule of a name.
    pub is_rule: &'a dyn Fn(&str) -> bool,
}

/// Marks the findings that a waiver covers, and gives what is to be said of waivers that are unused or expired.
pub fn apply_waivers(findings: &mut [Finding], waivers: &[Waiver], bench: WaiverBench<'_>) -> Vec<Spoken> {
    let mut spoken = Vec::new();
    for waiver in waivers {
        let part = waiver.part.as_ref().map(|part| part.value.as_str());
        let covers = |rule: &str, subject: &str| {
            rule == waiver.rule.value && part.is_none_or(|part| belongs(subject, part, bench.facts))
        };
        if let Some(until) = &waiver.until
            && until.value < bench.today
        {
            let label = Label { span: until.span, text: format!("ended on {}", until.value) };
            let message = format!(
                "the waiver of {} for {} ended on {}: {}",
                waiver.rule.value,
                part.unwrap_or("the design"),
                until.value,
                waiver.because
            );
            spoken.push(Spoken::new("waiver/expired", subject_of(part), message, label));
            continue;
        }
        let mut used = false;
        for finding in findings.iter_mut().filter(|f| covers(&f.rule, &f.part)) {
            used = true;
            if finding.waived.is_none() {
                finding.waived = Some(Waived {
                    because: waiver.because.clone(),
                    until: waiver.until.as_ref().map(|until| until.value.to_string()),
                });
            }
        }
        let open = bench.not_judged.iter().any(|open| covers(&open.rule, &open.part));
        if !used && !open {
            spoken.push(unused(waiver, part, bench));
        }
    }
    spoken
}

fn unused(waiver: &Waiver, part: Option<&str>, bench: WaiverBench<'_>) -> Spoken {
    let rule = &waiver.rule.value;
    let (message, text) = if (bench.is_rule)(rule) {
        let whom = part.unwrap_or("the design");
        (format!("the waiver of {rule} for {whom} matches nothing"), "nothing to waive")
    } else {
        (format!("the waiver names {rule}, and no rule is called so"), "no such rule")
    };
    let label = Label { span: waiver.rule.span, text: text.to_owned() };
    Spoken::new("waiver/unused", subject_of(part), message, label)
}

fn subject_of(part: Option<&str>) -> &str {
    part.unwrap_or("design")
}

/// Whether a subject is the part, belongs to it (a section, a winding, a heater), or stands in the stage of that name.
fn belongs(subject: &str, part: &str, facts: &FactTable) -> bool {
    subject == part
        || subject.strip_prefix(part).is_some_and(|rest| rest.starts_with('.'))
        || facts.subjects.iter().any(|known| known.name == subject && known.part.as_deref() == Some(part))
}
