//! `coldcheck roll` as its users see it.

use super::program::{coldcheck, folder};
use super::schema_check::faults;

/// A stage whose socket takes two others, one of which does not suit it.
pub const STAGE: &str = r#"design "Bench stage"
bench-supply B1 "250V" plus=bplus minus=ground
resistor R6 "220k" from=bplus to=ground power="1W" note="bleeder"
bench-supply B2 "6.3V" plus=h1 minus=ground
tube V1 "12AU7" { heater "6.3V" from=h1 to=ground; alternates "12BH7A" "6SN7"; }
unused V1b
resistor R1 "470k" from=in to=ground power="0.25W"
resistor R2 "1k" from=in to=V1a.grid power="0.25W"
resistor R3 "47k" from=bplus to=V1a.plate power="2W"
resistor R4 "1k5" from=V1a.cathode to=ground power="0.25W"
capacitor C1 "47uF" plus=V1a.cathode minus=ground voltage="25V" kind=electrolytic
capacitor C2 "1uF" from=V1a.plate to=out voltage="400V" kind=film
resistor R5 "470k" from=out to=ground power="0.25W"
input IN hot=in cold=ground source="600" level="0.1V"
output OUT hot=out cold=ground load="100k"
"#;

fn rolled(design: &str, more: &[&str]) -> (i32, String, String) {
    let home = folder(&[("stage.kdl", design)]);
    let path = home.path().join("stage.kdl");
    let mut arguments = vec!["roll", path.to_str().unwrap()];
    arguments.extend(more);
    let (exit, out, err) = coldcheck(&arguments);
    (exit, out.replace(path.to_str().unwrap(), "stage.kdl"), err)
}

#[test]
fn a_column_a_tube_and_what_each_would_add() {
    let (exit, out, _) = rolled(STAGE, &["--socket", "V1"]);
    assert_eq!(exit, 0);
    insta::assert_snapshot!(out);
}

#[test]
fn without_alternates_the_catalogue_proposes_what_has_the_same_pins() {
    let (exit, out, _) = rolled(&STAGE.replace(" alternates \"12BH7A\" \"6SN7\";", ""), &[]);
    assert_eq!(exit, 0);
    assert!(out.contains("12BH7A") && out.contains("12AX7"), "{out}");
    assert!(!out.contains("6DJ8") && !out.contains("6SN7"), "other pins: {out}");
}

#[test]
fn the_document_keeps_to_its_schema() {
    let (exit, out, _) = rolled(STAGE, &["--as", "json"]);
    assert_eq!(exit, 0);
    let (_, schema, _) = coldcheck(&["roll", "--schema"]);
    assert_eq!(faults(&schema, &out), Vec::<String>::new());
}

#[test]
fn the_schema_of_the_roll() {
    insta::assert_snapshot!(coldcheck(&["roll", "--schema"]).1);
}

#[test]
fn a_socket_that_does_not_exist_is_exit_2() {
    let (exit, out, err) = rolled(STAGE, &["--socket", "V9"]);
    assert_eq!((exit, out.as_str()), (2, ""));
    assert!(err.contains("`V9`"), "{err}");
}

/// The hall amplifier with one other tube stated for both its output sockets.
fn hall_amplifier(alternate: &str) -> String {
    let text = include_str!("../../examples/alder-street/hall-amplifier.kdl");
    let stated = format!("\"6L6GC\" {{ alternates \"{alternate}\"; ");
    let changed = text.replace("\"6L6GC\" { ", &stated);
    assert_eq!(changed.matches(alternate).count(), text.matches(alternate).count() + 2);
    changed
}

#[test]
fn both_tubes_of_a_pair_are_changed_together_and_a_pin_that_the_socket_leaves_open_is_told() {
    let (exit, out, _) = rolled(&hall_amplifier("EL34"), &["--socket", "V4"]);
    assert_eq!(exit, 0);
    assert!(out.contains("V3 and V4 6L6GC, changed together, with its stated alternates"), "{out}");
    let out = out.split_whitespace().collect::<Vec<_>>().join(" ");
    let told = "EL34 has its suppressor at pin 1, where 6L6GC has nothing: join it to the cathode at the socket";
    assert!(out.contains(told), "{out}");
    // 1.5 A each in place of 0.9 A each, beside two drivers of 0.6 A: both of the pair have changed.
    assert!(out.contains("T1.heaters carries 3.934 A of heaters and is rated 3 A"), "{out}");
}

#[test]
fn copies_that_are_alike_are_told_once() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/alder-street/reading-room-line-stage.kdl");
    let (exit, out, _) = coldcheck(&["roll", path]);
    assert_eq!(exit, 0);
    assert!(out.contains("  V1a and V1b\n    plate-voltage"), "{out}");
    assert!(out.contains("  OUT-L and OUT-R\n    gain"), "{out}");
    assert!(out.lines().all(|line| line.chars().count() <= 100), "wider than a page: {out}");
}
