//! Builds drawn at random: every quantity uniform within its tolerance, each by itself.

use rayon::prelude::*;

use crate::facts::FactTable;

use super::SpreadOptions;
use super::chance::Chance;
use super::trial::{Departed, Ground};

/// What was read of every build, in order of drawing, whatever the threads.
pub(super) fn builds<T: Send>(
    ground: &Ground<'_>,
    options: SpreadOptions,
    read: impl Fn(&FactTable) -> T + Sync,
) -> Vec<T> {
    let build = |number: usize| read(&ground.facts(&drawn(ground, options.seed, number)));
    (0..options.builds).into_par_iter().map(build).collect()
}

fn drawn(ground: &Ground<'_>, seed: u64, number: usize) -> Vec<Departed> {
    let mut chance = Chance::of(seed, number);
    let departed =
        |(place, variation): (usize, &super::Variation)| (place, chance.between(variation.low, variation.high));
    ground.variations.iter().enumerate().map(departed).collect()
}
