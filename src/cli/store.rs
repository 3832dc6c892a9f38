//! Where texts are read from: the disk as it is, or a revision that git keeps. Both look the same to the house.

use std::path::{Path, PathBuf};

use crate::design::ProjectFiles;
use crate::remedies::Texts;

use super::files::{read_text, rule_files};
use super::project::Project;

/// A place where designs, workshop files and what they name are kept.
pub(super) trait Store: Send + Sync {
    /// The text of a file.
    ///
    /// # Errors
    /// Why it cannot be read, as half a sentence.
    fn read(&self, path: &Path) -> Result<String, String>;
    /// The KDL files that lie directly in a folder, in order of name.
    ///
    /// # Errors
    /// Why the folder cannot be read, as half a sentence.
    fn rule_files(&self, folder: &Path) -> Result<Vec<PathBuf>, String>;
    /// The project around a design.
    fn project(&self, design: &Path) -> StoredProject<'_>;
}

/// The project around a design, as its store has it.
pub(super) struct StoredProject<'a> {
    /// The workshop file nearest to the design.
    pub(super) workshop: Option<PathBuf>,
    /// What its includes may read.
    pub(super) files: Box<dyn ProjectFiles + 'a>,
}

/// The disk as it is.
pub(super) struct Disk;

impl Store for Disk {
    fn read(&self, path: &Path) -> Result<String, String> {
        read_text(path)
    }

    fn rule_files(&self, folder: &Path) -> Result<Vec<PathBuf>, String> {
        rule_files(folder)
    }

    fn project(&self, design: &Path) -> StoredProject<'_> {
        let project = Project::of(design);
        StoredProject { workshop: project.workshop.clone(), files: Box::new(project) }
    }
}

/// The files of a project with some texts changed that nobody has saved.
pub(super) struct Tried<'a> {
    /// The files as they are.
    pub(super) files: &'a dyn ProjectFiles,
    /// The texts to be read instead.
    pub(super) texts: &'a Texts,
}

impl ProjectFiles for Tried<'_> {
    fn root(&self) -> &Path {
        self.files.root()
    }

    fn read(&self, path: &Path) -> Result<String, String> {
        self.texts.get(path).map_or_else(|| self.files.read(path), |text| Ok(text.clone()))
    }
}
