//! The file system as the program sees it: one way to read a text, one way to find designs.

use std::collections::HashSet;
use std::io::ErrorKind;
use std::path::{Component, Path, PathBuf};

use ignore::WalkBuilder;
use rayon::prelude::*;

use crate::source::Complaint;

/// The name of the workshop file, which is never a design.
pub(super) const WORKSHOP_FILE: &str = "coldcheck.kdl";

/// Reads a text file whole.
///
/// # Errors
/// Why it cannot be read, as half a sentence.
pub(super) fn read_text(path: &Path) -> Result<String, String> {
    let bytes = std::fs::read(path).map_err(|error| match error.kind() {
        ErrorKind::NotFound => "there is no such file".to_owned(),
        ErrorKind::IsADirectory => "it is a folder".to_owned(),
        ErrorKind::PermissionDenied => "its permissions forbid it".to_owned(),
        _ => error.to_string(),
    })?;
    as_text(bytes)
}

/// The text that bytes are.
///
/// # Errors
/// Why they are none, as half a sentence.
pub(super) fn as_text(bytes: Vec<u8>) -> Result<String, String> {
    String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let before = error.as_bytes().iter().take(good);
        let line = 1 + before.filter(|byte| **byte == b'\n').count();
        format!("it is not UTF-8 text, line {line} has bytes that are no character")
    })
}

/// The complaint about a file that cannot be read.
pub(super) fn unreadable(path: &Path, reason: &str) -> Complaint {
    Complaint::general(format!("`{}` cannot be read: {reason}", path.display()))
}

/// The designs that the paths name, in order of path, each once: a file named directly is always one; a folder is
/// walked for `*.kdl`, and a file in it counts where `is_design` says so of its text (fragments, rules and catalogues
/// live in the same folders).
pub(super) fn find_designs(
    paths: &[PathBuf],
    is_design: impl Fn(&str) -> bool + Sync,
) -> (Vec<PathBuf>, Vec<Complaint>) {
    let mut designs = Vec::new();
    let mut complaints = Vec::new();
    for path in paths {
        if path.is_dir() {
            let before = (designs.len(), complaints.len());
            walk_designs(path, &is_design, &mut designs, &mut complaints);
            if before == (designs.len(), complaints.len()) {
                // A gate that finds nothing to judge must not pass.
                complaints.push(Complaint::general(format!("no design was found in the folder `{}`", path.display())));
            }
        } else {
            designs.push(path.clone());
        }
    }
    (each_once(designs), complaints)
}

/// The KDL files that lie directly in a folder, in order of name.
///
/// # Errors
/// Why the folder cannot be read, as half a sentence.
pub(super) fn rule_files(folder: &Path) -> Result<Vec<PathBuf>, String> {
    let entries = std::fs::read_dir(folder).map_err(|error| match error.kind() {
        ErrorKind::NotFound => "there is no such folder".to_owned(),
        _ => error.to_string(),
    })?;
    let mut files: Vec<PathBuf> = entries
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "kdl"))
        .collect();
    files.sort();
    Ok(files)
}

/// The KDL files that the paths name, in order of path, each once: a file named directly always, and every `*.kdl` of a
/// folder, whatever it holds.
pub(super) fn find_texts(paths: &[PathBuf]) -> (Vec<PathBuf>, Vec<Complaint>) {
    let mut texts = Vec::new();
    let mut complaints = Vec::new();
    for path in paths {
        if path.is_dir() {
            texts.extend(walk(path, &mut complaints).iter().map(|path| without_dot(path)));
        } else {
            texts.push(path.clone());
        }
    }
    (each_once(texts), complaints)
}

fn each_once(mut paths: Vec<PathBuf>) -> Vec<PathBuf> {
    paths.sort();
    let mut seen = HashSet::new();
    paths.retain(|path| seen.insert(path.canonicalize().unwrap_or_else(|_| path.clone())));
    paths
}

/// The `*.kdl` files of a folder and those in it, in order of path; ignore files are respected.
fn walk(folder: &Path, complaints: &mut Vec<Complaint>) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in WalkBuilder::new(folder).build() {
        match entry {
            Ok(entry) if entry.file_type().is_some_and(|kind| kind.is_file()) => found.push(entry.into_path()),
            Ok(_) => {}
            Err(error) => {
                complaints.push(Complaint::general(format!("`{}` could not be walked: {error}", folder.display())));
            }
        }
    }
    found.retain(|path| path.extension().is_some_and(|extension| extension == "kdl"));
    // A walk gives files in the order in which the disk has them.
    found.sort();
    found
}

fn walk_designs(
    folder: &Path,
    is_design: &(impl Fn(&str) -> bool + Sync),
    designs: &mut Vec<PathBuf>,
    complaints: &mut Vec<Complaint>,
) {
    let mut candidates = walk(folder, complaints);
    candidates.retain(|path| path.file_name().is_some_and(|name| name != WORKSHOP_FILE));
    let judged: Vec<Result<bool, String>> =
        candidates.par_iter().map(|path| read_text(path).map(|text| is_design(&text))).collect();
    for (path, judged) in candidates.iter().zip(judged) {
        match judged {
            Ok(true) => designs.push(without_dot(path)),
            Ok(false) => {}
            Err(reason) => complaints.push(unreadable(path, &reason)),
        }
    }
}

/// `./a/b` as `a/b`.
pub(super) fn without_dot(path: &Path) -> PathBuf {
    path.components().filter(|component| *component != Component::CurDir).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(files: &[(&str, &[u8])]) -> tempfile::TempDir {
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in files {
            let path = folder.path().join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, text).unwrap();
        }
        folder
    }

    fn is_design(text: &str) -> bool {
        text.starts_with("design")
    }

    #[test]
    fn a_folder_gives_its_designs_in_order_and_nothing_else() {
        let folder = folder(&[
            ("b/two.kdl", b"design two"),
            ("a.kdl", b"design one"),
            ("supply.kdl", b"resistor R1 1"),
            ("coldcheck.kdl", b"design never"),
            ("notes.txt", b"design no"),
        ]);
        let (found, complaints) = find_designs(&[folder.path().to_owned()], is_design);
        let names: Vec<_> = found.iter().map(|path| path.strip_prefix(folder.path()).unwrap().to_owned()).collect();
        assert_eq!(names, [PathBuf::from("a.kdl"), PathBuf::from("b/two.kdl")]);
        assert!(complaints.is_empty());
    }

    #[test]
    fn a_file_named_directly_is_a_design_whatever_it_holds_and_counts_once() {
        let folder = folder(&[("a.kdl", b"design one"), ("piece.kdl", b"resistor R1 1")]);
        let piece = folder.path().join("piece.kdl");
        let (found, _) = find_designs(&[piece.clone(), folder.path().to_owned(), piece.clone()], is_design);
        assert_eq!(found, [folder.path().join("a.kdl"), piece]);
    }

    #[test]
    fn a_folder_without_a_design_is_a_complaint() {
        let folder = folder(&[("piece.kdl", b"resistor R1 1")]);
        let (found, complaints) = find_designs(&[folder.path().to_owned()], is_design);
        assert!(found.is_empty());
        assert!(complaints[0].message.contains("no design"));
    }

    #[test]
    fn what_cannot_be_read_says_why() {
        let folder = folder(&[("bad.kdl", b"design one\n\xff")]);
        let reason = |name: &str| read_text(&folder.path().join(name)).unwrap_err();
        assert!(reason("bad.kdl").contains("line 2"));
        assert_eq!(reason("none.kdl"), "there is no such file");
        assert_eq!(reason(""), "it is a folder");
    }
}
