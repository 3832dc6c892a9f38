//! What the spread of parts does to findings: plain data, as the inspection that varied the parts left it.

use super::{Class, FactValue};

/// How a finding fares when the parts are not exactly what is printed on them.
#[derive(Clone, Debug, PartialEq)]
pub struct ByTolerance {
    /// Whether the rule is kept with every part as drawn, so that only the spread breaks it.
    pub only: bool,
    /// The class that it has with every part as drawn, where a worst corner or a build makes it graver.
    pub drawn_class: Option<Class>,
    /// The deciding fact with every part as drawn, where the spread moves one.
    pub nominal: Option<FactValue>,
    /// In so many builds the rule is broken for this subject.
    pub broken: usize,
    /// In so many builds it could be judged.
    pub judged: usize,
    /// What makes most of the worst corner, weightiest first; empty where no corner was solved for this finding.
    pub departures: Vec<Departure>,
}

/// A quantity away from its nominal value.
#[derive(Clone, Debug, PartialEq)]
pub struct Departure {
    /// The part, or the section of a tube.
    pub part: String,
    /// What of it: `resistance`, `capacitance`, `current`, `amplification`…
    pub quantity: &'static str,
    /// By which share: −0.05 is 5 % low.
    pub share: f64,
}

/// What was varied in an inspection, and how far it came.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SpreadSummary {
    /// So many quantities vary.
    pub varied: usize,
    /// So many worst cases were solved.
    pub corners: usize,
    /// So many of them had no solution in some state.
    pub unsolved_corners: usize,
    /// So many builds were drawn at random, each quantity uniform within its tolerance.
    pub builds: usize,
    /// So many of them had no solution in some state.
    pub unsolved_builds: usize,
    /// The seed that they were drawn with.
    pub seed: u64,
    /// Tolerances that nothing states, in words.
    pub assumptions: Vec<String>,
}

impl SpreadSummary {
    /// What was done, in a sentence.
    #[must_use]
    pub fn told(&self) -> String {
        let mut text = format!(
            "Parts varied within their tolerances, tubes as drawn: {} {}, {} {}",
            self.varied,
            if self.varied == 1 { "quantity" } else { "quantities" },
            self.corners,
            if self.corners == 1 { "worst corner" } else { "worst corners" },
        );
        if self.unsolved_corners > 0 {
            text.push_str(&format!(" ({} could not be solved)", self.unsolved_corners));
        }
        text.push_str(&format!(", {} builds drawn uniformly with seed {}", self.builds, self.seed));
        if self.unsolved_builds > 0 {
            text.push_str(&format!("; {} of {} builds could not be solved", self.unsolved_builds, self.builds));
        }
        text.push('.');
        text
    }
}
