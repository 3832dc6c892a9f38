//! Designs against the solution of `reference/solve.py`, which knows the equations and nothing of this program.

use std::collections::BTreeMap;

use coldcheck::facts::State;

use crate::bench::{Bench, near};

type Expected = BTreeMap<String, BTreeMap<String, f64>>;

const SHARE: f64 = 0.005;
/// Decibels, where what is compared is a few hundredths of one.
const DECIBELS: f64 = 0.005;

#[test]
fn every_figure_agrees_within_half_a_per_cent() {
    let expected: Expected = serde_json::from_str(include_str!("reference/expected.json")).unwrap();
    let designs = [
        ("triode-stage", include_str!("designs/triode-stage.kdl")),
        ("single-ended", include_str!("designs/single-ended.kdl")),
        ("pentode-stage", include_str!("designs/pentode-stage.kdl")),
        ("hybrid", include_str!("designs/hybrid.kdl")),
        ("feedback", include_str!("designs/feedback.kdl")),
        ("riaa-network", include_str!("designs/riaa-network.kdl")),
        ("riaa-network-off", include_str!("designs/riaa-network-off.kdl")),
    ];
    assert_eq!(expected.len(), designs.len());
    let mut wrong = Vec::new();
    for (name, text) in designs {
        let bench = Bench::of(text);
        for (fact, value) in &expected[name] {
            let (subject, fact) = fact.split_once(' ').unwrap();
            let found = bench.quantity(subject, fact, State::Running);
            let allowed = if fact == "riaa-deviation" { DECIBELS } else { SHARE * value.abs() };
            if (found - value).abs() > allowed {
                wrong.push(format!("{name}: {subject} {fact} is {found}, the reference has {value}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn the_textbook_replay_network_departs_by_less_than_a_hundredth_of_a_decibel() {
    let bench = Bench::of(include_str!("designs/riaa-network.kdl"));
    assert!(bench.quantity("OUT", "riaa-deviation", State::Running) < 0.01);
}

#[test]
fn a_bypassed_stage_amplifies_by_its_slope_times_all_that_hangs_on_its_plate() {
    let bench = Bench::of(include_str!("designs/triode-stage.kdl"));
    let of = |fact: &str| bench.quantity("V1a", fact, State::Running);
    let conductance = 1.0 / of("plate-resistance") + 1.0 / 47e3 + 1.0 / 470e3 + 1.0 / 100e3;
    near(of("stage-gain"), of("transconductance") / conductance, 0.01);
}

#[test]
fn the_screen_of_a_starved_pentode_has_a_figure_unless_its_model_cuts_it_off() {
    let divided = include_str!("designs/pentode-stage.kdl");
    let bench = Bench::of(divided);
    let of = |fact: &str| bench.quantity("V1", fact, State::Running);
    assert!(of("screen-current") > 0.2 * of("plate-current"));
    near(of("screen-dissipation"), of("screen-current") * of("screen-voltage"), 1e-6);

    // Koren's screen is cut off at -Vg2/mu; starved by 100 megohms this one stands just there while its plate conducts.
    let given = "model form=divided mu=40 x=1.4 kg1=520 kp=110 mup=5000 split=0.38 tilt=0.1 knee=2e-3";
    let koren = divided
        .replace(given, "model form=koren mu=40 x=1.3 kg1=1090 kg2=1000 kp=20 kvb=8")
        .replace("\"680k\"", "\"100M\"");
    assert!(koren.contains("form=koren") && koren.contains("100M"));
    let bench = Bench::of(&koren);
    assert!(bench.quantity("V1", "plate-current", State::Running) > 0.0);
    for fact in ["screen-current", "screen-dissipation"] {
        assert_eq!(bench.value("V1", fact, State::Running), None, "{fact}");
    }
}
