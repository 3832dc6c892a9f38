//! Circuit analysis: device models, operating point, mains-driven steady state, small signal, discharge, switch-on.
//!
//! Takes a [`Network`] of numbered nodes and gives numbers. Knows nothing of design files, rules or part names.

mod agreement;
mod assembly;
mod dense;
mod devices;
mod discharge;
mod equations;
mod error;
mod islands;
mod large_hold;
mod large_signal;
mod load;
mod march;
mod network;
mod noise;
mod operating_point;
mod orbit;
mod partition;
mod pentodes;
mod reduced;
mod results;
mod ripple;
mod slopes;
mod small_signal;
mod sparse;
mod steady_state;
mod transient;
mod transistors;
mod watch;

pub use agreement::Near;
pub use discharge::discharge;
pub use error::SolveError;
pub use large_hold::{Held, Rails};
pub use large_signal::{Driven, Electrode, Electrodes, Harmonics, LargeSignal, bends};
pub use network::{Element, ElementId, Network, NodeId};
pub use noise::{Noise, a_weighting, noise};
pub use operating_point::operating_point;
pub use results::{
    Crest, Currents, Discharge, ElementSwing, OperatingPoint, SteadyOptions, SteadyState, Swing, Transient,
};
pub use slopes::{TubeSlopes, tube_slopes};
pub use small_signal::{Complex, Drive, Ears, Linear, Reach, linearise};
pub use steady_state::{steady_state, steady_state_near};
pub use transient::{Following, Switching};
