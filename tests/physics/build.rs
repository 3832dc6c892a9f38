//! Short hands for networks written in tests.

use coldcheck::catalogue::{DiodeModel, VacuumDiodeModel};
use coldcheck::physics::{Element, Network, NodeId};
use coldcheck::units::{Amperes, Farads, Henries, Ohms, Volts};

use proptest::test_runner::{Config as ProptestConfig, RngSeed};

/// Random cases that are the same in every run: a rare network that defeats the solver is for a longer search, not for chance.
/// `PROPTEST_CASES` and `PROPTEST_RNG_SEED` widen the search.
pub fn fixed(cases: u32) -> ProptestConfig {
    let standard = ProptestConfig::default();
    let seed = match standard.rng_seed {
        RngSeed::Random => RngSeed::Fixed(1947),
        chosen => chosen,
    };
    ProptestConfig {
        cases: if standard.cases == 256 { cases } else { standard.cases },
        rng_seed: seed,
        failure_persistence: None,
        ..standard
    }
}

/// The plain silicon rectifier of the design language.
pub const SILICON: DiodeModel = DiodeModel { is: 7e-9, n: 1.8, rs: 0.034, breakdown: None };

pub fn network(elements: Vec<Element>) -> Network {
    let top = elements.iter().flat_map(Element::terminals).max();
    Network { nodes: top.map_or(1, |node| node.0 + 1), elements }
}

pub fn resistor(a: usize, b: usize, ohms: f64) -> Element {
    Element::Resistor { a: NodeId(a), b: NodeId(b), resistance: Ohms(ohms) }
}

pub fn capacitor(a: usize, b: usize, farads: f64) -> Element {
    Element::Capacitor { a: NodeId(a), b: NodeId(b), capacitance: Farads(farads) }
}

pub fn choke(a: usize, b: usize, henries: f64, ohms: f64) -> Element {
    Element::Inductor { a: NodeId(a), b: NodeId(b), inductance: Henries(henries), resistance: Ohms(ohms) }
}

pub fn winding(a: usize, b: usize, volts: f64, ohms: f64) -> Element {
    Element::Winding { a: NodeId(a), b: NodeId(b), emf: Volts(volts), resistance: Ohms(ohms), phase: 0.0 }
}

pub fn supply(plus: usize, volts: f64) -> Element {
    Element::Supply { plus: NodeId(plus), minus: NodeId(0), voltage: Volts(volts), resistance: Ohms(0.0) }
}

pub fn silicon(anode: usize, cathode: usize) -> Element {
    Element::Junction { anode: NodeId(anode), cathode: NodeId(cathode), model: SILICON }
}

pub fn vacuum(plate: usize, cathode: usize, k: f64) -> Element {
    Element::VacuumDiode { plate: NodeId(plate), cathode: NodeId(cathode), model: VacuumDiodeModel { k } }
}

/// A rectifier that loses millivolts only.
pub fn nearly_ideal(anode: usize, cathode: usize) -> Element {
    vacuum(anode, cathode, 300.0)
}

pub fn current_source(from: usize, to: usize, amperes: f64) -> Element {
    Element::CurrentSource { from: NodeId(from), to: NodeId(to), current: Amperes(amperes) }
}
