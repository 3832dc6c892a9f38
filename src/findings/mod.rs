//! A finding, its identity and order, waivers, and the report that holds them. Knows nothing of formats.

mod compare;
mod finding;
mod moved;
mod remedy;
mod spoken;
mod waivers;

pub use compare::{Change, Comparison, Side, Turn, compare};
pub use finding::{Class, DesignReport, FactValue, Finding, Label, NotJudged, Waived};
pub use moved::Moved;
pub use remedy::{Checked, Edit, Remedy};
pub use spoken::Spoken;
pub use waivers::{WaiverBench, apply_waivers};
