//! A rule whose facts could not be had is not judged: nothing that a sound solution would have shown passes in silence.

use std::collections::BTreeSet;

use coldcheck::findings::DesignReport;
use coldcheck::rules::{Rule, RuleBook};

use super::inspecting::inspect_fragment;

/// Two ideal supplies of different voltages on one net: no state of the design has a solution.
const CONTRADICTION: &str = r#"
bench-supply X1 "1V" plus=contradiction minus=ground
bench-supply X2 "2V" plus=contradiction minus=ground
"#;

/// Rules that read stated values, the catalogue or the connections alone: they speak without a solution as they do with one.
fn is_told(report: &DesignReport, rule: &str, part: &str) -> bool {
    let broken = report.findings.iter().any(|finding| finding.rule == rule && finding.part == part);
    broken || report.not_judged.iter().any(|open| open.rule == rule && open.part == part)
}

#[test]
fn what_breaks_a_rule_is_found_or_not_judged_where_nothing_can_be_solved() {
    let book = RuleBook::built_in();
    let mut silent = Vec::new();
    for rule in book.rules() {
        for example in rule.examples.iter().filter(|example| !example.holds) {
            let sound = inspect_fragment(book, &example.design).report;
            let spoilt = inspect_fragment(book, &format!("{}{CONTRADICTION}", example.design)).report;
            let broken = sound.findings.iter().filter(|finding| finding.rule == rule.name);
            silent.extend(
                broken
                    .filter(|finding| !is_told(&spoilt, &rule.name, &finding.part))
                    .map(|finding| format!("{} ({})", rule.name, finding.part)),
            );
        }
    }
    assert!(silent.is_empty(), "{}", silent.join("\n"));
}

const OUTPUT_STAGE: &str = r#"
bench-supply B1 "265V" plus=bplus minus=ground
bench-supply B2 "6.3V" plus=h1 minus=ground
tube V1 "EL84" { heater "6.3V" from=h1 to=ground; }
resistor R1 "470k" from=in to=ground power="0.25W"
resistor R2 "1k" from=in to=V1.grid power="0.25W"
resistor R3 "100" from=bplus to=V1.screen power="1W"
resistor R4 "150" from=V1.cathode to=ground power="2W"
capacitor C1 "220uF" plus=V1.cathode minus=ground voltage="25V" kind=electrolytic
output-transformer T1 power="6W" {
    primary "5k2" start=bplus finish=V1.plate resistance="300" inductance="14H" current="60mA"
    secondary "8" start=ground finish=out resistance="0.5"
}
input IN hot=in cold=ground source="600" level="2V"
output OUT hot=out cold=ground load="8" DISTORTION
"#;

fn judged_open(report: &DesignReport, part: &str) -> BTreeSet<String> {
    report.not_judged.iter().filter(|open| open.part == part).map(|open| open.rule.clone()).collect()
}

#[test]
fn a_power_that_was_not_found_leaves_the_load_and_the_drive_of_an_output_stage_unjudged() {
    let book = RuleBook::built_in();
    let sound = inspect_fragment(book, &OUTPUT_STAGE.replace("DISTORTION", "")).report;
    assert_eq!(judged_open(&sound, "OUT"), BTreeSet::new(), "{:#?}", sound.not_judged);
    // Every level is distorted by more than this: there is no largest one, and no power at it.
    let strict = inspect_fragment(book, &OUTPUT_STAGE.replace("DISTORTION", "distortion=\"0.00000001%\"")).report;
    let open = judged_open(&strict, "OUT");
    assert!(open.contains("output-stage/load"), "{open:?}");
}

// Without a signal there is no power to compare; the direct current in the load is there all the same.
#[test]
fn an_output_without_an_input_leaves_the_direct_current_in_its_load_unjudged() {
    let book = RuleBook::built_in();
    let drawn = OUTPUT_STAGE.replace("DISTORTION", "");
    let undriven: Vec<&str> = drawn.lines().filter(|line| !line.starts_with("input")).collect();
    let open = judged_open(&inspect_fragment(book, &undriven.join("\n")).report, "OUT");
    assert_eq!(open, BTreeSet::from(["output-stage/speaker-direct-current".to_owned()]));
}

#[test]
fn a_rule_that_asks_for_running_is_not_answered_by_the_other_states() {
    let book = RuleBook::built_in();
    let rest: &Rule = book.rule("tube/plate-rest").unwrap();
    let example = rest.examples.iter().find(|example| !example.holds).unwrap();
    let spoilt = inspect_fragment(book, &format!("{}{CONTRADICTION}", example.design)).report;
    assert!(spoilt.not_judged.iter().any(|open| open.rule == rest.name), "{:#?}", spoilt.not_judged);
}
