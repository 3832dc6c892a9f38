//! `coldcheck tidy PATH…`

use std::path::{Path, PathBuf};

use clap::Args;

use crate::report::complaints_as_text;
use crate::source::{Complaint, Sources, tidy};

use super::Exit;
use super::files::{find_texts, read_text, unreadable};
use super::options::Looks;
use super::terminal::{for_complaints, print, say};

#[derive(Args)]
pub(super) struct Arguments {
    /// Designs, rule, catalogue and workshop files, or folders to search for them
    #[arg(required = true, value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// Change nothing: only tell which files are not laid out this way, with exit code 1 where there is one
    #[arg(long)]
    only_tell: bool,
    #[command(flatten)]
    looks: Looks,
}

pub(super) fn run(arguments: &Arguments) -> Exit {
    let (paths, complaints) = find_texts(&arguments.paths);
    let mut exit = if complaints.is_empty() { Exit::Clear } else { Exit::Unreadable };
    let presentation = for_complaints(&arguments.looks);
    say(&complaints_as_text(&complaints, &Sources::default(), presentation));
    let mut told = String::new();
    for path in &paths {
        let mut sources = Sources::default();
        match one(path, &mut sources, arguments.only_tell) {
            Ok(false) => {}
            Ok(true) => {
                told.push_str(&format!("{}\n", path.display()));
                exit = exit.max(if arguments.only_tell { Exit::Found } else { Exit::Clear });
            }
            Err(complaints) => {
                say(&complaints_as_text(&complaints, &sources, presentation));
                exit = Exit::Unreadable;
            }
        }
    }
    print(&told, exit)
}

/// Lays out one file; whether its layout differs, and so was changed where `only_tell` is not given.
fn one(path: &Path, sources: &mut Sources, only_tell: bool) -> Result<bool, Vec<Complaint>> {
    let text = read_text(path).map_err(|reason| vec![unreadable(path, &reason)])?;
    let laid = tidy(&text);
    if laid.as_ref().is_ok_and(|laid| *laid == text) {
        return Ok(false);
    }
    sources.add(path, text);
    let laid = laid?;
    if !only_tell {
        std::fs::write(path, laid)
            .map_err(|error| vec![Complaint::general(format!("`{}` could not be written: {error}", path.display()))])?;
    }
    Ok(true)
}
