//! The catalogue of facts and the facts of a design: quantities with a dimension, computed for a part, a tube section,
//! a winding, a net or the whole design, each with the state and line-up of its worst value and where it came from.
//!
//! Knows design, circuit, catalogue and physics; knows nothing of rules or output.

mod alternates;
mod capacitors;
mod collect;
mod controls;
mod corners;
mod definitions;
mod discharging;
mod drive;
mod feedback;
mod heaters;
mod heating;
mod hum;
mod isolation;
mod large;
mod large_clipping;
mod large_loads;
mod large_search;
mod large_stages;
mod large_supply;
mod latent;
mod lowering;
mod mains;
mod mains_side;
mod memory;
mod networks;
mod noise;
mod ports;
mod recorder;
mod regulators;
mod resistors;
mod shorts;
mod shown;
mod signal;
mod small;
mod stages;
mod study;
mod supply;
mod switching;
mod table;
mod transformers;
mod transistors;
mod tubes;
mod warming;
mod windings;
mod wiring;

pub use collect::{facts_of, facts_remembered};
pub use definitions::{FACTS, FactDefinition, SubjectKind, ValueKind, Worst, find_definition};
pub use memory::Memory;
pub use networks::network_in;
pub use shown::{fact_shown, fact_shown_fully, read_in_unit};
pub use table::{Entry, Fact, FactTable, Lineup, Origin, Sample, State, Subject, SubjectId, Unsolved, Value};
pub use warming::{WarmUp, warm_up};
