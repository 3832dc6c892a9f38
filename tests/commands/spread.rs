//! The spread of parts in every output: findings marked in each format, schemas kept, the command line and the workshop
//! file, the same bytes from every run.

use std::path::Path;

use coldcheck::report::{facts_schema, report_schema};

use super::program::coldcheck_in;
use super::schema_check::faults;

/// 100 V across 10 kΩ: 1 W as drawn, of 1.05 W that the rating bears; and 1 W of 0.99 W.
const DESIGN: &str = r#"design "Bench pair" revision="A"
bench-supply B1 "200V" plus=a minus=ground
bench-supply B2 "100V" plus=b minus=ground
resistor R1 "10k" from=a to=b power="1.75W" tolerance="10%"
resistor R2 "10k" from=a to=b power="1.65W" tolerance="10%"
resistor R3 "10k" from=a to=b power="3W" tolerance="10%"
"#;

/// A folder with the design and, where given, a workshop file.
fn folder(workshop: Option<&str>) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("pair.kdl"), DESIGN).unwrap();
    if let Some(text) = workshop {
        std::fs::write(folder.path().join("coldcheck.kdl"), text).unwrap();
    }
    folder
}

fn inspected(folder: &Path, more: &[&str]) -> (i32, String) {
    let arguments = [&["inspect", "pair.kdl"], more].concat();
    let (code, stdout, _) = coldcheck_in(folder, &arguments);
    (code, stdout)
}

#[test]
fn the_text_marks_what_only_the_spread_gives() {
    let folder = folder(None);
    insta::assert_snapshot!(inspected(folder.path(), &["--spread"]).1);
}

#[test]
fn lines_and_markdown_say_it_too() {
    let folder = folder(None);
    insta::assert_snapshot!(inspected(folder.path(), &["--spread", "--as", "lines"]).1);
    insta::assert_snapshot!(inspected(folder.path(), &["--spread", "--as", "markdown"]).1);
}

#[test]
fn the_json_keeps_to_its_schema_and_carries_the_figures() {
    let folder = folder(None);
    let (code, document) = inspected(folder.path(), &["--spread", "--as", "json", "--builds", "60", "--seed", "4"]);
    assert_eq!(code, 1);
    assert_eq!(faults(&report_schema(), &document), Vec::<String>::new());
    let document: serde_json::Value = serde_json::from_str(&document).unwrap();
    let design = &document["designs"][0];
    let of = |part: &str| {
        design["findings"].as_array().unwrap().iter().find(|finding| finding["part"] == part).unwrap()["by_tolerance"]
            .clone()
    };
    assert_eq!((&of("R1")["only"], &of("R2")["only"]), (&true.into(), &false.into()));
    assert_eq!(of("R1")["nominal"], serde_json::json!({ "fact": "dissipation", "value": 1.0, "unit": "W" }));
    assert_eq!(of("R1")["departures"], serde_json::json!([{ "part": "R1", "quantity": "resistance", "share": -0.1 }]));
    assert_eq!(of("R1")["judged"], 60);
    assert_eq!((&design["spread"]["builds"], &design["spread"]["seed"]), (&60.into(), &4.into()));
}

#[test]
fn sarif_carries_it_in_message_and_properties() {
    let folder = folder(None);
    let (_, document) = inspected(folder.path(), &["--spread", "--as", "sarif"]);
    assert_eq!(faults(include_str!("data/sarif-schema-2.1.0.json"), &document), Vec::<String>::new());
    let document: serde_json::Value = serde_json::from_str(&document).unwrap();
    let results = document["runs"][0]["results"].as_array().unwrap();
    let only: Vec<&serde_json::Value> =
        results.iter().filter(|result| result["properties"]["byTolerance"]["only"] == true).collect();
    assert_eq!(only.len(), 1);
    assert!(only[0]["message"]["text"].as_str().unwrap().contains("only by tolerance"), "{}", only[0]);
    assert!(only[0]["properties"]["byTolerance"]["judged"] == 100);
}

#[test]
fn facts_show_their_bands_and_keep_to_their_schema() {
    let folder = folder(None);
    let (code, text, _) = coldcheck_in(folder.path(), &["facts", "pair.kdl", "R1", "--spread"]);
    assert_eq!(code, 0);
    insta::assert_snapshot!(text);
    let (_, document, _) = coldcheck_in(folder.path(), &["facts", "pair.kdl", "--spread", "--as", "json"]);
    assert_eq!(faults(&facts_schema(), &document), Vec::<String>::new());
    let document: serde_json::Value = serde_json::from_str(&document).unwrap();
    let facts = document["facts"].as_array().unwrap();
    let band = &facts.iter().find(|fact| fact["subject"] == "R1" && fact["fact"] == "dissipation").unwrap()["band"];
    assert_eq!((&band["low"], &band["high"], &band["builds"]), (&0.909091.into(), &1.11111.into(), &100.into()));
}

#[test]
fn without_the_option_nothing_is_said_of_it() {
    let folder = folder(None);
    for format in ["text", "lines", "json", "sarif", "markdown"] {
        let (_, output) = inspected(folder.path(), &["--as", format]);
        for word in ["by tolerance", " builds", "spread"] {
            assert!(!output.contains(word) || format == "sarif", "{format}: {output}");
        }
        assert!(!output.contains("byTolerance"));
    }
}

#[test]
fn the_workshop_file_turns_it_on_and_the_command_line_has_the_last_word() {
    let folder = folder(Some("spread builds=20 seed=9\n"));
    let (_, output) = inspected(folder.path(), &["--as", "lines"]);
    assert!(output.contains("20 builds drawn uniformly with seed 9"), "{output}");
    let (_, output) = inspected(folder.path(), &["--spread", "--builds", "10", "--as", "lines"]);
    assert!(output.contains("10 builds drawn uniformly with seed 9"), "{output}");
}

#[test]
fn the_gate_counts_what_only_the_spread_gives() {
    let folder = tempfile::tempdir().unwrap();
    let sound: String = DESIGN.lines().filter(|line| !line.contains("R2")).map(|line| format!("{line}\n")).collect();
    std::fs::write(folder.path().join("pair.kdl"), sound).unwrap();
    assert_eq!(inspected(folder.path(), &[]).0, 0);
    assert_eq!(inspected(folder.path(), &["--spread"]).0, 1);
}

#[test]
fn neither_threads_nor_runs_change_a_byte() {
    let folder = folder(None);
    let (_, one) = inspected(folder.path(), &["--spread", "--as", "json", "--jobs", "1"]);
    let (_, many) = inspected(folder.path(), &["--spread", "--as", "json", "--jobs", "7"]);
    assert_eq!(one, many);
    let facts =
        |jobs| coldcheck_in(folder.path(), &["facts", "pair.kdl", "--spread", "--as", "json", "--jobs", jobs]).1;
    assert_eq!(facts("1"), facts("7"));
}

#[test]
fn builds_without_the_spread_are_refused() {
    let folder = folder(None);
    let (code, stdout, stderr) = coldcheck_in(folder.path(), &["inspect", "pair.kdl", "--builds", "10"]);
    assert_eq!((code, stdout.as_str()), (2, ""));
    assert!(stderr.contains("--spread"), "{stderr}");
}
