//! Reads the networks and the independent solutions (reference/cases.json and reference/expected.json).

use coldcheck::catalogue::{DiodeModel, PentodeForm, PentodeLaw, TriodeModel, VacuumDiodeModel};
use coldcheck::physics::{Element, Network, NodeId};
use coldcheck::units::{Amperes, Farads, Henries, Ohms, Volts};
use serde_json::Value;

/// One case: what is given, and what scipy found.
pub struct Case {
    pub name: String,
    pub given: Value,
    pub network: Network,
    pub expected: Value,
}

/// All cases of a kind.
pub fn cases(kind: &str) -> Vec<Case> {
    let given: Value = serde_json::from_str(include_str!("reference/cases.json")).unwrap();
    let expected: Value = serde_json::from_str(include_str!("reference/expected.json")).unwrap();
    given[kind]
        .as_array()
        .unwrap()
        .iter()
        .map(|case| {
            let name = case["name"].as_str().unwrap().to_owned();
            let expected = expected[kind][&name].clone();
            assert!(!expected.is_null(), "{name} has no expected values");
            Case { network: network(&case["network"]), given: case.clone(), name, expected }
        })
        .collect()
}

/// A list of numbers.
pub fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

fn network(given: &Value) -> Network {
    Network {
        nodes: usize::try_from(given["nodes"].as_u64().unwrap()).unwrap(),
        elements: given["elements"].as_array().unwrap().iter().map(element).collect(),
    }
}

fn element(e: &Value) -> Element {
    let node = |key: &str| NodeId(usize::try_from(e[key].as_u64().unwrap()).unwrap());
    let number = |key: &str| e[key].as_f64().unwrap();
    let model = |key: &str| e["model"][key].as_f64().unwrap();
    let (a, b) = (node("a"), node("b"));
    match e["kind"].as_str().unwrap() {
        "resistor" => Element::Resistor { a, b, resistance: Ohms(number("value")) },
        "capacitor" => Element::Capacitor { a, b, capacitance: Farads(number("value")) },
        "inductor" => {
            Element::Inductor { a, b, inductance: Henries(number("value")), resistance: Ohms(number("resistance")) }
        }
        "winding" => Element::Winding {
            a,
            b,
            emf: Volts(number("emf")),
            resistance: Ohms(number("resistance")),
            phase: number("phase"),
        },
        "supply" => Element::Supply {
            plus: a,
            minus: b,
            voltage: Volts(number("voltage")),
            resistance: Ohms(number("resistance")),
        },
        "junction" => Element::Junction {
            anode: a,
            cathode: b,
            model: DiodeModel {
                is: model("is"),
                n: model("n"),
                rs: model("rs"),
                breakdown: e["model"]["breakdown"].as_f64(),
            },
        },
        "vacuum-diode" => Element::VacuumDiode { plate: a, cathode: b, model: VacuumDiodeModel { k: model("k") } },
        "triode" => Element::Triode {
            plate: a,
            grid: node("grid"),
            cathode: b,
            model: TriodeModel {
                mu: model("mu"),
                x: model("x"),
                kg1: model("kg1"),
                kp: model("kp"),
                kvb: model("kvb"),
                rgi: e["model"]["rgi"].as_f64(),
            },
        },
        "pentode" => Element::Pentode {
            plate: a,
            grid: node("grid"),
            screen: node("screen"),
            cathode: b,
            model: pentode_model(&e["model"]),
        },
        "current-source" => Element::CurrentSource { from: a, to: b, current: Amperes(number("current")) },
        other => panic!("no such element: {other}"),
    }
}

/// In the form whose keys it has.
fn pentode_model(keys: &Value) -> PentodeLaw {
    let form = if keys["split"].is_null() { PentodeForm::Koren } else { PentodeForm::Divided };
    PentodeLaw::read(form, keys["rgi"].as_f64(), |key| keys[key].as_f64()).unwrap_or_else(|| panic!("{keys}"))
}

/// The worst of several relative errors, and where it was.
#[derive(Default)]
pub struct Worst {
    pub error: f64,
    pub place: String,
}

impl Worst {
    /// Takes in one comparison; `scale` is what the error is relative to.
    pub fn compare(&mut self, place: &str, found: f64, expected: f64, scale: f64) {
        let error = (found - expected).abs() / scale.abs();
        assert!(error.is_finite(), "{} is not finite", place);
        if std::env::var_os("COLDCHECK_ALL_ERRORS").is_some() && error > 2e-3 {
            println!("{:.3} % {place}: {found} against {expected}", 100.0 * error);
        }
        if error > self.error {
            self.error = error;
            self.place = format!("{}: {found} against {expected}", place);
        }
    }

    /// Fails when the worst error is above what is allowed.
    pub fn demand(&self, quantity: &str, allowed: f64) {
        println!("{quantity}: worst {:.4} % at {}", 100.0 * self.error, self.place);
        assert!(self.error <= allowed, "{quantity}: {} is off by {:.3} %", self.place, 100.0 * self.error);
    }
}
