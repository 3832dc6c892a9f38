//! The schemas, and documents held against them.

use coldcheck::report::{compare_schema, facts_as_json, facts_schema, report_as_json, report_schema};

use super::fixtures::{facts, line_stage};
use super::schema_check::faults;

#[test]
fn the_report_keeps_to_its_schema() {
    let document = line_stage().with_outcome(report_as_json);
    assert_eq!(faults(&report_schema(), &document), Vec::<String>::new());
}

#[test]
fn the_facts_keep_to_their_schema() {
    let (sources, table) = facts();
    let document = facts_as_json("line.kdl".as_ref(), "Line", &table, None, &[], &sources, None);
    assert_eq!(faults(&facts_schema(), &document), Vec::<String>::new());
}

#[test]
fn a_document_that_strays_is_caught() {
    let document = line_stage().with_outcome(report_as_json);
    for (from, to) in [
        ("\"version\": 1", "\"version\": \"1\""),
        ("\"hazard\": 2", "\"perils\": 2"),
        ("\"class\": \"hazard\"", "\"class\": \"mishap\""),
        ("\"column\": ", "\"column\": -"),
    ] {
        assert!(document.contains(from), "{from}");
        let strayed = document.replacen(from, to, 1);
        assert!(!faults(&report_schema(), &strayed).is_empty(), "{to}");
    }
}

#[test]
fn a_keyword_that_the_check_does_not_know_is_no_pass() {
    let unknown = std::panic::catch_unwind(|| faults(r#"{"maxLength": 3}"#, "\"four\""));
    assert!(unknown.is_err());
}

#[test]
fn the_schema_of_a_comparison() {
    insta::assert_snapshot!(compare_schema());
}

#[test]
fn the_schema_of_the_report() {
    insta::assert_snapshot!(report_schema());
}

#[test]
fn the_schema_of_the_facts() {
    insta::assert_snapshot!(facts_schema());
}
