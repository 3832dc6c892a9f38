//! The open texts, saved or not, and the files of a project seen through them.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::design::{ProjectFiles, normal};

use super::surroundings::Surroundings;

/// An open text.
#[derive(Clone, Debug)]
pub(super) struct Buffer {
    /// Its address as the client writes it.
    pub(super) uri: String,
    /// Its version as the client counts.
    pub(super) version: i32,
    /// The whole text.
    pub(super) text: String,
}

/// All open texts, by path.
#[derive(Clone, Debug, Default)]
pub(super) struct Buffers {
    open: BTreeMap<PathBuf, Buffer>,
}

impl Buffers {
    pub(super) fn put(&mut self, path: PathBuf, buffer: Buffer) {
        self.open.insert(path, buffer);
    }

    pub(super) fn close(&mut self, path: &Path) {
        self.open.remove(path);
    }

    pub(super) fn get(&self, path: &Path) -> Option<&Buffer> {
        self.open.get(path)
    }

    pub(super) fn paths(&self) -> impl Iterator<Item = &PathBuf> {
        self.open.keys()
    }
}

/// Open texts before saved ones, and one text that is only tried out before both.
pub(super) struct Overlay<'a> {
    /// The folder that includes may not leave.
    pub(super) root: &'a Path,
    /// The open texts.
    pub(super) buffers: &'a Buffers,
    /// What is saved.
    pub(super) surroundings: &'a dyn Surroundings,
    /// Texts that are only tried out.
    pub(super) tried: &'a BTreeMap<PathBuf, String>,
}

impl ProjectFiles for Overlay<'_> {
    fn root(&self) -> &Path {
        self.root
    }

    fn read(&self, path: &Path) -> Result<String, String> {
        let path = normal(path).unwrap_or_else(|| path.to_owned());
        if let Some(text) = self.tried.get(&path) {
            return Ok(text.clone());
        }
        match self.buffers.get(&path) {
            Some(buffer) => Ok(buffer.text.clone()),
            None => self.surroundings.read(self.root, &path),
        }
    }
}
