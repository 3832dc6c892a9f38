//! `start`, `tidy`, `completions` and `manual`: what they write, and what they leave alone.

use std::fs;
use std::path::Path;

use crate::program::coldcheck;

fn path(folder: &Path, name: &str) -> String {
    folder.join(name).to_str().unwrap().to_owned()
}

#[test]
fn a_started_folder_inspects_without_a_finding() {
    let home = tempfile::tempdir().unwrap();
    let folder = path(home.path(), "amps/first");
    let (code, stdout, stderr) = coldcheck(&["start", &folder]);
    assert_eq!((code, stderr.as_str()), (0, ""));
    assert!(stdout.contains(&format!("coldcheck inspect {folder}\n")), "{stdout}");
    assert!(stdout.contains("can kill"), "{stdout}");
    let (code, stdout, stderr) = coldcheck(&["inspect", "--gate", "refinement", "--as", "lines", &folder]);
    assert_eq!((code, stdout.as_str()), (0, ""), "{stderr}");
    let (code, stdout, _) = coldcheck(&["tidy", "--only-tell", &folder]);
    assert_eq!((code, stdout.as_str()), (0, ""));
}

#[test]
fn the_commands_that_start_names_work() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().to_str().unwrap();
    let (_, stdout, _) = coldcheck(&["start", folder]);
    let commands: Vec<&str> = stdout.lines().filter_map(|line| line.strip_prefix("  coldcheck ")).collect();
    assert!(commands.len() >= 3, "{stdout}");
    for command in commands {
        let (code, _, stderr) = coldcheck(&command.split(' ').collect::<Vec<_>>());
        assert_eq!(code, 0, "{command}: {stderr}");
    }
}

#[test]
fn the_change_that_start_proposes_gives_a_finding() {
    let home = tempfile::tempdir().unwrap();
    let folder = home.path().to_str().unwrap();
    let (_, stdout, _) = coldcheck(&["start", folder]);
    assert!(stdout.contains("C10 to \"250V\""), "{stdout}");
    let design = path(home.path(), "line-stage.kdl");
    let text = fs::read_to_string(&design).unwrap();
    let (before, after) = text.split_once("capacitor C10").unwrap();
    fs::write(&design, format!("{before}capacitor C10{}", after.replacen("\"500V\"", "\"250V\"", 1))).unwrap();
    let (code, stdout, _) = coldcheck(&["inspect", "--as", "lines", folder]);
    assert_eq!(code, 1);
    assert!(stdout.contains("capacitor/working-voltage"), "{stdout}");
}

#[test]
fn start_overwrites_nothing_and_then_writes_nothing() {
    for name in ["line-stage.kdl", "coldcheck.kdl"] {
        let home = tempfile::tempdir().unwrap();
        let there = path(home.path(), name);
        fs::write(&there, "mine").unwrap();
        let (code, stdout, stderr) = coldcheck(&["start", home.path().to_str().unwrap()]);
        assert_eq!((code, stdout.as_str()), (2, ""));
        assert!(stderr.contains(&there), "{stderr}");
        assert_eq!(fs::read_to_string(&there).unwrap(), "mine");
        assert_eq!(fs::read_dir(home.path()).unwrap().count(), 1);
    }
}

#[test]
fn tidy_lays_out_every_file_of_a_folder_and_names_those_it_changed() {
    let home = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| fs::write(home.path().join(name), text).unwrap();
    write("a.kdl", "wire  a b\n");
    write("b.kdl", "wire a b\n");
    write("coldcheck.kdl", "gate   hazard // strict\n");
    write("notes.txt", "wire  a b\n");
    let read = |name: &str| fs::read_to_string(home.path().join(name)).unwrap();
    let folder = home.path().to_str().unwrap();
    let changed = format!("{}\n{}\n", path(home.path(), "a.kdl"), path(home.path(), "coldcheck.kdl"));

    assert_eq!(coldcheck(&["tidy", "--only-tell", folder]), (1, changed.clone(), String::new()));
    assert_eq!(read("a.kdl"), "wire  a b\n");

    assert_eq!(coldcheck(&["tidy", folder]), (0, changed, String::new()));
    assert_eq!(read("a.kdl"), "wire a b\n");
    assert_eq!(read("coldcheck.kdl"), "gate hazard  // strict\n");
    assert_eq!(read("notes.txt"), "wire  a b\n");

    assert_eq!(coldcheck(&["tidy", "--only-tell", folder]), (0, String::new(), String::new()));
}

#[test]
fn tidy_leaves_what_cannot_be_read_as_it_is_and_says_why() {
    let home = tempfile::tempdir().unwrap();
    let broken = path(home.path(), "broken.kdl");
    fs::write(&broken, "wire  a b\nresistor R1 100k\n").unwrap();
    fs::write(home.path().join("good.kdl"), "wire  a b\n").unwrap();
    let (code, stdout, stderr) = coldcheck(&["tidy", home.path().to_str().unwrap()]);
    assert_eq!((code, stdout), (2, format!("{}\n", path(home.path(), "good.kdl"))));
    assert!(stderr.contains("put the value in quotes"), "{stderr}");
    assert!(stderr.contains("broken.kdl:2"), "{stderr}");
    assert_eq!(fs::read_to_string(&broken).unwrap(), "wire  a b\nresistor R1 100k\n");
    let (code, _, stderr) = coldcheck(&["tidy", &path(home.path(), "none.kdl")]);
    assert_eq!(code, 2);
    assert!(stderr.contains("there is no such file"), "{stderr}");
}

#[test]
fn the_project_s_own_files_are_laid_out_the_one_way() {
    let root = env!("CARGO_MANIFEST_DIR");
    let folders = ["examples", "rules", "src"].map(|folder| format!("{root}/{folder}"));
    let [examples, rules, src] = folders.each_ref().map(String::as_str);
    assert_eq!(coldcheck(&["tidy", "--only-tell", examples, rules, src]), (0, String::new(), String::new()));
}

#[test]
fn each_shell_s_completions_know_every_command() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let (code, stdout, stderr) = coldcheck(&["completions", shell]);
        assert_eq!((code, stderr.as_str()), (0, ""), "{shell}");
        for command in ["inspect", "facts", "why", "prove", "start", "tidy", "completions", "manual"] {
            assert!(stdout.contains(command), "{shell}: {command}");
        }
        assert!(stdout.contains("--only-tell") || stdout.contains("only-tell"), "{shell}");
    }
    let (code, stdout, _) = coldcheck(&["completions", "abacus"]);
    assert_eq!((code, stdout.as_str()), (2, ""));
}

#[test]
fn the_manual_page_has_every_command_with_its_options_and_the_caution() {
    let (code, stdout, stderr) = coldcheck(&["manual"]);
    assert_eq!((code, stderr.as_str()), (0, ""));
    assert!(stdout.contains(".TH coldcheck 1"), "{stdout}");
    for command in ["INSPECT", "FACTS", "WHY", "PROVE", "START", "TIDY", "COMPLETIONS", "MANUAL"] {
        assert!(stdout.contains(&format!(".SH \"COLDCHECK {command}\"")), "{command}");
    }
    assert!(stdout.contains("only\\-tell"), "{stdout}");
    assert!(stdout.contains("voltages that kill"), "{stdout}");
}
