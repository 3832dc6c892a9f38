//! Facts of two revisions held beside each other: which have moved, and which parts came or went.

use std::collections::{BTreeMap, BTreeSet};

use crate::facts::{Entry, FactDefinition, FactTable, SubjectKind, Value, ValueKind, find_definition};
use crate::units::Dimension;

/// A fact that has moved.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// The subject.
    pub subject: String,
    /// Its kind.
    pub kind: SubjectKind,
    /// The fact.
    pub fact: &'static FactDefinition,
    /// Its worst value in the older revision.
    pub before: Value,
    /// Its worst value in the newer revision.
    pub after: Value,
}

impl Moved {
    /// The dimension of its values.
    #[must_use]
    pub fn dimension(&self) -> Dimension {
        match self.fact.value {
            ValueKind::Quantity(dimension) => dimension,
            ValueKind::Flag | ValueKind::Word => Dimension::NONE,
        }
    }

    /// By which share its size grew: 0.1 is a tenth more. None of flags and words, from zero, to or from infinity, and
    /// where the sign changed.
    #[must_use]
    pub fn share(&self) -> Option<f64> {
        let (before, after) = (self.before.number()?, self.after.number()?);
        let share = after / before - 1.0;
        (share.is_finite() && share >= -1.0).then_some(share)
    }
}

type Key<'a> = (&'a str, &'static str, &'static str);

/// The facts that moved by more than a share, in order of the newer table. Terminals are left out: their voltages are
/// those of their nets.
pub(super) fn moved_facts(old: &FactTable, new: &FactTable, threshold: f64) -> Vec<Moved> {
    let before: BTreeMap<Key<'_>, &Value> = worst_values(old).map(|(key, _, value)| (key, value)).collect();
    worst_values(new)
        .filter_map(|(key, kind, after)| {
            let (before, fact) = (*before.get(&key)?, find_definition(key.2)?);
            let moved = Moved { subject: key.0.to_owned(), kind, fact, before: before.clone(), after: after.clone() };
            has_moved(before, after, moved.dimension(), threshold).then_some(moved)
        })
        .collect()
}

/// The parts that only the older table has, and those that only the newer has.
pub(super) fn subjects_apart(old: &FactTable, new: &FactTable) -> (Vec<String>, Vec<String>) {
    let parts = |table: &FactTable| -> BTreeSet<String> {
        table.subjects.iter().filter_map(|subject| subject.part.clone()).collect()
    };
    let (old, new) = (parts(old), parts(new));
    let only = |here: &BTreeSet<String>, there: &BTreeSet<String>| here.difference(there).cloned().collect();
    (only(&old, &new), only(&new, &old))
}

fn worst_values(table: &FactTable) -> impl Iterator<Item = (Key<'_>, SubjectKind, &Value)> {
    table.iter().filter_map(|(id, name, entry)| {
        let Entry::Known(fact) = entry else { return None };
        let subject = table.subject(id).filter(|subject| subject.kind != SubjectKind::Terminal)?;
        let value = &fact.worst_sample()?.value;
        Some(((subject.name.as_str(), subject.kind.word(), name), subject.kind, value))
    })
}

fn has_moved(before: &Value, after: &Value, dimension: Dimension, threshold: f64) -> bool {
    match (before, after) {
        (Value::Quantity(before), Value::Quantity(after)) if before.is_finite() && after.is_finite() => {
            let change = (after - before).abs();
            change > floor(dimension) && change > threshold * before.abs()
        }
        (Value::Quantity(before), Value::Quantity(after)) => before.to_bits() != after.to_bits(),
        _ => before != after,
    }
}

/// What a solve may leave where nothing is: smaller changes than this are not told of, whatever their share.
fn floor(dimension: Dimension) -> f64 {
    match dimension {
        Dimension::VOLTAGE => 1e-3,
        Dimension::CURRENT | Dimension::POWER | Dimension::ENERGY | Dimension::TIME => 1e-6,
        _ => 1e-15,
    }
}
