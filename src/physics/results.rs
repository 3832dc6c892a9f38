//! The shapes of the answers. Voltages are to the reference node, in volts; currents in amperes; times in seconds.

use super::NodeId;
use crate::units::{Amperes, Seconds, Volts};

/// Currents of one element.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Currents {
    /// From the first terminal through the element to the second; a tube's plate current.
    pub main: Amperes,
    /// Into the control grid.
    pub grid: Amperes,
    /// Into the screen.
    pub screen: Amperes,
}

impl Currents {
    /// Out of the second terminal: a tube's cathode current.
    #[must_use]
    pub fn cathode(&self) -> Amperes {
        Amperes(self.main.0 + self.grid.0 + self.screen.0)
    }
}

/// A solution at direct current.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OperatingPoint {
    /// Voltage of each node, V; number 0 is 0.
    pub voltages: Vec<f64>,
    /// Currents of each element.
    pub currents: Vec<Currents>,
    /// Nodes that no direct path ties to the reference: their voltage is only assumed, and may not be judged.
    pub floating: Vec<NodeId>,
    /// Largest unbalanced current at any node.
    pub residual: Amperes,
    /// Newton iterations made.
    pub iterations: usize,
}

impl OperatingPoint {
    /// The voltage of a node; 0 V for one that does not exist.
    #[must_use]
    pub fn voltage(&self, node: NodeId) -> Volts {
        Volts(self.voltages.get(node.0).copied().unwrap_or(0.0))
    }

    /// The voltage of `a` over `b`.
    #[must_use]
    pub fn between(&self, a: NodeId, b: NodeId) -> Volts {
        Volts(self.voltage(a).0 - self.voltage(b).0)
    }
}

/// How a quantity moves over one period of the mains.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Swing {
    /// Mean.
    pub mean: f64,
    /// Smallest value.
    pub minimum: f64,
    /// Largest value.
    pub maximum: f64,
    /// Root of the mean square.
    pub rms: f64,
}

impl Swing {
    /// A quantity that does not move.
    #[must_use]
    pub fn steady(value: f64) -> Self {
        Self { mean: value, minimum: value, maximum: value, rms: value.abs() }
    }

    /// From largest to smallest.
    #[must_use]
    pub fn peak_to_peak(&self) -> f64 {
        self.maximum - self.minimum
    }
}

/// One element over one period of the mains.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ElementSwing {
    /// Main current, A.
    pub current: Swing,
    /// Voltage of its first terminal over its second, V.
    pub voltage: Swing,
    /// Share of the period in which the current exceeds a hundredth of its largest value.
    pub conduction: f64,
}

/// The periodic steady state under the mains.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SteadyState {
    /// Mean voltages and the currents that belong to them; tubes are judged and linearised at this point.
    pub mean: OperatingPoint,
    /// Each node over the period, V.
    pub nodes: Vec<Swing>,
    /// Each element over the period.
    pub elements: Vec<ElementSwing>,
    /// Samples of each node's voltage, V, evenly spaced over one period; empty for a node that does not move.
    pub waveforms: Vec<Vec<f64>>,
    /// The same of each winding's current, A; empty for what is no winding, and for a winding whose current does not move.
    pub winding_waves: Vec<Vec<f64>>,
    /// How far the end of the period is from its beginning, V or A, the largest over the states.
    pub periodicity: f64,
    /// Periods integrated on the way.
    pub periods: usize,
}

/// How the periodic steady state is sought.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SteadyOptions {
    /// Time steps in one period.
    pub steps: usize,
    /// Largest relative disagreement of the mean voltages between the supply and its load.
    pub agreement: f64,
    /// Treat the whole network as one, load included: slow, but nothing is linearised.
    pub whole: bool,
    /// Only the mean voltages are wanted: no ripple is carried into the load.
    pub means: bool,
}

impl Default for SteadyOptions {
    fn default() -> Self {
        Self { steps: 240, agreement: 1e-6, whole: false, means: false }
    }
}

/// Natural discharge after the mains is gone.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Discharge {
    /// For each element: for a capacitor, when its voltage has fallen to the threshold for good; `None` when it does not within the horizon, and for everything that is not a capacitor.
    pub times: Vec<Option<Seconds>>,
    /// Steps made, those taken back included.
    pub steps: usize,
}

/// The extreme voltages of a node and when they are met.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Crest {
    /// Largest voltage, V.
    pub maximum: f64,
    /// When.
    pub maximum_at: Seconds,
    /// Smallest voltage, V.
    pub minimum: f64,
    /// When.
    pub minimum_at: Seconds,
}

/// What follows a switch-on from zero charge.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Transient {
    /// Each node.
    pub nodes: Vec<Crest>,
    /// Voltage of each element's first terminal over its second.
    pub elements: Vec<Crest>,
    /// Main current of each element, A.
    pub currents: Vec<Crest>,
    /// The sum of the main currents with the weights that were asked for, A.
    pub weighted: Crest,
}
