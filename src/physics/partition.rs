//! Which part of a network follows the mains (the supply), and which is its load.

use super::{Element, ElementId, Network, NodeId, SolveError};
use crate::units::Hertz;
use std::collections::VecDeque;
use std::f64::consts::TAU;

/// A resistance this small belongs to the path of the charging current, Ω.
pub(super) const SERIES_RESISTANCE: f64 = 3e3;
/// A capacitor of less reactance than this at the mains frequency takes part in filtering, Ω.
const FILTERING_REACTANCE: f64 = 3e5;

/// A capacitor holds a node still where what leads there has this many times its reactance.
const STILL: f64 = 10.0;

/// A supply that stores more than this many times ends before its decoupling branches: behind their resistances little of
/// the ripple is left to act back, and small signals carry it on.
const MOST_STORES: usize = 24;

/// A part of a network, numbered by itself.
#[derive(Clone, Debug, Default)]
pub(super) struct Part {
    /// The part.
    pub network: Network,
    /// For each node of the part, the node of the whole.
    pub nodes: Vec<NodeId>,
    /// For each node of the whole, the node of the part.
    pub place: Vec<Option<NodeId>>,
    /// For each element of the part, the element of the whole.
    pub elements: Vec<ElementId>,
}

impl Part {
    /// The part that the given elements make.
    pub(super) fn of(whole: &Network, elements: impl Iterator<Item = ElementId>) -> Self {
        let mut part = Self {
            network: Network::default(),
            nodes: vec![NodeId::GROUND],
            place: vec![None; whole.nodes.max(1)],
            elements: Vec::new(),
        };
        part.place[0] = Some(NodeId::GROUND);
        for id in elements {
            let element = &whole.elements[id.0];
            for node in element.terminals() {
                part.number(node);
            }
            let place = &part.place;
            let copy = element.renumbered(|node| place[node.0].unwrap_or(NodeId::GROUND));
            part.network.elements.push(copy);
            part.elements.push(id);
        }
        part.network.nodes = part.nodes.len();
        part
    }

    fn number(&mut self, node: NodeId) {
        if self.place[node.0].is_none() {
            self.place[node.0] = Some(NodeId(self.nodes.len()));
            self.nodes.push(node);
        }
    }

    /// An error of the part, told in the nodes of the whole.
    pub(super) fn lift(&self, error: SolveError) -> SolveError {
        let up = |node: NodeId| self.nodes.get(node.0).copied().unwrap_or(node);
        match error {
            SolveError::Malformed { element } => {
                SolveError::Malformed { element: self.elements.get(element.0).copied().unwrap_or(element) }
            }
            SolveError::Singular { node } => SolveError::Singular { node: up(node) },
            SolveError::NonFinite { node } => SolveError::NonFinite { node: up(node) },
            SolveError::NoConvergence { residual, iterations, nodes } => {
                SolveError::NoConvergence { residual, iterations, nodes: nodes.into_iter().map(up).collect() }
            }
        }
    }
}

/// Which elements touch each node.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Joints(Vec<Vec<usize>>);

impl Joints {
    /// Those of a network; each element once at each of its nodes.
    pub(super) fn of(network: &Network) -> Self {
        let mut joints = vec![Vec::new(); network.nodes.max(1)];
        for (index, element) in network.elements.iter().enumerate() {
            for node in element.terminals() {
                let known: &mut Vec<usize> = &mut joints[node.0];
                if known.last() != Some(&index) {
                    known.push(index);
                }
            }
        }
        Self(joints)
    }

    /// Places of the elements at a node.
    pub(super) fn at(&self, node: NodeId) -> impl Iterator<Item = usize> {
        self.0.get(node.0).into_iter().flatten().copied()
    }
}

pub(super) fn is_rectifier(element: &Element) -> bool {
    matches!(element, Element::Junction { .. } | Element::VacuumDiode { .. })
}

pub(super) fn is_live_winding(element: &Element) -> bool {
    matches!(element, Element::Winding { emf, .. } if emf.0 != 0.0)
}

/// For each node, whether it follows the mains. All are `false` where no winding reaches a rectifier.
pub(super) fn supply_nodes(network: &Network, frequency: Hertz) -> Vec<bool> {
    let count = network.nodes.max(1);
    let mut touches_rectifier = vec![false; count];
    for element in network.elements.iter().filter(|e| is_rectifier(e)) {
        for node in element.terminals() {
            touches_rectifier[node.0] = node != NodeId::GROUND;
        }
    }
    let mut supply = vec![false; count];
    let joints = Joints::of(network);
    for element in network.elements.iter().filter(|e| is_live_winding(e)) {
        let mut reached = reached_in_series(network, element, frequency);
        lead_to_rectifiers((network, &joints), &mut reached, frequency);
        if (0..count).any(|node| reached[node] && touches_rectifier[node]) {
            for (mine, reached) in supply.iter_mut().zip(&reached) {
                *mine |= *reached;
            }
        }
    }
    let series = supply.clone();
    while spread((network, &joints), &mut supply, frequency, true) {}
    if stores(network, &supply) > MOST_STORES {
        supply = series;
        while spread((network, &joints), &mut supply, frequency, false) {}
    }
    supply
}

/// How many capacitors and chokes stand at the supply's nodes alone.
fn stores(network: &Network, supply: &[bool]) -> usize {
    let inside = |element: &&Element| {
        matches!(element, Element::Capacitor { .. } | Element::Inductor { .. })
            && element.terminals().all(|node| node == NodeId::GROUND || supply[node.0])
    };
    network.elements.iter().filter(inside).count()
}

fn filters(farads: f64, frequency: Hertz) -> bool {
    TAU * frequency.0 * farads * FILTERING_REACTANCE >= 1.0
}

/// What a winding reaches through windings, chokes, capacitors (as in a doubler) and small resistances without passing the reference.
pub(super) fn reached_in_series(network: &Network, winding: &Element, frequency: Hertz) -> Vec<bool> {
    let mut reached = vec![false; network.nodes.max(1)];
    let (a, b) = winding.ends();
    for node in [a, b] {
        reached[node.0] = node != NodeId::GROUND;
    }
    loop {
        let mut grew = false;
        for element in &network.elements {
            let passes = match element {
                Element::Winding { .. } | Element::Inductor { .. } => true,
                Element::Resistor { resistance, .. } => resistance.0 <= SERIES_RESISTANCE,
                Element::Capacitor { capacitance, .. } => filters(capacitance.0, frequency),
                _ => false,
            };
            if passes {
                grew |= cross(element, &mut reached);
            }
        }
        if !grew {
            return reached;
        }
    }
}

/// Marks besides what lies on ways from marked nodes to rectifiers through resistors and capacitors of any size, as a bias
/// supply is fed from a winding of high tension: as far as no capacitor to the reference holds a node still, and past no
/// tube.
pub(super) fn lead_to_rectifiers((network, joints): (&Network, &Joints), marked: &mut [bool], frequency: Hertz) {
    let mut came: Vec<Option<NodeId>> = vec![None; marked.len()];
    let mut waiting: VecDeque<NodeId> = (1..marked.len()).filter(|node| marked[*node]).map(NodeId).collect();
    let mut ends = Vec::new();
    while let Some(node) = waiting.pop_front() {
        for element in joints.at(node).map(|place| &network.elements[place]) {
            let (a, b) = element.ends();
            let ohms = match *element {
                Element::Resistor { resistance, .. } => resistance.0,
                Element::Capacitor { capacitance, .. } => 1.0 / (TAU * frequency.0 * capacitance.0),
                _ => continue,
            };
            let beyond = if a == node { b } else { a };
            let is_new = beyond != NodeId::GROUND && !marked[beyond.0] && came[beyond.0].is_none();
            if !is_new || touches_tube(network, joints, beyond) {
                continue;
            }
            let farads = capacitance_to((network, joints), beyond, |other| other == NodeId::GROUND);
            if TAU * frequency.0 * farads * ohms >= STILL {
                continue;
            }
            came[beyond.0] = Some(node);
            if joints.at(beyond).any(|place| is_rectifier(&network.elements[place])) {
                ends.push(beyond);
            } else {
                waiting.push_back(beyond);
            }
        }
    }
    for end in ends {
        let mut node = end;
        while !marked[node.0] {
            marked[node.0] = true;
            match came[node.0] {
                Some(before) => node = before,
                None => break,
            }
        }
    }
}

/// Marks the other end of an element of which one end is marked; the reference never is.
pub(super) fn cross(element: &Element, marked: &mut [bool]) -> bool {
    let (a, b) = element.ends();
    let (from, to) = (marked[a.0], marked[b.0]);
    if from == to {
        return false;
    }
    let other = if from { b } else { a };
    if other == NodeId::GROUND {
        return false;
    }
    marked[other.0] = true;
    true
}

/// One round of growth from what is already known to follow the mains; into decoupling branches where wanted.
fn spread((network, joints): (&Network, &Joints), supply: &mut [bool], frequency: Hertz, into_branches: bool) -> bool {
    let mut grew = false;
    for element in &network.elements {
        let passes = match element {
            Element::Winding { .. }
            | Element::Inductor { .. }
            | Element::Supply { .. }
            | Element::Junction { .. }
            | Element::VacuumDiode { .. } => true,
            Element::Resistor { a, b, resistance } => {
                let (a, b) = (*a, *b);
                let beyond = if supply[a.0] { b } else { a };
                let is_small = resistance.0 <= SERIES_RESISTANCE;
                // An electrode behind a stopper is load: the supply ends at the capacitor before it.
                let leads_on = || !touches_tube(network, joints, beyond);
                let stored = || capacitance_at(network, joints, supply, beyond);
                ((into_branches || is_small) && filters(stored(), frequency))
                    || (is_small && leads_on())
                    || is_held(network, joints, supply, beyond)
            }
            Element::Capacitor { .. }
            | Element::Coil { .. }
            | Element::Triode { .. }
            | Element::Pentode { .. }
            | Element::FieldEffect { .. }
            | Element::Bipolar { .. }
            | Element::CurrentSource { .. } => false,
        };
        if passes {
            grew |= cross(element, supply);
        }
    }
    // A node that hangs only on capacitors and resistors of the supply, as the middle of stacked reservoirs does.
    for node in 1..supply.len() {
        if !supply[node] && is_stacked(network, joints, supply, NodeId(node)) {
            supply[node] = true;
            grew = true;
        }
    }
    grew
}

/// Whether a regulator holds a node against the reference or the supply: ripple may take it out of regulation.
fn is_held(network: &Network, joints: &Joints, supply: &[bool], node: NodeId) -> bool {
    joints.at(node).map(|place| &network.elements[place]).filter(|e| is_rectifier(e)).any(|element| {
        let (a, b) = element.ends();
        let other = if a == node {
            b
        } else if b == node {
            a
        } else {
            return false;
        };
        other == NodeId::GROUND || supply[other.0]
    })
}

pub(super) fn touches_tube(network: &Network, joints: &Joints, node: NodeId) -> bool {
    joints.at(node).any(|place| network.elements[place].grid().is_some())
}

/// Capacitance from a node to the reference or to the supply.
pub(super) fn capacitance_at(network: &Network, joints: &Joints, supply: &[bool], node: NodeId) -> f64 {
    capacitance_to((network, joints), node, |other| other == NodeId::GROUND || supply[other.0])
}

/// Capacitance from a node to those that count.
fn capacitance_to((network, joints): (&Network, &Joints), node: NodeId, counts: impl Fn(NodeId) -> bool) -> f64 {
    joints
        .at(node)
        .filter_map(|place| match &network.elements[place] {
            Element::Capacitor { a, b, capacitance } => {
                let other = if *a == node {
                    *b
                } else if *b == node {
                    *a
                } else {
                    return None;
                };
                counts(other).then_some(capacitance.0)
            }
            _ => None,
        })
        .sum()
}

fn is_stacked(network: &Network, joints: &Joints, supply: &[bool], node: NodeId) -> bool {
    let mut capacitors_into_supply = 0;
    for place in joints.at(node) {
        let element = &network.elements[place];
        let (a, b) = element.ends();
        let other = if a == node { b } else { a };
        let inside = other == NodeId::GROUND || supply[other.0];
        match element {
            Element::Capacitor { .. } if inside => {
                capacitors_into_supply += usize::from(other != NodeId::GROUND);
            }
            Element::Resistor { .. } if inside => {}
            _ => return false,
        }
    }
    capacitors_into_supply > 0
}

/// The elements of the supply: all their terminals follow the mains or are the reference, and none is a tube.
pub(super) fn supply_elements(network: &Network, supply: &[bool]) -> Vec<bool> {
    network
        .elements
        .iter()
        .map(|element| {
            let amplifies = matches!(element, Element::Triode { .. } | Element::Pentode { .. });
            let inside = element.terminals().all(|node| node == NodeId::GROUND || supply[node.0]);
            let moves = element.terminals().any(|node| supply[node.0]);
            inside && moves && !amplifies
        })
        .collect()
}
