//! Code actions: each that is offered, when made, clears its finding and brings nothing as serious.

use std::collections::BTreeSet;
use std::path::Path;

use serde_json::{Value, json};

use crate::client::{Client, edited, example, rules, uri};
use crate::talk::STAGE;

/// The actions offered in a stretch of lines.
fn actions(client: &mut Client, path: &Path, lines: (usize, usize)) -> Vec<Value> {
    let range = json!({
        "range": { "start": { "line": lines.0, "character": 0 }, "end": { "line": lines.1, "character": 0 } },
        "context": { "diagnostics": [] },
    });
    client.about("codeAction", path, None, range).unwrap().as_array().unwrap().clone()
}

fn weighed(diagnostics: &[Value]) -> BTreeSet<(String, String, u64)> {
    diagnostics
        .iter()
        .filter(|one| one["severity"].as_u64().unwrap() < 4 && one["code"] != "not-judged")
        .map(|one| {
            let part = one["data"]["part"].as_str().unwrap_or("").to_owned();
            (one["code"].as_str().unwrap_or("").to_owned(), part, one["severity"].as_u64().unwrap())
        })
        .collect()
}

#[test]
fn every_action_offered_on_the_faulty_example_does_what_it_says() {
    let path = example("faulty/reading-room-line-stage-c.kdl");
    let text = std::fs::read_to_string(&path).unwrap();
    let mut client = Client::start(&["utf-32"]);
    client.open(&path, &text);
    let before = weighed(&client.diagnostics(&path, 1));
    let mut titles = Vec::new();
    let mut version = 1;
    let offered: Vec<Value> =
        (0..text.lines().count()).flat_map(|line| actions(&mut client, &path, (line, line + 1))).collect();
    let mut tried = BTreeSet::new();
    for action in &offered {
        let title = action["title"].as_str().unwrap().to_owned();
        let changes = &action["edit"]["changes"][uri(&path)];
        if !tried.insert((title.clone(), changes.to_string())) {
            continue;
        }
        version += 1;
        // A waiver waits for its reason.
        let changed = edited(&text, changes).replace("because=\"\"", "because=\"tried\"");
        client.change(&path, version, &changed);
        let after = weighed(&client.diagnostics(&path, version));
        let finding = &action["diagnostics"][0];
        let key = (
            finding["code"].as_str().unwrap().to_owned(),
            finding["data"]["part"].as_str().unwrap().to_owned(),
            finding["severity"].as_u64().unwrap(),
        );
        assert!(before.contains(&key) && !after.contains(&key), "{title}: {key:?}");
        let worse: Vec<_> = after.difference(&before).filter(|new| new.2 < key.2).collect();
        assert!(worse.is_empty(), "{title} brings {worse:?}");
        titles.push(title);
    }
    for title in [
        "add a bleeder of 220k across C11",
        "add a grid leak of 1M at V1a",
        "change `0.5W` to `2W`",
        // 400 V would do for the surge alone.
        "change `350V` to `450V`",
        "change `47nF` to `220nF`",
        "swap plus and minus of left.C1",
        "tie both ends of T1.heaters to ground through 100 Ω",
        "waive resistor/dissipation for left.R3, and say why",
        "waive mains/fuse for design, and say why",
    ] {
        assert!(titles.iter().any(|known| known == title), "{title} in {titles:#?}");
    }
    assert!(!titles.iter().any(|title| title.contains("400V")), "{titles:#?}");
    // A resistor across a coupling capacitor would let the supply through.
    assert!(!titles.iter().any(|title| title.starts_with("add a bleeder") && title.contains("C2")), "{titles:#?}");
    client.leave();
}

#[test]
fn a_rating_that_is_not_stated_is_stated_from_the_shelf() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("stage.kdl");
    let mut client = Client::start(&["utf-32"]);
    client.open(&path, STAGE);
    client.diagnostics(&path, 1);
    let offered = actions(&mut client, &path, (4, 5));
    let titles: Vec<&str> = offered.iter().map(|action| action["title"].as_str().unwrap()).collect();
    assert!(titles[0].starts_with("state a rating of "), "{titles:?}");
    assert_eq!(offered[0]["isPreferred"], true);
    let mended = edited(STAGE, &offered[0]["edit"]["changes"][uri(&path)]);
    client.change(&path, 2, &mended);
    assert!(!rules(&client.diagnostics(&path, 2)).contains(&"resistor/rating-missing"));
    client.leave();
}

#[test]
fn a_waiver_is_a_stub_whose_reason_is_left_to_the_builder() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("stage.kdl");
    let mut client = Client::start(&["utf-32"]);
    client.open(&path, STAGE);
    client.diagnostics(&path, 1);
    let offered = actions(&mut client, &path, (4, 5));
    let waive = offered.iter().find(|action| action["title"].as_str().unwrap().starts_with("waive ")).unwrap();
    assert_eq!(waive["isPreferred"], false);
    let stub = edited(STAGE, &waive["edit"]["changes"][uri(&path)]);
    assert!(stub.contains("{ waive \"resistor/rating-missing\" because=\"\"; }"), "{stub}");
    client.change(&path, 2, &stub);
    let found = client.diagnostics(&path, 2);
    assert!(found.iter().any(|one| one["message"].as_str().unwrap().contains("a waiver needs a reason")));
    assert!(found.iter().any(|one| one["code"] == "resistor/rating-missing" && one["severity"] == 3));
    client.change(&path, 3, &stub.replace("because=\"\"", "because=\"on the bench only\""));
    let found = client.diagnostics(&path, 3);
    let still = found.iter().find(|one| one["code"] == "resistor/rating-missing").unwrap();
    assert_eq!(still["severity"], 4, "what is waived stays in sight");
    client.leave();
}

#[test]
fn nothing_is_offered_where_nothing_is_wrong() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("stage.kdl");
    let mut client = Client::start(&["utf-32"]);
    client.open(&path, STAGE);
    client.diagnostics(&path, 1);
    assert!(actions(&mut client, &path, (5, 6)).is_empty());
    client.leave();
}
