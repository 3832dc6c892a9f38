//! Operating points against scipy's fsolve on the same equations.

use crate::cases::{Worst, cases, numbers};
use coldcheck::physics::operating_point;

#[test]
fn voltages_and_currents_agree_with_an_independent_solution() {
    let (mut volts, mut amperes) = (Worst::default(), Worst::default());
    for case in cases("operating") {
        let point = operating_point(&case.network, None).unwrap();
        assert!(point.floating.is_empty());
        assert!(point.residual.0 < 1e-9, "{}: {}", case.name, point.residual);
        for (node, expected) in numbers(&case.expected["nodes"]).iter().enumerate() {
            let place = format!("{}, node {node}", case.name);
            volts.compare(&place, point.voltages[node], *expected, expected.abs() + 1e-3);
        }
        for (element, expected) in numbers(&case.expected["currents"]).iter().enumerate() {
            let place = format!("{}, element {element}", case.name);
            let found = point.currents[element].main.0;
            amperes.compare(&place, found, *expected, expected.abs() + 1e-7);
        }
    }
    volts.demand("direct voltage", 1e-4);
    amperes.demand("direct current", 1e-4);
}

#[test]
fn the_answer_does_not_depend_on_the_guess() {
    for case in cases("operating") {
        let plain = operating_point(&case.network, None).unwrap();
        for guess in [-100.0, 37.0, 1000.0] {
            let guess = vec![guess; case.network.nodes];
            let again = operating_point(&case.network, Some(&guess)).unwrap();
            for (a, b) in plain.voltages.iter().zip(&again.voltages) {
                assert!((a - b).abs() < 1e-5 * (1.0 + a.abs()), "{}: {a} {b}", case.name);
            }
        }
    }
}
