//! What the repository offers to the continuous integration of others: parsed, checked for slips, and run.

use std::path::Path;
use std::process::Command;

use saphyr::{LoadableYamlNode, Yaml};

use super::program::{STAGE, folder};

const FILES: [&str; 4] = [
    ".github/workflows/ci.yml",
    ".github/workflows/inspect.yml",
    ".github/actions/inspect/action.yml",
    ".pre-commit-hooks.yaml",
];

fn text(name: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

fn parsed<'a>(text: &'a str) -> Yaml<'a> {
    let mut documents = Yaml::load_from_str(text).unwrap();
    assert_eq!(documents.len(), 1);
    documents.remove(0)
}

fn get<'a, 'b>(node: &'a Yaml<'b>, path: &[&str]) -> &'a Yaml<'b> {
    path.iter().fold(node, |node, key| node.as_mapping_get(key).unwrap_or_else(|| panic!("{key} in {path:?}")))
}

fn keys(node: &Yaml<'_>) -> Vec<String> {
    node.as_mapping().unwrap().keys().map(|key| key.as_str().unwrap().to_owned()).collect()
}

/// What stands between `${{` and `}}`.
fn expressions(text: &str) -> Vec<&str> {
    text.split("${{").skip(1).map(|rest| rest.split_once("}}").unwrap().0.trim()).collect()
}

fn steps<'a, 'b>(node: &'a Yaml<'b>, path: &[&str]) -> &'a [Yaml<'b>] {
    get(node, path).as_sequence().unwrap()
}

#[test]
fn every_file_is_yaml() {
    for name in FILES {
        parsed(&text(name));
    }
}

#[test]
fn every_input_that_is_used_is_declared_and_every_one_declared_is_used() {
    for (name, path) in [(FILES[1], &["on", "workflow_call", "inputs"] as &[&str]), (FILES[2], &["inputs"])] {
        let text = text(name);
        let declared = keys(get(&parsed(&text), path));
        let used: Vec<String> = expressions(&text)
            .into_iter()
            .flat_map(|expression| expression.split([' ', '|', '(', ')']))
            .filter_map(|word| word.strip_prefix("inputs.").map(str::to_owned))
            .collect();
        assert!(used.iter().all(|input| declared.contains(input)), "{name}: {used:?} {declared:?}");
        assert!(declared.iter().all(|input| used.contains(input)), "{name}: {used:?} {declared:?}");
    }
}

#[test]
fn what_a_caller_says_is_never_pasted_into_a_script() {
    let (workflow, action) = (text(FILES[1]), text(FILES[2]));
    let (workflow, action) = (parsed(&workflow), parsed(&action));
    let mut scripts = 0;
    for step in steps(&workflow, &["jobs", "inspect", "steps"]).iter().chain(steps(&action, &["runs", "steps"])) {
        if let Some(script) = step.as_mapping_get("run").and_then(|run| run.as_str()) {
            scripts += 1;
            assert!(!script.contains("${{"), "{script}");
        }
    }
    assert_eq!(scripts, 3);
}

#[test]
fn the_workflow_calls_the_action_with_inputs_that_it_has() {
    let (workflow, action) = (text(FILES[1]), text(FILES[2]));
    let (workflow, action) = (parsed(&workflow), parsed(&action));
    let declared = keys(get(&action, &["inputs"]));
    let call = steps(&workflow, &["jobs", "inspect", "steps"])
        .iter()
        .find(|step| {
            step.as_mapping_get("uses").and_then(|uses| uses.as_str()).is_some_and(|uses| uses.starts_with("./"))
        })
        .unwrap();
    assert_eq!(get(call, &["uses"]).as_str(), Some("./.coldcheck/.github/actions/inspect"));
    assert!(keys(get(call, &["with"])).iter().all(|input| declared.contains(input)));
    assert_eq!(get(&workflow, &["permissions", "contents"]).as_str(), Some("read"));
}

#[test]
fn every_hook_is_a_command_of_the_program() {
    let text = text(FILES[3]);
    for hook in parsed(&text).as_sequence().unwrap() {
        let entry = get(hook, &["entry"]).as_str().unwrap();
        let words: Vec<&str> = entry.split(' ').collect();
        assert_eq!(words[0], "coldcheck");
        let help = Command::new(env!("CARGO_BIN_EXE_coldcheck")).args([words[1], "--help"]).output().unwrap();
        assert!(help.status.success(), "{entry}");
        let help = String::from_utf8(help.stdout).unwrap();
        for option in words.iter().filter(|word| word.starts_with("--")) {
            assert!(help.contains(option), "{entry}");
        }
    }
}

/// A stage by itself with a bleeder, at which no gate stops.
fn sound() -> String {
    format!("{STAGE}resistor R5 \"100k\" from=bplus to=ground power=\"2W\"\n")
}

/// Runs the action's own script on a repository with one known old finding and then, maybe, a new one.
fn gate(newer: &str, since: &str) -> (String, String, String) {
    let action = text(FILES[2]);
    let action = parsed(&action);
    let script = steps(&action, &["runs", "steps"])[1].as_mapping_get("run").unwrap().as_str().unwrap().to_owned();
    let worn = sound().replace("to=V1a.plate power=\"2W\"", "to=V1a.plate power=\"0.25W\"");
    let folder = folder(&[("amps/worn.kdl", &worn)]);
    let git = |arguments: &[&str]| {
        let identity = ["-c", "user.name=club", "-c", "user.email=club@example.org", "-c", "commit.gpgsign=false"];
        let run = Command::new("git").arg("-C").arg(folder.path()).args(identity).args(arguments).status();
        assert!(run.unwrap().success());
    };
    git(&["init", "--quiet"]);
    git(&["add", "--all"]);
    git(&["commit", "--quiet", "--message", "first"]);
    std::fs::write(folder.path().join("amps/newer.kdl"), newer).unwrap();
    let runner = tempfile::tempdir().unwrap();
    let run = Command::new("bash")
        .args(["--noprofile", "--norc", "-eo", "pipefail", "-c", &script])
        .current_dir(folder.path())
        .env("COLDCHECK", env!("CARGO_BIN_EXE_coldcheck"))
        .env("RUNNER_TEMP", runner.path())
        .env("GITHUB_STEP_SUMMARY", runner.path().join("summary"))
        .env("GITHUB_OUTPUT", runner.path().join("output"))
        .envs([("PATHS", "amps"), ("GATE", ""), ("SINCE", since)])
        .output()
        .unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    let read = |name: &str| std::fs::read_to_string(runner.path().join(name)).unwrap();
    (read("output"), read("summary"), read("coldcheck.sarif"))
}

#[cfg(unix)]
#[test]
fn the_action_gates_what_is_new_where_it_has_a_base_and_everything_where_it_has_none() {
    let (output, summary, sarif) = gate(&sound(), "HEAD");
    assert!(output.contains("exit-code=0\n"), "{output}{summary}");
    assert!(summary.contains("## Cold check compared: new: 1 refinement"), "{summary}");
    assert!(summary.contains("## Cold check: "), "{summary}");
    assert!(sarif.contains("\"uri\": \"amps/worn.kdl\""), "{sarif}");

    let (output, _, _) = gate(&sound().replace("power=\"2W\"", "power=\"0.25W\""), "HEAD");
    assert!(output.contains("exit-code=1\n"), "{output}");
    let (output, _, _) = gate(&sound().replace("\"47k\"", "47k"), "HEAD");
    assert!(output.contains("exit-code=2\n"), "{output}");
    for none in ["", "0000000000000000000000000000000000000000"] {
        let (output, summary, _) = gate(&sound(), none);
        assert!(output.contains("exit-code=1\n"), "{output}");
        assert!(!summary.contains("compared"), "{summary}");
    }
}
