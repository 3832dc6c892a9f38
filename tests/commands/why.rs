//! `coldcheck why RULE --in DESIGN` as a beginner reads it.

use super::program::{coldcheck, coldcheck_in, folder};
use super::schema_check::faults;

const FAULTY: &str = "examples/faulty/reading-room-line-stage-c.kdl";
const SOUND: &str = "examples/alder-street/reading-room-line-stage.kdl";
/// A stage that is bought for a high supply.
const STAGE: &str = r#"design "Bench stage"
bench-supply B1 "250V" plus=bplus minus=ground
resistor R6 "220k" from=bplus to=ground power="1W" note="bleeder"
capacitor C9 "10uF" plus=bplus minus=ground voltage="300V" kind=electrolytic
"#;

fn walked(arguments: &[&str]) -> String {
    let (code, out, err) = coldcheck(&[&["why"], arguments].concat());
    assert_eq!((code, err.as_str()), (0, ""), "{out}");
    out
}

#[test]
fn a_capacitor_past_its_rating() {
    insta::assert_snapshot!(walked(&["capacitor/working-voltage", "--in", FAULTY]));
}

#[test]
fn a_resistor_that_burns() {
    insta::assert_snapshot!(walked(&["resistor/dissipation", "--in", FAULTY]));
}

#[test]
fn a_fuse_too_large() {
    insta::assert_snapshot!(walked(&["mains/fuse-rating", "--in", FAULTY]));
}

#[test]
fn a_plate_within_its_limit() {
    insta::assert_snapshot!(walked(&["tube/plate-dissipation", "--in", SOUND]));
}

#[test]
fn a_reservoir_that_is_discharged_in_time() {
    insta::assert_snapshot!(walked(&["supply/bleeder", "--in", SOUND, "--part", "C10"]));
}

#[test]
fn a_capacitor_within_its_rating() {
    insta::assert_snapshot!(walked(&["capacitor/working-voltage", "--in", SOUND]));
}

#[test]
fn what_is_not_known_is_said_and_is_no_pass() {
    let out = walked(&["capacitor/working-voltage", "--in", FAULTY, "--part", "left.C3"]);
    assert!(out.contains("peak-voltage is not known: nothing fixes the potential at one of its ends"), "{out}");
    let flat = out.split_whitespace().collect::<Vec<_>>().join(" ");
    let verdict = "verdict: not judged, because nothing fixes the potential at one of its ends; that is not a pass";
    assert!(flat.contains(verdict), "{out}");
}

#[test]
fn a_rule_that_does_not_apply_says_so() {
    let out = walked(&["output/gain", "--in", SOUND]);
    assert!(out.contains("known(wanted-gain): no"), "{out}");
    assert!(out.contains("verdict: the rule does not apply here, its condition is not met"), "{out}");
}

#[test]
fn a_rule_that_the_program_judges_itself_tells_what_it_found() {
    let home = folder(&[("stage.kdl", &(STAGE.to_owned() + "waive \"mains/fuse\" because=\"none here\"\n"))]);
    let (code, out, _) = coldcheck_in(home.path(), &["why", "waiver/unused", "--in", "stage.kdl"]);
    assert_eq!(code, 0);
    assert!(out.contains("the waiver of mains/fuse for the design matches nothing"), "{out}");
}

#[test]
fn a_limit_that_the_workshop_has_adjusted_names_the_line() {
    let workshop = "// ours\nadjust \"capacitor/working-voltage\" electrolytic=\"0.8\"\n";
    let home = folder(&[("coldcheck.kdl", workshop), ("stage.kdl", STAGE)]);
    let (code, out, err) = coldcheck_in(home.path(), &["why", "capacitor/working-voltage", "--in", "stage.kdl"]);
    assert_eq!(code, 0, "{err}");
    let flat = out.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("electrolytic = 0.8 (adjusted by the workshop at coldcheck.kdl:2; 0.9 in the rule)"),
        "{out}"
    );
    assert!(flat.contains("peak-voltage <= electrolytic * rated-voltage: 250 V <= 240 V? no"), "{out}");
    assert!(flat.contains("it would be kept with rated-voltage of 312.5 V or more"), "{out}");
}

#[test]
fn a_name_that_does_not_fit_is_answered_with_one_that_does() {
    for (arguments, answer) in [
        (["capacitor/workin-voltage", "C10"], "did you mean `capacitor/working-voltage`?"),
        (["capacitor/working-voltage", "C3"], "has no `C3`; did you mean `left.C3`?"),
        (["capacitor/working-voltage", "V1"], "is about each capacitor, and `V1` is a tube; here: C10, C11"),
    ] {
        let (code, out, err) = coldcheck(&["why", arguments[0], "--in", FAULTY, "--part", arguments[1]]);
        assert_eq!((code, out.as_str()), (2, ""));
        assert!(err.contains(answer), "{err}");
    }
    let (code, _, err) = coldcheck(&["why", "capacitor/surge", "--part", "C10"]);
    assert_eq!(code, 2);
    assert!(err.contains("--in"), "{err}");
}

#[test]
fn the_document_keeps_to_its_schema() {
    let (code, schema, _) = coldcheck(&["why", "--schema"]);
    assert_eq!(code, 0);
    for (rule, design) in [
        ("capacitor/working-voltage", FAULTY),
        ("supply/bleeder", FAULTY),
        ("tube/plate-dissipation", SOUND),
        ("output/gain", SOUND),
        ("waiver/unused", SOUND),
    ] {
        let (code, out, _) = coldcheck(&["why", rule, "--in", design, "--as", "json"]);
        assert_eq!(code, 0);
        assert_eq!(faults(&schema, &out), Vec::<String>::new(), "{rule}");
    }
}

#[test]
fn the_schema_of_the_walk() {
    insta::assert_snapshot!(coldcheck(&["why", "--schema"]).1);
}
