//! Every built-in rule proves itself on its own examples.

use std::collections::BTreeSet;

use coldcheck::rules::{RuleBook, prove};

use super::inspecting::inspect_fragment;

/// Rules that rest on a fact that nothing computes yet; they say "not judged" and prove nothing until it is.
const AWAITING: [&str; 0] = [];

#[test]
fn every_example_shows_what_it_claims() {
    let book = RuleBook::built_in();
    let report = prove(book, &[], &|fragment| inspect_fragment(book, fragment));
    let told: Vec<String> = report
        .failures
        .iter()
        .filter(|failure| !AWAITING.contains(&failure.rule.as_str()))
        .map(|failure| {
            let claim = if failure.holds { "holds" } else { "breaks" };
            format!("{} {claim}:\n    {}", failure.rule, failure.reasons.join("\n    "))
        })
        .collect();
    assert!(told.is_empty(), "{}", told.join("\n"));
    let unproved: BTreeSet<&str> = report.failures.iter().map(|failure| failure.rule.as_str()).collect();
    assert_eq!(unproved, BTreeSet::from(AWAITING), "take out of AWAITING what is computed now");
}

#[test]
fn an_example_that_does_not_show_what_it_claims_is_found_out() {
    let book = super::tables::book(
        r###"
rule "own/anything" class=refinement {
    about resistor
    demand "resistance <= 1ohm"
    say "{name} is {resistance}"
    mark resistance "here"
    example holds #"resistor R1 "10" from=a to=b"#
    example breaks #"resistor R1 "1" from=a to=b"# at=resistance
    example breaks #"resistor R1 "10" from=a to=b power="1W""# at=rated-power
    example breaks #"resistor R1 "10" from=a to=b; capacitor C1 "1uF" from=a to=b"# at=resistance
    example breaks "resistor" at=resistance
}
rule "own/loud" class=hazard {
    about capacitor
    demand "polarised"
    say "{name} is not polarised"
    mark polarised "here"
    example holds #"capacitor C1 "1uF" from=a to=b"#
}
"###,
    );
    let report = prove(&book, &["own/anything".to_owned()], &|fragment| inspect_fragment(&book, fragment));
    assert_eq!((report.rules, report.examples), (1, 5));
    let told: Vec<String> =
        report.failures.iter().map(|failure| format!("{}: {}", failure.number, failure.reasons.join("; "))).collect();
    insta::assert_snapshot!(told.join("\n"));
}
