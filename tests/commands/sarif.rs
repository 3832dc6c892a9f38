//! SARIF held against the schema that OASIS publishes, and against what code-hosting services ask beyond it.

use coldcheck::findings::Class;
use coldcheck::report::{LessonSheet, SourceNote, Style, report_as};
use coldcheck::source::Sources;
use serde_json::Value;

use super::fixtures::{Case, LINE_STAGE, design, find, finding, line_stage};
use super::program::{coldcheck_in, folder};
use super::schema_check::faults;

const SCHEMA: &str = include_str!("data/sarif-schema-2.1.0.json");

fn lesson(name: &str, class: Class) -> LessonSheet {
    LessonSheet {
        name: name.to_owned(),
        class,
        about: "capacitor".to_owned(),
        when: None,
        demand: "discharge-time <= 60s".to_owned(),
        raised: Vec::new(),
        limits: Vec::new(),
        lesson: "\n    A charged capacitor waits for a hand.\n    It waits for ever.\n\n    Fit a bleeder.\n"
            .to_owned(),
        sources: vec![SourceNote { title: "common practice".to_owned(), detail: None, from_memory: true }],
        examples: Vec::new(),
    }
}

fn rules() -> Vec<LessonSheet> {
    vec![lesson("grid/stopper", Class::Refinement), lesson("supply/bleeder", Class::Hazard)]
}

fn written(case: &Case) -> Value {
    let text = case.with_outcome(|outcome| report_as(Style::Sarif, outcome, &rules()));
    assert_eq!(faults(SCHEMA, &text), Vec::<String>::new());
    serde_json::from_str(&text).unwrap()
}

#[test]
fn the_report_as_sarif() {
    insta::assert_snapshot!(line_stage().with_outcome(|outcome| report_as(Style::Sarif, outcome, &rules())));
}

#[test]
fn it_keeps_to_the_schema_of_the_standard() {
    written(&line_stage());
    let strayed = line_stage().with_outcome(|outcome| report_as(Style::Sarif, outcome, &rules()));
    for (from, to) in [
        ("\"version\": \"2.1.0\"", "\"version\": \"2.1\""),
        ("\"level\": \"note\"", "\"level\": \"hint\""),
        ("\"startLine\": 3", "\"startLine\": 0"),
        ("\"uri\": \"line.kdl\"", "\"uri\": \"the line.kdl\""),
        ("\"columnKind\"", "\"columnSort\""),
    ] {
        assert!(strayed.contains(from), "{from}");
        assert!(!faults(SCHEMA, &strayed.replacen(from, to, 1)).is_empty(), "{to}");
    }
}

#[test]
fn a_clean_run_has_results_and_they_are_none() {
    let mut sources = Sources::default();
    sources.add("line.kdl", LINE_STAGE);
    let log = written(&Case { sources, report: design(Vec::new()), general: Vec::new() });
    let run = &log["runs"][0];
    assert_eq!(run["results"], serde_json::json!([]));
    assert_eq!(run["invocations"][0]["executionSuccessful"], true);
    assert_eq!(run["invocations"][0]["toolExecutionNotifications"], serde_json::json!([]));
}

#[test]
fn every_rule_is_described_with_its_lesson() {
    let log = written(&line_stage());
    let rules = log["runs"][0]["tool"]["driver"]["rules"].as_array().unwrap();
    assert_eq!(rules.len(), 2);
    let bleeder = &rules[1];
    assert_eq!(bleeder["shortDescription"]["text"], "A charged capacitor waits for a hand.");
    assert!(bleeder["help"]["text"].as_str().unwrap().contains("Fit a bleeder."));
    assert!(bleeder["help"]["markdown"].as_str().unwrap().contains("`discharge-time <= 60s`"));
    assert_eq!(bleeder["defaultConfiguration"]["level"], "error");
    assert!(!log.to_string().contains("security-severity"));
}

#[test]
fn results_carry_level_rule_suppression_and_every_label() {
    let case = line_stage();
    let log = written(&case);
    let results = log["runs"][0]["results"].as_array().unwrap();
    assert_eq!(results.len(), case.report.findings.len());
    for (result, finding) in results.iter().zip(&case.report.findings) {
        let level = match finding.class {
            Class::Hazard | Class::Overstress => "error",
            Class::Malfunction => "warning",
            Class::Refinement => "note",
        };
        assert_eq!(result["level"], level);
        assert_eq!(result["ruleId"], finding.rule);
        let related = result["relatedLocations"].as_array().map_or(0, Vec::len);
        assert_eq!(related, finding.labels.len());
        let suppressions = result["suppressions"].as_array().unwrap();
        assert_eq!(suppressions.len(), usize::from(finding.waived.is_some()));
        if let Some(index) = result["ruleIndex"].as_u64() {
            assert_eq!(rules()[index as usize].name, finding.rule);
        }
    }
}

#[test]
fn slicing_the_source_at_a_region_gives_what_the_finding_points_at() {
    let case = line_stage();
    let log = written(&case);
    for (result, finding) in log["runs"][0]["results"].as_array().unwrap().iter().zip(&case.report.findings) {
        let place = &result["locations"][0]["physicalLocation"];
        let file = case.sources.get(finding.span.file).unwrap();
        assert_eq!(place["artifactLocation"]["uri"], file.path.to_str().unwrap());
        let number = |name: &str| place["region"][name].as_u64().unwrap() as usize;
        assert_eq!(number("startLine"), number("endLine"));
        let line = file.text.lines().nth(number("startLine") - 1).unwrap();
        let cut: String =
            line.chars().skip(number("startColumn") - 1).take(number("endColumn") - number("startColumn")).collect();
        assert_eq!(cut, case.sources.text(finding.span));
    }
}

#[test]
fn nothing_that_could_not_be_read_or_judged_is_lost() {
    let log = written(&line_stage());
    let invocation = &log["runs"][0]["invocations"][0];
    assert_eq!(invocation["executionSuccessful"], false);
    let said = invocation["toolExecutionNotifications"].to_string();
    for words in ["attic.kdl", "`stock` is empty", "did you mean `level`?", "not judged: output/gain (OUT, V1a)"] {
        assert!(said.contains(words), "{words}: {said}");
    }
}

fn fingerprints(text: &str, path: &str) -> Vec<String> {
    let mut sources = Sources::default();
    let file = sources.add(path, text);
    let mut report =
        design(["C2", "R3"].map(|part| finding("x/y", Class::Hazard, part, "m", find(&sources, file, part))).to_vec());
    report.path = path.into();
    let log = written(&Case { sources, report, general: Vec::new() });
    let results = log["runs"][0]["results"].as_array().unwrap();
    results.iter().map(|r| r["partialFingerprints"]["coldcheckIdentity/v1"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn fingerprints_survive_moved_lines_and_tell_parts_and_files_apart() {
    let here = fingerprints(LINE_STAGE, "line.kdl");
    assert_ne!(here[0], here[1]);
    assert_eq!(fingerprints(&format!("// a note\n\n{LINE_STAGE}"), "./line.kdl"), here);
    let elsewhere = fingerprints(LINE_STAGE, "hall/line.kdl");
    assert!(here.iter().all(|print| !elsewhere.contains(print)));
    // FNV-1a of "line.kdl\0x/y|C2|", computed apart: it may never change, or every finding looks new.
    assert_eq!(here[0], "73f319c5e8a6366f");
}

#[test]
fn paths_are_uris() {
    for (path, uri) in [
        ("amps/a b é.kdl", "amps/a%20b%20%C3%A9.kdl"),
        ("./amps/x.kdl", "amps/x.kdl"),
        ("/home/club/x.kdl", "file:///home/club/x.kdl"),
    ] {
        let mut sources = Sources::default();
        let file = sources.add(path, LINE_STAGE);
        let found = finding("x/y", Class::Hazard, "C2", "m", find(&sources, file, "C2"));
        let log = written(&Case { sources, report: design(vec![found]), general: Vec::new() });
        let artifact = &log["runs"][0]["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"];
        assert_eq!(artifact["uri"], uri);
        assert_eq!(artifact["uriBaseId"].is_null(), uri.starts_with("file:"));
    }
}

#[test]
fn the_program_writes_what_the_standard_wants() {
    let folder = folder(&[
        ("faulty.kdl", include_str!("../../examples/faulty/reading-room-line-stage-c.kdl")),
        ("broken.kdl", "design \"Broken\"\nresistor R1 10k\n"),
        ("coldcheck.kdl", "quiet \"mains/fuse-first\" because=\"the plug has one\"\n"),
    ]);
    let (code, text, _) = coldcheck_in(folder.path(), &["inspect", ".", "--as", "sarif"]);
    assert_eq!(code, 2);
    assert_eq!(faults(SCHEMA, &text), Vec::<String>::new());
    let log: Value = serde_json::from_str(&text).unwrap();
    let run = &log["runs"][0];
    let rules = run["tool"]["driver"]["rules"].as_array().unwrap();
    let named = |name: &str| rules.iter().any(|rule| rule["id"] == name);
    assert!(named("mains/fuse") && !named("mains/fuse-first"));
    for result in run["results"].as_array().unwrap() {
        let index = result["ruleIndex"].as_u64().unwrap() as usize;
        assert_eq!(rules[index]["id"], result["ruleId"]);
        assert_ne!(result["ruleId"], "mains/fuse-first");
    }
    assert!(run["results"].as_array().unwrap().len() > 10);
}
