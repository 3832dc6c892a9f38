//! A network as a signal finds it: the rails held, the mains left out, and only what the driven source reaches kept.
//!
//! Knows the kinds of elements; does not know what a signal does to them (see [`super::large_signal`]).

use super::partition::{
    Joints, SERIES_RESISTANCE, capacitance_at, cross, is_live_winding, is_rectifier, lead_to_rectifiers,
    reached_in_series, touches_tube,
};
use super::{Element, ElementId, Network, NodeId};
use crate::units::{Hertz, Ohms, Volts};

/// A tube's electrode is held with the supply where so much stands beside it, F.
const RESERVOIR: f64 = 1e-6;
/// So much holds a rail behind a resistor of any size, F: the mean current of what it feeds moves little with the signal.
const DECOUPLED: f64 = 4e-6;
/// A supply of less resistance than this fixes its node, Ω.
const STIFF: f64 = 1e-3;

/// Part of a network, numbered by itself, that is driven by one source.
#[derive(Clone, Debug, PartialEq)]
pub struct Held {
    /// The part; the driven source is a winding of 1 V.
    pub network: Network,
    /// The driven source, in the part.
    pub source: ElementId,
    /// For each node of the whole, the node of the part.
    pub place: Vec<Option<NodeId>>,
    /// For each element of the whole, the element of the part.
    pub elements: Vec<Option<ElementId>>,
    /// Nodes of the whole that follow the mains, each with the element of the part that holds it at its mean voltage.
    pub rails: Vec<(NodeId, ElementId)>,
}

/// The nodes of a network that follow the mains, found once for all that is driven in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Rails {
    joints: Joints,
    nodes: Vec<bool>,
}

impl Rails {
    /// Those of a network.
    #[must_use]
    pub fn of(network: &Network, frequency: Hertz) -> Self {
        let joints = Joints::of(network);
        let nodes = rails(network, &joints, frequency);
        Self { joints, nodes }
    }
}

impl Held {
    /// What `source` drives, nodes that follow the mains held at the given voltages; `without` is left out. The rails are
    /// those of the same network. `None` where the source is no supply or winding, or reaches nothing.
    #[must_use]
    pub fn of(
        network: &Network,
        Rails { joints, nodes: rails }: &Rails,
        voltages: &[f64],
        source: ElementId,
        without: &[ElementId],
    ) -> Option<Self> {
        let Element::Supply { plus, minus, resistance, .. } = *network.elements.get(source.0)? else { return None };
        let fixed = fixed(network, rails, source);
        let island = island((network, joints), &fixed, without, [plus, minus]);
        let mut held = Self {
            network: Network { nodes: 1, elements: Vec::new() },
            source: ElementId(0),
            place: vec![None; network.nodes.max(1)],
            elements: vec![None; network.elements.len()],
            rails: Vec::new(),
        };
        held.place[0] = Some(NodeId::GROUND);
        for (index, element) in network.elements.iter().enumerate() {
            let id = ElementId(index);
            if !element.terminals().any(|node| island[node.0]) || without.contains(&id) {
                continue;
            }
            let element = match *element {
                Element::Supply { .. } if id == source => {
                    Element::Winding { a: plus, b: minus, emf: Volts(1.0), resistance, phase: 0.0 }
                }
                Element::Winding { a, b, resistance, phase, .. } => {
                    Element::Winding { a, b, emf: Volts(0.0), resistance, phase }
                }
                other => other,
            };
            let copy = held.adopt(&element);
            held.elements[index] = Some(copy);
            if id == source {
                held.source = copy;
            }
        }
        held.hold(network, rails, &fixed, voltages);
        held.elements[source.0].is_some().then_some(held)
    }

    fn adopt(&mut self, element: &Element) -> ElementId {
        for node in element.terminals() {
            if self.place[node.0].is_none() {
                self.place[node.0] = Some(NodeId(self.network.nodes));
                self.network.nodes += 1;
            }
        }
        let place = &self.place;
        let copy = element.renumbered(|node| place[node.0].unwrap_or(NodeId::GROUND));
        self.network.elements.push(copy);
        ElementId(self.network.elements.len() - 1)
    }

    /// What was adopted meets nodes that are not moved: each gets the source that holds it.
    fn hold(&mut self, network: &Network, rails: &[bool], fixed: &[bool], voltages: &[f64]) {
        for node in (1..network.nodes).map(NodeId) {
            if !fixed[node.0] || self.place[node.0].is_none() {
                continue;
            }
            let holder = self.adopt(&Element::Supply {
                plus: node,
                minus: NodeId::GROUND,
                voltage: Volts(voltages.get(node.0).copied().unwrap_or(0.0)),
                resistance: Ohms(0.0),
            });
            if rails[node.0] {
                self.rails.push((node, holder));
            }
        }
    }

    /// The node of the part that stands for a node of the whole.
    #[must_use]
    pub fn node(&self, node: NodeId) -> Option<NodeId> {
        self.place.get(node.0).copied().flatten()
    }

    /// The element of the part that stands for an element of the whole.
    #[must_use]
    pub fn element(&self, id: ElementId) -> Option<ElementId> {
        self.elements.get(id.0).copied().flatten()
    }
}

/// Nodes between the mains and the last reservoir: what rectifiers feed through windings, chokes and small resistances.
fn rails(network: &Network, joints: &Joints, frequency: Hertz) -> Vec<bool> {
    let count = network.nodes.max(1);
    let mut rails = vec![false; count];
    let rectifiers = || network.elements.iter().filter(|element| is_rectifier(element));
    for winding in network.elements.iter().filter(|element| is_live_winding(element)) {
        let (a, b) = winding.ends();
        let mut ways = vec![false; count];
        [a, b].iter().for_each(|end| ways[end.0] = *end != NodeId::GROUND);
        lead_to_rectifiers((network, joints), &mut ways, frequency);
        let in_series = reached_in_series(network, winding, frequency);
        let reached = |node: NodeId| in_series[node.0] || ways[node.0];
        let feeds = |element: &Element| {
            let (a, b) = element.ends();
            [a, b].iter().any(|node| *node != NodeId::GROUND && reached(*node))
        };
        if rectifiers().any(feeds) {
            rails.iter_mut().zip(ways).for_each(|(rail, way)| *rail |= way);
        }
    }
    loop {
        let mut grew = false;
        for element in &network.elements {
            let passes = match element {
                Element::Winding { .. } | Element::Junction { .. } | Element::VacuumDiode { .. } => true,
                Element::Inductor { .. } => true,
                Element::Resistor { a, b, resistance } => {
                    let beyond = if rails[a.0] { *b } else { *a };
                    resistance.0 <= SERIES_RESISTANCE
                        || (capacitance_at(network, joints, &rails, beyond) >= DECOUPLED
                            && feeds_plates_only(network, joints, beyond))
                }
                _ => false,
            };
            let (a, b) = element.ends();
            let beyond = if rails[a.0] { b } else { a };
            let held = |node| {
                !touches_tube(network, joints, node) || capacitance_at(network, joints, &rails, node) >= RESERVOIR
            };
            if passes && held(beyond) {
                grew |= cross(element, &mut rails);
            }
        }
        if !grew {
            return rails;
        }
    }
}

/// Whether no grid, screen or cathode is at a node: those are stages, not rails.
fn feeds_plates_only(network: &Network, joints: &Joints, node: NodeId) -> bool {
    let mut tubes = joints.at(node).map(|place| &network.elements[place]).filter(|element| element.grid().is_some());
    tubes.all(|tube| tube.ends().1 != node && tube.grid() != Some(node) && tube.screen() != Some(node))
}

/// Rails, and nodes that a stiff supply holds against the reference.
fn fixed(network: &Network, rails: &[bool], source: ElementId) -> Vec<bool> {
    let mut fixed = rails.to_vec();
    for (index, element) in network.elements.iter().enumerate() {
        let Element::Supply { plus, minus, resistance, .. } = element else { continue };
        if index == source.0 || resistance.0 > STIFF {
            continue;
        }
        for (node, other) in [(plus, minus), (minus, plus)] {
            fixed[node.0] |= *other == NodeId::GROUND;
        }
    }
    fixed[0] = true;
    fixed
}

/// Nodes that are joined to the given ones without passing a fixed node.
fn island(
    (network, joints): (&Network, &Joints),
    fixed: &[bool],
    without: &[ElementId],
    from: [NodeId; 2],
) -> Vec<bool> {
    let mut reached = vec![false; fixed.len()];
    let mut open: Vec<NodeId> = Vec::new();
    let mut reach = |node: NodeId, open: &mut Vec<NodeId>| {
        if !fixed[node.0] && !reached[node.0] {
            reached[node.0] = true;
            open.push(node);
        }
    };
    for node in from {
        reach(node, &mut open);
    }
    while let Some(node) = open.pop() {
        for place in joints.at(node).filter(|place| !without.contains(&ElementId(*place))) {
            for node in network.elements[place].terminals() {
                reach(node, &mut open);
            }
        }
    }
    reached
}
