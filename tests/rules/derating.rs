//! The derating sets: read without a complaint, each figure with its clause, chosen by name, overruled by the workshop.

use coldcheck::rules::{DeratingSet, RuleBook, Setting};
use coldcheck::source::{Scalar, Spanned};

use super::inspecting::inspect_fragment;
use super::tables::place;

fn spanned(text: &str) -> Spanned<String> {
    Spanned::new(text.to_owned(), place(text.len()))
}

fn derated(set: &str) -> RuleBook {
    let mut book = RuleBook::built_in().clone();
    book.derate(&spanned(set)).unwrap();
    book
}

/// A limit's value and the set that gave it.
fn limit(book: &RuleBook, rule: &str, name: &str) -> (f64, Option<String>) {
    let limits = &book.rule(rule).unwrap().check().unwrap().limits;
    let found = limits.iter().find(|limit| limit.name == name).unwrap();
    (found.value, found.derated.as_ref().map(|derated| derated.by.clone()))
}

#[test]
fn every_figure_of_a_set_has_its_rule_its_limit_and_its_clause() {
    let (sets, complaints) = DeratingSet::read_built_in();
    assert!(complaints.is_empty(), "{complaints:?}");
    let names: Vec<&str> = sets.iter().map(|set| set.name.as_str()).collect();
    assert_eq!(names, ["naval", "space-agency", "workshop"]);
    for set in &sets {
        assert!(!set.about.is_empty() && set.settings.len() >= 7, "{}", set.name);
        for Setting { rule, limit, sources, .. } in &set.settings {
            let place = format!("{} {} {}", set.name, rule.value, limit.value);
            assert!(!sources.is_empty() && sources.iter().all(|source| source.clause.is_some()), "{place}");
        }
        let book = derated(&set.name);
        for Setting { rule, limit: name, .. } in &set.settings {
            let (_, by) = limit(&book, &rule.value, &name.value);
            assert_eq!(by.as_deref(), Some(set.name.as_str()), "{} {}", rule.value, name.value);
        }
    }
}

#[test]
fn a_set_never_allows_more_than_the_rule_does_without_it() {
    for set in DeratingSet::built_in() {
        let book = derated(&set.name);
        for Setting { rule, limit: name, .. } in &set.settings {
            let (before, _) = limit(RuleBook::built_in(), &rule.value, &name.value);
            let (after, _) = limit(&book, &rule.value, &name.value);
            let stricter = if name.value == "least" { after >= before } else { after <= before };
            assert!(stricter, "{}: {} {} from {before} to {after}", set.name, rule.value, name.value);
        }
    }
}

#[test]
fn what_was_recalled_says_so() {
    let recalled = |set: &str, rule: &str, name: &str| {
        let set = DeratingSet::built_in().iter().find(|known| known.name == set).unwrap();
        let mut settings = set.settings.iter();
        let found = settings.find(|each| each.rule.value == rule && each.limit.value == name).unwrap();
        found.sources.iter().map(|source| source.from_memory).collect::<Vec<_>>()
    };
    assert_eq!(recalled("space-agency", "mains/fuse-rating", "least"), [false]);
    assert_eq!(recalled("space-agency", "capacitor/working-voltage", "ceramic"), [false, true, true]);
    assert_eq!(recalled("space-agency", "capacitor/working-voltage", "film"), [true, true]);
    assert_eq!(recalled("naval", "resistor/dissipation", "share"), [true, false]);
}

#[test]
fn an_adjustment_after_a_set_wins() {
    let mut book = derated("workshop");
    assert_eq!(limit(&book, "supply/bleeder", "longest"), (30.0, Some("workshop".to_owned())));
    let value = Spanned::new(Scalar::Text("45s".to_owned()), place(3));
    book.adjust(&spanned("supply/bleeder"), &spanned("longest"), &value).unwrap();
    assert_eq!(limit(&book, "supply/bleeder", "longest"), (45.0, None));
}

#[test]
fn an_unknown_set_is_a_complaint_with_the_nearest_name() {
    let mut book = RuleBook::built_in().clone();
    let complaint = book.derate(&spanned("space-agancy")).unwrap_err();
    assert_eq!(complaint.message, "there is no derating set `space-agancy`");
    assert_eq!(complaint.help.as_deref(), Some("did you mean `space-agency`?"));
    let complaint = book.derate(&spanned("zzz")).unwrap_err();
    assert_eq!(complaint.help.as_deref(), Some("the sets are naval, space-agency and workshop"));
}

const STRING: &str = r#"
bench-supply B1 "110V" plus=bplus minus=ground
bench-supply B2 "10V" plus=lower minus=ground
resistor R1 "10k" from=bplus to=lower power="1.8W" kind=metal-oxide voltage="115V"
"#;

#[test]
fn a_chosen_set_judges() {
    let found = |book: &RuleBook| -> Vec<String> {
        let report = inspect_fragment(book, STRING).report;
        assert!(report.complaints.is_empty(), "{:?}", report.complaints);
        report.findings.into_iter().filter(|f| f.rule.starts_with("resistor/")).map(|f| f.message).collect()
    };
    assert_eq!(found(RuleBook::built_in()), Vec::<String>::new());
    assert_eq!(
        found(&derated("space-agency")),
        [
            "R1 turns 1 W into heat, 56 % of its rating of 1.8 W; 50 % is the most",
            "R1 has 100 V across it and bears 115 V; 80 % of that is the most",
        ]
    );
}
