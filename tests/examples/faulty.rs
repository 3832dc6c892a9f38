//! The club's repository as its members meet it: the sound designs pass, the revision drawn in a hurry is found out.

use std::process::Command;

use assert_cmd::cargo::CommandCargoExt;

fn inspect(path: &str) -> (Vec<String>, Option<i32>) {
    let mut command = Command::cargo_bin("coldcheck").unwrap();
    let output = command.args(["inspect", "--as", "lines", path]).current_dir(env!("CARGO_MANIFEST_DIR")).output();
    let output = output.unwrap();
    let lines = String::from_utf8(output.stdout).unwrap().lines().map(str::to_owned).collect();
    (lines, output.status.code())
}

#[test]
fn the_sound_designs_give_no_finding_and_leave_nothing_unjudged() {
    let (lines, code) = inspect("examples/alder-street");
    assert_eq!((lines, code), (Vec::new(), Some(0)));
}

/// Every finding of the list, as line, class, rule and part, is among what an inspection of the file prints.
fn finds(name: &str, wanted: &[(u32, &str, &str, &str)]) {
    let file = format!("examples/faulty/{name}.kdl");
    let (lines, code) = inspect(&file);
    assert_eq!(code, Some(1));
    for (line, class, rule, part) in wanted {
        let found = lines.iter().any(|text| {
            text.starts_with(&format!("{file}:{line}:")) && text.contains(&format!(": {class} {rule} {part}: "))
        });
        assert!(found, "{class} {rule} {part} at line {line} is missing from\n{}", lines.join("\n"));
    }
}

#[test]
fn the_folder_of_faulty_designs_fails() {
    let (lines, code) = inspect("examples/faulty");
    assert_eq!(code, Some(1));
    for name in ["hall-amplifier-b", "reading-room-amplifier-b", "reading-room-line-stage-c"] {
        assert!(lines.iter().any(|line| line.starts_with(&format!("examples/faulty/{name}.kdl:"))), "{name}");
    }
}

#[test]
fn each_mistake_of_the_faulty_line_stage_is_found_at_its_own_line_in_its_class() {
    finds(
        "reading-room-line-stage-c",
        &[
            (5, "hazard", "mains/fuse", "design"),
            (5, "hazard", "mains/earth", "design"),
            (6, "hazard", "mains/fuse-first", "F1"),
            (11, "malfunction", "heater/reference", "T1.heaters"),
            (18, "hazard", "supply/bleeder", "C10"),
            (18, "overstress", "capacitor/working-voltage", "C10"),
            (18, "overstress", "capacitor/surge", "C10"),
            (20, "hazard", "supply/bleeder", "C11"),
            (28, "malfunction", "grid/leak-present", "V1a"),
            (28, "malfunction", "grid/leak-present", "V1b"),
            (29, "hazard", "resistor/dissipation", "left.R3"),
            (31, "hazard", "capacitor/polarity", "right.C1"),
            (32, "malfunction", "coupling/corner", "left.C2"),
        ],
    );
}

#[test]
fn each_mistake_of_the_faulty_single_ended_amplifier_is_found_at_its_own_line_in_its_class() {
    finds(
        "reading-room-amplifier-b",
        &[
            (6, "hazard", "mains/fuse-rating", "F1"),
            (8, "hazard", "capacitor/across-mains", "C1"),
            (8, "hazard", "capacitor/mains-discharge", "C1"),
            (12, "malfunction", "heater/reference", "T1.heaters"),
            (12, "overstress", "heater/winding-load", "T1.heaters"),
            (20, "hazard", "supply/bleeder", "C2"),
            (20, "overstress", "supply/first-capacitor", "V3"),
            (22, "hazard", "supply/bleeder", "C3"),
            (22, "overstress", "capacitor/working-voltage", "C3"),
            (39, "malfunction", "output/feedback-margin", "OUT-L"),
            (43, "overstress", "grid/leak-limit", "V2"),
            (43, "malfunction", "grid/stopper", "V4"),
            (44, "refinement", "grid/screen-stopper", "V2"),
            (45, "overstress", "resistor/dissipation", "left.R10"),
            (46, "overstress", "capacitor/working-voltage", "right.C3"),
            (48, "overstress", "tube/plate-dissipation", "V2"),
        ],
    );
}

#[test]
fn each_mistake_of_the_faulty_push_pull_amplifier_is_found_at_its_own_line_in_its_class() {
    finds(
        "hall-amplifier-b",
        &[
            (5, "hazard", "mains/live-switched", "design"),
            (5, "hazard", "mains/earth", "design"),
            (21, "overstress", "supply/choke-current", "L1"),
            (22, "overstress", "capacitor/working-voltage", "C2"),
            (32, "hazard", "capacitor/polarity", "C6"),
            (35, "overstress", "resistor/dissipation", "R6"),
            (37, "hazard", "tube/alternate-basing", "V1.heater"),
            (55, "overstress", "capacitor/working-voltage", "C10"),
            (58, "hazard", "resistor/dissipation", "R17"),
            (64, "malfunction", "coupling/corner", "upper.C1"),
            (66, "overstress", "grid/leak-limit", "V3"),
            (73, "refinement", "grid/screen-stopper", "V4"),
            (87, "malfunction", "output/feedback-margin", "OUT"),
            (94, "malfunction", "output/hum", "OUT"),
        ],
    );
}

#[test]
fn what_a_proposed_revision_brings_and_changes_is_told() {
    let folder = "examples/alder-street/reading-room-line-stage.kdl";
    let mut command = Command::cargo_bin("coldcheck").unwrap();
    let proposed = "examples/revisions/reading-room-line-stage-d.kdl";
    let output = command.args(["compare", "--as", "json", folder, proposed]).current_dir(env!("CARGO_MANIFEST_DIR"));
    let output = String::from_utf8(output.output().unwrap().stdout).unwrap();
    let told: serde_json::Value = serde_json::from_str(&output).unwrap();
    let text = told.to_string();
    for word in ["resistor/dissipation", "left.R3", "left.D1", "source-impedance"] {
        assert!(text.contains(word), "{word} is not in {text}");
    }
}
