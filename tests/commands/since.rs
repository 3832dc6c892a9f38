//! `compare` as its users run it: two folders, and a repository with a history made here.

use std::path::Path;
use std::process::Command;

use super::program::{STAGE, coldcheck_in, folder};
use super::schema_check::faults;

/// A stage whose plate resistor is far too small: an old finding that everybody knows of.
fn worn() -> String {
    STAGE.replace("to=V1a.plate power=\"2W\"", "to=V1a.plate power=\"0.25W\"")
}

fn git(folder: &Path, arguments: &[&str]) {
    let run = Command::new("git")
        .arg("-C")
        .arg(folder)
        .args(["-c", "user.name=club", "-c", "user.email=club@example.org", "-c", "commit.gpgsign=false"])
        .args(arguments)
        .output()
        .unwrap();
    assert!(run.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&run.stderr));
}

fn commit(folder: &Path, message: &str) {
    git(folder, &["add", "--all"]);
    git(folder, &["commit", "--quiet", "--message", message]);
}

/// A repository whose first commit holds these files.
fn repository(files: &[(&str, &str)]) -> tempfile::TempDir {
    let folder = folder(files);
    git(folder.path(), &["init", "--quiet"]);
    commit(folder.path(), "first");
    folder
}

fn write(folder: &Path, name: &str, text: &str) {
    std::fs::write(folder.join(name), text).unwrap();
}

#[test]
fn a_repository_with_old_findings_gates_only_the_new_one() {
    let repository = repository(&[("amps/worn.kdl", &worn()), ("amps/stage.kdl", STAGE)]);
    let at = repository.path();
    // The old finding fails an inspection, and no comparison.
    assert_eq!(coldcheck_in(at, &["inspect", "amps"]).0, 1);
    let (code, text, stderr) = coldcheck_in(at, &["compare", "--since", "HEAD", "amps"]);
    assert_eq!(
        (code, text.as_str(), stderr.as_str()),
        (0, "2 designs compared, 2 without a change worth telling\n", "")
    );

    // The second commit moves the old finding down three lines and brings one that is new.
    let second = worn().replace("voltage=\"400V\"", "voltage=\"63V\"");
    write(at, "amps/worn.kdl", &format!("// one\n// two\n// three\n{second}"));
    commit(at, "second");
    let (code, text, _) = coldcheck_in(at, &["compare", "--since", "HEAD~1", "amps"]);
    assert_eq!(code, 1, "{text}");
    let new: Vec<&str> = text.lines().filter(|line| line.starts_with("  new:")).collect();
    assert!(new.iter().all(|line| line.contains("capacitor/")), "{text}");
    assert!(text.contains("new: overstress capacitor/working-voltage at amps/worn.kdl:11:"), "{text}");
    assert!(!text.contains("new: hazard resistor") && !text.contains("new: overstress resistor"), "{text}");
    assert!(text.contains("unchanged"), "{text}");
    // Nothing is new since the second commit itself.
    assert_eq!(coldcheck_in(at, &["compare", "--since", "HEAD", "amps"]).0, 0);
    // A gate above the finding's class lets it pass.
    assert_eq!(coldcheck_in(at, &["compare", "--since", "HEAD~1", "--gate", "hazard", "amps"]).0, 0);

    let (_, json, _) = coldcheck_in(at, &["compare", "--since", "HEAD~1", "--as", "json", "amps"]);
    let (_, schema, _) = coldcheck_in(at, &["compare", "--schema"]);
    assert_eq!(faults(&schema, &json), Vec::<String>::new());
    let (_, markdown, _) = coldcheck_in(at, &["compare", "--since", "HEAD~1", "--as", "markdown", "amps"]);
    assert!(markdown.contains("**1 design brings something at or above the gate**"), "{markdown}");
}

#[test]
fn includes_and_the_workshop_file_are_read_from_the_older_revision_too() {
    let shared = "bench-supply PSU \"250V\" plus=bplus minus=ground\n";
    let stage = STAGE.replace(shared, "include \"../shared/supply.kdl\"\n");
    assert_ne!(stage, STAGE);
    let repository = repository(&[
        ("amps/stage.kdl", &stage),
        ("shared/supply.kdl", shared),
        ("coldcheck.kdl", "gate overstress\n"),
    ]);
    let at = repository.path();
    // Only the shared supply changes: the design that includes it has a new finding.
    write(at, "shared/supply.kdl", &shared.replace("250V", "420V"));
    let (code, text, stderr) = coldcheck_in(at, &["compare", "--since", "HEAD", "."]);
    assert_eq!(code, 1, "{text}{stderr}");
    assert!(text.contains("new: ") && text.contains("amps/stage.kdl"), "{text}");
    assert!(text.contains("moved: "), "{text}");
    assert!(text.contains("250 V → 420 V"), "{text}");

    // A rule that the workshop keeps quiet from now on has cleared nothing.
    commit(at, "second");
    write(at, "coldcheck.kdl", "quiet \"capacitor/working-voltage\" because=\"we know\"\n");
    let (code, text, _) = coldcheck_in(at, &["compare", "--since", "HEAD", "."]);
    assert_eq!(code, 0, "{text}");
    assert!(text.contains("no longer judged: overstress capacitor/working-voltage"), "{text}");
    assert!(!text.contains("cleared"), "{text}");
}

#[test]
fn designs_that_come_go_and_are_ignored_are_said_for_what_they_are() {
    let repository = repository(&[("a.kdl", STAGE), ("b.kdl", STAGE), ("kept/c.kdl", STAGE)]);
    let at = repository.path();
    std::fs::remove_file(at.join("a.kdl")).unwrap();
    write(at, "d.kdl", &worn());
    write(at, ".ignore", "kept\n");
    let (code, text, _) = coldcheck_in(at, &["compare", "--since", "HEAD", "."]);
    assert_eq!(code, 1, "{text}");
    assert!(text.contains("revision A (a.kdl): removed"), "{text}");
    assert!(text.contains("revision A (d.kdl): a new design"), "{text}");
    assert!(!text.contains("kept"), "{text}");
    // A path that only the older revision has.
    let (code, text, _) = coldcheck_in(at, &["compare", "--since", "HEAD", "a.kdl"]);
    assert_eq!(code, 0);
    assert!(text.contains("removed"), "{text}");
}

#[test]
fn the_older_side_is_found_from_any_folder_and_by_any_way_of_writing() {
    let repository = repository(&[("amps/stage.kdl", STAGE), ("notes/x.txt", "x")]);
    let at = repository.path();
    write(at, "amps/stage.kdl", &worn());
    let whole = at.join("amps").to_str().unwrap().to_owned();
    for (folder, path) in [("notes", "../amps"), ("amps", "."), ("amps", "stage.kdl"), ("notes", whole.as_str())] {
        let (code, text, stderr) = coldcheck_in(&at.join(folder), &["compare", "--since", "HEAD", path]);
        assert_eq!(code, 1, "{folder} {path}: {text}{stderr}");
        assert!(text.contains("new: hazard resistor/dissipation"), "{text}");
        assert!(!text.contains("a new design") && !text.contains("removed"), "{text}");
    }
}

#[test]
fn what_cannot_be_compared_is_exit_2() {
    let repository = repository(&[("a.kdl", STAGE)]);
    let at = repository.path();
    for (arguments, words) in [
        (&["compare", "--since", "nowhere", "a.kdl"] as &[&str], "`nowhere` names no commit here"),
        (&["compare", "--since=--help", "a.kdl"], "`--help` names no commit here"),
        (&["compare", "--since", "HEAD", "z.kdl"], "neither here nor in `HEAD`"),
        (&["compare", "a.kdl"], "two paths are compared"),
        (&["compare", "a.kdl", "."], "a file is compared with a file"),
        (&["compare", "a.kdl", "z.kdl"], "there is no such file"),
        (&["compare", "a.kdl", "a.kdl", "--moved", "much"], "such as 5%"),
    ] {
        let (code, stdout, stderr) = coldcheck_in(at, arguments);
        assert_eq!((code, stdout.as_str()), (2, ""), "{arguments:?}");
        assert!(stderr.contains(words), "{stderr}");
    }
    let outside = folder(&[("a.kdl", STAGE)]);
    let (code, _, stderr) = coldcheck_in(outside.path(), &["compare", "--since", "HEAD", "a.kdl"]);
    assert_eq!(code, 2);
    assert!(stderr.contains("is in no git repository"), "{stderr}");
}

#[test]
fn a_base_that_cannot_be_read_is_told_and_does_not_hold_back_its_own_mending() {
    let broken = STAGE.replace("\"47k\"", "47k");
    let repository = repository(&[("a.kdl", &broken)]);
    let at = repository.path();
    write(at, "a.kdl", STAGE);
    let (code, _, stderr) = coldcheck_in(at, &["compare", "--since", "HEAD", "a.kdl"]);
    assert_eq!(code, 0, "{stderr}");
    assert!(stderr.contains("a.kdl:5:13"), "{stderr}");
    // A change that breaks what could be read fails.
    commit(at, "mended");
    write(at, "a.kdl", &broken);
    assert_eq!(coldcheck_in(at, &["compare", "--since", "HEAD", "a.kdl"]).0, 2);
}

#[test]
fn two_folders_are_matched_by_place() {
    let folder =
        folder(&[("old/x/a.kdl", STAGE), ("new/x/a.kdl", &worn()), ("old/b.kdl", STAGE), ("new/b.kdl", STAGE)]);
    let (code, text, _) = coldcheck_in(folder.path(), &["compare", "old", "new"]);
    assert_eq!(code, 1);
    assert!(text.contains("revision A (x/a.kdl)\n"), "{text}");
    assert!(text.contains("resistor/dissipation at new/x/a.kdl:5:"), "{text}");
    assert!(text.contains("2 designs compared, 1 without"), "{text}");
    let (code, text, _) = coldcheck_in(folder.path(), &["compare", "new/x/a.kdl", "old/x/a.kdl"]);
    assert_eq!(code, 0);
    assert!(text.contains("cleared: "), "{text}");
}
