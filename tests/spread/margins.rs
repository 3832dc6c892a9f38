//! Margins say the same as the judge: below zero exactly where a rule is broken.

use std::collections::BTreeSet;

use coldcheck::catalogue::Catalogue;
use coldcheck::rules::{RuleBook, Shelves, judge, margins};

use super::bench::Bench;

#[test]
fn the_margins_of_every_rule_s_examples_agree_with_the_findings() {
    let book = RuleBook::built_in();
    let shelves = Shelves::filled_by(&|name| Catalogue::built_in().shelf(name).to_vec());
    let mut compared = 0;
    for example in book.rules().flat_map(|rule| &rule.examples) {
        let facts = Bench::of(&example.design).facts();
        let findings: BTreeSet<(String, String)> =
            judge(book, &facts, &shelves).findings.into_iter().map(|finding| (finding.rule, finding.part)).collect();
        let below: BTreeSet<(String, String)> = margins(book, &facts, &shelves)
            .into_iter()
            .filter(|(_, margin)| *margin < 0.0)
            .map(|(key, _)| (key.rule.to_owned(), facts.subject(key.subject).unwrap().name.clone()))
            .collect();
        assert_eq!(findings, below, "{}", example.design);
        compared += findings.len();
    }
    assert!(compared > 50, "{compared}");
}
