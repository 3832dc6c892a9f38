//! Each quantity taken to a limit of its tolerance alone: what every figure answers to it.

use rayon::prelude::*;

use crate::facts::FactTable;

use super::trial::Ground;

/// What a design answers when one quantity alone is away from its nominal value.
pub(super) struct Probe<T> {
    /// By which share it is away.
    pub(super) share: f64,
    /// What was read there.
    pub(super) read: T,
}

/// Every quantity probed, in order; none where the circuit has no solution at either limit, with the reason.
///
/// The upper limit is tried first.
pub(super) fn probes<T: Send>(
    ground: &Ground<'_>,
    read: impl Fn(&FactTable) -> T + Sync,
) -> Vec<Result<Probe<T>, String>> {
    let probe = |(place, variation): (usize, &super::Variation)| {
        let mut reason = String::new();
        for share in [variation.high, variation.low] {
            let facts = ground.facts(&[(place, share)]);
            match ground.newly_unsolved(&facts).first() {
                None => return Ok(Probe { share, read: read(&facts) }),
                Some(open) => reason = format!("{}: {}", open.state.name(), open.reason),
            }
        }
        Err(reason)
    };
    ground.variations.par_iter().enumerate().map(probe).collect()
}

/// How a figure moved with each quantity: the share that it was taken by, and the change of the figure. Changes without
/// bound say nothing of a slope and are left out.
pub(super) fn moves<T>(
    probes: &[Result<Probe<T>, String>],
    nominal: f64,
    figure: impl Fn(&T) -> Option<f64>,
) -> Vec<Option<(f64, f64)>> {
    let moved = |probe: &Result<Probe<T>, String>| {
        let probe = probe.as_ref().ok()?;
        let change = figure(&probe.read)? - nominal;
        // What rounding leaves in a solve is no answer.
        let counts = change.is_finite() && change.abs() > 1e-7 * nominal.abs().max(1e-9);
        counts.then_some((probe.share, change))
    };
    probes.iter().map(moved).collect()
}
