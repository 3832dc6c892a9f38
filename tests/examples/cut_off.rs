//! Every example cut off anywhere: an answer always comes, and what is left is still inspected.

use std::path::Path;

use coldcheck::catalogue::Catalogue;
use coldcheck::design::{ProjectFiles, read_design};
use coldcheck::inspection::{Grounds, inspect};
use coldcheck::rules::{RuleBook, Shelves};
use coldcheck::source::Sources;
use jiff::civil::date;
use rayon::prelude::*;

use crate::Repository;

const EXAMPLES: [&str; 5] = [
    "examples/alder-street/hall-amplifier.kdl",
    "examples/alder-street/kitchen-table-led-stage.kdl",
    "examples/alder-street/reading-room-line-stage.kdl",
    "examples/alder-street/tuner-preamp.kdl",
    "examples/faulty/reading-room-line-stage-c.kdl",
];

fn whole(path: &str) -> String {
    Repository.read(Path::new(path)).unwrap()
}

#[test]
fn cut_off_at_every_byte_each_example_is_read() {
    for path in EXAMPLES {
        let text = whole(path);
        (0..text.len()).into_par_iter().filter(|end| text.is_char_boundary(*end)).for_each(|end| {
            let mut sources = Sources::default();
            let file = sources.add(path, &text[..end]);
            let reading = read_design(&mut sources, file, &Repository, Catalogue::built_in(), None);
            let answered = reading.design.is_some() || reading.fragment.is_some() || !reading.complaints.is_empty();
            assert!(answered, "{path} cut off at {end}");
        });
    }
}

#[test]
fn cut_off_after_every_other_line_what_is_left_of_each_example_is_solved_and_judged() {
    let shelves = Shelves::default();
    let (rules, devices) = (RuleBook::built_in(), Catalogue::built_in());
    for path in EXAMPLES {
        let text = whole(path);
        let ends: Vec<usize> = text.match_indices('\n').map(|(end, _)| end).collect();
        ends.into_par_iter().step_by(2).for_each(|end| {
            let mut sources = Sources::default();
            let file = sources.add(path, &text[..end]);
            let reading = read_design(&mut sources, file, &Repository, devices, None);
            let designed = reading.design.is_some();
            let grounds = Grounds { rules, devices, shelves: &shelves, today: date(2026, 1, 1) };
            let inspection = inspect(Path::new(path), reading, grounds);
            assert_eq!(inspection.facts.is_some(), designed, "{path} cut off at {end}");
            let unsolved = inspection.report.findings.iter().filter(|finding| finding.rule == "circuit/unsolved");
            assert_eq!(unsolved.count(), 0, "{path} cut off at {end}");
        });
    }
}
