//! What the program itself has found and wants told in the name of a rule.

use crate::facts::{Lineup, State};

use super::Label;

/// The rule in whose name it is told that a condition has no solution.
pub const UNSOLVED: &str = "circuit/unsolved";

/// A finding before its rule has lent it class and remedies.
#[derive(Clone, Debug, PartialEq)]
pub struct Spoken {
    /// The rule in whose name it is told.
    pub rule: String,
    /// The subject.
    pub part: String,
    /// One line.
    pub message: String,
    /// Labels, one at least; the first is where the finding points.
    pub labels: Vec<Label>,
    /// The state, where there is one.
    pub state: Option<State>,
    /// The tubes that differ from the design as drawn.
    pub lineup: Lineup,
}

impl Spoken {
    /// A finding of the design as drawn, with one label.
    #[must_use]
    pub fn new(rule: &str, part: impl Into<String>, message: impl Into<String>, label: Label) -> Self {
        Self {
            rule: rule.to_owned(),
            part: part.into(),
            message: message.into(),
            labels: vec![label],
            state: None,
            lineup: Lineup::new(),
        }
    }
}
