//! The places that outputs name, proved by cutting the named region out of the text and by looking at what the drawing
//! puts under which character.

use coldcheck::findings::{Class, Label};
use coldcheck::report::{Presentation, region, report_as_json, report_as_lines, report_as_text};
use coldcheck::source::{Sources, Span};

use super::fixtures::{Case, design, find, finding, line_stage};

/// Texts that are hard to count in, each with a word to find.
const TEXTS: [(&str, &str); 12] = [
    ("plain", "one\ntwo R1 three\n"),
    ("accents", "é é R1 é\n"),
    ("wide", "漢字 \"漢\" R1\n漢\n"),
    ("emoji", "🙂 note=\"🙂🙂\" R1"),
    ("tabs", "a\n\t\tR1\tb\n"),
    ("mark", "\u{feff}R1 first\n"),
    ("windows", "a\r\nb R1\r\nc\r\n"),
    ("old", "a\rb R1\rc"),
    ("last", "a\nb R1"),
    ("long", "R1\n\n\n\n"),
    ("joined", "e\u{301} R1 e\u{301}\n"),
    ("mixed", "a\r\n\u{feff}\té漢🙂R1\n"),
];

/// Cuts a region out of a text by lines and columns alone, as a reader of the output would.
fn cut(text: &str, line: usize, column: usize, end_line: usize, end_column: usize) -> String {
    let ended = text.replace("\r\n", "\n\u{0}").replace('\r', "\n");
    let lines: Vec<&str> = ended.split('\n').collect();
    let of =
        |line: usize| -> Vec<char> { lines[line - 1].chars().filter(|c| !matches!(c, '\u{0}' | '\u{feff}')).collect() };
    if line == end_line {
        return of(line)[column - 1..end_column - 1].iter().collect();
    }
    let mut cut: String = of(line)[column - 1..].iter().collect();
    for whole in line + 1..end_line {
        cut.push('\n');
        cut.extend(of(whole));
    }
    cut.push('\n');
    cut.extend(of(end_line)[..end_column - 1].iter());
    cut
}

#[test]
fn cutting_the_reported_region_gives_the_text() {
    for (name, text) in TEXTS {
        let mut sources = Sources::default();
        let file = sources.add(name, text);
        let region = region(&sources, find(&sources, file, "R1"));
        let found = cut(text, region.line, region.column, region.end_line, region.end_column);
        assert_eq!(found, "R1", "{name}: {region:?}");
    }
}

#[test]
fn every_region_of_the_document_is_the_text_that_its_span_covers() {
    let case = line_stage();
    let document: serde_json::Value = serde_json::from_str(&case.with_outcome(report_as_json)).unwrap();
    let findings = document["designs"][0]["findings"].as_array().unwrap();
    assert_eq!(findings.len(), case.report.findings.len());
    for (written, finding) in findings.iter().zip(&case.report.findings) {
        let labels = written["labels"].as_array().unwrap();
        let places = std::iter::once(&written["span"]).chain(labels.iter().map(|l| &l["span"]));
        let spans = std::iter::once(finding.span).chain(finding.labels.iter().map(|l| l.span));
        for (place, span) in places.zip(spans) {
            let number = |key: &str| usize::try_from(place[key].as_u64().unwrap()).unwrap();
            let text = &case.sources.get(span.file).unwrap().text;
            let found = cut(text, number("line"), number("column"), number("end_line"), number("end_column"));
            assert_eq!(found, case.sources.text(span));
            assert_eq!(place["file"], case.sources.path(span.file).to_str().unwrap());
        }
    }
}

fn one_finding(text: &str, start: usize, end: usize) -> Case {
    let mut sources = Sources::default();
    let file = sources.add("place.kdl", text);
    let span = Span::new(file, start, end);
    Case {
        report: design(vec![finding("wiring/dangling", Class::Malfunction, "R1", "R1 leads nowhere", span)]),
        sources,
        general: Vec::new(),
    }
}

fn drawn(case: &Case) -> String {
    let quiet = Presentation { quiet: true, ..Presentation::PLAIN };
    case.with_outcome(|outcome| report_as_text(outcome, quiet))
}

#[test]
fn text_and_lines_name_the_same_line_and_column() {
    for (name, text) in TEXTS {
        let start = text.find("R1").unwrap();
        let case = one_finding(text, start, start + 2);
        let lines = case.with_outcome(report_as_lines);
        let place = lines.split(": ").next().unwrap();
        let text = drawn(&case);
        assert!(text.contains(&format!("[{place}]")), "{name}: {place} in\n{text}");
    }
}

#[test]
fn the_underline_lies_under_its_word() {
    let case = one_finding("one\ntwo R1 three\n", 8, 10);
    insta::assert_snapshot!(drawn(&case), @r"
    wiring/dangling

      malfunction: R1 leads nowhere
       ╭─[place.kdl:2:5]
     1 │ one
     2 │ two R1 three
       ·     ─┬
       ·      ╰── here
       ╰────

    Caution: voltages above 50 V here can kill. Work on it only unplugged, with every capacitor measured
      as discharged; follow local codes, and leave mains work to those licensed for it.
    ");
}

#[test]
fn the_end_of_a_file_an_empty_file_and_what_lies_past_them_are_drawn() {
    for (text, start, end, place) in [
        ("", 0, 0, "place.kdl:1:1"),
        ("", 5, 9, "place.kdl:1:1"),
        ("one", 3, 3, "place.kdl:1:4"),
        ("one\n", 4, 4, "place.kdl:2:1"),
        ("one\n", 400, 900, "place.kdl:2:1"),
        ("one\ntwo", 7, 99, "place.kdl:2:4"),
        ("one\r\n", 5, 5, "place.kdl:2:1"),
        ("\u{feff}", 3, 3, "place.kdl:1:1"),
    ] {
        let case = one_finding(text, start, end);
        let drawn = drawn(&case);
        assert!(drawn.contains(&format!("[{place}]")), "{text:?}\n{drawn}");
        assert!(drawn.contains("╰── here"), "{text:?}\n{drawn}");
    }
}

#[test]
fn every_span_of_a_difficult_text_is_drawn_without_a_panic() {
    let text = "\u{feff}é\t漢🙂\r\n\rx\u{1b}[2J\u{202e}y\u{85}\n\n";
    for start in 0..=text.len() + 2 {
        for end in start..=text.len() + 2 {
            let case = one_finding(text, start, end);
            let drawn = drawn(&case);
            assert!(drawn.contains("R1 leads nowhere"));
            assert!(!drawn.contains(['\u{1b}', '\u{202e}', '\u{85}', '\r']));
        }
    }
}

#[test]
fn a_statement_of_several_lines_is_marked_on_its_first() {
    let text = "tube V1 {\n  heater\n}\nnext\n";
    let case = one_finding(text, 0, 20);
    let drawn = drawn(&case);
    assert!(drawn.contains("tube V1 {\n"), "{drawn}");
    assert!(!drawn.contains("next"), "{drawn}");
    let lines = case.with_outcome(report_as_lines);
    assert!(lines.starts_with("place.kdl:1:1: malfunction"));
    let region = region(&case.sources, case.report.findings[0].span);
    assert_eq!((region.end_line, region.end_column), (3, 2));
}

#[test]
fn labels_that_overlap_are_drawn_apart_and_the_main_one_keeps_its_place() {
    let mut case = one_finding("resistor R1 \"1k\" power=\"1W\"\n", 0, 27);
    let file = case.report.findings[0].span.file;
    case.report.findings[0].labels = [(0, 27, "the part"), (0, 8, "its kind"), (17, 27, "its rating")]
        .map(|(start, end, text)| Label { span: Span::new(file, start, end), text: text.to_owned() })
        .to_vec();
    let drawn = drawn(&case);
    insta::assert_snapshot!(drawn.split("\n\nCaution").next().unwrap(), @r#"
    wiring/dangling

      malfunction: R1 leads nowhere
       ╭─[place.kdl:1:1]
     1 │ resistor R1 "1k" power="1W"
       · ────────┬─────── ─────┬────
       ·         │             ╰── its rating
       ·         ╰── the part; its kind
       ╰────
    "#);
}
