//! The machine-readable shape of what the spread of parts does: bands of facts, shares of builds, what was varied.

use serde::Serialize;

use crate::findings::{ByTolerance, Class, Departure, SpreadSummary};
use crate::spread::{Band, Bands};

use super::json::{Measure, measure, six_digits};

/// What was varied, and how far it came.
#[derive(Serialize, schemars::JsonSchema)]
pub(super) struct SpreadEntry {
    /// So many quantities vary.
    varied: usize,
    /// So many worst cases were solved.
    corners: usize,
    /// So many of them had no solution in some state.
    unsolved_corners: usize,
    /// So many builds were drawn, each quantity uniform within its tolerance, the tubes as drawn.
    builds: usize,
    /// So many of them had no solution in some state.
    unsolved_builds: usize,
    seed: u64,
    /// Tolerances that nothing states.
    assumptions: Vec<String>,
    /// The first condition without a solution, where facts were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    unsolved: Option<String>,
}

impl SpreadEntry {
    pub(super) fn of(summary: &SpreadSummary) -> Self {
        Self {
            varied: summary.varied,
            corners: summary.corners,
            unsolved_corners: summary.unsolved_corners,
            builds: summary.builds,
            unsolved_builds: summary.unsolved_builds,
            seed: summary.seed,
            assumptions: summary.assumptions.clone(),
            unsolved: None,
        }
    }

    pub(super) fn of_bands(bands: &Bands) -> Self {
        Self { unsolved: bands.unsolved.clone(), ..Self::of(&bands.summary) }
    }
}

/// How a finding fares when the parts are not exactly what is printed on them.
#[derive(Serialize, schemars::JsonSchema)]
pub(super) struct ByToleranceEntry {
    /// Whether the rule is kept with every part as drawn, so that only the spread breaks it.
    only: bool,
    /// The class that it has with every part as drawn, where the spread makes it graver.
    #[serde(skip_serializing_if = "Option::is_none")]
    drawn_class: Option<Class>,
    /// The deciding fact with every part as drawn, where the spread moves one.
    nominal: Option<NominalEntry>,
    /// In so many builds the rule is broken for this subject.
    broken: usize,
    /// In so many builds it could be judged.
    judged: usize,
    /// What makes most of the worst corner, weightiest first.
    departures: Vec<DepartureEntry>,
}

#[derive(Serialize, schemars::JsonSchema)]
struct NominalEntry {
    fact: String,
    #[serde(flatten)]
    value: Measure,
}

#[derive(Serialize, schemars::JsonSchema)]
struct DepartureEntry {
    /// The part, or the section of a tube.
    part: String,
    quantity: &'static str,
    /// By which share: -0.05 is 5 % low.
    share: Option<f64>,
}

impl ByToleranceEntry {
    pub(super) fn of(found: &ByTolerance) -> Self {
        let nominal = found.nominal.as_ref();
        Self {
            only: found.only,
            drawn_class: found.drawn_class,
            nominal: nominal
                .map(|fact| NominalEntry { fact: fact.name.clone(), value: measure(&fact.value, fact.dimension) }),
            broken: found.broken,
            judged: found.judged,
            departures: found.departures.iter().map(DepartureEntry::of).collect(),
        }
    }
}

impl DepartureEntry {
    fn of(departure: &Departure) -> Self {
        let Departure { part, quantity, share } = departure;
        Self { part: part.clone(), quantity, share: six_digits(*share) }
    }
}

/// Where a quantity lies when the parts are within their tolerances; null for what has no bound.
#[derive(Serialize, schemars::JsonSchema)]
pub(super) struct BandEntry {
    /// Lowest of its worst corners and of all builds.
    low: Option<f64>,
    /// Highest of them.
    high: Option<f64>,
    /// A twentieth of the builds lies below.
    p5: Option<f64>,
    /// Half of the builds lies below.
    median: Option<f64>,
    /// A twentieth of the builds lies above.
    p95: Option<f64>,
    /// In so many builds it was known.
    builds: usize,
}

impl BandEntry {
    pub(super) fn of(band: &Band) -> Self {
        let [p5, median, p95] = band.quantiles.map_or([None; 3], |quantiles| quantiles.map(six_digits));
        Self { low: six_digits(band.low), high: six_digits(band.high), p5, median, p95, builds: band.builds }
    }
}
