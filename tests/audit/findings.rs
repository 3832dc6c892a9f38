//! What is found in these designs, and what is not.

use crate::figures::{inspected, inspected_text};

fn found(name: &str) -> Vec<(String, String)> {
    inspected(name).findings.into_iter().map(|finding| (finding.rule, finding.part)).collect()
}

fn has(found: &[(String, String)], rule: &str, part: &str) -> bool {
    found.iter().any(|(other, of)| other == rule && of == part)
}

#[test]
fn a_lifted_heater_is_held_to_the_limit_of_the_cold_cathode_too() {
    let found = found("srpp");
    assert!(has(&found, "heater/cathode-voltage", "V1a"), "{found:?}");
}

#[test]
fn rectifiers_with_a_joined_cathode_may_take_the_place_of_directly_heated_ones() {
    for name in ["hum-pot-single-ended", "tapped-screens"] {
        let found = found(name);
        assert!(!found.iter().any(|(rule, _)| rule == "tube/alternate-basing"), "{found:?}");
    }
}

#[test]
fn a_source_follower_with_a_zener_at_its_gate_does_not_keep_the_discharge_from_being_followed() {
    let outcome = inspected("doubler-follower");
    let open: Vec<_> = outcome.not_judged.iter().filter(|open| open.rule == "supply/bleeder").collect();
    assert!(open.is_empty(), "{open:?}");
}

#[test]
fn gas_regulators_one_upon_another_hold_the_net_that_feeds_the_stages() {
    let found = found("gas-regulated");
    assert!(!found.iter().any(|(rule, _)| rule == "supply/undecoupled"), "{found:?}");
}

#[test]
fn the_branches_of_a_tone_control_are_no_coupling_capacitors() {
    let found = found("tone-stack");
    assert!(!found.iter().any(|(rule, _)| rule == "coupling/corner"), "{found:?}");
}

#[test]
fn the_resistor_at_the_plate_of_a_follower_is_no_load() {
    let found = found("white-follower");
    assert!(!has(&found, "tube/loaded-down", "V2a"), "{found:?}");
}

#[test]
fn taps_of_a_centre_tapped_primary_come_in_pairs() {
    let text = std::fs::read_to_string("tests/audit/designs/tapped-screens.kdl").unwrap();
    let counted_from_one_end = text.replacen("tap \"43%\" at=tap3", "tap \"28.5%\" at=tap3", 1);
    assert!(inspected_text(&counted_from_one_end).iter().any(|message| message.contains("counted from the centre")));
}
