//! Two revisions of one design: what is new, worse, better, cleared, waived, and what can no longer be judged.

use coldcheck::facts::{Fact, FactTable, Sample, State, Subject, SubjectKind, Value, find_definition};
use coldcheck::findings::{Class, Comparison, DesignReport, Finding, NotJudged, Side, Turn, Waived, compare};
use coldcheck::report::{CompareStyle, Compared, Presentation, compare_schema, comparison_as};
use coldcheck::source::{FileId, Sources, Span};

use super::fixtures::{LINE_STAGE, design, finding, line_stage};
use super::schema_check::faults;

fn at(line: usize) -> Span {
    Span::new(FileId(0), line, line + 1)
}

fn one(class: Class, part: &str, line: usize) -> Finding {
    finding("capacitor/working-voltage", class, part, &format!("{part} can see too much"), at(line))
}

fn past(excess: f64) -> Finding {
    Finding { excess, ..one(Class::Overstress, "C1", 1) }
}

fn waived(finding: Finding) -> Finding {
    Finding { waived: Some(Waived { because: "measured in March".to_owned(), until: None }), ..finding }
}

fn side(report: &DesignReport) -> Option<Side<'_>> {
    Some(Side { report, facts: None })
}

fn compared(old: Vec<Finding>, new: Vec<Finding>) -> Comparison {
    compare(side(&design(old)), side(&design(new)), 0.05, &|_| false)
}

fn turn(old: Vec<Finding>, new: Vec<Finding>) -> Option<Turn> {
    let comparison = compared(old, new);
    assert!(comparison.changes.len() <= 1);
    comparison.changes.first().map(|change| change.turn)
}

#[test]
fn a_finding_is_known_by_what_it_is_about_and_never_by_its_line() {
    let moved = compared(vec![one(Class::Hazard, "C1", 1)], vec![one(Class::Hazard, "C1", 900)]);
    assert_eq!((moved.changes.len(), moved.unchanged), (0, 1));
    let other = compared(vec![one(Class::Hazard, "C1", 1)], vec![one(Class::Hazard, "C2", 1)]);
    assert_eq!(other.changes.iter().map(|change| change.turn).collect::<Vec<_>>(), [Turn::New, Turn::Cleared]);
}

#[test]
fn another_line_up_that_is_now_the_worst_is_the_same_finding() {
    let mut after = one(Class::Hazard, "C1", 1);
    after.lineup.insert("V1".to_owned(), "12BH7A".to_owned());
    assert_eq!(turn(vec![one(Class::Hazard, "C1", 1)], vec![after]), None);
}

#[test]
fn worse_and_better_go_by_class_then_by_how_far_it_is_past_what_is_allowed() {
    let with = |class| vec![one(class, "C1", 1)];
    assert_eq!(turn(with(Class::Overstress), with(Class::Hazard)), Some(Turn::Worse));
    assert_eq!(turn(with(Class::Hazard), with(Class::Overstress)), Some(Turn::Better));
    // 0.1 is 1.111 of what is allowed: 4 % more is under the threshold of 5 %, 6 % more is over it.
    let excess = |strain: f64| 1.0 - 1.0 / strain;
    assert_eq!(turn(vec![past(0.1)], vec![past(excess(1.111 * 1.04))]), None);
    assert_eq!(turn(vec![past(0.1)], vec![past(excess(1.111 * 1.06))]), Some(Turn::Worse));
    assert_eq!(turn(vec![past(excess(1.111 * 1.06))], vec![past(0.1)]), Some(Turn::Better));
    assert_eq!(turn(vec![past(0.5)], vec![past(f64::INFINITY)]), Some(Turn::Worse));
    assert_eq!(turn(vec![past(f64::INFINITY)], vec![past(f64::INFINITY)]), None);
}

#[test]
fn waivers_that_come_and_go_are_told() {
    let found = || one(Class::Hazard, "C1", 1);
    assert_eq!(turn(vec![found()], vec![waived(found())]), Some(Turn::Waived));
    assert_eq!(turn(vec![waived(found())], vec![found()]), Some(Turn::Worse));
    assert_eq!(turn(vec![waived(found())], vec![waived(found())]), None);
    assert_eq!(turn(Vec::new(), vec![waived(found())]), Some(Turn::New));
}

#[test]
fn the_gate_stops_what_is_new_more_serious_or_no_longer_waived_and_nothing_else() {
    let found = |class| one(class, "C1", 1);
    let fails = |old: Vec<Finding>, new: Vec<Finding>| compared(old, new).fails(Class::Overstress);
    assert!(fails(vec![], vec![found(Class::Overstress)]));
    assert!(fails(vec![found(Class::Malfunction)], vec![found(Class::Overstress)]));
    assert!(fails(vec![waived(found(Class::Hazard))], vec![found(Class::Hazard)]));
    assert!(!fails(vec![found(Class::Hazard)], vec![found(Class::Hazard)]));
    assert!(!fails(vec![], vec![found(Class::Malfunction)]));
    assert!(!fails(vec![], vec![waived(found(Class::Hazard))]));
    assert!(!fails(vec![found(Class::Hazard)], vec![]));
    assert!(!fails(vec![past(0.1)], vec![past(0.9)]));
}

#[test]
fn a_finding_that_can_no_longer_be_judged_is_not_cleared() {
    let old = design(vec![one(Class::Hazard, "C1", 1)]);
    let mut new = design(Vec::new());
    new.not_judged = vec![NotJudged {
        rule: "capacitor/working-voltage".to_owned(),
        part: "C1".to_owned(),
        reason: "the supply would not settle".to_owned(),
    }];
    let comparison = compare(side(&old), side(&new), 0.05, &|_| false);
    assert_eq!(comparison.changes[0].turn, Turn::Unjudged);
    assert_eq!(comparison.no_longer_judged, new.not_judged);
    let quieted = compare(side(&old), side(&design(Vec::new())), 0.05, &|rule| rule == "capacitor/working-voltage");
    assert_eq!(quieted.changes[0].turn, Turn::Unjudged);
    assert_eq!(turn(old.findings, Vec::new()), Some(Turn::Cleared));
}

#[test]
fn a_new_design_is_all_new_and_a_removed_one_has_cleared_nothing() {
    let report = design(vec![one(Class::Hazard, "C1", 1)]);
    let turns = |old, new| compare(old, new, 0.05, &|_| false).changes.iter().map(|c| c.turn).collect::<Vec<_>>();
    assert_eq!(turns(None, side(&report)), [Turn::New]);
    assert_eq!(turns(side(&report), None), []);
}

fn table(volts: f64, leak: f64, kind: &str, noise: f64) -> FactTable {
    let mut table = FactTable::default();
    let subject = |kind, name: &str| Subject { kind, name: name.to_owned(), part: Some(name.to_owned()), span: at(1) };
    let capacitor = table.add_subject(subject(SubjectKind::Capacitor, "C1"));
    let tube = table.add_subject(subject(SubjectKind::Tube, "V1a"));
    let mut record = |subject, name, value| {
        let sample = Sample { state: Some(State::Running), lineup: 0, empty_socket: None, value };
        let fact =
            Fact { samples: vec![sample], worst: 0, estimated: false, assumptions: Vec::new(), origins: Vec::new() };
        table.record(subject, find_definition(name).unwrap(), fact);
    };
    record(capacitor, "peak-voltage", Value::Quantity(volts));
    record(capacitor, "reverse-voltage", Value::Quantity(noise));
    record(capacitor, "kind", Value::Word(kind.to_owned()));
    record(tube, "grid-leak", Value::Quantity(leak));
    table
}

#[test]
fn facts_that_moved_are_told_and_the_dust_of_a_solve_is_not() {
    let report = design(Vec::new());
    let moved = |old: FactTable, new: FactTable| {
        let old = Some(Side { report: &report, facts: Some(&old) });
        let new = Some(Side { report: &report, facts: Some(&new) });
        let comparison = compare(old, new, 0.05, &|_| false);
        comparison.moved.iter().map(|m| (m.fact.name, m.share())).collect::<Vec<_>>()
    };
    let base = || table(300.0, 1e6, "film", 1e-9);
    assert_eq!(moved(base(), table(314.0, 1e6, "film", -3e-7)), []);
    let up = moved(base(), table(330.0, 1e6, "film", 1e-9));
    assert_eq!((up[0].0, up.len()), ("peak-voltage", 1));
    assert!((up[0].1.unwrap() - 0.1).abs() < 1e-12);
    assert_eq!(moved(base(), table(300.0, f64::INFINITY, "mica", 1e-9)), [("kind", None), ("grid-leak", None)]);
    assert_eq!(moved(table(300.0, f64::INFINITY, "film", 0.0), table(300.0, f64::INFINITY, "film", 0.0)), []);
}

/// The fixture's design beside an older revision of itself.
fn revisions() -> (DesignReport, DesignReport, Sources, FactTable, FactTable) {
    let case = line_stage();
    let mut old = case.report.clone();
    old.revision = Some("A".to_owned());
    old.complaints.clear();
    old.not_judged.truncate(1);
    // In the older revision: no bleeder finding, a milder dissipation, an unwaived corner, one that is gone now.
    old.findings.retain(|finding| finding.rule != "supply/bleeder");
    for finding in &mut old.findings {
        match finding.rule.as_str() {
            "resistor/dissipation" => finding.class = Class::Overstress,
            "coupling/corner" => finding.waived = None,
            "capacitor/working-voltage" => finding.excess = 0.6,
            _ => {}
        }
    }
    let gone = finding("grid/leak-present", Class::Malfunction, "V1a", "V1a has no grid leak", at(3));
    old.findings.push(gone);
    (old, case.report, case.sources, table(300.0, 1e6, "film", 0.0), table(389.24, 470e3, "mica", 0.0))
}

fn in_style(style: CompareStyle) -> String {
    let (old, new, sources, before, after) = revisions();
    let comparison = compare(
        Some(Side { report: &old, facts: Some(&before) }),
        Some(Side { report: &new, facts: Some(&after) }),
        0.05,
        &|_| false,
    );
    let general = line_stage().general;
    let mut older = Sources::default();
    older.add("line.kdl", LINE_STAGE);
    older.add("supply.kdl", super::fixtures::SUPPLY);
    let gone = compare(side(&old), None, 0.05, &|_| false);
    let both = Compared {
        path: "line.kdl",
        old: Some((&old, &older)),
        new: Some((&new, &sources)),
        comparison: &comparison,
        fails: comparison.fails(Class::Overstress),
    };
    let removed = Compared { path: "old.kdl", old: Some((&old, &older)), new: None, comparison: &gone, fails: false };
    comparison_as(style, &[both, removed], 0.05, &general, &sources)
}

#[test]
fn the_comparison_as_text() {
    insta::assert_snapshot!(in_style(CompareStyle::Text(Presentation::PLAIN)));
}

#[test]
fn the_comparison_as_markdown() {
    insta::assert_snapshot!(in_style(CompareStyle::Markdown));
}

#[test]
fn the_comparison_as_json_keeps_to_its_schema() {
    let document = in_style(CompareStyle::Json);
    assert_eq!(faults(&compare_schema(), &document), Vec::<String>::new());
    let document: serde_json::Value = serde_json::from_str(&document).unwrap();
    let changes = document["designs"][0]["changes"].as_array().unwrap();
    let turns: Vec<_> = changes.iter().map(|change| change["turn"].as_str().unwrap()).collect();
    assert_eq!(turns, ["new", "worse", "waived", "better", "cleared"]);
    assert_eq!(document["designs"][0]["fails"], true);
    assert_eq!(document["designs"][1]["standing"], "removed");
    let strayed = in_style(CompareStyle::Json).replacen("\"turn\": \"new\"", "\"turn\": \"fresh\"", 1);
    assert!(!faults(&compare_schema(), &strayed).is_empty());
}

#[test]
fn nothing_to_tell_is_said_without_a_claim() {
    let report = design(Vec::new());
    let sources = Sources::default();
    let comparison = compare(side(&report), side(&report), 0.05, &|_| false);
    let only = Compared {
        path: "line.kdl",
        old: Some((&report, &sources)),
        new: Some((&report, &sources)),
        comparison: &comparison,
        fails: false,
    };
    let text = comparison_as(CompareStyle::Text(Presentation::PLAIN), &[only], 0.05, &[], &sources);
    assert_eq!(text, "1 design compared, 1 without a change worth telling\n");
}
