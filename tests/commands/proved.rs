//! Remedies that are called checked: each, made on the text, does what it says; and nothing else is called so.

use std::collections::BTreeSet;
use std::path::Path;

use coldcheck::rules::RuleBook;
use serde_json::Value;

use super::program::{coldcheck_in, folder};
use super::schema_check::faults;

const FAULTY: &str = include_str!("../../examples/faulty/reading-room-line-stage-c.kdl");
const CLASSES: [&str; 4] = ["hazard", "overstress", "malfunction", "refinement"];

fn inspected(home: &Path, more: &[&str]) -> Vec<Value> {
    let mut arguments = vec!["inspect", ".", "--as", "json"];
    arguments.extend(more);
    let (_, out, err) = coldcheck_in(home, &arguments);
    let document: Value = serde_json::from_str(&out).unwrap_or_else(|error| panic!("{error}: {out}{err}"));
    document["designs"].as_array().unwrap().clone()
}

fn findings(design: &Value) -> &[Value] {
    design["findings"].as_array().unwrap()
}

fn byte(text: &str, line: &Value, column: &Value) -> usize {
    let (line, column) = (line.as_u64().unwrap() as usize - 1, column.as_u64().unwrap() as usize - 1);
    let start: usize = text.split_inclusive('\n').take(line).map(str::len).sum();
    start + text[start..].chars().take(column).map(char::len_utf8).sum::<usize>()
}

/// The text with the edits of a remedy made.
fn made(text: &str, edit: &Value) -> String {
    let place = |one: &Value| {
        let span = &one["span"];
        (byte(text, &span["line"], &span["column"]), byte(text, &span["end_line"], &span["end_column"]))
    };
    let mut edits: Vec<_> = edit["edits"].as_array().unwrap().iter().collect();
    edits.sort_by_key(|one| std::cmp::Reverse(place(one)));
    let mut text_then = text.to_owned();
    for one in edits {
        let (start, end) = place(one);
        text_then.replace_range(start..end, one["text"].as_str().unwrap());
    }
    text_then
}

fn open(design: &Value) -> BTreeSet<(String, String, usize)> {
    let class = |one: &Value| CLASSES.iter().position(|class| one["class"] == **class).unwrap();
    let word = |one: &Value, field: &str| one[field].as_str().unwrap().to_owned();
    let open = findings(design).iter().filter(|one| one["waived"].is_null());
    open.map(|one| (word(one, "rule"), word(one, "part"), class(one))).collect()
}

#[test]
fn every_remedy_called_checked_clears_its_finding_and_brings_nothing_as_serious() {
    let mut texts: Vec<(String, String)> = vec![("faulty.kdl".to_owned(), FAULTY.to_owned())];
    for rule in RuleBook::built_in().rules() {
        for (number, example) in rule.examples.iter().filter(|example| !example.holds).enumerate() {
            let named = example.design.lines().any(|line| line.trim_start().starts_with("design "));
            let head = if named { "" } else { "design \"Example\"\n" };
            let name = format!("{}-{number}.kdl", rule.name.replace('/', "-"));
            texts.push((name, format!("{head}{}", example.design)));
        }
    }
    let home = tempfile::tempdir().unwrap();
    for (name, text) in &texts {
        std::fs::write(home.path().join(name), text).unwrap();
    }
    let before = inspected(home.path(), &[]);
    assert_eq!(before.len(), texts.len());
    let after = tempfile::tempdir().unwrap();
    let mut trials = Vec::new();
    for (number, design) in before.iter().enumerate() {
        let path = design["path"].as_str().unwrap();
        let (_, text) = texts.iter().find(|(name, _)| name == path).unwrap();
        for finding in findings(design).iter().filter(|one| one["remedy_checked"] == true) {
            let name = format!("{:04}.kdl", trials.len());
            std::fs::write(after.path().join(&name), made(text, &finding["remedy_edit"])).unwrap();
            trials.push((number, finding));
        }
    }
    let results = inspected(after.path(), &["--untried"]);
    assert_eq!(results.len(), trials.len());
    let mut rules = BTreeSet::new();
    for ((number, finding), result) in trials.iter().zip(&results) {
        let told = format!("{} {} {}", before[*number]["path"], finding["rule"], finding["remedy_edit"]["title"]);
        let (was, is) = (open(&before[*number]), open(result));
        let (rule, part) = (finding["rule"].as_str().unwrap(), finding["part"].as_str().unwrap());
        assert!(!is.iter().any(|(known, whose, _)| known == rule && whose == part), "{told}");
        let class = CLASSES.iter().position(|class| finding["class"] == **class).unwrap();
        let brought: Vec<_> = is.difference(&was).filter(|(_, _, new)| *new <= class).collect();
        assert!(brought.is_empty(), "{told} brings {brought:?}");
        assert!(
            result["complaints"].as_array().unwrap().len() <= before[*number]["complaints"].as_array().unwrap().len()
        );
        rules.insert(rule);
    }
    for rule in [
        "capacitor/across-mains",
        "capacitor/line-to-earth",
        "capacitor/polarity",
        "capacitor/surge",
        "capacitor/working-voltage",
        "cathode/bypass-corner",
        "coupling/corner",
        "grid/leak-limit",
        "grid/leak-present",
        "grid/screen-stopper",
        "grid/stopper",
        "heater/reference",
        "heater/winding-load",
        "mains/earth",
        "mains/fuse",
        "mains/fuse-first",
        "mains/fuse-rating",
        "mains/live-switched",
        "mains/switch",
        "resistor/dissipation",
        "resistor/preferred-value",
        "resistor/rating-missing",
        "supply/bleeder",
        "supply/bleeder-margin",
        "supply/choke-current",
        "supply/critical-inductance",
        "supply/first-capacitor",
        "supply/winding-current",
        "tube/alternate-basing",
        "tube/unused-section",
        "wiring/duplicate",
        "wiring/floating",
    ] {
        assert!(rules.contains(rule), "nothing is checked of {rule}; of these it is: {rules:?}");
    }
}

#[test]
fn the_next_value_is_tried_where_the_first_would_be_bought_twice() {
    let home = folder(&[("faulty.kdl", FAULTY)]);
    let (_, out, _) = coldcheck_in(home.path(), &["inspect", "faulty.kdl", "--as", "lines"]);
    let surge = out.lines().find(|line| line.contains("capacitor/surge C10")).unwrap();
    // 400 V would do for the surge alone, and the working voltage asks for 450 V.
    assert!(surge.contains("[fit one rated 450 V or more (checked: change `350V` to `450V`); or put "), "{surge}");
    assert!(!out.contains("400 V or more"), "{out}");
    let told = |rule: &str| out.lines().find(|line| line.contains(rule)).unwrap();
    assert!(told("supply/bleeder left.C2").ends_with("empties it from 390.7 V in time]"), "nothing to try there");
    assert!(told("mains/fuse-first").contains("(checked: move F1 into the live lead, behind the inlet)"));
}

#[test]
fn two_findings_of_one_part_ask_for_one_rating_before_anything_is_tried() {
    let home = folder(&[("faulty.kdl", FAULTY)]);
    let (_, out, _) = coldcheck_in(home.path(), &["inspect", "faulty.kdl", "--untried", "--as", "lines"]);
    for rule in ["capacitor/surge C10", "capacitor/working-voltage C10"] {
        let told = out.lines().find(|line| line.contains(rule)).unwrap();
        assert!(told.contains("[fit one rated 450 V or more"), "{told}");
    }
}

#[test]
fn a_value_that_does_not_clear_the_finding_is_not_named() {
    let workshop = "stock { fuse-current \"5A\" \"10A\"; }\n";
    let home = folder(&[("coldcheck.kdl", workshop), ("faulty.kdl", FAULTY)]);
    let (_, out, err) = coldcheck_in(home.path(), &["inspect", "faulty.kdl", "--as", "lines"]);
    let fuse = out.lines().find(|line| line.contains("mains/fuse-rating")).unwrap_or_else(|| panic!("{out}{err}"));
    let words = "[no single value clears this without bringing something as serious; tried: 5 A, 10 A]";
    assert!(fuse.ends_with(words), "{fuse}");
}

#[test]
fn untried_remedies_are_never_called_checked() {
    let home = folder(&[("faulty.kdl", FAULTY)]);
    for format in ["text", "lines", "json", "sarif", "markdown"] {
        let (code, out, _) = coldcheck_in(home.path(), &["inspect", "faulty.kdl", "--untried", "--as", format]);
        assert_eq!(code, 1);
        assert!(!out.contains("checked: ") && !out.contains("\"remedy_checked\": true"), "{format}");
        let (code, out, _) = coldcheck_in(home.path(), &["inspect", "faulty.kdl", "--as", format]);
        assert_eq!(code, 1);
        assert!(out.contains("checked: change") || out.contains("\"remedy_checked\": true"), "{format}: {out}");
    }
}

#[test]
fn trials_give_the_same_bytes_whatever_the_threads() {
    let home = folder(&[("faulty.kdl", FAULTY), ("more/faulty.kdl", FAULTY)]);
    let run = |jobs: &str| coldcheck_in(home.path(), &["inspect", ".", "--as", "json", "--jobs", jobs]);
    assert_eq!(run("1"), run("5"));
}

#[test]
fn what_is_waived_is_not_tried_and_a_sound_design_is_inspected_once() {
    let waived = FAULTY.to_owned() + "waive \"mains/fuse-rating\" part=F1 because=\"until the right one is bought\"\n";
    let home = folder(&[("faulty.kdl", &waived)]);
    let designs = inspected(home.path(), &[]);
    let fuse = findings(&designs[0]).iter().find(|one| one["rule"] == "mains/fuse-rating").unwrap();
    assert_eq!(fuse["remedy_checked"], false);
    assert!(fuse["remedy_edit"].is_null());
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/alder-street");
    let run = |more: &[&str]| coldcheck_in(&examples, &[&["inspect", "reading-room-line-stage.kdl"], more].concat());
    assert_eq!(run(&[]), run(&["--untried"]));
}

#[test]
fn an_edit_reaches_into_the_file_that_the_design_includes() {
    let supply: String =
        FAULTY.lines().skip_while(|line| !line.starts_with("tube V10")).take(6).collect::<Vec<_>>().join("\n");
    let own = FAULTY.replace(&supply, "include \"parts/supply.kdl\"");
    let home = folder(&[("line.kdl", &own), ("parts/supply.kdl", &supply)]);
    let designs = inspected(home.path(), &[]);
    let found = findings(&designs[0]).iter().find(|one| one["rule"] == "capacitor/working-voltage").unwrap();
    assert_eq!(found["remedy_checked"], true, "{found}");
    let edit = &found["remedy_edit"]["edits"][0];
    assert_eq!(edit["span"]["file"], "parts/supply.kdl");
    assert!(
        made(&supply, &found["remedy_edit"])
            .contains("capacitor C10 \"22uF\" plus=V10.cathode minus=ground voltage=\"450V\"")
    );
}

#[test]
fn every_fix_of_a_sarif_document_keeps_to_the_standard_and_to_the_text() {
    let home = folder(&[("faulty.kdl", FAULTY)]);
    let (_, out, _) = coldcheck_in(home.path(), &["inspect", ".", "--as", "sarif"]);
    assert_eq!(faults(include_str!("data/sarif-schema-2.1.0.json"), &out), Vec::<String>::new());
    let log: Value = serde_json::from_str(&out).unwrap();
    let results = log["runs"][0]["results"].as_array().unwrap();
    let fix = |rule: &str| &results.iter().find(|one| one["ruleId"] == rule).unwrap()["fixes"][0];
    let rating = fix("capacitor/working-voltage");
    assert_eq!(rating["description"]["text"], "change `350V` to `450V`");
    let change = &rating["artifactChanges"][0];
    assert_eq!(change["artifactLocation"]["uri"], "faulty.kdl");
    let region = &change["replacements"][0]["deletedRegion"];
    let start = byte(FAULTY, &region["startLine"], &region["startColumn"]);
    let end = byte(FAULTY, &region["endLine"], &region["endColumn"]);
    assert_eq!(&FAULTY[start..end], "\"350V\"");
    assert_eq!(change["replacements"][0]["insertedContent"]["text"], "\"450V\"");
    assert!(fix("mains/fuse-first")["artifactChanges"][0]["replacements"].as_array().unwrap().len() > 2);
    let untouched =
        results.iter().find(|one| one["ruleId"] == "supply/bleeder" && one["properties"]["part"] == "left.C2");
    assert!(untouched.unwrap().get("fixes").is_none(), "what was not tried has no fix");
}
