//! What a designer accepts stays in the list, and what no longer does anything is told of.

use coldcheck::design::Waiver;
use coldcheck::facts::{FactTable, Lineup, Subject, SubjectKind};
use coldcheck::findings::{Class, Finding, NotJudged, Spoken, WaiverBench, apply_waivers};
use coldcheck::rules::RuleBook;
use coldcheck::source::Spanned;
use jiff::civil::{Date, date};

use super::tables::place;

fn finding(rule: &str, part: &str) -> Finding {
    Finding {
        rule: rule.to_owned(),
        class: Class::Hazard,
        part: part.to_owned(),
        message: "something".to_owned(),
        remedies: Vec::new(),
        state: None,
        empty_socket: None,
        lineup: Lineup::new(),
        span: place(1),
        labels: Vec::new(),
        facts: Vec::new(),
        excess: 0.0,
        waived: None,
        by_tolerance: None,
    }
}

fn waiver(rule: &str, part: Option<&str>, until: Option<Date>) -> Waiver {
    Waiver {
        rule: Spanned::new(rule.to_owned(), place(50)),
        part: part.map(|part| Spanned::new(part.to_owned(), place(60))),
        because: "measured in March".to_owned(),
        until: until.map(|day| Spanned::new(day, place(70))),
        span: place(40),
    }
}

fn facts() -> FactTable {
    let mut facts = FactTable::default();
    facts.add_subject(Subject {
        kind: SubjectKind::Tube,
        name: "V1a".to_owned(),
        part: Some("V1".to_owned()),
        span: place(5),
    });
    facts
}

fn applied(findings: &mut [Finding], waiver: Waiver, not_judged: &[NotJudged]) -> Vec<Spoken> {
    let bench = WaiverBench {
        facts: &facts(),
        not_judged,
        today: date(2026, 11, 25),
        is_rule: &|name| RuleBook::built_in().rule(name).is_some(),
    };
    apply_waivers(findings, &[waiver], bench)
}

const RULE: &str = "tube/plate-voltage";

#[test]
fn a_waiver_marks_what_it_covers_and_removes_nothing() {
    let mut findings = [finding(RULE, "V1a"), finding(RULE, "V2"), finding("supply/bleeder", "V1a")];
    let spoken = applied(&mut findings, waiver(RULE, Some("V1"), Some(date(2026, 11, 25))), &[]);
    assert!(spoken.is_empty(), "{spoken:?}");
    let waived: Vec<bool> = findings.iter().map(|f| f.waived.is_some()).collect();
    assert_eq!(waived, [true, false, false]);
    let waived = findings[0].waived.clone().unwrap();
    assert_eq!(waived.because, "measured in March");
    assert_eq!(waived.until.as_deref(), Some("2026-11-25"));
}

#[test]
fn a_waiver_covers_the_part_its_sections_windings_and_heater_and_nothing_that_only_sounds_like_it() {
    for (part, subject, covered) in [
        (Some("V1"), "V1a", true),
        (Some("V1"), "V1.heater", true),
        (Some("T1"), "T1.ht", true),
        (Some("left"), "left.R3", true),
        (Some("V1"), "V10", false),
        (Some("C1"), "C10", false),
        (None, "anything", true),
    ] {
        let mut findings = [finding(RULE, subject)];
        applied(&mut findings, waiver(RULE, part, None), &[]);
        assert_eq!(findings[0].waived.is_some(), covered, "{part:?} {subject}");
    }
}

#[test]
fn an_expired_waiver_covers_nothing_and_is_told_of() {
    let mut findings = [finding(RULE, "V1a")];
    let spoken = applied(&mut findings, waiver(RULE, Some("V1"), Some(date(2026, 11, 24))), &[]);
    assert_eq!(findings[0].waived, None);
    let [expired] = spoken.as_slice() else {
        panic!("{spoken:?}");
    };
    assert_eq!(expired.rule, "waiver/expired");
    assert_eq!(expired.message, "the waiver of tube/plate-voltage for V1 ended on 2026-11-24: measured in March");
    assert_eq!(expired.labels[0].span, place(70));
}

#[test]
fn a_waiver_that_matches_nothing_is_told_of() {
    let spoken = applied(&mut [], waiver(RULE, Some("V1"), None), &[]);
    assert_eq!(spoken[0].rule, "waiver/unused");
    assert_eq!(spoken[0].message, "the waiver of tube/plate-voltage for V1 matches nothing");
    assert_eq!(spoken[0].labels[0].span, place(50));
    let spoken = applied(&mut [], waiver("tube/plat-voltage", None, None), &[]);
    assert_eq!(spoken[0].message, "the waiver names tube/plat-voltage, and no rule is called so");
}

#[test]
fn a_waiver_of_what_was_not_judged_is_not_called_unused() {
    let open = NotJudged { rule: RULE.to_owned(), part: "V1a".to_owned(), reason: "unsolved".to_owned() };
    assert!(applied(&mut [], waiver(RULE, Some("V1"), None), &[open]).is_empty());
}

#[test]
fn what_waivers_have_to_say_is_a_refinement() {
    let spoken = applied(&mut [], waiver(RULE, Some("V1"), None), &[]);
    let finding = RuleBook::built_in().speak(spoken[0].clone()).unwrap();
    assert_eq!(finding.class, Class::Refinement);
}
