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

#[test]
fn each_mistake_of_the_faulty_revision_is_found_at_its_own_line_in_its_class() {
    let (lines, code) = inspect("examples/faulty");
    assert_eq!(code, Some(1));
    let file = "examples/faulty/reading-room-line-stage-c.kdl";
    for (line, class, rule, part) in [
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
    ] {
        let found = lines.iter().any(|text| {
            text.starts_with(&format!("{file}:{line}:")) && text.contains(&format!(": {class} {rule} {part}: "))
        });
        assert!(found, "{class} {rule} {part} at line {line} is missing from\n{}", lines.join("\n"));
    }
}
