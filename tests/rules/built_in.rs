//! The built-in rules read without a complaint, teach, and name their sources.

use coldcheck::rules::{RuleBook, Verdict};

use super::tables::drawn;

#[test]
fn every_built_in_rule_file_reads_without_a_complaint() {
    let (_, complaints, sources) = RuleBook::read_built_in();
    assert!(complaints.is_empty(), "{}", drawn(&complaints, &sources));
}

#[test]
fn names_are_for_ever() {
    let names: Vec<String> =
        RuleBook::built_in().rules().map(|rule| format!("{} {}", rule.name, rule.class.word())).collect();
    insta::assert_snapshot!(names.join("\n"));
}

#[test]
fn every_lesson_teaches_at_length_and_none_calls_a_thing_safe() {
    for rule in RuleBook::built_in().rules() {
        let words = rule.lesson.split_whitespace().count();
        assert!(words >= 60, "{} has {words} words", rule.name);
        assert!(!rule.lesson.split(|c: char| !c.is_alphabetic()).any(|word| word == "safe"), "{}", rule.name);
        assert!(rule.summary().len() > 20, "{}", rule.name);
    }
}

/// What a lesson has to name: an instrument or the act, or that there is nothing to measure.
const MEASURING: [&str; 8] = ["measure", "meter", "ohmmeter", "scope", "thermometer", "probe", "listen", "reading"];

#[test]
fn every_lesson_of_a_demand_says_how_to_measure_it_or_that_one_cannot() {
    for rule in RuleBook::built_in().rules().filter(|rule| matches!(rule.verdict, Verdict::Demand(_))) {
        let lesson = rule.lesson.to_lowercase();
        assert!(MEASURING.iter().any(|word| lesson.contains(word)), "{} measures nothing", rule.name);
    }
}

#[test]
fn every_limit_says_what_it_is() {
    for rule in RuleBook::built_in().rules() {
        if let Verdict::Demand(check) = &rule.verdict {
            for limit in &check.limits {
                assert!(!limit.meaning.is_empty(), "{} {}", rule.name, limit.name);
            }
        }
    }
}

#[test]
fn common_practice_is_called_so_and_from_memory_where_it_was_not_seen() {
    for rule in RuleBook::built_in().rules() {
        for source in &rule.sources {
            assert!(!source.document.is_empty(), "{}", rule.name);
        }
    }
    let dissipation = RuleBook::built_in().rule("resistor/dissipation").unwrap();
    // NASA EEE-INST-002, resistor derating table: recalled, not seen.
    assert!(dissipation.sources[0].from_memory);
    let bleeder = RuleBook::built_in().rule("supply/bleeder").unwrap();
    // NFPA 70, 460.6: seen as quoted.
    assert!(!bleeder.sources[0].from_memory);
}
