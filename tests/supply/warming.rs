//! The curve of a normal warm-up: an indirectly heated rectifier comes up with its tubes, a filament ahead of them.

use coldcheck::catalogue::Catalogue;
use coldcheck::circuit::Circuit;
use coldcheck::design::read_fragment;
use coldcheck::facts::{State, WarmUp, warm_up};
use coldcheck::source::Sources;

use super::bench::Bench;

const STAGE: &str = include_str!("designs/several-windings-at-once.kdl");

fn curve(text: &str) -> Option<WarmUp> {
    let mut sources = Sources::default();
    let file = sources.add("supply.kdl", text);
    let design = read_fragment(&sources, file, Catalogue::built_in()).design.unwrap();
    warm_up(&design, &Circuit::of(&design), Catalogue::built_in()).unwrap()
}

fn rail<'a>(curve: &'a WarmUp, name: &str) -> &'a [f64] {
    let found = curve.rails.iter().find(|(rail, _)| rail == name);
    found.map(|(_, volts)| volts.as_slice()).unwrap_or_else(|| panic!("{name} is no rail"))
}

#[test]
fn an_indirectly_heated_rectifier_comes_up_with_its_tubes() {
    let curve = curve(STAGE).unwrap();
    let bplus = rail(&curve, "bplus");
    let running = Bench::of(STAGE).quantity("bplus", "voltage", State::Running);
    assert!(bplus[0] < 5.0, "{}", bplus[0]);
    let end = *bplus.last().unwrap();
    assert!((end / running - 1.0).abs() < 0.002, "{end} against {running}");
    let highest = bplus.iter().copied().fold(0.0, f64::max);
    assert!(highest < 1.05 * running, "{highest} against {running}: it comes up with its load");
    assert!(!curve.assumptions.is_empty());
}

#[test]
fn a_filament_is_ahead_of_its_tubes_and_the_rail_overshoots() {
    let filament = STAGE
        .replace(
            "winding heaters",
            "winding five \"5V\" start=f1 finish=f2 current=\"3A\" resistance=\"0.05\"\n    winding heaters",
        )
        .replace(
            "tube V2 \"EZ80\" { heater \"6.3V\" from=h1 to=h2; model k=0.0009; }",
            "tube V2 \"5U4GB\" { heater \"5V\" from=f1 to=f2; }",
        )
        .replace("resistor R11 \"22k\"", "resistor R11 \"220k\"")
        .replace("resistor R3 \"47k\"", "resistor R3 \"10k\"");
    let curve = curve(&filament).unwrap();
    let bplus = rail(&curve, "bplus");
    let (highest, end) = (bplus.iter().copied().fold(0.0, f64::max), *bplus.last().unwrap());
    assert!(highest > 1.03 * end, "{highest} against {end}");
    let at = bplus.iter().position(|volts| *volts > 0.99 * highest).unwrap();
    assert!(curve.seconds[at] < 4.0, "{}", curve.seconds[at]);
}

#[test]
fn without_a_rectifier_there_is_no_curve() {
    assert_eq!(
        curve("bench-supply B1 \"250V\" plus=bplus minus=ground\nresistor R1 \"10k\" from=bplus to=ground"),
        None
    );
}
