//! Small signals against formulas that can be checked by hand.

use coldcheck::catalogue::TriodeModel;
use coldcheck::physics::{
    Drive, Element, ElementId, Linear, Network, NodeId, OperatingPoint, linearise, operating_point,
};
use coldcheck::units::{Farads, Hertz, Ohms, Volts};

const TRIODE: TriodeModel = TriodeModel { mu: 21.5, x: 1.3, kg1: 1180.0, kp: 84.0, kvb: 300.0, rgi: None };

fn resistor(a: usize, b: usize, ohms: f64) -> Element {
    Element::Resistor { a: NodeId(a), b: NodeId(b), resistance: Ohms(ohms) }
}

fn capacitor(a: usize, b: usize, farads: f64) -> Element {
    Element::Capacitor { a: NodeId(a), b: NodeId(b), capacitance: Farads(farads) }
}

fn supply(node: usize, volts: f64) -> Element {
    Element::Supply { plus: NodeId(node), minus: NodeId(0), voltage: Volts(volts), resistance: Ohms(0.0) }
}

fn triode(plate: usize, grid: usize, cathode: usize) -> Element {
    Element::Triode { plate: NodeId(plate), grid: NodeId(grid), cathode: NodeId(cathode), model: TRIODE }
}

/// Supply at 1, plate at 2, grid at 3, cathode at 4.
fn stage(bypass: f64) -> (Network, OperatingPoint, Linear) {
    let network = Network {
        nodes: 5,
        elements: vec![
            supply(1, 300.0),
            resistor(1, 2, 47e3),
            triode(2, 3, 4),
            resistor(3, 0, 1e6),
            resistor(4, 0, 1500.0),
            capacitor(4, 0, bypass),
        ],
    };
    let point = operating_point(&network, None).unwrap();
    let linear = linearise(&network, &point).unwrap();
    (network, point, linear)
}

/// Transconductance and plate resistance at an operating point, by finite differences of the whole solution with supplies moved.
fn slopes(point: &OperatingPoint) -> (f64, f64) {
    let current = |vp: f64, vg: f64| {
        let network = Network { nodes: 3, elements: vec![supply(1, vp), supply(2, vg), triode(1, 2, 0)] };
        operating_point(&network, None).unwrap().currents[2].main.0
    };
    let (vp, vg) = (point.between(NodeId(2), NodeId(4)).0, point.between(NodeId(3), NodeId(4)).0);
    let gm = (current(vp, vg + 1e-3) - current(vp, vg - 1e-3)) / 2e-3;
    let gp = (current(vp + 0.05, vg) - current(vp - 0.05, vg)) / 0.1;
    (gm, 1.0 / gp)
}

const GRID: Drive = Drive::Between { plus: NodeId(3), minus: NodeId(0) };
const PLATE: (NodeId, NodeId) = (NodeId(2), NodeId(0));

fn near(found: f64, expected: f64, share: f64) {
    assert!((found - expected).abs() <= share * expected.abs(), "{found} against {expected}");
}

#[test]
fn gain_of_a_common_cathode_stage_with_and_without_bypass() {
    // µ·RL/(RL + rp), and with the cathode resistor in the way µ·RL/(RL + rp + (µ + 1)·Rk): the forms of worked example WE29.
    let (_, point, plain) = stage(0.0);
    let (gm, rp) = slopes(&point);
    let mu = gm * rp;
    let bypassed = stage(1.0).2.transfer(GRID, PLATE, Hertz(1000.0)).unwrap();
    near(bypassed.re, -mu * 47e3 / (47e3 + rp), 1e-4);
    let open = plain.transfer(GRID, PLATE, Hertz(1000.0)).unwrap();
    near(open.re, -mu * 47e3 / (47e3 + rp + (mu + 1.0) * 1500.0), 1e-4);
}

#[test]
fn a_cathode_capacitor_sees_the_resistance_at_the_cathode() {
    // Rk in parallel with (rp + RL)/(µ + 1): the form of worked example WE30.
    let (_, point, linear) = stage(22e-6);
    let (gm, rp) = slopes(&point);
    let at_cathode = (rp + 47e3) / (gm * rp + 1.0);
    let seen = linear.impedance(NodeId(4), NodeId(0), Hertz(1000.0), &[ElementId(5)]).unwrap();
    near(seen.re, 1.0 / (1.0 / 1500.0 + 1.0 / at_cathode), 1e-4);
    near(seen.norm(), seen.re, 1e-6);
}

#[test]
fn output_resistance_of_a_cathode_follower() {
    // rp/(µ + 1) in parallel with Rk: the form of worked example WE31.
    let network =
        Network { nodes: 5, elements: vec![supply(2, 300.0), supply(3, 90.0), triode(2, 3, 4), resistor(4, 0, 22e3)] };
    let point = operating_point(&network, None).unwrap();
    let (gm, rp) = slopes(&point);
    let tube = rp / (gm * rp + 1.0);
    let linear = linearise(&network, &point).unwrap();
    let seen = linear.impedance(NodeId(4), NodeId(0), Hertz(1000.0), &[]).unwrap();
    near(seen.re, tube * 22e3 / (tube + 22e3), 1e-4);
}

#[test]
fn a_coupling_capacitor_has_its_corner_where_the_formula_says() {
    // 2 µF into 10 kΩ, 7.95 Hz (worked example WE16).
    let network = Network { nodes: 3, elements: vec![capacitor(1, 2, 2e-6), resistor(2, 0, 10e3)] };
    let point = operating_point(&network, None).unwrap();
    let linear = linearise(&network, &point).unwrap();
    let input = Drive::Between { plus: NodeId(1), minus: NodeId(0) };
    let ratio = linear.transfer(input, (NodeId(2), NodeId(0)), Hertz(7.957_747)).unwrap();
    near(ratio.norm(), std::f64::consts::FRAC_1_SQRT_2, 1e-5);
    near(ratio.arg(), std::f64::consts::FRAC_PI_4, 1e-5);
}

#[test]
fn an_emf_within_a_supply_reaches_the_plate_through_the_divider_of_load_and_tube() {
    let (_, point, linear) = stage(1.0);
    let (_, rp) = slopes(&point);
    let ratio = linear.transfer(Drive::Within(ElementId(0)), PLATE, Hertz(1000.0)).unwrap();
    near(ratio.re, rp / (rp + 47e3), 1e-4);
}

#[test]
fn what_does_not_exist_is_an_error() {
    let (_, _, linear) = stage(0.0);
    assert!(linear.impedance(NodeId(99), NodeId(0), Hertz(50.0), &[]).is_err());
    assert!(linear.impedance(NodeId(2), NodeId(0), Hertz(50.0), &[ElementId(99)]).is_err());
    assert!(linear.transfer(Drive::Within(ElementId(1)), PLATE, Hertz(50.0)).is_err());
}
