//! A fragment through the whole house, as the program inspects it.

use std::path::Path;

use coldcheck::catalogue::Catalogue;
use coldcheck::design::{ProjectFiles, read_design};
use coldcheck::inspection::{Grounds, inspect};
use coldcheck::rules::{Inspected, RuleBook, Shelves};
use coldcheck::source::Sources;
use jiff::civil::date;

struct NoFiles;

impl ProjectFiles for NoFiles {
    fn root(&self) -> &Path {
        Path::new("")
    }
    fn read(&self, path: &Path) -> Result<String, String> {
        Err(format!("{} is not there", path.display()))
    }
}

/// Inspects a fragment with a book of rules.
pub fn inspect_fragment(book: &RuleBook, fragment: &str) -> Inspected {
    let catalogue = Catalogue::built_in();
    let mut sources = Sources::default();
    let file = sources.add("example.kdl", format!("design \"example\"\n{fragment}\n"));
    let reading = read_design(&mut sources, file, &NoFiles, catalogue, None);
    let shelves = Shelves::filled_by(&|name| catalogue.shelf(name).to_vec());
    let grounds = Grounds { rules: book, devices: catalogue, shelves: &shelves, today: date(2026, 11, 25) };
    let inspection = inspect(Path::new("example.kdl"), reading, grounds);
    Inspected { report: inspection.report, facts: inspection.facts.unwrap_or_default() }
}
