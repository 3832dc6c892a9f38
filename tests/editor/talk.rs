//! Diagnostics as one types: the same as `inspect`, for every kind of text and every way of counting characters.

use serde_json::{Value, json};

use crate::client::{Client, example, place, program, rules, uri, whole};

/// What `inspect` says of a file: place, rule and message of each finding and complaint.
pub fn inspected(path: &std::path::Path) -> Vec<(u64, u64, String, String)> {
    let output = program().arg("inspect").arg(path).args(["--as", "json"]).output().unwrap();
    let report: Value = serde_json::from_slice(&output.stdout).unwrap();
    let design = &report["designs"][0];
    let own = path.to_str().unwrap();
    let said = |one: &Value| {
        let span = &one["span"];
        let here = span.is_null() || span["file"] == own;
        let number = |key: &str| span[key].as_u64().unwrap_or(1) - 1;
        let rule = one["rule"].as_str().unwrap_or("").to_owned();
        here.then(|| (number("line"), number("column"), rule, one["message"].as_str().unwrap().to_owned()))
    };
    let lists = [&design["findings"], &design["complaints"], &report["complaints"]];
    let mut all: Vec<_> = lists.iter().flat_map(|list| list.as_array().unwrap()).filter_map(said).collect();
    all.sort();
    all
}

/// The same of diagnostics.
pub fn published(diagnostics: &[Value]) -> Vec<(u64, u64, String, String)> {
    let mut all: Vec<_> = diagnostics
        .iter()
        .filter(|one| one["code"] != "not-judged")
        .map(|one| {
            let start = &one["range"]["start"];
            let rule = one["code"].as_str().unwrap_or("").to_owned();
            let message = one["message"].as_str().unwrap().to_owned();
            (start["line"].as_u64().unwrap(), start["character"].as_u64().unwrap(), rule, message)
        })
        .collect();
    all.sort();
    all
}

#[test]
fn diagnostics_are_what_inspect_says() {
    let mut client = Client::start(&["utf-32"]);
    for name in ["faulty/reading-room-line-stage-c.kdl", "alder-street/tuner-preamp.kdl"] {
        let path = example(name);
        client.open(&path, &std::fs::read_to_string(&path).unwrap());
        assert_eq!(published(&client.diagnostics(&path, 1)), inspected(&path), "{name}");
    }
    client.leave();
}

#[test]
fn what_could_not_be_judged_is_said_at_the_title() {
    let mut client = Client::start(&["utf-32"]);
    let path = example("faulty/reading-room-line-stage-c.kdl");
    client.open(&path, &std::fs::read_to_string(&path).unwrap());
    let diagnostics = client.diagnostics(&path, 1);
    let open = diagnostics.iter().find(|one| one["code"] == "not-judged").unwrap();
    assert_eq!(open["range"]["start"]["line"], 1);
    assert!(open["message"].as_str().unwrap().starts_with("not judged: "));
    client.leave();
}

#[test]
fn a_finding_carries_its_weight_its_further_places_and_its_remedy() {
    let mut client = Client::start(&["utf-32"]);
    let path = example("faulty/reading-room-line-stage-c.kdl");
    client.open(&path, &std::fs::read_to_string(&path).unwrap());
    let diagnostics = client.diagnostics(&path, 1);
    let surge = diagnostics.iter().find(|one| one["code"] == "capacitor/surge").unwrap();
    assert_eq!((&surge["severity"], &surge["source"]), (&json!(1), &json!("coldcheck")));
    let remedy = surge["data"]["remedy"].as_str().unwrap();
    assert!(remedy.contains("450 V") && !surge["data"]["why"].as_str().unwrap().is_empty());
    let related = surge["relatedInformation"].as_array().unwrap();
    assert!(related.iter().any(|one| one["message"].as_str().unwrap().contains("on the way to the steady state")));
    assert!(related.iter().any(|one| one["message"] == format!("what to do: {remedy}")));
    let leak = diagnostics.iter().find(|one| one["code"] == "grid/leak-present").unwrap();
    assert_eq!(leak["severity"], 2);
    client.leave();
}

#[test]
fn edits_under_way_are_gathered_and_the_last_version_is_published() {
    let mut client = Client::start(&["utf-16"]);
    let path = example("faulty/reading-room-line-stage-c.kdl");
    let text = std::fs::read_to_string(&path).unwrap();
    client.open(&path, &text);
    client.diagnostics(&path, 1);
    let mended = text.replace("voltage=\"350V\"", "voltage=\"450V\"");
    for version in 2..12 {
        client.change(&path, version, &format!("{mended}// {version}\n"));
    }
    let diagnostics = client.diagnostics(&path, 11);
    let rules = rules(&diagnostics);
    assert!(!rules.contains(&"capacitor/working-voltage") && !rules.contains(&"capacitor/surge"), "{rules:?}");
    assert!(rules.contains(&"mains/fuse"));
    client.leave();
}

#[test]
fn a_broken_line_costs_itself_and_the_figures_of_the_good_text_stay_marked() {
    let mut client = Client::start(&["utf-16"]);
    let path = example("faulty/reading-room-line-stage-c.kdl");
    let text = std::fs::read_to_string(&path).unwrap();
    client.open(&path, &text);
    let before = client.diagnostics(&path, 1);
    let broken = text.replace("resistor R5 \"470k\" from=out", "resistor R5 \"470k\" from=");
    client.change(&path, 2, &broken);
    let after = client.diagnostics(&path, 2);
    assert!(after.iter().any(|one| one["code"].is_null()));
    for rule in ["mains/fuse", "capacitor/polarity", "supply/bleeder"] {
        assert!(rules(&before).contains(&rule) && rules(&after).contains(&rule), "{rule}");
    }
    let hints = client.about("inlayHint", &path, None, whole()).unwrap();
    let labels: Vec<&str> = hints.as_array().unwrap().iter().map(|hint| hint["label"].as_str().unwrap()).collect();
    assert!(labels.len() > 10 && labels.iter().all(|label| label.ends_with(" (before)")), "{labels:?}");
    client.change(&path, 3, &text);
    client.diagnostics(&path, 3);
    let hints = client.about("inlayHint", &path, None, whole()).unwrap();
    assert!(hints.as_array().unwrap().iter().all(|hint| !hint["label"].as_str().unwrap().contains("before")));
    client.leave();
}

#[test]
fn the_unsaved_text_of_an_included_file_counts() {
    let mut client = Client::start(&["utf-16"]);
    let design = example("alder-street/tuner-preamp.kdl");
    let supply = example("alder-street/shared/choke-supply.kdl");
    client.open(&design, &std::fs::read_to_string(&design).unwrap());
    let clean = client.diagnostics(&design, 1);
    assert!(!rules(&clean).contains(&"mains/fuse"));
    let text = std::fs::read_to_string(&supply).unwrap();
    client.open(&supply, &text);
    assert_eq!(rules(&client.diagnostics(&supply, 1)), Vec::<&str>::new());
    let fuse = text.lines().find(|line| line.starts_with("fuse ")).unwrap();
    let bridged = text.replace(fuse, "wire line line-fused");
    client.change(&supply, 2, &bridged);
    let mut found = client.diagnostics(&supply, 2);
    // The finding may point at either file; both are published.
    found.extend(client.published[&uri(&design)]["diagnostics"].as_array().unwrap().clone());
    assert!(rules(&found).contains(&"mains/fuse"), "{:?}", rules(&found));
    client.tell("textDocument/didClose", json!({ "textDocument": { "uri": uri(&supply) } }));
    client.change(&design, 2, &std::fs::read_to_string(&design).unwrap());
    assert!(!rules(&client.diagnostics(&design, 2)).contains(&"mains/fuse"));
    client.leave();
}

#[test]
fn a_fragment_opened_alone_is_judged_in_the_designs_that_include_it() {
    let mut client = Client::start(&["utf-16"]);
    let supply = example("alder-street/shared/choke-supply.kdl");
    let text = std::fs::read_to_string(&supply).unwrap();
    client.open(&supply, &text);
    assert_eq!(rules(&client.diagnostics(&supply, 1)), Vec::<&str>::new());
    let weak = text.replace("plus=bplus minus=ground voltage=\"500V\"", "plus=bplus minus=ground voltage=\"160V\"");
    assert_ne!(weak, text);
    client.change(&supply, 2, &weak);
    let found = client.diagnostics(&supply, 2);
    assert!(rules(&found).contains(&"capacitor/working-voltage"), "{:?}", rules(&found));
    client.leave();
}

#[test]
fn workshop_files_are_read_again_when_they_are_saved() {
    let folder = tempfile::tempdir().unwrap();
    let folder_path = folder.path().canonicalize().unwrap();
    std::fs::create_dir(folder_path.join(".git")).unwrap();
    let workshop = folder_path.join("coldcheck.kdl");
    let design = folder_path.join("stage.kdl");
    std::fs::write(&workshop, "gate overstress\n").unwrap();
    std::fs::write(&design, STAGE).unwrap();
    let mut client = Client::start(&["utf-32"]);
    client.open(&design, STAGE);
    let before = client.diagnostics(&design, 1);
    assert!(rules(&before).contains(&"resistor/rating-missing"));
    std::fs::write(&workshop, "gate overstress\nquiet \"resistor/rating-missing\" because=\"parts bin\"\n").unwrap();
    let change = json!({ "changes": [{ "uri": uri(&workshop), "type": 2 }] });
    client.tell("workspace/didChangeWatchedFiles", change);
    client.change(&design, 2, STAGE);
    assert!(!rules(&client.diagnostics(&design, 2)).contains(&"resistor/rating-missing"));
    std::fs::write(&workshop, "gate overstres\n").unwrap();
    client.open(&workshop, "gate overstres\n");
    client.tell("textDocument/didSave", json!({ "textDocument": { "uri": uri(&workshop) } }));
    let wrong = loop {
        let found = client.diagnostics(&workshop, 1);
        if !found.is_empty() {
            break found;
        }
        client.change(&design, 3, STAGE);
        client.diagnostics(&design, 3);
    };
    assert!(wrong[0]["message"].as_str().unwrap().contains("overstres"));
    client.leave();
}

#[test]
fn characters_are_counted_as_was_agreed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("stage.kdl");
    let text = STAGE.replace("resistor R1 ", "resistor note=\"é漢🙂\" R1 ");
    for (offered, agreed, width) in [
        (vec!["utf-16"], "utf-16", 4),
        (vec![], "utf-16", 4),
        (vec!["utf-8", "utf-16"], "utf-8", 9),
        (vec!["utf-16", "utf-8"], "utf-8", 9),
        (vec!["utf-32"], "utf-32", 3),
    ] {
        let mut client = Client::start(&offered);
        assert_eq!(client.capabilities["capabilities"]["positionEncoding"], agreed);
        client.open(&path, &text);
        let found = client.diagnostics(&path, 1);
        let rating = found.iter().find(|one| one["code"] == "resistor/rating-missing").unwrap();
        // `resistor note="` is 15 characters, `" R1 ` five; the value stands there in quotes.
        let start = 15 + width + 5;
        assert_eq!(rating["range"]["start"]["character"], start, "{agreed}");
        assert_eq!(rating["range"]["end"]["character"], start + 6, "{agreed}");
        client.leave();
    }
}

#[test]
fn what_makes_no_sense_is_refused_and_nobody_dies() {
    let mut client = Client::start(&["utf-16"]);
    let path = example("alder-street/tuner-preamp.kdl");
    assert_eq!(client.ask("workspace/nonsense", json!({})).unwrap_err()["code"], -32601);
    assert_eq!(client.ask("textDocument/hover", json!({ "textDocument": 3 })).unwrap_err()["code"], -32602);
    assert_eq!(
        client
            .ask(
                "textDocument/hover",
                json!({ "textDocument": { "uri": "untitled:1" }, "position": { "line": 0, "character": 0 } })
            )
            .unwrap_err()["code"],
        -32602
    );
    client.tell(
        "textDocument/didOpen",
        json!({ "textDocument": { "uri": "untitled:1", "languageId": "kdl", "version": 1, "text": "x" } }),
    );
    client.tell("textDocument/didChange", json!({ "contentChanges": "nonsense" }));
    client.tell("$/cancelRequest", json!({ "id": 999 }));
    assert!(client.about("hover", &path, Some((99_999, 99_999)), json!({})).unwrap().is_null());
    client.open(&path, "");
    assert_eq!(client.diagnostics(&path, 1).len(), 1);
    client.leave();
}

#[test]
fn a_question_about_a_text_that_has_changed_since_is_turned_down() {
    let mut client = Client::start(&["utf-16"]);
    let path = example("alder-street/tuner-preamp.kdl");
    let text = std::fs::read_to_string(&path).unwrap();
    client.open(&path, &text);
    client.diagnostics(&path, 1);
    let (line, character) = place(&text, "bplus", 0);
    let id = client.begin(
        "textDocument/hover",
        json!({ "textDocument": { "uri": uri(&path) }, "position": { "line": line, "character": character } }),
    );
    client.change(&path, 2, "design \"Nothing\"\n");
    // Whether the change arrives in time is for the scheduler to say; an answer of the old text is as good.
    match client.answer(id) {
        Ok(hover) => assert!(hover["contents"]["value"].as_str().unwrap().contains("bplus")),
        Err(error) => assert_eq!(error["code"], -32801),
    }
    client.leave();
}

/// A stage on the bench, quick to inspect, with one resistor that has no stated power.
pub const STAGE: &str = "design \"Bench stage\"
bench-supply B1 \"250V\" plus=bplus minus=ground
bench-supply B2 \"6.3V\" plus=h1 minus=ground
tube V1 \"12AU7\" { heater \"6.3V\" from=h1 to=ground; unused b; }
resistor R1 \"100k\" from=bplus to=V1a.plate
resistor R2 \"2k2\" from=V1a.cathode to=ground power=\"0.5W\"
resistor R3 \"470k\" from=V1a.grid to=ground power=\"0.5W\"
capacitor C1 \"220nF\" from=V1a.plate to=out voltage=\"630V\" kind=film
resistor R4 \"1M\" from=out to=ground power=\"0.5W\"
input IN hot=V1a.grid cold=ground
output OUT hot=out cold=ground load=\"47k\"
";
