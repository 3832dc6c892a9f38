//! What the editor is told of the world around the open texts.

use std::path::{Path, PathBuf};

use jiff::civil::Date;

use crate::catalogue::Catalogue;
use crate::design::Workshop;
use crate::inspection::Grounds;
use crate::rules::{RuleBook, Shelves};
use crate::source::{Complaint, Sources};

/// What lies around a design: read through this and nothing else.
pub trait Surroundings {
    /// The text of a file as it is saved, where it lies in the folder `root`.
    ///
    /// # Errors
    /// Why it cannot be read, as half a sentence.
    fn read(&self, root: &Path, file: &Path) -> Result<String, String>;
    /// What a design is judged against, read anew.
    fn bench(&self, design: &Path) -> Bench;
    /// The designs saved in a folder.
    fn designs(&self, root: &Path) -> Vec<PathBuf>;
    /// The day, for waivers.
    fn today(&self) -> Date;
}

/// What the designs under one workshop file are judged against.
#[derive(Clone, Debug)]
pub struct Bench {
    /// The folder that includes may not leave.
    pub root: PathBuf,
    /// The workshop file, where there is one.
    pub workshop: Option<Workshop>,
    /// The rules with the workshop's adjustments.
    pub rules: RuleBook,
    /// The catalogue.
    pub catalogue: Catalogue,
    /// What remedies choose from.
    pub shelves: Shelves,
    /// Workshop and rule files; the sources of every design begin with them.
    pub sources: Sources,
    /// What is wrong with them.
    pub complaints: Vec<Complaint>,
}

impl Bench {
    /// The grounds for judging on a day.
    #[must_use]
    pub fn grounds(&self, today: Date) -> Grounds<'_> {
        Grounds { rules: &self.rules, devices: &self.catalogue, shelves: &self.shelves, today }
    }

    /// Whether a file is one of the workshop's: its own file, its rules or its catalogue.
    #[must_use]
    pub fn owns(&self, file: &Path) -> bool {
        self.sources.iter().any(|(_, source)| source.path == file)
    }
}
