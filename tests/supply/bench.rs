//! A design read and its facts asked by subject, name and state.

use coldcheck::catalogue::Catalogue;
use coldcheck::circuit::Circuit;
use coldcheck::design::read_fragment;
use coldcheck::facts::{FactTable, State, Value, facts_of};
use coldcheck::source::Sources;

/// A design with its facts.
pub struct Bench {
    pub facts: FactTable,
}

impl Bench {
    /// Reads a design, which must be without complaint, and computes its facts.
    pub fn of(text: &str) -> Self {
        let mut sources = Sources::default();
        let file = sources.add("supply.kdl", text);
        let reading = read_fragment(&sources, file, Catalogue::built_in());
        assert!(reading.complaints.is_empty(), "{:#?}", reading.complaints);
        let design = reading.design.unwrap();
        let facts = facts_of(&design, &Circuit::of(&design), Catalogue::built_in());
        assert!(facts.unsolved.is_empty(), "{:#?}", facts.unsolved);
        Self { facts }
    }

    /// A fact of the design as drawn, where it has it.
    pub fn value(&self, subject: &str, fact: &str, state: impl Into<Option<State>>) -> Option<&Value> {
        let state = state.into();
        self.facts.named(subject).find_map(|id| self.facts.value(id, fact, 0, state))
    }

    /// A quantity of the design as drawn, in base SI units.
    pub fn quantity(&self, subject: &str, fact: &str, state: impl Into<Option<State>>) -> f64 {
        let state = state.into();
        let found = self.value(subject, fact, state).and_then(Value::number);
        found.unwrap_or_else(|| panic!("{subject} has no {fact} in {state:?}"))
    }
}

/// Asserts agreement within a share.
pub fn near(found: f64, expected: f64, share: f64) {
    assert!((found / expected - 1.0).abs() <= share, "{found} is not within {share} of {expected}");
}
