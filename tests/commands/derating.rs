//! A derating set chosen in the workshop file, as the commands show it.

use std::fs;
use std::path::Path;

use crate::program::coldcheck;

fn workshop(folder: &Path, text: &str) -> String {
    let file = folder.join("coldcheck.kdl");
    fs::write(&file, text).unwrap();
    file.to_str().unwrap().to_owned()
}

#[test]
fn why_tells_the_limit_the_set_the_clause_and_what_was_recalled() {
    let home = tempfile::tempdir().unwrap();
    let file = workshop(home.path(), "derating \"space-agency\"\nadjust \"capacitor/working-voltage\" film=0.65\n");
    let (code, stdout, stderr) = coldcheck(&["why", "resistor/dissipation", "--workshop", &file]);
    assert_eq!((code, stderr.as_str()), (0, ""));
    let told = stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("limit: share = 0.5 (by the derating set space-agency; 0.6 as built in)"), "{stdout}");
    let clause = "by: ECSS-Q-ST-30-11: resistor tables: 0.50 of the rated power of film types (from memory, not from the document)";
    assert!(told.contains(clause), "{stdout}");
    let (_, stdout, _) = coldcheck(&["why", "capacitor/working-voltage", "--workshop", &file]);
    let told = stdout.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(told.contains("film = 0.65 (adjusted by the workshop; 0.8 as built in)"), "{stdout}");
}

#[test]
fn an_unknown_set_is_told_at_its_place_and_fails_the_run() {
    let home = tempfile::tempdir().unwrap();
    let file = workshop(home.path(), "gate overstress\nderating \"navel\"\n");
    let (code, _, stderr) = coldcheck(&["why", "resistor/dissipation", "--workshop", &file]);
    assert_eq!(code, 2);
    assert!(stderr.contains("there is no derating set `navel`"), "{stderr}");
    assert!(stderr.contains("coldcheck.kdl:2:11"), "{stderr}");
    assert!(stderr.contains("did you mean `naval`?"), "{stderr}");
}
