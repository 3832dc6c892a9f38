//! One design with its parts away from nominal, solved: its facts, and whether every condition had a solution.

use crate::circuit::Circuit;
use crate::design::Design;
use crate::facts::{Entry, FactTable, State, SubjectId, Unsolved, facts_of, find_definition};
use crate::inspection::Grounds;

use super::spreading::Variation;
use super::varying::varied;

/// What published limits and preferred numbers are held against is the value as drawn, not the part as it came: these
/// facts stay as they are with every part at its nominal value.
const AS_DRAWN: [&str; 10] = [
    "resistance",
    "value-in-series",
    "capacitance",
    "grid-leak",
    "grid-stopper",
    "screen-stopper",
    "reference-resistance",
    "first-capacitor",
    "capacitance-beside",
    "plate-supply-resistance",
];

/// A quantity taken to a departure: its place among the variations, and the share.
pub(super) type Departed = (usize, f64);

/// What every trial begins from.
pub(super) struct Ground<'a> {
    /// The design as drawn, without other tubes.
    pub(super) design: &'a Design,
    /// What varies.
    pub(super) variations: &'a [Variation],
    /// What is judged by.
    pub(super) grounds: Grounds<'a>,
    /// The facts of the design as drawn.
    pub(super) nominal: &'a FactTable,
}

impl Ground<'_> {
    /// The facts with some quantities away from their nominal values.
    pub(super) fn facts(&self, departures: &[Departed]) -> FactTable {
        let departures = departures.iter().filter_map(|(place, share)| Some((self.variations.get(*place)?, *share)));
        let design = varied(self.design, self.grounds.devices, departures);
        let mut facts = facts_of(&design, &Circuit::of(&design), self.grounds.devices);
        for (id, name, entry) in self.nominal.iter().filter(|(_, name, _)| AS_DRAWN.contains(name)) {
            if let (Entry::Known(fact), Some(definition)) = (entry, find_definition(name)) {
                facts.record(id, definition, fact.clone());
            }
        }
        facts
    }

    /// Conditions that have no solution here, and have one with every part at its nominal value.
    pub(super) fn newly_unsolved<'t>(&self, facts: &'t FactTable) -> Vec<&'t Unsolved> {
        let place = |open: &Unsolved| (open.state, open.lineup, open.empty_socket.clone());
        let known: Vec<_> = self.nominal.unsolved.iter().map(place).collect();
        facts.unsolved.iter().filter(|open| !known.contains(&place(open))).collect()
    }
}

/// The value of a fact as drawn in a state, where it is a number.
pub(super) fn sampled(
    facts: &FactTable,
    subject: SubjectId,
    fact: &str,
    state: Option<State>,
    empty_socket: Option<&str>,
) -> Option<f64> {
    let samples = &facts.fact(subject, fact)?.samples;
    let here =
        |s: &&crate::facts::Sample| s.lineup == 0 && s.state == state && s.empty_socket.as_deref() == empty_socket;
    samples.iter().find(here)?.value.number().filter(|number| !number.is_nan())
}
