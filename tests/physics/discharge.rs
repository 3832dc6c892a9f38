//! Discharge against matrix exponentials (linear networks) and a stiff integration (with diodes).

use crate::cases::{Worst, cases, numbers};
use coldcheck::physics::{Element, Network, NodeId, discharge};
use coldcheck::units::{Farads, Ohms, Seconds, Volts};

#[test]
fn times_to_the_threshold_agree_with_an_independent_solution() {
    let mut worst = Worst::default();
    for case in cases("discharge") {
        let number = |key: &str| case.given[key].as_f64().unwrap();
        let found = discharge(
            &case.network,
            &numbers(&case.given["initial"]),
            Volts(number("threshold")),
            Seconds(number("horizon")),
        )
        .unwrap();
        for (element, expected) in case.expected["times"].as_array().unwrap().iter().enumerate() {
            let place = format!("{}, element {element}", case.name);
            match (found.times[element], expected.as_f64()) {
                (Some(found), Some(expected)) => {
                    worst.compare(&place, found.0, expected, expected.max(1e-3));
                }
                (found, expected) => assert_eq!(found.map(|t| t.0), expected, "{place}"),
            }
        }
    }
    worst.demand("discharge time", 0.005);
}

#[test]
fn parts_in_parallel_have_the_published_time_constant() {
    // FCC Element 3, question 3-15B1 (worked example WE11): two of 220 µF and two of 1 MΩ in parallel, 220 s.
    let capacitor = Element::Capacitor { a: NodeId(1), b: NodeId(0), capacitance: Farads(220e-6) };
    let resistor = Element::Resistor { a: NodeId(1), b: NodeId(0), resistance: Ohms(1e6) };
    let network = Network { nodes: 2, elements: vec![capacitor, capacitor, resistor, resistor] };
    let start = 100.0;
    let threshold = Volts(start / std::f64::consts::E);
    let found = discharge(&network, &[0.0, start], threshold, Seconds(1000.0)).unwrap();
    for capacitor in 0..2 {
        let time = found.times[capacitor].unwrap().0;
        assert!((time - 220.0).abs() < 0.005 * 220.0, "{time}");
    }
}

#[test]
fn a_capacitor_without_a_path_keeps_its_charge() {
    let network = Network {
        nodes: 2,
        elements: vec![Element::Capacitor { a: NodeId(1), b: NodeId(0), capacitance: Farads(47e-6) }],
    };
    let found = discharge(&network, &[0.0, 400.0], Volts(50.0), Seconds(86_400.0)).unwrap();
    assert_eq!(found.times[0], None);
    let almost = discharge(&network, &[0.0, 400.0], Volts(399.0), Seconds(86_400.0)).unwrap();
    assert_eq!(almost.times[0], None);
}

#[test]
fn a_long_horizon_takes_few_steps() {
    for case in cases("discharge") {
        let found = discharge(&case.network, &numbers(&case.given["initial"]), Volts(50.0), Seconds(1e6)).unwrap();
        assert!(found.steps < 3000, "{}: {}", case.name, found.steps);
    }
}
