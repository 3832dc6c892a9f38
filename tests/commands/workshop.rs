//! A workshop's own rules, tubes and settings in a folder, as the commands take them and as they complain of them.

use std::fs;
use std::path::Path;

use crate::program::coldcheck_in;
use crate::roll::STAGE;

/// The bench stage with the club's own tube in its socket.
fn design() -> String {
    STAGE.replace("12AU7", "club-triode").replace(" alternates \"12BH7A\" \"6SN7\";", "")
}

const TUBE: &str = r#"tube "club-triode" {
    base "9A"
    heating indirect {
        heater "6.3V" "300mA"
        source "measured by the club" from-memory=#false
    }
    section triode a b {
        model mu=17 x=1.3 kg1=1180 kp=84 kvb=300 {
            source "measured by the club" from-memory=#false
        }
        limits {
            plate-voltage "300V"
            source "measured by the club" from-memory=#false
        }
    }
}
"#;

const RULE: &str = r#"rule "club/quiet-plate" class=malfunction {
    about tube
    limit most "20V" "what the club likes"
    when "known(plate-voltage)"
    demand "plate-voltage <= most and amplification > 1 and highest-voltage < 1000V"
    say "{name} has {plate-voltage}, and the club likes {most}"
    mark plate-voltage "{plate-voltage} here"
}
"#;

/// A workshop's folder with the files given.
fn folder(files: &[(&str, &str)]) -> tempfile::TempDir {
    let home = tempfile::tempdir().unwrap();
    for name in [".git", "rules", "tubes"] {
        fs::create_dir(home.path().join(name)).unwrap();
    }
    fs::write(home.path().join("stage.kdl"), design()).unwrap();
    fs::write(home.path().join("tubes/club.kdl"), TUBE).unwrap();
    for (name, text) in files {
        fs::write(home.path().join(name), text).unwrap();
    }
    home
}

fn inspect(home: &Path) -> (i32, String, String) {
    let (code, stdout, stderr) = coldcheck_in(home, &["inspect", "--as", "lines", "stage.kdl"]);
    let stderr = stderr.lines().filter(|line| !line.contains("Caution")).map(|line| format!("{line}\n")).collect();
    (code, stdout, stderr)
}

const FOLDERS: &str = "rules \"rules/\"\ncatalogue \"tubes/\"\n";

#[test]
fn own_rules_and_tubes_are_judged_like_those_built_in() {
    let workshop = format!("{FOLDERS}gate malfunction\nadjust \"club/quiet-plate\" most=\"30V\"\n");
    let home = folder(&[("coldcheck.kdl", &workshop), ("rules/club.kdl", RULE)]);
    let (code, stdout, stderr) = inspect(home.path());
    assert_eq!((code, stderr.as_str()), (1, ""), "{stdout}");
    let found: Vec<&str> = stdout.lines().collect();
    assert_eq!(found.len(), 1, "{stdout}");
    assert!(found[0].starts_with("stage.kdl:9:33: malfunction club/quiet-plate V1a: V1a has "), "{stdout}");
    assert!(found[0].contains("the club likes 30 V"), "{stdout}");
    let (code, stdout, _) = coldcheck_in(home.path(), &["why", "club/quiet-plate", "--workshop", "coldcheck.kdl"]);
    assert_eq!(code, 0);
    assert!(stdout.contains("limit: most = 30 V"), "{stdout}");
}

#[test]
fn a_quiet_rule_says_nothing_and_one_without_a_reason_is_a_complaint() {
    let quiet = format!("{FOLDERS}gate malfunction\nquiet \"club/quiet-plate\" because=\"ours is loud\"\n");
    let home = folder(&[("coldcheck.kdl", &quiet), ("rules/club.kdl", RULE)]);
    assert_eq!(inspect(home.path()), (0, String::new(), String::new()));
    let groundless = format!("{FOLDERS}quiet \"club/quiet-plate\"\nquiet \"club/quite-plate\" because=\"typo\"\n");
    let home = folder(&[("coldcheck.kdl", &groundless), ("rules/club.kdl", RULE)]);
    let (code, stdout, _) = inspect(home.path());
    assert_eq!(code, 2);
    assert!(stdout.contains("coldcheck.kdl:3:1: complaint"), "{stdout}");
    assert!(stdout.contains("no rule is called `club/quite-plate`"), "{stdout}");
    assert!(stdout.contains("did you mean `club/quiet-plate`?"), "{stdout}");
}

#[test]
fn each_mistake_in_a_rule_file_is_told_at_its_expression() {
    let rules = r#"rule "club/dimension" class=malfunction {
    about capacitor
    demand "peak-voltage <= 3W"
    say "{name}"
    mark peak-voltage "here"
}
rule "club/unknown" class=malfunction {
    about capacitor
    demand "peek-voltage <= 3V"
    say "{name}"
    mark peak-voltage "here"
}
rule "club/other-subject" class=malfunction {
    about capacitor
    demand "plate-voltage <= 3V"
    say "{name}"
    mark peak-voltage "here"
}
rule "club/class" class=malfuncton {
    about capacitor
    demand "peak-voltage <= 3V"
    say "{name} {peak-voltage"
    mark peak-voltage "here"
    remedy "fit {shelf(rated-voltage, 3W)}"
}
"#;
    let home = folder(&[("coldcheck.kdl", FOLDERS), ("rules/club.kdl", rules)]);
    let (code, stdout, _) = inspect(home.path());
    assert_eq!(code, 2);
    insta::assert_snapshot!(stdout.replace(&format!("{}/", home.path().display()), ""));
}

#[test]
fn a_rule_without_examples_is_judged_and_proves_nothing() {
    let home = folder(&[("coldcheck.kdl", FOLDERS), ("rules/club.kdl", RULE)]);
    let (code, stdout, stderr) = coldcheck_in(home.path(), &["prove", "club", "--workshop", "coldcheck.kdl"]);
    assert_eq!(code, 1, "{stdout}");
    assert!(stderr.contains("`club/quiet-plate` has no example"), "{stderr}");
    assert!(stderr.contains("rules/club.kdl:1:6"), "{stderr}");
}

#[test]
fn a_folder_that_is_not_there_is_told_where_it_is_named() {
    let home = folder(&[("coldcheck.kdl", "rules \"ruels/\"\ncatalogue \"tubes/\"\n")]);
    let (code, stdout, _) = inspect(home.path());
    assert_eq!(code, 2);
    assert!(stdout.contains("coldcheck.kdl:1:8: complaint"), "{stdout}");
}

#[test]
fn a_waiver_needs_a_reason_and_ends_on_its_day() {
    let home = folder(&[("coldcheck.kdl", FOLDERS), ("rules/club.kdl", RULE)]);
    let with = |waiver: &str| {
        fs::write(home.path().join("stage.kdl"), format!("{}waive \"club/quiet-plate\" part=V1a {waiver}\n", design()))
            .unwrap();
        inspect(home.path())
    };
    let (code, stdout, _) = with("because=\"we measured it\"");
    assert_eq!(code, 0, "{stdout}");
    let (code, stdout, _) = with("");
    assert_eq!(code, 2, "{stdout}");
    let (code, stdout, _) = with("because=\"for the fair\" until=\"2020-01-01\"");
    assert_eq!(code, 0, "{stdout}");
    assert!(stdout.contains("waiver/expired"), "{stdout}");
    assert!(stdout.contains("malfunction club/quiet-plate V1a"), "{stdout}");
}
