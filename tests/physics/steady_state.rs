//! Mains-driven supplies against a stiff integration of the same equations closed by fsolve.

use crate::cases::{Case, Worst, cases, numbers};
use coldcheck::physics::{Element, SteadyOptions, SteadyState, Swing, steady_state};
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
