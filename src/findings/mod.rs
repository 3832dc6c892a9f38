//! A finding, its identity and order, and the report that holds them. Knows nothing of formats.

mod finding;

pub use finding::{Class, DesignReport, FactValue, Finding, Label, NotJudged, Report, Waived};
