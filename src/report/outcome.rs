//! What the renderers are given: each design's report with the sources that its spans point into.

use crate::findings::DesignReport;
use crate::source::{Complaint, Sources};

/// One design's report and its sources.
#[derive(Clone, Copy, Debug)]
pub struct DesignOutcome<'a> {
    /// What was found.
    pub report: &'a DesignReport,
    /// What its spans point into.
    pub sources: &'a Sources,
}

/// The outcome of a run.
#[derive(Clone, Copy, Debug)]
pub struct Outcome<'a> {
    /// In order of path.
    pub designs: &'a [DesignOutcome<'a>],
    /// Complaints of no design: rule files, the workshop file, files that could not be opened.
    pub complaints: &'a [Complaint],
    /// What those complaints point into.
    pub sources: &'a Sources,
}
