//! Large signals of whole designs against `large/solve.py`, which knows the equations and nothing of this program.

use std::collections::BTreeMap;

use coldcheck::facts::State;

use crate::bench::{Bench, near};

type Expected = BTreeMap<String, BTreeMap<String, f64>>;

const LEVEL: f64 = 0.005;
const DISTORTION: f64 = 0.05;
/// A harmonic this far below the fundamental is nothing to the ear or the meter.
const LEAST: f64 = 1e-5;

const DESIGNS: [(&str, &str); 6] = [
    ("triode-stage", include_str!("large/triode-stage.kdl")),
    ("grid-current", include_str!("large/grid-current.kdl")),
    ("cascade", include_str!("large/cascade.kdl")),
    ("follower", include_str!("large/follower.kdl")),
    ("single-ended", include_str!("large/single-ended.kdl")),
    ("push-pull", include_str!("large/push-pull.kdl")),
];

#[test]
fn levels_agree_within_half_a_per_cent_and_distortion_within_five() {
    let expected: Expected = serde_json::from_str(include_str!("large/expected.json")).unwrap();
    assert_eq!(expected.len(), DESIGNS.len());
    let mut wrong = Vec::new();
    for (name, text) in DESIGNS {
        let bench = Bench::of(text);
        let overdriven = bench.quantity("OUT", "signal-level", State::Running)
            > bench.quantity("OUT", "largest-level", State::Running);
        for (fact, value) in &expected[name] {
            let (subject, fact) = fact.split_once(' ').unwrap();
            let fact = match fact.strip_prefix("mean-") {
                // Mean currents are facts of full drive: of the signal level only where that is the higher one.
                Some(_) if !overdriven => continue,
                Some(current) => format!("signal-{current}"),
                None => fact.to_owned(),
            };
            let found = bench.quantity(subject, &fact, State::Running);
            let share = if fact.starts_with("distortion") { DISTORTION } else { LEVEL };
            if (found - value).abs() > share * value.abs() + LEAST {
                wrong.push(format!("{name}: {subject} {fact} is {found}, the reference has {value}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn a_grid_that_rectifies_takes_its_stage_towards_cut_off() {
    let bench = Bench::of(include_str!("large/grid-current.kdl"));
    let rest = bench.quantity("V1a", "plate-current", State::Running);
    assert!(bench.quantity("V1a", "signal-plate-current", State::Running) < 0.8 * rest);
    assert!(bench.quantity("OUT", "headroom", State::Running) < 0.3);
}

/// The supply is solved once more with the rise of current as a plain current source, and its voltages put into bench
/// supplies, which do not give way: the stage must make the same power there.
#[test]
fn a_class_b_stage_pulls_its_own_supply_down() {
    let text = include_str!("large/mains-push-pull.kdl");
    let of = |bench: &Bench, subject: &str, fact: &str| bench.quantity(subject, fact, State::Running);
    let both = |bench: &Bench, fact: &str| of(bench, "V2", fact) + of(bench, "V3", fact);
    let whole = Bench::of(text);
    let full = both(&whole, "signal-cathode-current");
    // The tubes of the loaded supply rest at its lower voltage: what they still draw there is part of the full current.
    let mut loaded = Bench::of(text);
    for _ in 0..4 {
        let rise = full - both(&loaded, "cathode-current");
        loaded = Bench::of(&format!("{text}current-source S9 \"{rise}A\" from=bplus to=ground\n"));
    }
    let (_, stage) = text.split_once("tube V1").unwrap();
    let stiff = |at: &Bench| {
        let [plates, driver, bias] = ["bplus", "driver", "bias"].map(|net| of(at, net, "voltage"));
        let supplies = format!(
            "bench-supply B1 \"{plates}V\" plus=bplus minus=ground\nbench-supply B2 \"{driver}V\" plus=driver minus=ground\n\
             bench-supply B3 \"{}V\" plus=ground minus=bias\nbench-supply B4 \"6.3V\" plus=h1 minus=h2\nwire h2 ground\ntube V1",
            -bias
        );
        of(&Bench::of(&format!("{supplies}{stage}")), "OUT", "largest-power")
    };
    let power = of(&whole, "OUT", "largest-power");
    assert!(power < 0.9 * stiff(&whole));
    near(power, stiff(&loaded), 0.02);
}

#[test]
fn what_is_assumed_of_the_supply_is_said() {
    let said = |text: &str| {
        let bench = Bench::of(text);
        let id = bench.facts.named("OUT").next().unwrap();
        bench.facts.fact(id, "distortion").unwrap().assumptions.join("; ")
    };
    assert!(said(include_str!("large/mains-push-pull.kdl")).contains("the mean current of the signal takes it"));
    assert!(!said(include_str!("large/triode-stage.kdl")).contains("supply"));
}
