//! Every built-in rule proves itself on its own examples.

use coldcheck::rules::{RuleBook, prove};

use super::inspecting::inspect_fragment;

#[test]
fn every_example_shows_what_it_claims() {
    let book = RuleBook::built_in();
    let only: Vec<String> =
        std::env::var("RULES").map(|names| names.split(',').map(str::to_owned).collect()).unwrap_or_default();
    let report = prove(book, &only, &|fragment| inspect_fragment(book, fragment));
    let told: Vec<String> = report
        .failures
        .iter()
        .map(|failure| {
            let claim = if failure.holds { "holds" } else { "breaks" };
            format!("{} {claim}:\n    {}", failure.rule, failure.reasons.join("\n    "))
        })
        .collect();
    assert!(told.is_empty(), "{} of {} examples\n{}", told.len(), report.examples, told.join("\n"));
}
