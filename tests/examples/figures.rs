//! Figures of the example designs that can be had by hand.

use coldcheck::facts::{FactTable, State, Value};

use crate::facts;

fn quantity(table: &FactTable, subject: &str, fact: &str, state: State) -> f64 {
    let found = table.named(subject).filter_map(|id| table.fact(id, fact)).flat_map(|fact| fact.samples.iter());
    let found: Vec<f64> = found
        .filter(|sample| sample.lineup == 0 && sample.state.is_none_or(|of| of == state))
        .filter_map(|sample| sample.value.number())
        .collect();
    assert_eq!(found.len(), 1, "{fact} of {subject} in {}", state.name());
    found[0]
}

fn near(found: f64, expected: f64, share: f64) {
    assert!((found / expected - 1.0).abs() < share, "{found} instead of {expected}");
}

#[test]
fn the_replay_curve_of_the_phono_stage_is_kept_within_half_a_decibel() {
    let table = facts("gramophone-corner-phono-stage").unwrap();
    for output in ["OUT-L", "OUT-R"] {
        assert!(quantity(&table, output, "riaa-deviation", State::Running) < 0.5);
    }
}

#[test]
fn what_stands_across_the_mains_before_the_switch_empties_through_its_own_resistors() {
    let table = facts("reading-room-amplifier").unwrap();
    // Twice 470 kΩ share the mains, and 100 nF falls from the crest of high mains to 50 V: t = R·C·ln(357.8 / 50).
    near(quantity(&table, "R1", "dissipation", State::HighMains), 126.5 * 126.5 / 470e3, 0.001);
    near(quantity(&table, "R2", "voltage-across", State::HighMains), 126.5 * 2f64.sqrt(), 0.001);
    near(
        quantity(&table, "C1", "discharge-time", State::SwitchedOff),
        0.094 * (253.0 * 2f64.sqrt() / 50.0).ln(),
        0.005,
    );
    near(quantity(&table, "C1", "stored-energy", State::HighMains), 100e-9 * 253.0 * 253.0, 0.001);
}

#[test]
fn an_output_capacitor_that_only_a_warm_follower_charges_is_followed_as_it_empties() {
    let table = facts("listening-booth-headphones").unwrap();
    let charged = quantity(&table, "left.C2", "working-voltage", State::HighMains);
    // Through its own bleeder and the follower's cathode resistors, the phones unplugged.
    let seconds = 100e-6 * (10e3 + 330.0 + 5.6e3) * (charged / 50.0).ln();
    near(quantity(&table, "left.C2", "discharge-time", State::SwitchedOff), seconds, 0.02);
}

#[test]
fn a_measuring_resistor_leaves_fixed_bias_fixed_and_its_control_is_no_volume_control() {
    let table = facts("hall-amplifier").unwrap();
    assert_eq!(quantity(&table, "V3", "grid-leak-limit", State::Running), 100e3);
    let control = table.named("upper.P1").find_map(|id| table.fact(id, "carries-signal")).unwrap();
    assert_eq!(control.samples[0].value, Value::Flag(false));
}

#[test]
fn feedback_that_comes_back_in_step_is_no_margin_at_all() {
    let table = facts("../faulty/hall-amplifier-b").unwrap();
    assert_eq!(quantity(&table, "OUT", "phase-margin", State::Running), 0.0);
    assert!(quantity(&table, "OUT", "loop-gain", State::Running) > 1.0);
    let positive = table.named("OUT").find_map(|id| table.fact(id, "positive-feedback")).unwrap();
    assert!(positive.samples.iter().any(|sample| sample.lineup == 0 && sample.value == Value::Flag(true)));
    assert_eq!(quantity(&table, "OUT", "phase-margin-frequency", State::Running), 1000.0);
}

#[test]
fn a_stage_inside_a_feedback_loop_has_its_own_gain() {
    let table = facts("hall-amplifier").unwrap();
    // Both halves at work, each sees half of what is loaded from plate to plate, its own plate resistance beside it.
    let own = quantity(&table, "V3", "plate-resistance", State::Running);
    let load = 6.6e3 / 2.0;
    let gain = quantity(&table, "V3", "transconductance", State::Running) * own * load / (own + load);
    near(quantity(&table, "V3", "stage-gain", State::Running), gain, 0.1);
    near(quantity(&table, "V4", "stage-gain", State::Running), gain, 0.1);
}

#[test]
fn leds_hold_a_cathode_as_a_bypass_does() {
    let table = facts("kitchen-table-led-stage").unwrap();
    let held =
        |name: &str| table.named(name).find_map(|id| table.fact(id, "bypassed")).unwrap().samples[0].value.clone();
    assert_eq!(held("V1a"), Value::Flag(true));
}
