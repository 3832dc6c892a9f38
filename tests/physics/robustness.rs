//! Any network gives an answer or an error: never a panic, never a number that is not one.

use crate::build::{capacitor, choke, current_source, fixed, network, resistor, silicon, supply, vacuum, winding};
use coldcheck::catalogue::{DiodeModel, DividedPentodeModel, PentodeModel, TriodeModel};
use coldcheck::physics::{
    Drive, Element, ElementId, Following, Network, NodeId, SolveError, SteadyOptions, Switching, discharge, linearise,
    operating_point, steady_state,
};
use coldcheck::units::{Hertz, Ohms, Seconds, Volts};
use proptest::prelude::*;

#[test]
fn a_floating_part_is_held_and_named() {
    let point = operating_point(
        &network(vec![
            supply(1, 100.0),
            resistor(1, 2, 1e3),
            resistor(2, 0, 1e3),
            capacitor(2, 3, 1e-6),
            resistor(3, 4, 1e3),
        ]),
        None,
    )
    .unwrap();
    assert_eq!(point.floating, [NodeId(3), NodeId(4)]);
    assert!((point.voltages[2] - 50.0).abs() < 1e-9);
    assert!(point.voltages[3].abs() < 1e-9);
}

#[test]
fn ideal_sources_in_conflict_are_singular() {
    let trouble = operating_point(&network(vec![supply(1, 100.0), supply(1, 90.0)]), None);
    assert_eq!(trouble, Err(SolveError::Singular { node: NodeId(1) }));
}

#[test]
fn a_loop_of_ideal_connections_is_singular_and_one_is_not() {
    let one = vec![supply(1, 10.0), resistor(1, 2, 0.0), resistor(2, 0, 1e3)];
    let point = operating_point(&network(one.clone()), None).unwrap();
    assert!((point.currents[1].main.0 - 0.01).abs() < 1e-12);
    let mut two = one;
    two.push(resistor(1, 2, 0.0));
    assert!(operating_point(&network(two), None).is_err());
}

#[test]
fn what_no_part_can_be_is_malformed() {
    for element in [
        resistor(1, 0, -1.0),
        resistor(1, 0, f64::NAN),
        capacitor(1, 0, f64::INFINITY),
        vacuum(1, 0, 0.0),
        current_source(1, 0, -1e-3),
    ] {
        let network = network(vec![resistor(1, 0, 1.0), element]);
        let wanted = SolveError::Malformed { element: ElementId(1) };
        assert_eq!(operating_point(&network, None), Err(wanted));
    }
    let beyond = Network { nodes: 2, elements: vec![resistor(1, 7, 1.0)] };
    assert!(operating_point(&beyond, None).is_err());
}

#[test]
fn an_empty_network_has_an_empty_answer() {
    let point = operating_point(&Network::default(), None).unwrap();
    assert_eq!(point.voltages, [0.0]);
    let steady = steady_state(&Network::default(), Hertz(50.0), SteadyOptions::default()).unwrap();
    assert_eq!(steady.nodes.len(), 1);
}

#[test]
fn a_shorted_supply_still_has_an_answer() {
    let steady = steady_state(
        &network(vec![winding(1, 0, 250.0, 100.0), silicon(1, 2), capacitor(2, 0, 47e-6), resistor(2, 0, 0.0)]),
        Hertz(50.0),
        SteadyOptions::default(),
    )
    .unwrap();
    assert!(steady.nodes[2].maximum.abs() < 1e-6);
    assert!(steady.elements[0].current.rms > 1.0);
}

fn value() -> impl Strategy<Value = f64> {
    prop_oneof![
        1 => Just(0.0),
        8 => (-3.0f64..7.0).prop_map(|power| 10f64.powf(power)),
    ]
}

fn element(nodes: usize) -> impl Strategy<Value = Element> {
    let node = 0..nodes;
    (0u8..11, node.clone(), node.clone(), node.clone(), node, value(), value()).prop_map(|(kind, a, b, c, d, v, w)| {
        match kind {
            0 | 1 => resistor(a, b, v),
            2 => capacitor(a, b, v * 1e-9),
            3 => choke(a, b, v * 1e-3, w * 1e-2),
            4 => winding(a, b, v.min(1e3), w * 1e-2),
            5 => Element::Supply {
                plus: NodeId(a),
                minus: NodeId(b),
                voltage: Volts(v.min(1e3)),
                resistance: Ohms(w * 1e-3),
            },
            6 => Element::Junction {
                anode: NodeId(a),
                cathode: NodeId(b),
                model: DiodeModel { is: 1e-12, n: 1.5, rs: w * 1e-5, breakdown: (v > 1.0).then_some(v) },
            },
            7 => vacuum(a, b, 1e-3),
            8 => current_source(a, b, v * 1e-6),
            9 => Element::Triode {
                plate: NodeId(a),
                grid: NodeId(b),
                cathode: NodeId(c),
                model: TriodeModel {
                    mu: 100.0,
                    x: 1.4,
                    kg1: 1060.0,
                    kp: 600.0,
                    kvb: 300.0,
                    rgi: (v > 1.0).then_some(2000.0),
                },
            },
            _ => Element::Pentode {
                plate: NodeId(a),
                grid: NodeId(b),
                screen: NodeId(c),
                cathode: NodeId(d),
                model: if v > 1.0 { DIVIDED.into() } else { PENTODE.into() },
            },
        }
    })
}

const PENTODE: PentodeModel =
    PentodeModel { mu: 11.0, x: 1.35, kg1: 650.0, kg2: 4200.0, kp: 60.0, kvb: 24.0, rgi: None };

const DIVIDED: DividedPentodeModel = DividedPentodeModel {
    mu: 11.0,
    x: 1.5,
    kg1: 770.0,
    kp: 55.0,
    mup: 190.0,
    split: 0.15,
    tilt: 0.1,
    knee: 1.9e-3,
    rgi: Some(1000.0),
};

fn any_network() -> impl Strategy<Value = Network> {
    (2usize..7).prop_flat_map(|nodes| {
        prop::collection::vec(element(nodes), 0..14).prop_map(move |elements| Network { nodes, elements })
    })
}

/// Per property; a few seconds in all.
const CASES: u32 = 300;

proptest! {
    #![proptest_config(fixed(CASES))]

    #[test]
    fn operating_points_balance(network in any_network()) {
        if let Ok(point) = operating_point(&network, None) {
            prop_assert!(point.voltages.iter().all(|v| v.is_finite()));
            // Kirchhoff's law, counted from the currents given out.
            let mut sums = vec![(0.0, 0.0); network.nodes];
            for (element, currents) in network.elements.iter().zip(&point.currents) {
                let (a, b) = element.ends();
                let mut leave = |node: NodeId, amperes: f64| {
                    sums[node.0].0 += amperes;
                    sums[node.0].1 += f64::abs(amperes);
                };
                leave(a, currents.main.0);
                leave(b, -currents.cathode().0);
                if let Some(grid) = element.grid() {
                    leave(grid, currents.grid.0);
                }
                if let Some(screen) = element.screen() {
                    leave(screen, currents.screen.0);
                }
            }
            for (sum, terms) in sums.iter().skip(1) {
                prop_assert!(sum.abs() <= 1e-6 * terms + 1e-8, "{sum} of {terms}");
            }
        }
    }

    #[test]
    fn steady_states_are_finite(network in any_network()) {
        let options = SteadyOptions { steps: 100, ..SteadyOptions::default() };
        if let Ok(steady) = steady_state(&network, Hertz(50.0), options) {
            prop_assert!(steady.nodes.iter().all(|n| n.mean.is_finite() && n.rms.is_finite()));
            prop_assert!(steady.elements.iter().all(|e| e.current.rms.is_finite()));
        }
    }

    #[test]
    fn discharges_end_within_the_horizon(network in any_network()) {
        let initial = vec![300.0; network.nodes];
        if let Ok(found) = discharge(&network, &initial, Volts(50.0), Seconds(3600.0)) {
            prop_assert!(found.times.iter().flatten().all(|t| t.0 <= 3600.0));
            prop_assert!(found.times.iter().flatten().all(|t| t.0.is_finite()));
        }
    }

    #[test]
    fn switching_on_is_finite(network in any_network()) {
        let switched = Switching::new(&network, Hertz(50.0), 160);
        if let Ok(found) = switched.and_then(|ready| ready.follow(0.3, Seconds(0.04), Following::default())) {
            prop_assert!(found.nodes.iter().all(|n| n.maximum.is_finite() && n.minimum.is_finite()));
        }
    }

    #[test]
    fn small_signals_are_finite(network in any_network(), frequency in 1.0f64..1e5) {
        let Ok(point) = operating_point(&network, None) else { return Ok(()) };
        let linear = linearise(&network, &point).unwrap();
        let (a, b) = (NodeId(1), NodeId(0));
        let without = (!network.elements.is_empty()).then_some(ElementId(0));
        if let Ok(z) = linear.impedance(a, b, Hertz(frequency), without.as_slice()) {
            prop_assert!(z.re.is_finite() && z.im.is_finite());
        }
        let drive = Drive::Between { plus: a, minus: b };
        if let Ok(ratio) = linear.transfer(drive, (a, b), Hertz(frequency)) {
            prop_assert!((ratio.re - 1.0).abs() < 1e-6);
        }
    }
}
