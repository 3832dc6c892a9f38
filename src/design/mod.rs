//! The typed design: parts with units, stages unfolded, references resolved; every field keeps its span.
//!
//! Knows the catalogue (which sections a tube has) and nothing of nets or physics.

mod electrical;
mod parts;
mod types;

pub use electrical::nearest_connection;
pub use parts::{
    BenchSupply, Bridge, Capacitor, Choke, CurrentSource, Diode, DiodeKind, Fuse, Heater, Inlet, Input, Kind, Output,
    OutputTransformer, Potentiometer, Resistor, Switch, Transformer, Transistor, TransistorFamily, Tube, Winding,
};
pub use types::{Band, Connection, Design, Mains, Part, PartId, Reading, Reference, TerminalId, Waiver, Wire};
