//! Each renderer's whole output, at a fixed width and colour.

use coldcheck::findings::{Class, Finding};
use coldcheck::report::{
    LessonSheet, Limit, Presentation, Proofs, SourceNote, complaints_as_text, facts_as_json, facts_as_lines,
    facts_as_text, lesson_as_text, nearest_subject, proofs_as_text, report_as_json, report_as_lines, report_as_text,
    subjects_named,
};
use coldcheck::source::{Sources, Span};

use super::fixtures::{Case, design, facts, find, finding, line_stage};

#[test]
fn the_report_as_text() {
    let text = line_stage().with_outcome(|outcome| report_as_text(outcome, Presentation::PLAIN));
    insta::assert_snapshot!(text);
}

#[test]
fn the_report_as_text_in_ascii_on_a_narrow_terminal() {
    let narrow = Presentation { width: 60, unicode: false, ..Presentation::PLAIN };
    let text = line_stage().with_outcome(|outcome| report_as_text(outcome, narrow));
    insta::assert_snapshot!(text);
}

#[test]
fn the_report_as_coloured_text_says_the_same_words() {
    let coloured = Presentation { colour: true, ..Presentation::PLAIN };
    let case = line_stage();
    let plain = case.with_outcome(|outcome| report_as_text(outcome, Presentation::PLAIN));
    let text = case.with_outcome(|outcome| report_as_text(outcome, coloured));
    assert!(text.contains("\u{1b}[31m"));
    assert_eq!(without_colour(&text), plain);
    assert!(!plain.contains('\u{1b}'));
}

#[test]
fn quiet_text_keeps_findings_waivers_and_the_caution() {
    let quiet = Presentation { quiet: true, ..Presentation::PLAIN };
    let text = line_stage().with_outcome(|outcome| report_as_text(outcome, quiet));
    assert!(text.contains("capacitor/working-voltage"));
    assert!(text.contains("waived malfunction coupling/corner C2"));
    assert!(text.contains("Caution:"));
    assert!(!text.contains("58 rules judged"));
}

#[test]
fn the_report_as_lines() {
    insta::assert_snapshot!(line_stage().with_outcome(report_as_lines));
}

#[test]
fn the_report_as_json() {
    insta::assert_snapshot!(line_stage().with_outcome(report_as_json));
}

#[test]
fn complaints() {
    let case = line_stage();
    let all = case.general.iter().chain(&case.report.complaints);
    insta::assert_snapshot!(complaints_as_text(all, &case.sources, Presentation::PLAIN));
}

#[test]
fn facts_as_tables() {
    let (sources, table) = facts();
    insta::assert_snapshot!(facts_as_text(&table, None, &sources, None, Presentation::PLAIN));
}

#[test]
fn facts_as_one_line_each() {
    let (sources, table) = facts();
    let c10 = subjects_named(&table, "C10");
    insta::assert_snapshot!(facts_as_lines(&table, Some(&c10), &sources, None), @r"
    supply.kdl:2:11: C10 discharge-time never switched-off
    supply.kdl:2:11: C10 kind electrolytic
    line.kdl:5:35: not-solved low-mains with V1 = 12BH7A: net `out` did not settle
    ");
}

#[test]
fn facts_as_one_document() {
    let (sources, table) = facts();
    let text = facts_as_json("line.kdl".as_ref(), "Line", &table, None, &[], &sources, None);
    insta::assert_snapshot!(text);
}

#[test]
fn a_part_covers_its_sections_and_a_wrong_name_its_nearest() {
    let (_, table) = facts();
    assert_eq!(subjects_named(&table, "V1"), subjects_named(&table, "V1a"));
    assert_eq!(subjects_named(&table, "V1").len(), 1);
    assert!(subjects_named(&table, "C").is_empty());
    assert_eq!(nearest_subject(&table, "c11"), Some("C10"));
    assert_eq!(nearest_subject(&table, "zzz"), None);
}

#[test]
fn a_lesson() {
    let sheet = LessonSheet {
        name: "capacitor/working-voltage".to_owned(),
        class: Class::Overstress,
        about: "capacitor".to_owned(),
        when: Some("known(rated-voltage)".to_owned()),
        demand: "peak-voltage <= share * rated-voltage".to_owned(),
        raised: vec![(Class::Hazard, "peak-voltage > rated-voltage".to_owned())],
        limits: vec![Limit {
            name: "share".to_owned(),
            value: "0.85".to_owned(),
            adjusted_from: Some("0.9".to_owned()),
            derated: None,
            meaning: "largest share of the rated voltage that may be used".to_owned(),
        }],
        lesson: "\n    Before the tubes draw current nothing loads the supply, and every\n    node rises to the crest.\n\n    Measure at switch-on.\n".to_owned(),
        sources: vec![
            SourceNote {
                title: "NASA EEE-INST-002".to_owned(),
                detail: Some("capacitor derating table".to_owned()),
                from_memory: false,
            },
            SourceNote {
                title: "common practice".to_owned(),
                detail: None,
                from_memory: true,
            },
        ],
        examples: vec![(
            "breaks".to_owned(),
            "\n  capacitor C1 \"1uF\"\n\n    voltage=\"50V\"\n".to_owned(),
        )],
    };
    insta::assert_snapshot!(lesson_as_text(&sheet, Presentation::PLAIN));
}

#[test]
fn proving_tells_what_failed_and_how_many() {
    let mut proofs = Proofs { rules: 2, examples: 5, failures: Vec::new() };
    assert_eq!(proofs_as_text(&proofs, Presentation::PLAIN), "2 rules, 5 examples: each gives what its rule says\n");
    for reason in ["example 1 gives nothing", "example 2 gives two"] {
        proofs.failures.push(("grid/stopper".to_owned(), reason.to_owned()));
    }
    insta::assert_snapshot!(proofs_as_text(&proofs, Presentation::PLAIN), @r"
    grid/stopper
      example 1 gives nothing
      example 2 gives two
    2 rules, 5 examples: 1 rule does not prove itself
    ");
}

#[test]
fn a_rule_repeated_in_one_file_is_cut_short_in_text_and_names_every_part() {
    let mut sources = Sources::default();
    let text: String = (1..=8).map(|n| format!("resistor R{n} \"1k\"\n")).collect();
    let file = sources.add("row.kdl", text);
    let findings: Vec<Finding> = (1..=8)
        .map(|n| {
            let part = format!("R{n}");
            let span = find(&sources, file, &part);
            let message = format!("{part} is too small");
            finding("resistor/dissipation", Class::Overstress, &part, &message, span)
        })
        .collect();
    let case = Case { sources, report: design(findings), general: Vec::new() };
    let text = case.with_outcome(|outcome| report_as_text(outcome, Presentation::PLAIN));
    assert_eq!(text.matches("overstress: ").count(), 5);
    assert!(text.contains("and 3 more of the same in row.kdl: R6, R7, R8"), "{text}");
    assert!(text.contains("8 overstress"));
    assert_eq!(case.with_outcome(report_as_lines).lines().count(), 8);
}

#[test]
fn a_clean_report_claims_nothing_it_cannot_know() {
    let mut sources = Sources::default();
    sources.add("line.kdl", "design \"x\"\n");
    let case = Case { sources, report: design(Vec::new()), general: Vec::new() };
    let text = case.with_outcome(|outcome| report_as_text(outcome, Presentation::PLAIN));
    insta::assert_snapshot!(text);
    assert!(!text.to_lowercase().contains("safe"));
}

#[test]
fn the_caution_stands_where_a_voltage_above_fifty_is_shown_or_unknown() {
    let cautioned = |highest: Option<f64>| {
        let case = Case {
            sources: Sources::default(),
            report: coldcheck::findings::DesignReport { highest_voltage: highest, ..design(Vec::new()) },
            general: Vec::new(),
        };
        case.with_outcome(|outcome| report_as_text(outcome, Presentation::PLAIN)).contains("Caution:")
    };
    assert!(!cautioned(Some(50.0)));
    assert!(cautioned(Some(50.1)));
    assert!(cautioned(Some(-300.0)));
    assert!(cautioned(Some(f64::NAN)));
    assert!(cautioned(None));
}

#[test]
fn a_finding_about_a_file_that_is_not_there_is_still_said() {
    let nowhere = Span::new(coldcheck::source::FileId(7), 3, 9);
    let case = Case {
        sources: Sources::default(),
        report: design(vec![finding("wiring/floating", Class::Malfunction, "n1", "n1 floats", nowhere)]),
        general: Vec::new(),
    };
    let text = case.with_outcome(|outcome| report_as_text(outcome, Presentation::PLAIN));
    assert!(text.contains("malfunction: n1 floats"), "{text}");
}

fn without_colour(text: &str) -> String {
    let mut plain = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('\u{1b}') {
        plain.push_str(before);
        rest = after.split_once('m').map_or("", |(_, after)| after);
    }
    plain + rest
}
