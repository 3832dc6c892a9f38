//! The connectivity graph: nets, terminals, and what lies between them. Knows designs; knows no voltages.

mod graph;
mod nets;
mod paths;
mod rails;
mod reservoirs;
mod roles;

pub use graph::{Circuit, Conduction, Link, electrode_name};
pub use nets::{Net, NetId};
pub(crate) use rails::FILTER_FARADS;
pub use roles::{BiasKind, CapacitorRole, ResistorRole, Roles};
