//! Every topology against a scipy integration at netlist level (reference/solve_supplies.py): means within half a
//! percent, ripple, rms and crests within two.

use std::collections::BTreeMap;

use coldcheck::facts::{State, Value};
use serde_json::Value as Json;

use super::bench::Bench;

macro_rules! designs {
    ($($name:literal),* $(,)?) => {
        &[$(($name, include_str!(concat!("designs/", $name, ".kdl")))),*]
    };
}

const DESIGNS: &[(&str, &str)] = designs![
    "tube-and-silicon-in-one-bridge",
    "two-taps-from-one-bridge",
    "negative-bias-rail",
    "full-wave-doubler",
    "cascade-doubler",
    "capacitor-choke-capacitor-with-a-stage",
    "choke-input-of-two-sections",
    "choke-input-lightly-loaded",
    "directly-heated-taken-from-one-leg",
    "two-gas-regulators-in-series",
    "zener-held-rail",
    "direct-current-heaters",
    "half-wave-with-a-series-resistor",
    "several-windings-at-once",
];

/// Ripple that is compared at all: below it nothing is audible, and the two integrations resolve no better.
const LEAST_RIPPLE: f64 = 1e-3;

#[derive(Default)]
struct Worst {
    share: f64,
    place: String,
    count: usize,
}

impl Worst {
    fn compare(&mut self, place: &str, found: f64, expected: f64, scale: f64) {
        let share = (found - expected).abs() / scale;
        self.count += 1;
        assert!(share.is_finite(), "{place}: {found}");
        if share >= self.share {
            self.share = share;
            self.place = format!("{place}: {found:.6} against {expected:.6}");
        }
    }

    fn demand(&self, quantity: &str, allowed: f64) {
        println!("{quantity}: {} compared, worst {:.3} % at {}", self.count, 100.0 * self.share, self.place);
        assert!(self.share <= allowed, "{quantity}: {} is off by {:.3} %", self.place, 100.0 * self.share);
    }
}

#[derive(Default)]
struct Errors {
    mean: Worst,
    ripple: Worst,
    rms: Worst,
    crest: Worst,
    heat: Worst,
}

fn number(value: &Json, path: [&str; 2]) -> f64 {
    value[path[0]][path[1]].as_f64().unwrap()
}

fn figure(value: &Json, key: &str) -> f64 {
    value[key].as_f64().unwrap()
}

impl Errors {
    fn take(&mut self, name: &str, bench: &Bench, expected: &Json) {
        let now = State::Running;
        let ask = |subject: &str, fact: &str| bench.value(subject, fact, now).and_then(Value::number);
        for (net, swing) in expected["nets"].as_object().unwrap() {
            let (mean, rms) = (figure(swing, "mean"), figure(swing, "rms"));
            let ripple = figure(swing, "maximum") - figure(swing, "minimum");
            let place = format!("{name}, {net}");
            // What floats between blocked diodes is held by leakage alone, of which neither side knows anything.
            if ripple > mean.abs() {
                continue;
            }
            if let Some(found) = ask(net, "voltage") {
                // A net that stands at 0 V has no share to be off by.
                self.mean.compare(&place, found, mean, mean.abs().max(0.05 * rms).max(0.1));
            }
            if let Some(found) = ask(net, "ripple").filter(|_| ripple > LEAST_RIPPLE) {
                self.ripple.compare(&place, found, ripple, ripple);
            }
        }
        let mut rectifiers: Vec<&str> = Vec::new();
        for (part, swings) in expected["parts"].as_object().unwrap() {
            let (owner, way) = part.split_once('/').unwrap_or((part, ""));
            let place = format!("{name}, {part}");
            let (rms, crest) = (number(swings, ["current", "rms"]), number(swings, ["current", "maximum"]));
            if let Some(found) = ask(part, "ripple-current") {
                let mean = number(swings, ["current", "mean"]);
                self.rms.compare(&place, found, (rms * rms - mean * mean).max(0.0).sqrt(), rms.max(1e-4));
            }
            if let Some(found) = ask(owner, "peak-current") {
                if !rectifiers.contains(&owner) {
                    rectifiers.push(owner);
                    self.crest.compare(&place, found, crest, crest);
                    let inverse = -number(swings, ["voltage", "minimum"]);
                    let found = ask(owner, "peak-inverse-voltage").unwrap();
                    self.crest.compare(&format!("{place}, inverse"), found, inverse, inverse);
                }
            } else if part.starts_with('R') && way.is_empty() {
                let heat = rms * number(swings, ["voltage", "rms"]);
                if let Some(found) = ask(part, "dissipation").filter(|_| heat > 1e-5) {
                    self.heat.compare(&place, found, heat, heat);
                }
            } else if let (true, Some(found)) = (part.starts_with('L'), ask(part, "direct-current")) {
                let mean = number(swings, ["current", "mean"]);
                self.mean.compare(&place, found, mean, mean);
            } else if let (Some(heater), Some(found)) = (part.strip_suffix(".heater"), ask(part, "voltage")) {
                let mean = number(swings, ["voltage", "mean"]);
                self.mean.compare(&format!("{name}, heater of {heater}"), found, mean, mean);
            }
        }
        // A centre-tapped winding tells of the half that works harder.
        let mut windings: BTreeMap<&str, f64> = BTreeMap::new();
        for (part, swings) in expected["parts"].as_object().unwrap() {
            let half = part.strip_suffix(".start").or(part.strip_suffix(".finish")).unwrap_or(part);
            let rms = number(swings, ["current", "rms"]);
            windings.entry(half).and_modify(|most| *most = most.max(rms)).or_insert(rms);
        }
        for (winding, rms) in windings.into_iter().filter(|(part, _)| part.starts_with("T1.")) {
            let found = ask(winding, "rms-current").unwrap_or_else(|| panic!("{name}: {winding} has no current"));
            self.rms.compare(&format!("{name}, {winding}"), found, rms, rms);
        }
        if let Some(primary) = expected["primary"]["rms"].as_f64() {
            self.rms.compare(&format!("{name}, mains"), ask("design", "mains-current").unwrap(), primary, primary);
        }
    }
}

#[test]
fn every_topology_agrees_with_an_independent_integration() {
    let expected: Json = serde_json::from_str(include_str!("reference/expected.json")).unwrap();
    let mut errors = Errors::default();
    for (name, text) in DESIGNS {
        let expected = &expected[*name];
        assert!(!expected.is_null(), "{name} has no expected values");
        errors.take(name, &Bench::of(text), expected);
    }
    println!();
    errors.mean.demand("mean voltage, choke and heater", 0.005);
    errors.ripple.demand("ripple, peak to peak", 0.02);
    errors.rms.demand("rms current of capacitors, windings and mains", 0.02);
    errors.crest.demand("rectifier crest and peak inverse voltage", 0.02);
    errors.heat.demand("heat of resistors", 0.02);
}
