//! Random supplies of the kinds that builders make: each is solved, and the partition into supply and load agrees with
//! the network solved as one.

use crate::build::{capacitor, choke, current_source, fixed, network, resistor, silicon, vacuum, winding};
use coldcheck::catalogue::{DiodeModel, PentodeModel, TriodeModel};
use coldcheck::physics::{Element, Network, NodeId, SteadyOptions, SteadyState, steady_state};
use coldcheck::units::Hertz;
use proptest::prelude::*;

/// A supply under construction.
struct Supply {
    elements: Vec<Element>,
    next: usize,
}

impl Supply {
    fn node(&mut self) -> usize {
        self.next += 1;
        self.next
    }

    fn add(&mut self, element: Element) {
        self.elements.push(element);
    }

    fn rectify(&mut self, anode: usize, cathode: usize, perveance: Option<f64>) {
        self.add(match perveance {
            Some(k) => vacuum(anode, cathode, k),
            None => silicon(anode, cathode),
        });
    }

    /// Gives the rectified node.
    fn rectifier(&mut self, kind: u8, volts: f64, ohms: f64, perveance: Option<f64>) -> usize {
        let (a, b, plus) = (self.node(), self.node(), self.node());
        match kind {
            0 => {
                self.add(winding(a, 0, volts, ohms));
                self.add(winding(0, b, volts, ohms));
                self.rectify(a, plus, perveance);
                self.rectify(b, plus, perveance);
            }
            1 => {
                self.add(winding(a, b, volts, ohms));
                for (from, to) in [(a, plus), (b, plus), (0, a), (0, b)] {
                    self.rectify(from, to, None);
                }
            }
            2 => {
                self.add(winding(a, 0, volts, ohms));
                self.add(resistor(a, b, 10.0));
                self.rectify(b, plus, perveance);
            }
            3 => {
                self.add(winding(a, 0, 0.5 * volts, ohms));
                self.rectify(a, plus, None);
                self.rectify(b, a, None);
                self.add(capacitor(plus, 0, 47e-6));
                self.add(capacitor(0, b, 47e-6));
                self.add(resistor(b, 0, 220e3));
            }
            _ => {
                let (h1, h2) = (self.node(), self.node());
                self.add(winding(a, 0, volts, ohms));
                self.add(winding(0, b, volts, ohms));
                self.rectify(a, plus, Some(4e-4));
                self.rectify(b, plus, Some(4e-4));
                self.add(winding(h1, h2, 5.0, 0.1));
                self.add(resistor(plus, h1, 1.25));
                self.add(resistor(plus, h2, 1.25));
                return h1;
            }
        }
        plus
    }

    fn stage(&mut self, rail: usize, kind: u8) {
        let (plate, grid, cathode, screen) = (self.node(), self.node(), self.node(), self.node());
        match kind {
            0 | 1 => {
                self.add(resistor(rail, plate, 100e3));
                self.add(Element::Triode {
                    plate: NodeId(plate),
                    grid: NodeId(grid),
                    cathode: NodeId(cathode),
                    model: TRIODE,
                });
                self.add(resistor(screen, 0, 470e3));
                self.add(capacitor(plate, screen, 100e-9));
            }
            2 => {
                self.add(resistor(rail, plate, 220.0));
                self.add(resistor(rail, screen, 1e3));
                self.add(Element::Pentode {
                    plate: NodeId(plate),
                    grid: NodeId(grid),
                    screen: NodeId(screen),
                    cathode: NodeId(cathode),
                    model: PENTODE.into(),
                });
            }
            _ => {
                self.add(current_source(rail, plate, 5e-3));
                self.add(resistor(plate, 0, 10e3));
                self.add(resistor(screen, 0, 10e3));
            }
        }
        self.add(resistor(grid, 0, 470e3));
        self.add(resistor(cathode, 0, if kind == 2 { 270.0 } else { 1500.0 }));
        self.add(capacitor(cathode, 0, 100e-6));
    }
}

const TRIODE: TriodeModel = TriodeModel { mu: 100.0, x: 1.4, kg1: 1060.0, kp: 600.0, kvb: 300.0, rgi: Some(2000.0) };
const PENTODE: PentodeModel =
    PentodeModel { mu: 11.0, x: 1.35, kg1: 650.0, kg2: 4200.0, kp: 60.0, kvb: 24.0, rgi: None };
const ZENER: DiodeModel = DiodeModel { is: 1e-12, n: 1.5, rs: 40.0, breakdown: Some(150.0) };

fn supply() -> impl Strategy<Value = Network> {
    (
        (0u8..5, 150.0f64..350.0, 20.0f64..300.0),
        prop::option::of(2e-4f64..2e-3),
        prop::collection::vec((0u8..4, 0.0f64..1.8, 0.0f64..1.5), 1..4),
        prop::collection::vec(0u8..4, 0..4),
        0u8..4,
    )
        .prop_map(|((kind, volts, ohms), perveance, sections, stages, extra)| {
            let mut supply = Supply { elements: Vec::new(), next: 0 };
            let mut rail = supply.rectifier(kind, volts, ohms, perveance);
            for (n, (link, size, value)) in sections.into_iter().enumerate() {
                let before = rail;
                // Nobody feeds a choke from a single diode: such a thing is told of as unsolved now and then.
                if n > 0 || (link == 3 && kind != 4 && kind != 2) {
                    rail = supply.node();
                    supply.add(match link {
                        0 => resistor(before, rail, 10.0 * 10f64.powf(2.0 * value)),
                        1 | 2 => resistor(before, rail, 100.0 * 10f64.powf(2.0 * value)),
                        _ => choke(before, rail, 10f64.powf(value), 100.0),
                    });
                }
                supply.add(capacitor(rail, 0, 4.7e-6 * 10f64.powf(size)));
            }
            for stage in stages {
                supply.stage(rail, stage);
            }
            match extra {
                0 => supply.add(resistor(rail, 0, 220e3)),
                1 => {
                    let held = supply.node();
                    supply.add(resistor(rail, held, 22e3));
                    supply.add(Element::Junction { anode: NodeId(0), cathode: NodeId(held), model: ZENER });
                    supply.add(resistor(held, 0, 47e3));
                }
                2 => {
                    let (a, bias, smooth) = (supply.node(), supply.node(), supply.node());
                    supply.add(winding(a, 0, 45.0, 20.0));
                    supply.add(silicon(bias, a));
                    supply.add(capacitor(bias, 0, 22e-6));
                    supply.add(resistor(bias, smooth, 4700.0));
                    supply.add(capacitor(smooth, 0, 22e-6));
                    supply.add(resistor(smooth, 0, 33e3));
                }
                _ => {}
            }
            network(supply.elements)
        })
}

fn solve(network: &Network, whole: bool) -> SteadyState {
    let options = SteadyOptions { whole, ..SteadyOptions::default() };
    steady_state(network, Hertz(50.0), options).unwrap_or_else(|trouble| panic!("{trouble}"))
}

/// A choke's end without a capacitor spikes as its current is cut off; how far depends on the step in time alone.
fn ends_bare_choke(network: &Network, node: usize) -> bool {
    let at = |element: &&Element| element.terminals().any(|n| n.0 == node);
    let here = || network.elements.iter().filter(at);
    here().any(|e| matches!(e, Element::Inductor { .. })) && !here().any(|e| matches!(e, Element::Capacitor { .. }))
}

proptest! {
    #![proptest_config(fixed(80))]

    #[test]
    fn every_supply_is_solved_and_both_ways_agree(network in supply()) {
        let parted = solve(&network, false);
        let whole = solve(&network, true);
        for (node, (a, b)) in parted.nodes.iter().zip(&whole.nodes).enumerate() {
            let size = b.mean.abs().max(b.rms).max(1.0);
            prop_assert!((a.mean - b.mean).abs() < 0.002 * size, "node {node}: {a:?} {b:?}");
            if ends_bare_choke(&network, node) {
                continue;
            }
            let (ripple, expected) = (a.peak_to_peak(), b.peak_to_peak());
            // A load that is seen at one harmonic only: up to a tenth of a ripple that is itself small.
            prop_assert!(
                (ripple - expected).abs() < 0.1 * expected + 1e-4 * size,
                "node {node}: {a:?} {b:?}"
            );
        }
        for (place, (a, b)) in parted.elements.iter().zip(&whole.elements).enumerate() {
            let size = b.current.rms.max(1e-4);
            prop_assert!((a.current.mean - b.current.mean).abs() < 0.01 * size, "element {place}: {a:?} {b:?}");
        }
    }
}
