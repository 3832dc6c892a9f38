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

#[test]
fn a_small_capacitor_is_followed_where_larger_ones_below_the_threshold_still_lift_it() {
    // +45 V and -45 V in 10 µF each, 0.1 µF between them behind 10 kΩ at either side, 1 MΩ to ground on both. By symmetry
    // each half is 10 µF beside 0.2 µF: 90 V · 10/10.2 between them at first, falling with 1 MΩ · 10.2 µF.
    let capacitor = |a, b, farads| Element::Capacitor { a: NodeId(a), b: NodeId(b), capacitance: Farads(farads) };
    let resistor = |a, b, ohms| Element::Resistor { a: NodeId(a), b: NodeId(b), resistance: Ohms(ohms) };
    let network = Network {
        nodes: 5,
        elements: vec![
            capacitor(1, 0, 10e-6),
            capacitor(2, 0, 10e-6),
            capacitor(3, 4, 0.1e-6),
            resistor(1, 3, 10e3),
            resistor(4, 2, 10e3),
            resistor(1, 0, 1e6),
            resistor(2, 0, 1e6),
        ],
    };
    let found = discharge(&network, &[0.0, 45.0, -45.0, 0.0, 0.0], Volts(50.0), Seconds(86_400.0)).unwrap();
    assert_eq!(found.times[0].map(|time| time.0), Some(0.0));
    let expected = 10.2 * (90.0 * 10.0 / 10.2 / 50.0_f64).ln();
    let time = found.times[2].unwrap().0;
    assert!((time - expected).abs() < 0.01 * expected, "{time} for {expected}");
}

#[test]
fn what_only_the_reference_joins_runs_down_as_each_by_itself() {
    let bled = |node, farads, ohms| {
        [
            Element::Capacitor { a: NodeId(node), b: NodeId(0), capacitance: Farads(farads) },
            Element::Resistor { a: NodeId(node), b: NodeId(0), resistance: Ohms(ohms) },
        ]
    };
    let alone = |farads, ohms| {
        let network = Network { nodes: 2, elements: bled(1, farads, ohms).to_vec() };
        discharge(&network, &[0.0, 300.0], Volts(50.0), Seconds(86_400.0)).unwrap().times[0]
    };
    let both = Network { nodes: 3, elements: [bled(1, 47e-6, 220e3), bled(2, 1e-6, 1e6)].concat() };
    let found = discharge(&both, &[0.0, 300.0, 300.0], Volts(50.0), Seconds(86_400.0)).unwrap();
    assert_eq!([found.times[0], found.times[2]], [alone(47e-6, 220e3), alone(1e-6, 1e6)]);
}
