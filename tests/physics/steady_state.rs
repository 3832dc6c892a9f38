//! Mains-driven supplies against a stiff integration of the same equations closed by fsolve.

use crate::build::{capacitor, network, resistor, silicon, supply, winding};
use crate::cases::{Case, Worst, cases, numbers};
use coldcheck::physics::{Element, SteadyOptions, SteadyState, Swing, operating_point, steady_state};
use coldcheck::units::Hertz;
use serde_json::Value;

fn solve(case: &Case, options: SteadyOptions) -> SteadyState {
    let frequency = Hertz(case.given["frequency"].as_f64().unwrap());
    steady_state(&case.network, frequency, options).unwrap_or_else(|trouble| panic!("{}: {trouble}", case.name))
}

struct Columns {
    mean: Vec<f64>,
    minimum: Vec<f64>,
    maximum: Vec<f64>,
    rms: Vec<f64>,
}

fn columns(value: &Value) -> Columns {
    Columns {
        mean: numbers(&value["mean"]),
        minimum: numbers(&value["minimum"]),
        maximum: numbers(&value["maximum"]),
        rms: numbers(&value["rms"]),
    }
}

#[derive(Default)]
struct Errors {
    mean: Worst,
    ripple: Worst,
    rms_current: Worst,
    peak_current: Worst,
    mean_current: Worst,
}

impl Errors {
    fn take(&mut self, case: &Case, steady: &SteadyState) {
        let nodes = columns(&case.expected["nodes"]);
        for (node, swing) in steady.nodes.iter().enumerate().skip(1) {
            let place = format!("{}, node {node}", case.name);
            let size = nodes.mean[node].abs().max(0.01 * nodes.rms[node]).max(0.1);
            self.mean.compare(&place, swing.mean, nodes.mean[node], size);
            let ripple = nodes.maximum[node] - nodes.minimum[node];
            // Ripple below a millivolt on hundreds of volts is below what the integration resolves.
            let least = 2e-5 * nodes.rms[node];
            self.ripple.compare(&place, swing.peak_to_peak(), ripple, ripple.max(least).max(1e-3));
        }
        let currents = columns(&case.expected["currents"]);
        for (place, element) in case.network.elements.iter().enumerate() {
            if matches!(element, Element::Capacitor { .. }) && currents.rms[place] == 0.0 {
                continue;
            }
            let name = format!("{}, element {place}", case.name);
            let Swing { mean, rms, maximum, minimum } = steady.elements[place].current;
            let size = currents.rms[place].max(1e-5);
            self.mean_current.compare(&name, mean, currents.mean[place], size);
            if is_charging(element) {
                self.rms_current.compare(&name, rms, currents.rms[place], size);
                let (found, expected) = (maximum.max(-minimum), currents.maximum[place].max(-currents.minimum[place]));
                self.peak_current.compare(&name, found, expected, expected.max(1e-5));
            }
        }
    }

    fn demand(&self) {
        println!();
        self.mean.demand("mean voltage", 0.005);
        self.ripple.demand("ripple, peak to peak", 0.02);
        self.mean_current.demand("mean current", 0.005);
        self.rms_current.demand("rms current", 0.02);
        self.peak_current.demand("peak current", 0.02);
    }
}

fn is_charging(element: &Element) -> bool {
    matches!(
        element,
        Element::Winding { .. }
            | Element::Junction { .. }
            | Element::VacuumDiode { .. }
            | Element::Capacitor { .. }
            | Element::Inductor { .. }
    )
}

#[test]
fn supplies_agree_with_an_independent_integration() {
    let mut errors = Errors::default();
    for case in cases("steady") {
        let steady = solve(&case, SteadyOptions::default());
        errors.take(&case, &steady);
    }
    errors.demand();
}

#[test]
fn supply_and_load_solved_as_one_agree_too() {
    let mut errors = Errors::default();
    for case in cases("steady") {
        let whole = SteadyOptions { whole: true, ..SteadyOptions::default() };
        errors.take(&case, &solve(&case, whole));
    }
    errors.demand();
}

#[test]
fn without_mains_the_steady_state_is_the_operating_point() {
    for case in cases("operating") {
        let point = operating_point(&case.network, None).unwrap();
        let steady = steady_state(&case.network, Hertz(50.0), SteadyOptions::default()).unwrap();
        for (node, voltage) in point.voltages.iter().enumerate() {
            let swing = steady.nodes[node];
            assert!((swing.mean - voltage).abs() < 1e-6, "{}", case.name);
            assert!(swing.peak_to_peak() < 1e-9, "{}", case.name);
        }
    }
}

#[test]
fn a_heater_winding_swings_about_its_reference() {
    // 6.3 V raised to 40 V by a divider, held by two 100 Ω resistors: each leg swings by half the crest of 8.91 V.
    let network = network(vec![
        supply(1, 300.0),
        resistor(1, 2, 260e3),
        resistor(2, 0, 40e3),
        capacitor(2, 0, 10e-6),
        winding(3, 4, 6.3, 0.1),
        resistor(3, 2, 100.0),
        resistor(4, 2, 100.0),
        resistor(3, 4, 10.5),
    ]);
    let steady = steady_state(&network, Hertz(50.0), SteadyOptions::default()).unwrap();
    let half = 0.5 * 6.3 * std::f64::consts::SQRT_2;
    for leg in [3, 4] {
        let swing = steady.nodes[leg];
        assert!((swing.mean - 40.0).abs() < 1e-3, "{swing:?}");
        assert!((swing.maximum - 40.0 - half).abs() < 0.02 * half, "{swing:?}");
        assert!((swing.minimum - 40.0 + half).abs() < 0.02 * half, "{swing:?}");
    }
    // 6.3 V across 10.5 Ω (and 200 Ω beside it) behind 0.1 Ω.
    let current = steady.elements[4].current.rms;
    assert!((current - 6.3 / (0.1 + 1.0 / (1.0 / 10.5 + 1.0 / 200.0))).abs() < 1e-3, "{current}");
}

#[test]
fn a_winding_that_is_off_leaves_its_supply_dark() {
    let network = network(vec![winding(1, 0, 0.0, 50.0), silicon(1, 2), capacitor(2, 0, 47e-6), resistor(2, 0, 10e3)]);
    let steady = steady_state(&network, Hertz(50.0), SteadyOptions::default()).unwrap();
    assert!(steady.nodes.iter().all(|node| node.rms < 1e-9));
}
