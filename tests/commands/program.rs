//! The program as its users run it: exit codes, and what goes to which stream.

use std::path::Path;

use assert_cmd::Command;

/// Exit code, stdout and stderr of the program.
pub fn coldcheck(arguments: &[&str]) -> (i32, String, String) {
    coldcheck_in(Path::new("."), arguments)
}

/// Exit code, stdout and stderr of the program started in a folder.
pub fn coldcheck_in(folder: &Path, arguments: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("coldcheck")
        .unwrap()
        .args(arguments)
        .current_dir(folder)
        .env("LC_ALL", "C.UTF-8")
        .env_remove("COLUMNS")
        .output()
        .unwrap();
    (
        output.status.code().unwrap(),
        String::from_utf8(output.stdout).unwrap(),
        String::from_utf8(output.stderr).unwrap(),
    )
}

#[test]
fn help_is_a_result_and_carries_the_caution() {
    let (code, stdout, stderr) = coldcheck(&["--help"]);
    assert_eq!((code, stderr.as_str()), (0, ""));
    for command in ["inspect", "compare", "facts", "why", "prove", "start", "tidy", "completions", "manual"] {
        assert!(stdout.contains(&format!("\n  {command}")), "{stdout}");
        let (code, help, _) = coldcheck(&[command, "--help"]);
        assert_eq!(code, 0);
        assert!(!help.to_lowercase().contains("safe"), "{help}");
    }
    let words: Vec<&str> = stdout.split_whitespace().collect();
    let words = words.join(" ");
    assert!(words.contains("voltages that kill"), "{words}");
    assert!(words.contains("local codes"), "{words}");
    assert!(!stdout.to_lowercase().contains("safe"));
}

#[test]
fn a_wrong_option_or_nothing_at_all_is_exit_2_and_silent_on_stdout() {
    for arguments in [
        &["inspect"] as &[&str],
        &["inspect", "x.kdl", "--gate", "mishap"],
        &["inspect", "x.kdl", "--jobs", "0"],
        &["facts"],
        &["unheard-of"],
        &[],
    ] {
        let (code, stdout, stderr) = coldcheck(arguments);
        assert_eq!((code, stdout.as_str()), (2, ""), "{arguments:?}");
        assert!(!stderr.is_empty());
    }
}

#[test]
fn a_file_that_is_not_there_is_exit_2_with_the_name() {
    for arguments in [&["inspect", "nowhere/attic.kdl"] as &[&str], &["facts", "nowhere/attic.kdl"]] {
        let (code, _, stderr) = coldcheck(arguments);
        assert_eq!(code, 2);
        assert!(stderr.contains("`nowhere/attic.kdl` cannot be read: there is no such file"), "{stderr}");
    }
}

#[test]
fn no_format_loses_a_complaint() {
    for (format, stream) in [("text", 2), ("lines", 1), ("json", 1), ("sarif", 1), ("markdown", 1)] {
        let (code, stdout, stderr) = coldcheck(&["inspect", "nowhere/attic.kdl", "--as", format]);
        assert_eq!(code, 2);
        let text = if stream == 1 { stdout } else { stderr };
        assert!(text.contains("nowhere/attic.kdl"), "{format}: {text}");
    }
}

#[test]
fn a_folder_without_designs_does_not_pass() {
    let folder = tempfile::tempdir().unwrap();
    let (code, _, stderr) = coldcheck(&["inspect", folder.path().to_str().unwrap()]);
    assert_eq!(code, 2);
    assert!(stderr.contains("no design was found"), "{stderr}");
}

/// A stage by itself, sound enough to compute.
pub const STAGE: &str = r#"design "Bench stage" revision="A"
bench-supply PSU "250V" plus=bplus minus=ground
tube V1 "12AU7" { heater "6.3V" from=h1 to=ground; unused b; }
bench-supply HT "6.3V" plus=h1 minus=ground
resistor R1 "47k" from=bplus to=V1a.plate power="2W"
resistor R2 "1k5" from=V1a.cathode to=ground power="0.5W"
resistor R3 "1M" from=V1a.grid to=ground power="0.25W"
capacitor C1 "1uF" from=V1a.plate to=out voltage="400V" kind=film
resistor R4 "470k" from=out to=ground power="0.25W"
"#;

/// A folder with these files.
pub fn folder(files: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in files {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
    }
    folder
}

#[test]
fn facts_come_in_every_format_for_the_whole_and_for_a_part() {
    let folder = folder(&[("stage.kdl", STAGE)]);
    let path = folder.path().join("stage.kdl");
    let path = path.to_str().unwrap();
    let (code, text, stderr) = coldcheck(&["facts", path, "C1"]);
    assert_eq!((code, stderr.as_str()), (0, ""));
    assert!(text.contains("peak-voltage"), "{text}");
    assert!(text.contains("Caution:"));
    let (code, lines, stderr) = coldcheck(&["facts", path, "C1", "--as", "lines"]);
    assert_eq!(code, 0);
    assert!(lines.lines().all(|line| line.starts_with(&format!("{path}:8:"))), "{lines}");
    assert!(stderr.starts_with("Caution:"));
    let (code, json, _) = coldcheck(&["facts", path, "--as", "json"]);
    assert_eq!(code, 0);
    let document: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(document["name"], "Bench stage");
    let facts = document["facts"].as_array().unwrap();
    let rated = facts.iter().find(|fact| fact["subject"] == "C1" && fact["fact"] == "rated-voltage").unwrap();
    assert_eq!((rated["value"].as_f64(), rated["unit"].as_str()), (Some(400.0), Some("V")));
}

#[test]
fn a_part_that_does_not_exist_is_exit_2_with_the_nearest() {
    let folder = folder(&[("stage.kdl", STAGE)]);
    let path = folder.path().join("stage.kdl");
    let (code, stdout, stderr) = coldcheck(&["facts", path.to_str().unwrap(), "R44"]);
    assert_eq!((code, stdout.as_str()), (2, ""));
    assert!(stderr.contains("has no `R44`; did you mean `R4`?"), "{stderr}");
}

#[test]
fn a_fragment_is_passed_over_in_a_folder_and_a_complaint_when_named() {
    let folder = folder(&[("stage.kdl", STAGE), ("piece.kdl", "resistor R1 \"1k\" from=a to=b\n")]);
    let (_, lines, _) = coldcheck(&["inspect", folder.path().to_str().unwrap(), "--as", "lines"]);
    assert!(!lines.contains("piece.kdl"), "{lines}");
    let piece = folder.path().join("piece.kdl");
    let (code, lines, _) = coldcheck(&["inspect", piece.to_str().unwrap(), "--as", "lines"]);
    assert_eq!(code, 2);
    assert!(lines.contains("piece.kdl:1:1: complaint: this file has no `design` statement"), "{lines}");
}

#[test]
fn a_statement_that_cannot_be_read_is_exit_2_at_its_place() {
    let folder = folder(&[("stage.kdl", &STAGE.replace("\"47k\"", "47k"))]);
    for arguments in [&["inspect"] as &[&str], &["facts"]] {
        let path = folder.path().join("stage.kdl");
        let (code, _, stderr) = coldcheck(&[arguments, &[path.to_str().unwrap()]].concat());
        assert_eq!(code, 2);
        assert!(stderr.contains("stage.kdl:5:13]"), "{stderr}");
    }
}

#[test]
fn a_workshop_file_is_found_beside_the_design_and_complained_of_once() {
    let folder = folder(&[("one.kdl", STAGE), ("two.kdl", STAGE), ("coldcheck.kdl", "gate mishap\n")]);
    let (code, lines, _) = coldcheck(&["inspect", folder.path().to_str().unwrap(), "--as", "lines"]);
    assert_eq!(code, 2);
    let complaints = lines.lines().filter(|line| line.contains("coldcheck.kdl:1:6: complaint"));
    assert_eq!(complaints.count(), 1, "{lines}");
}

#[test]
fn a_rule_that_does_not_exist_is_exit_2() {
    for command in ["why", "prove"] {
        let (code, stdout, stderr) = coldcheck(&[command, "capacitor/working-voltag"]);
        assert_eq!((code, stdout.as_str()), (2, ""));
        assert!(stderr.contains("there is no rule `capacitor/working-voltag`"));
    }
}

#[test]
fn the_schemas_need_no_design() {
    for command in ["inspect", "facts", "compare"] {
        let (code, stdout, _) = coldcheck(&[command, "--schema"]);
        assert_eq!(code, 0);
        let schema: serde_json::Value = serde_json::from_str(&stdout).unwrap();
        assert_eq!(schema["title"], format!("coldcheck {command}"));
    }
}

#[test]
fn colour_is_as_asked_and_no_colour_without_a_terminal() {
    let missing = ["inspect", "nowhere/attic.kdl", "--colour"];
    let coloured = |when: &str| {
        let (_, _, stderr) = coldcheck(&[missing.as_slice(), &[when]].concat());
        stderr.contains('\u{1b}')
    };
    assert!(coloured("always"));
    assert!(!coloured("never"));
    assert!(!coloured("auto"));
}

#[cfg(unix)]
#[test]
fn a_reader_that_leaves_early_is_no_error() {
    use std::process::{Command, Stdio};
    let mut child = Command::new(env!("CARGO_BIN_EXE_coldcheck"))
        .args(["inspect", "--schema"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
}
