//! The one line of caution that stands wherever a voltage above 50 V is shown.

use crate::facts::{Entry, FactTable, Value, ValueKind, find_definition};
use crate::findings::DesignReport;
use crate::units::Dimension;

use super::outcome::Outcome;

/// The caution. 50 V is the limit that the rules on discharging take as harmless to touch.
pub const CAUTION: &str = "Caution: voltages above 50 V here can kill. Work on it only unplugged, with every capacitor \
measured as discharged; follow local codes, and leave mains work to those licensed for it.";

/// Above this, in volts, the caution is due.
const THRESHOLD: f64 = 50.0;

/// Whether the caution is due beside any of the designs.
#[must_use]
pub fn report_needs_caution(outcome: Outcome<'_>) -> bool {
    outcome.designs.iter().any(|entry| design_needs_caution(entry.report))
}

/// Whether the caution is due: a design that reaches more than 50 V, one whose voltages are not known, or a finding
/// that quotes such a voltage.
#[must_use]
pub fn design_needs_caution(design: &DesignReport) -> bool {
    design.highest_voltage.is_none_or(exceeds)
        || design
            .findings
            .iter()
            .flat_map(|finding| &finding.facts)
            .any(|fact| fact.dimension == Dimension::VOLTAGE && fact.value.number().is_some_and(exceeds))
}

/// Whether the caution is due beside a table of facts.
#[must_use]
pub fn facts_need_caution(table: &FactTable) -> bool {
    table.iter().any(|(_, name, entry)| {
        let voltage = find_definition(name).is_some_and(|d| d.value == ValueKind::Quantity(Dimension::VOLTAGE));
        voltage
            && match entry {
                Entry::Failed { .. } => true,
                Entry::Known(fact) => fact.samples.iter().any(|sample| match &sample.value {
                    Value::Quantity(value) => exceeds(*value),
                    Value::Flag(_) | Value::Word(_) => false,
                }),
            }
    })
}

// A voltage that is not a number is not known to be harmless.
fn exceeds(voltage: f64) -> bool {
    voltage.is_nan() || voltage.abs() > THRESHOLD
}
