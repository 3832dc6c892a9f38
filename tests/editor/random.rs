//! Random edits: the server never dies, and what it says in the end is what `inspect` says of the last text.

use proptest::prelude::*;
use proptest::test_runner::{Config, RngAlgorithm, TestRng, TestRunner};

use crate::client::{Client, whole};
use crate::talk::{STAGE, inspected, published};

/// How many rows of edits are tried; each ends with a run of `inspect`.
const CASES: u32 = 40;

#[derive(Clone, Debug)]
enum Edit {
    Delete(prop::sample::Index, usize),
    Insert(prop::sample::Index, String),
    Copy(prop::sample::Index, prop::sample::Index),
    Cut(prop::sample::Index),
}

fn edits() -> impl Strategy<Value = Vec<Edit>> {
    let pieces = prop::sample::select(vec![
        "\"",
        "{",
        "}",
        ";",
        "=",
        "\n",
        "/*",
        "*/",
        "//",
        "/-",
        " ",
        "é漢🙂",
        "\u{feff}",
        "\r\n",
        "\t",
        "\\",
        "#\"",
        "resistor R9 \"1k\" from=bplus to=ground\n",
        "waive \"resistor/rating-missing\"",
        "V1a.plate",
        "12AX7",
        "-",
        "stage s { port a; resistor R \"1\" from=a to=ground; }\nfit s x a=out\n",
        "include \"other.kdl\"\n",
        "0",
        "1e400",
        "power=\"0.1W\"",
        "design \"Again\"\n",
        "unused V1b\n",
        "{ heater",
        "wire out bplus\n",
        "voltage=\"10V\"",
    ]);
    let edit = prop_oneof![
        (any::<prop::sample::Index>(), 1..30usize).prop_map(|(at, length)| Edit::Delete(at, length)),
        (any::<prop::sample::Index>(), pieces).prop_map(|(at, text)| Edit::Insert(at, text.to_owned())),
        (any::<prop::sample::Index>(), "[ -~é漢🙂\n]{1,6}").prop_map(|(at, text)| Edit::Insert(at, text)),
        (any::<prop::sample::Index>(), any::<prop::sample::Index>()).prop_map(|(from, to)| Edit::Copy(from, to)),
        any::<prop::sample::Index>().prop_map(Edit::Cut),
    ];
    prop::collection::vec(edit, 1..8)
}

fn made(text: &str, edit: &Edit) -> String {
    let mut characters: Vec<char> = text.chars().collect();
    let place = |at: &prop::sample::Index| at.index(characters.len() + 1);
    match edit {
        Edit::Delete(at, length) => {
            let start = place(at);
            let end = (start + length).min(characters.len());
            characters.drain(start..end);
        }
        Edit::Insert(at, new) => {
            let start = place(at);
            characters.splice(start..start, new.chars());
        }
        Edit::Copy(from, to) => {
            let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
            if !lines.is_empty() {
                let line = lines[from.index(lines.len())];
                lines.insert(to.index(lines.len()), line);
            }
            return lines.concat();
        }
        Edit::Cut(at) => characters.truncate(place(at)),
    }
    characters.into_iter().collect()
}

#[test]
fn whatever_is_typed_the_server_lives_and_agrees_with_inspect() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("stage.kdl");
    let client = std::cell::RefCell::new(Client::start(&["utf-32"]));
    let version = std::cell::Cell::new(1);
    let compared = std::cell::Cell::new(0);
    client.borrow_mut().open(&path, STAGE);
    // The same edits in every run: a failure can be looked at again.
    let random = TestRng::deterministic_rng(RngAlgorithm::ChaCha);
    let config = Config { cases: CASES, failure_persistence: None, ..Config::default() };
    TestRunner::new_with_rng(config, random)
        .run(&edits(), |edits| {
            let mut client = client.borrow_mut();
            let mut text = STAGE.to_owned();
            for edit in &edits {
                text = made(&text, edit);
                version.set(version.get() + 1);
                client.change(&path, version.get(), &text);
                // Questions between the edits: whatever the answer, there is one.
                let method = [
                    "hover",
                    "completion",
                    "definition",
                    "semanticTokens/full",
                    "codeAction",
                    "inlayHint",
                    "rename",
                    "references",
                    "documentSymbol",
                ][version.get() as usize % 9];
                let mut more = whole();
                more["context"] = serde_json::json!({ "diagnostics": [], "includeDeclaration": true });
                more["newName"] = "other".into();
                drop(client.about(method, &path, Some((version.get() as usize % 12, 12)), more));
            }
            let said = published(&client.diagnostics(&path, version.get()));
            std::fs::write(&path, &text).unwrap();
            let expected = inspected(&path);
            compared.set(compared.get() + expected.len());
            // Columns of `inspect` do not count a mark at the beginning of a file; the protocol does.
            let columns = |all: &[(u64, u64, String, String)]| -> Vec<(u64, u64, String, String)> {
                let mut all: Vec<_> = all
                    .iter()
                    .map(|(line, column, rule, message)| {
                        (*line, if text.contains('\u{feff}') { 0 } else { *column }, rule.clone(), message.clone())
                    })
                    .collect();
                all.sort();
                all
            };
            prop_assert_eq!(columns(&said), columns(&expected), "{}", text);
            Ok(())
        })
        .unwrap();
    assert!(compared.get() > 50, "only {} findings and complaints were compared", compared.get());
    client.into_inner().leave();
}
