//! The typed design: parts with units, stages unfolded, references resolved; every field keeps its span.
//!
//! Knows the catalogue (which sections a tube has) and nothing of nets or physics.

mod electrical;
mod explain;
mod fields;
mod include;
mod index;
mod ledger;
mod parts;
mod read;
mod reader;
mod resolve;
mod suggest;
mod template;
mod types;
mod unfold;
mod values;
mod vocabulary;
mod workshop;

pub use include::ProjectFiles;

pub(crate) use include::normal;
pub(crate) use index::{Entity, Index, Names, Occurrence, index, is_bare, word};
pub(crate) use ledger::Form;
pub(crate) use template::RESERVED_NETS;
pub(crate) use vocabulary::{Vocabulary, vocabulary};

pub use parts::{
    BenchSupply, Bridge, Capacitor, Choke, CurrentSource, Diode, DiodeKind, Fuse, Half, Heater, Inlet, Input, Kind,
    Output, OutputTransformer, Potentiometer, Resistor, Switch, Transformer, Transistor, Tube, Winding,
};
pub use read::{DesignReading, read_design, read_fragment};
pub use types::{Band, Connection, Design, Mains, Part, PartId, Reading, Reference, TerminalId, Waiver, Wire};
pub use workshop::{Adjust, Quiet, Shelf, SpreadSetting, Workshop, read_workshop};
pub(crate) use workshop::{SHELVES, STATEMENTS as WORKSHOP_STATEMENTS};
