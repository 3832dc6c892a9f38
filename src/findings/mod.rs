//! A finding, its identity and order, waivers, and the report that holds them. Knows nothing of formats.

mod finding;
mod spoken;
mod waivers;

pub use finding::{Class, DesignReport, FactValue, Finding, Label, NotJudged, Report, Waived};
pub use spoken::Spoken;
pub use waivers::{WaiverBench, apply_waivers};
