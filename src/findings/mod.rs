//! A finding, its identity and order, waivers, and the report that holds them. Knows nothing of formats.

mod agreed;
mod by_tolerance;
mod compare;
mod finding;
mod moved;
mod remedy;
mod spoken;
mod waivers;

pub(crate) use agreed::agree;
pub use by_tolerance::{ByTolerance, Departure, SpreadSummary};
pub use compare::{Change, Comparison, Side, Turn, compare};
pub use finding::{Class, DesignReport, FactValue, Finding, Label, NotJudged, Waived};
pub use moved::Moved;
pub use remedy::{Checked, Edit, Remedy};
pub use spoken::{Spoken, UNSOLVED};
pub use waivers::{WaiverBench, apply_waivers};
