//! A revision of the repository, read through the `git` command line: what lay there, and the texts as they were.
//!
//! Paths are those that the same files have on the disk, seen from where the program was started.

use std::collections::BTreeMap;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Component, Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::{Mutex, PoisonError};

use crate::design::ProjectFiles;

use super::files::{WORKSHOP_FILE, as_text, without_dot};
use super::project::Project;
use super::store::{Store, StoredProject};

/// A revision and the files in it.
pub(super) struct Revision {
    /// The repository's folder, links resolved.
    top: PathBuf,
    /// The folder where the program was started, links resolved.
    here: PathBuf,
    /// The files, by their path in the repository: the identity of each text. Links and submodules are not among them.
    blobs: BTreeMap<String, String>,
    reader: Mutex<BlobReader>,
}

impl Revision {
    /// Opens the revision of the repository that a path lies in.
    ///
    /// # Errors
    /// Why there is none, as a sentence.
    pub(super) fn open(revision: &str, path: &Path) -> Result<Self, String> {
        let folder = path.ancestors().find(|folder| folder.is_dir()).unwrap_or(Path::new("."));
        let top = git(folder, &["rev-parse", "--show-toplevel"])
            .map_err(|error| format!("`{}` is in no git repository that can be read: {error}", path.display()))?;
        let top = PathBuf::from(top.trim_end_matches(['\n', '\r']));
        // Without the guard a revision that begins with a dash would be read as an option.
        let commit = format!("{revision}^{{commit}}");
        let commit = git(&top, &["rev-parse", "--verify", "--quiet", "--end-of-options", &commit]).map_err(|_| {
            format!("`{revision}` names no commit here; fetch it first where the clone is a shallow one")
        })?;
        let list = git(&top, &["ls-tree", "-r", "-z", "--full-tree", commit.trim()])
            .map_err(|error| format!("the files of `{revision}` cannot be listed: {error}"))?;
        let real = |path: &Path| path.canonicalize().map_err(|error| format!("`{}`: {error}", path.display()));
        Ok(Self {
            here: real(Path::new("."))?,
            blobs: list.split('\0').filter_map(listed).collect(),
            reader: Mutex::new(BlobReader::start(&top)?),
            top: real(&top)?,
        })
    }

    /// Whether the revision has a file of this path.
    pub(super) fn has(&self, path: &Path) -> bool {
        self.blob(path).is_some()
    }

    /// The designs below a path, in order; `is_design` says so of a text. A file named directly is always one.
    pub(super) fn designs(&self, path: &Path, is_design: impl Fn(&str) -> bool) -> Vec<PathBuf> {
        if self.has(path) {
            return vec![path.to_owned()];
        }
        let Some(folder) = self.inside(path) else { return Vec::new() };
        let prefix = if folder.is_empty() { folder } else { format!("{folder}/") };
        let candidates = self.below(&prefix).filter(|(rest, _)| {
            let hidden = rest.split('/').any(|name| name.starts_with('.'));
            let workshop = rest.rsplit('/').next() == Some(WORKSHOP_FILE);
            rest.ends_with(".kdl") && !hidden && !workshop
        });
        candidates
            .filter(|(_, blob)| self.text(blob).is_ok_and(|text| is_design(&text)))
            .map(|(rest, _)| without_dot(&path.join(rest)))
            .collect()
    }

    /// The files whose path begins with a prefix, with what follows it.
    fn below<'a>(&'a self, prefix: &'a str) -> impl Iterator<Item = (&'a str, &'a str)> {
        self.blobs
            .range(prefix.to_owned()..)
            .map_while(move |(name, blob)| Some((name.strip_prefix(prefix)?, blob.as_str())))
    }

    fn blob(&self, path: &Path) -> Option<&str> {
        self.blobs.get(&self.inside(path)?).map(String::as_str)
    }

    /// A path as the repository names it; none for what lies outside.
    fn inside(&self, path: &Path) -> Option<String> {
        let plain = plain(&self.here.join(path));
        let inside = match plain.strip_prefix(&self.top) {
            Ok(inside) => inside.to_owned(),
            // A link on the way to the repository has another name there.
            Err(_) => path.canonicalize().ok()?.strip_prefix(&self.top).ok()?.to_owned(),
        };
        inside.to_str().map(|name| name.replace('\\', "/"))
    }

    fn text(&self, blob: &str) -> Result<String, String> {
        let mut reader = self.reader.lock().unwrap_or_else(PoisonError::into_inner);
        reader.read(blob).map_err(|error| format!("git does not give it: {error}")).and_then(as_text)
    }
}

impl Store for Revision {
    fn read(&self, path: &Path) -> Result<String, String> {
        let blob = self.blob(path).ok_or_else(|| "there is no such file in that revision".to_owned())?;
        self.text(blob)
    }

    fn rule_files(&self, folder: &Path) -> Result<Vec<PathBuf>, String> {
        let none = || "there is no such folder in that revision".to_owned();
        let prefix = match self.inside(folder).ok_or_else(none)? {
            name if name.is_empty() => name,
            name => format!("{name}/"),
        };
        let mut names = self.below(&prefix).map(|(rest, _)| rest).peekable();
        names.peek().ok_or_else(none)?;
        let direct = names.filter(|rest| !rest.contains('/') && rest.ends_with(".kdl"));
        Ok(direct.map(|rest| folder.join(rest)).collect())
    }

    fn project(&self, design: &Path) -> StoredProject<'_> {
        let (root, folders) = Project::folders(design);
        let workshop = folders.iter().map(|folder| folder.join(WORKSHOP_FILE)).find(|file| self.has(file));
        StoredProject { workshop, files: Box::new(RevisionFiles { revision: self, root }) }
    }
}

struct RevisionFiles<'a> {
    revision: &'a Revision,
    root: PathBuf,
}

impl ProjectFiles for RevisionFiles<'_> {
    fn root(&self) -> &Path {
        &self.root
    }

    fn read(&self, path: &Path) -> Result<String, String> {
        self.revision.read(path)
    }
}

/// `MODE TYPE ID<tab>PATH` of a file.
fn listed(line: &str) -> Option<(String, String)> {
    let (what, path) = line.split_once('\t')?;
    let mut words = what.split(' ');
    let (mode, kind, id) = (words.next()?, words.next()?, words.next()?);
    // 120000 is a link, whose text is where it leads.
    (kind == "blob" && mode != "120000").then(|| (path.to_owned(), id.to_owned()))
}

/// The path without `.` and with `..` taken back, by its text alone.
fn plain(path: &Path) -> PathBuf {
    let mut plain = PathBuf::new();
    for component in path.components() {
        match component {
            Component::CurDir => {}
            Component::ParentDir => {
                plain.pop();
            }
            other => plain.push(other),
        }
    }
    plain
}

/// Runs git and gives what it printed.
fn git(folder: &Path, arguments: &[&str]) -> Result<String, String> {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let run = Command::new("git").arg("-C").arg(folder).args(arguments).stdin(Stdio::null()).output();
    let output = run.map_err(|error| format!("git could not be started: {error}"))?;
    if output.status.success() {
        return Ok(String::from_utf8_lossy(&output.stdout).into_owned());
    }
    let said = String::from_utf8_lossy(&output.stderr);
    Err(said.lines().next().unwrap_or("git gives no reason").to_owned())
}

/// One git that gives text after text, because starting one for each of ten thousand files takes minutes.
struct BlobReader {
    git: Child,
    asked: ChildStdin,
    answers: BufReader<ChildStdout>,
}

impl BlobReader {
    fn start(top: &Path) -> Result<Self, String> {
        let unable = |error: std::io::Error| format!("git could not be started: {error}");
        let mut git = Command::new("git")
            .arg("-C")
            .arg(top)
            .args(["cat-file", "--batch"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .map_err(unable)?;
        match (git.stdin.take(), git.stdout.take()) {
            (Some(asked), Some(answers)) => Ok(Self { git, asked, answers: BufReader::new(answers) }),
            _ => Err("git could not be spoken to".to_owned()),
        }
    }

    fn read(&mut self, blob: &str) -> std::io::Result<Vec<u8>> {
        writeln!(self.asked, "{blob}")?;
        self.asked.flush()?;
        let mut header = String::new();
        self.answers.read_line(&mut header)?;
        // `ID blob SIZE`, or `ID missing`.
        let size = header.trim_end().rsplit(' ').next().and_then(|size| size.parse::<usize>().ok());
        let size = size.ok_or_else(|| std::io::Error::other("it is missing"))?;
        let mut bytes = vec![0; size + 1];
        self.answers.read_exact(&mut bytes)?;
        bytes.pop();
        Ok(bytes)
    }
}

impl Drop for BlobReader {
    fn drop(&mut self) {
        // It waits for the next name and would do so for ever; whether it is gone already does not matter.
        drop(self.git.kill());
        drop(self.git.wait());
    }
}
