//! A faulty design for each rule of the supply, the mains, the heaters and the capacitors: what is found, as lines, at the
//! offending place.

use std::path::Path;

use coldcheck::catalogue::Catalogue;
use coldcheck::design::{ProjectFiles, read_design};
use coldcheck::inspection::{Grounds, inspect};
use coldcheck::rules::{RuleBook, Shelves};
use coldcheck::source::Sources;
use include_dir::{Dir, include_dir};
use jiff::civil::date;

static FAULTY: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/tests/supply/faulty");

/// The topics whose rules have a faulty design each.
const TOPICS: [&str; 5] = ["supply", "mains", "heater", "capacitor", "diode"];

struct NoFiles;

impl ProjectFiles for NoFiles {
    fn root(&self) -> &Path {
        Path::new("")
    }
    fn read(&self, path: &Path) -> Result<String, String> {
        Err(format!("{} is not there", path.display()))
    }
}

/// Line, class, rule, part and message of each finding, with the text that the finding points at.
fn found(name: &str, text: &str) -> Vec<(String, String)> {
    let catalogue = Catalogue::built_in();
    let mut sources = Sources::default();
    let file = sources.add(name, text);
    let reading = read_design(&mut sources, file, &NoFiles, catalogue, None);
    assert!(reading.complaints.is_empty(), "{name}: {:#?}", reading.complaints);
    let shelves = Shelves::filled_by(&|name| catalogue.shelf(name).to_vec());
    let grounds =
        Grounds { rules: RuleBook::built_in(), devices: catalogue, shelves: &shelves, today: date(2026, 11, 25) };
    let report = inspect(Path::new(name), reading, grounds).report;
    report
        .findings
        .iter()
        .map(|finding| {
            let before = &text[..finding.span.start];
            let line = 1 + before.matches('\n').count();
            let pointed = &text[finding.span.start..finding.span.end];
            let told = format!(
                "{line}: {} {} {}: {}\n    at `{pointed}`\n",
                finding.class.word(),
                finding.rule,
                finding.part,
                finding.message
            );
            (finding.rule.clone(), told)
        })
        .collect()
}

#[test]
fn each_rule_finds_its_fault_at_the_offending_line() {
    let mut told = String::new();
    let mut files: Vec<_> = FAULTY.files().collect();
    files.sort_by_key(|file| file.path().to_owned());
    for file in files {
        let name = file.path().file_stem().unwrap().to_str().unwrap();
        let all = found(name, file.contents_utf8().unwrap());
        let own = all.iter().filter(|(rule, _)| rule.replace('/', "-") == name);
        assert_eq!(own.count(), 1, "{name}: {all:#?}");
        told.push_str(&format!("{name}.kdl\n"));
        all.iter().for_each(|(_, line)| told.push_str(line));
    }
    insta::assert_snapshot!(told);
}

#[test]
fn no_rule_of_these_topics_is_without_a_faulty_design() {
    for rule in RuleBook::built_in().rules().filter(|rule| TOPICS.contains(&rule.topic())) {
        let file = format!("{}.kdl", rule.name.replace('/', "-"));
        assert!(FAULTY.get_file(&file).is_some(), "{file} is missing");
    }
}
