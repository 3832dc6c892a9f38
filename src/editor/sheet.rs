//! One design as the editor has it: read, inspected, and with the facts of its last good text.

use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

use jiff::civil::Date;

use crate::design::{Design, DesignReading, ProjectFiles, read_design};
use crate::facts::{FactTable, Memory};
use crate::findings::DesignReport;
use crate::inspection::{Inspection, inspect_remembered};
use crate::source::{Complaint, FileId, Severity, Sources};

use super::surroundings::Bench;

/// What the facts shown belong to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Standing {
    /// The text as it is.
    Current,
    /// The last text that could be read whole.
    Stale,
    /// What could be read of a text that never could be read whole.
    Partial,
}

/// A design read and not yet judged.
pub(super) struct Read {
    /// Its path.
    pub(super) path: PathBuf,
    /// Its texts, after those of its workshop.
    pub(super) sources: Sources,
    /// Its own text.
    pub(super) file: FileId,
    /// What came of it.
    pub(super) reading: DesignReading,
}

/// A design inspected.
pub(super) struct Sheet {
    /// Its path.
    pub(super) path: PathBuf,
    /// What it was judged against.
    pub(super) bench: Rc<Bench>,
    /// Its texts, after those of its workshop.
    pub(super) sources: Sources,
    /// Its own text.
    pub(super) file: FileId,
    /// The typed design, as far as it could be read.
    pub(super) design: Option<Design>,
    /// What was found.
    pub(super) report: DesignReport,
    /// The facts to show.
    pub(super) facts: Option<Rc<FactTable>>,
    /// What those belong to.
    pub(super) standing: Standing,
    /// What was solved for them.
    pub(super) memory: Arc<Memory>,
}

/// Reads a design.
pub(super) fn read(path: &Path, text: String, files: &dyn ProjectFiles, bench: &Bench) -> Read {
    let mut sources = bench.sources.clone();
    let file = sources.add(path, text);
    let mut reading = read_design(&mut sources, file, files, &bench.catalogue, bench.workshop.as_ref());
    reading.complaints.extend(reading.fragment.take());
    Read { path: path.to_owned(), sources, file, reading }
}

/// Judges a design that was read; `before` is the sheet that it replaces. What has been solved before, for that one or for
/// the one of which this is a trial, is in the memory.
pub(super) fn judge(read: Read, bench: Rc<Bench>, today: Date, before: Option<&Sheet>, memory: Memory) -> Sheet {
    let Read { path, sources, file, reading } = read;
    let design = reading.design.clone();
    let Inspection { report, facts } = inspect_remembered(&path, reading, bench.grounds(today), &memory);
    let facts = facts.map(Rc::new);
    let unread = report.complaints.iter().any(is_error);
    let kept = before.filter(|before| before.standing != Standing::Partial).and_then(|before| before.facts.clone());
    let (facts, standing) = match (unread, kept) {
        (true, Some(kept)) => (Some(kept), Standing::Stale),
        (true, None) => (facts, Standing::Partial),
        (false, _) => (facts, Standing::Current),
    };
    Sheet { path, bench, sources, file, design, report, facts, standing, memory: Arc::new(memory.alone()) }
}

/// Whether a complaint means that something was left out.
pub(super) fn is_error(complaint: &Complaint) -> bool {
    complaint.severity == Severity::Error
}

impl Sheet {
    /// The identity of a file in this design's texts: the last of its path, for the workshop's come first.
    pub(super) fn file_of(&self, path: &Path) -> Option<FileId> {
        self.sources.iter().filter(|(_, source)| source.path == path).map(|(id, _)| id).last()
    }

    /// Whether a file is one of this design's own.
    pub(super) fn holds(&self, path: &Path) -> bool {
        self.file_of(path).is_some_and(|file| file >= self.file)
    }
}
