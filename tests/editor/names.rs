//! Where names come from, who uses them, and what becomes of them under another name.

use std::path::PathBuf;

use serde_json::{Value, json};

use crate::client::{Client, edited, example, place, program, uri};

fn opened() -> (Client, PathBuf, String) {
    let mut client = Client::start(&["utf-32"]);
    let path = example("alder-street/tuner-preamp.kdl");
    let text = std::fs::read_to_string(&path).unwrap();
    client.open(&path, &text);
    (client, path, text)
}

/// File name and starting line of each location.
fn lines(locations: &Value) -> Vec<(String, u64)> {
    let line = |one: &Value| {
        let file = one["uri"].as_str().unwrap().rsplit('/').next().unwrap().to_owned();
        (file, one["range"]["start"]["line"].as_u64().unwrap())
    };
    locations.as_array().unwrap().iter().map(line).collect()
}

#[test]
fn parts_stages_nets_and_includes_lead_to_where_they_come_from() {
    let (mut client, path, text) = opened();
    let own = |words: &str| ("tuner-preamp.kdl".to_owned(), place(&text, words, 0).0 as u64);
    for (words, nth, from) in [
        ("V1a", 0, own("tube V1")),
        ("V2b", 0, own("tube V2")),
        ("channel left", 0, own("stage channel")),
        ("first.grid", 0, own("port in out")),
        ("followers quiet", 0, own("to=followers")),
        ("first=V1a", 0, own("port in out")),
        ("shared/choke", 0, ("choke-supply.kdl".to_owned(), 0)),
    ] {
        let found = client.about("definition", &path, Some(place(&text, words, nth)), json!({})).unwrap();
        assert_eq!(lines(&found), [from], "{words}");
    }
    client.leave();
}

#[test]
fn references_reach_into_included_files() {
    let (mut client, path, text) = opened();
    let more = json!({ "context": { "includeDeclaration": true } });
    let found = client.about("references", &path, Some(place(&text, "bplus", 0)), more).unwrap();
    let files: Vec<String> = lines(&found).into_iter().map(|(file, _)| file).collect();
    assert!(files.contains(&"tuner-preamp.kdl".to_owned()) && files.contains(&"choke-supply.kdl".to_owned()));
    assert!(found.as_array().unwrap().len() >= 5);
    client.leave();
}

/// Copies the club's folder, renames there, and gives what `inspect` says of all designs before and after.
fn renamed(words: &str, new: &str) -> Result<(Vec<String>, String, String), Value> {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().canonicalize().unwrap();
    std::fs::create_dir_all(root.join("shared")).unwrap();
    std::fs::create_dir(root.join(".git")).unwrap();
    for name in ["coldcheck.kdl", "reading-room-line-stage.kdl", "tuner-preamp.kdl", "shared/choke-supply.kdl"] {
        std::fs::copy(example("alder-street").join(name), root.join(name)).unwrap();
    }
    let inspect = || {
        let output = program().current_dir(&root).args(["inspect", ".", "--as", "json"]).output().unwrap();
        let report: Value = serde_json::from_slice(&output.stdout).unwrap();
        let mut shape = String::new();
        for design in report["designs"].as_array().unwrap() {
            let findings = design["findings"].as_array().unwrap();
            shape.push_str(&format!("{} {} {}\n", design["path"], findings.len(), design["complaints"]));
        }
        shape
    };
    let before = inspect();
    let path = root.join("tuner-preamp.kdl");
    let text = std::fs::read_to_string(&path).unwrap();
    let mut client = Client::start(&["utf-32"]);
    client.open(&path, &text);
    let edit = client.about("rename", &path, Some(place(&text, words, 0)), json!({ "newName": new }))?;
    client.leave();
    let mut files = Vec::new();
    for (address, edits) in edit["changes"].as_object().unwrap() {
        let file = PathBuf::from(address.strip_prefix("file://").unwrap());
        let changed = edited(&std::fs::read_to_string(&file).unwrap(), edits);
        std::fs::write(&file, changed).unwrap();
        files.push(file.strip_prefix(&root).unwrap().display().to_string());
    }
    files.sort();
    Ok((files, before, inspect()))
}

#[test]
fn a_net_of_a_shared_supply_is_renamed_in_every_design_that_includes_it() {
    let (files, before, after) = renamed("bplus", "b-plus").unwrap();
    assert_eq!(files, ["reading-room-line-stage.kdl", "shared/choke-supply.kdl", "tuner-preamp.kdl"]);
    assert_eq!(before, after);
}

#[test]
fn a_tube_takes_its_sections_along() {
    let (files, before, after) = renamed("V1a", "V7").unwrap();
    assert_eq!(files, ["tuner-preamp.kdl"]);
    assert_eq!(before, after);
}

#[test]
fn ports_and_stages_are_renamed_too() {
    for (words, new) in [("first.grid", "input-tube"), ("channel left", "strip"), ("quiet power", "clean")] {
        let (_, before, after) = renamed(words, new).unwrap();
        assert_eq!(before, after, "{words}");
    }
}

#[test]
fn a_name_that_is_taken_or_cannot_be_is_refused() {
    for (words, new, why) in [
        ("bplus", "followers", "taken"),
        ("bplus", "ground", "taken"),
        ("bplus", "V2", "taken"),
        ("bplus", "b plus", "cannot be a name"),
        ("bplus", "12V", "cannot be a name"),
        ("ground power", "zero", "every design has"),
    ] {
        let refused = renamed(words, new).unwrap_err();
        assert!(refused["message"].as_str().unwrap().contains(why), "{words} to {new}: {refused}");
    }
}

#[test]
fn the_stretch_to_rename_is_the_name_alone() {
    let (mut client, path, text) = opened();
    let (line, character) = place(&text, "V2a", 0);
    let found = client.about("prepareRename", &path, Some((line, character + 1)), json!({})).unwrap();
    assert_eq!(found["placeholder"], "V2");
    assert!(client.about("prepareRename", &path, Some((0, 1)), json!({})).is_err());
    assert!(uri(&path).ends_with("tuner-preamp.kdl"));
    client.leave();
}
