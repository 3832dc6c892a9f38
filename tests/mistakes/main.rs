//! Typical mistakes of the bench, each put into a sound design, and what comes of it.
//!
//! `matrix.kdl` is the table; a new design adds rows and nothing else. Run with `--no-capture` the totals are printed.

#[cfg(test)]
mod matrix;
#[cfg(test)]
mod outcome;
#[cfg(test)]
mod reference;
#[cfg(test)]
mod workbench;

use std::sync::OnceLock;

use outcome::{Outcome, Verdict, kinds};
use workbench::Workbench;

/// Fewer rows than this, and the matrix has been cut down.
const LEAST_ROWS: usize = 290;
/// No more mistakes than this may go unfound.
const MOST_MISSES: usize = 16;

/// Every row tried once.
fn outcomes() -> &'static [Outcome] {
    static TRIED: OnceLock<Vec<Outcome>> = OnceLock::new();
    TRIED.get_or_init(|| outcome::all(&matrix::read()))
}

#[test]
fn each_mistake_is_found_in_its_class_at_its_line() {
    let outcomes = outcomes();
    assert!(outcomes.len() >= LEAST_ROWS, "only {} rows", outcomes.len());
    for kind in kinds(outcomes) {
        println!("{kind}");
    }
    let wrong: Vec<String> = outcomes.iter().filter_map(Outcome::complaint).collect();
    assert!(wrong.is_empty(), "{} of {} rows\n{}", wrong.len(), outcomes.len(), wrong.join("\n"));
    let missed = outcomes.iter().filter(|outcome| outcome.verdict == Verdict::Missed).count();
    assert!(missed <= MOST_MISSES, "{missed} mistakes are missed");
}

#[test]
fn the_reference_of_the_rules_is_in_step() {
    reference::keep_in_step(&reference::page(outcomes()));
}

#[test]
fn the_sound_originals_give_nothing() {
    let mut designs: Vec<String> = matrix::read().into_iter().map(|row| row.design).collect();
    designs.sort();
    designs.dedup();
    let bench = Workbench::open();
    for design in designs {
        let inspected = bench.inspect(&design, None);
        assert!(inspected.complaints.is_empty(), "{design}: {:?}", inspected.complaints);
        assert!(inspected.places.is_empty(), "{design}: {:?}", inspected.places);
    }
}
