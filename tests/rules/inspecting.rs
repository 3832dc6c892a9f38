//! A fragment through the whole house, as the program inspects it.

use std::path::Path;

use coldcheck::catalogue::Catalogue;
use coldcheck::circuit::Circuit;
use coldcheck::design::{ProjectFiles, read_design};
use coldcheck::facts::{FactTable, facts_of};
use coldcheck::findings::DesignReport;
use coldcheck::rules::{Inspected, RuleBook, Shelves, judge};
use coldcheck::source::Sources;

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
    let mut sources = Sources::default();
    let file = sources.add("example.kdl", format!("design \"example\"\n{fragment}\n"));
    let reading = read_design(&mut sources, file, &NoFiles, Catalogue::built_in(), None);
    let facts = match &reading.design {
        Some(design) => facts_of(design, &Circuit::of(design), Catalogue::built_in()),
        None => FactTable::default(),
    };
    let judgement = judge(book, &facts, &Shelves::default());
    Inspected {
        report: DesignReport {
            path: "example.kdl".into(),
            name: "example".to_owned(),
            revision: None,
            findings: judgement.findings,
            not_judged: judgement.not_judged,
            rules_judged: judgement.rules_judged,
            highest_voltage: None,
            complaints: reading.complaints,
        },
        facts,
    }
}
