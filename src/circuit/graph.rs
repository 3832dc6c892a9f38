//! The graph itself: nets are its nodes, and every way through a part is an edge that says how it conducts.

use std::collections::HashMap;

use petgraph::graph::{NodeIndex, UnGraph};

use crate::catalogue::SectionKind;
use crate::design::{Design, Kind, Part, PartId, TerminalId, Transformer};
use crate::source::Span;
use crate::units::{Ohms, Quantity};

use super::nets::{Net, NetId, choose_names, joined_without, merge};

/// How a way through a part conducts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Conduction {
    /// A resistor, or part of a potentiometer's track.
    Resistive(Ohms),
    /// A choke or a winding: direct current passes, with this resistance where it is stated.
    Inductive(Option<Ohms>),
    /// A fuse or a closed switch.
    Contact,
    /// A switch that is open when the design runs.
    OpenContact,
    /// A heater or filament, with its hot resistance.
    Heater(Ohms),
    /// A capacitor.
    Capacitive,
    /// From anode (or plate) to cathode of something that rectifies.
    Rectifying,
    /// Plate to cathode of a signal tube, or the main path of a transistor or current source.
    Active,
    /// Screen to cathode.
    Screen,
    /// Grid to cathode: no direct current at rest.
    Control,
    /// A bench supply.
    Supply,
    /// From hot to cold of an input or output: what is plugged in there.
    Port,
}

impl Conduction {
    /// Whether direct current passes both ways, always: what discharges a capacitor with everything cold.
    #[must_use]
    pub fn is_permanent(self) -> bool {
        matches!(self, Self::Resistive(_) | Self::Inductive(_) | Self::Contact | Self::Heater(_))
    }

    /// Whether direct current passes at all, so that a potential is fixed.
    #[must_use]
    pub fn passes_direct_current(self) -> bool {
        self.is_permanent() || matches!(self, Self::Rectifying | Self::Active | Self::Screen | Self::Supply)
    }
}

/// An edge: one way through a part.
#[derive(Clone, Debug, PartialEq)]
pub struct Link {
    /// The part.
    pub part: PartId,
    /// Terminal at the first net (anode, plate, plus, from).
    pub from: String,
    /// Terminal at the second net.
    pub to: String,
    /// Net of `from`.
    pub from_net: NetId,
    /// Net of `to`.
    pub to_net: NetId,
    /// How it conducts.
    pub conduction: Conduction,
}

impl Link {
    /// The other end of the link, seen from a net.
    #[must_use]
    pub fn other(&self, net: NetId) -> NetId {
        if self.from_net == net { self.to_net } else { self.from_net }
    }
}

/// The connectivity of a design.
#[derive(Clone, Debug)]
pub struct Circuit {
    /// The nets, in order of the source.
    pub nets: Vec<Net>,
    /// The graph: node index = [`NetId`].
    pub graph: UnGraph<NetId, Link>,
    /// For each wire of the design, whether it joins what nothing had joined before.
    pub wire_joins: Vec<bool>,
    by_terminal: HashMap<TerminalId, NetId>,
    by_name: HashMap<String, NetId>,
    ground: Option<NetId>,
}

/// The name of an electrode within its part: `a.plate`, or `plate` for the only section.
#[must_use]
pub fn electrode_name(suffix: &str, electrode: &str) -> String {
    if suffix.is_empty() { electrode.to_owned() } else { format!("{suffix}.{electrode}") }
}

impl Circuit {
    /// Builds the connectivity of a design.
    #[must_use]
    pub fn of(design: &Design) -> Self {
        let mut merged = merge(design);
        choose_names(&mut merged.nets, design);
        let mut graph = UnGraph::default();
        for index in 0..merged.nets.len() {
            graph.add_node(NetId(index));
        }
        let mut circuit = Self {
            nets: merged.nets,
            graph,
            wire_joins: merged.wire_joins,
            ground: merged.by_name.get("ground").copied(),
            by_terminal: merged.by_terminal,
            by_name: merged.by_name,
        };
        for (id, part) in design.ids() {
            for (from, to, conduction) in ways_through(part) {
                circuit.link(id, from, to, conduction);
            }
        }
        circuit
    }

    fn link(&mut self, part: PartId, from: String, to: String, conduction: Conduction) {
        let (Some(from_net), Some(to_net)) = (self.net_of(part, &from), self.net_of(part, &to)) else { return };
        let link = Link { part, from, to, from_net, to_net, conduction };
        self.graph.add_edge(NodeIndex::new(from_net.0), NodeIndex::new(to_net.0), link);
    }

    /// The net of a terminal, where it is joined to anything.
    #[must_use]
    pub fn net_of(&self, part: PartId, terminal: &str) -> Option<NetId> {
        self.by_terminal.get(&TerminalId { part, name: terminal.to_owned() }).copied()
    }

    /// The net of a name.
    #[must_use]
    pub fn named(&self, name: &str) -> Option<NetId> {
        self.by_name.get(name).copied()
    }

    /// The net of an identity. Identities of this circuit are always valid.
    #[must_use]
    pub fn net(&self, id: NetId) -> &Net {
        &self.nets[id.0]
    }

    /// The 0 V net, where the design has one.
    #[must_use]
    pub fn ground(&self) -> Option<NetId> {
        self.ground
    }

    /// Whether a net is the 0 V net.
    #[must_use]
    pub fn is_ground(&self, net: NetId) -> bool {
        self.ground == Some(net)
    }

    /// The last wire without which two terminals of one net would be apart; none where no single wire parts them.
    #[must_use]
    pub fn joining_wire(&self, design: &Design, a: &TerminalId, b: &TerminalId) -> Option<Span> {
        let net = self.net_of(a.part, &a.name)?;
        if self.net_of(b.part, &b.name) != Some(net) {
            return None;
        }
        let wire = (0..design.wires.len()).rev().find(|wire| !joined_without(design, *wire, a, b));
        wire.and_then(|wire| design.wires.get(wire)).map(|wire| wire.span)
    }

    /// The links at a net.
    pub fn links(&self, net: NetId) -> impl Iterator<Item = &Link> {
        self.graph.edges(NodeIndex::new(net.0)).map(|edge| edge.weight())
    }

    /// All links, in order of the source.
    pub fn all_links(&self) -> impl Iterator<Item = &Link> {
        self.graph.edge_weights()
    }

    /// The span of the reference that joins a terminal, or `None` where nothing does.
    #[must_use]
    pub fn joined_at(&self, part: PartId, terminal: &str) -> Option<Span> {
        let net = self.net_of(part, terminal)?;
        self.net(net).terminals.iter().find(|(t, _)| t.part == part && t.name == terminal).map(|(_, span)| *span)
    }
}

fn ways_through(part: &Part) -> Vec<(String, String, Conduction)> {
    let way = |from: &str, to: &str, conduction| (from.to_owned(), to.to_owned(), conduction);
    match &part.kind {
        Kind::Inlet(_) => Vec::new(),
        Kind::Fuse(_) => vec![way("from", "to", Conduction::Contact)],
        Kind::Switch(switch) => {
            let conduction = if switch.closed { Conduction::Contact } else { Conduction::OpenContact };
            vec![way("from", "to", conduction)]
        }
        Kind::Transformer(transformer) => windings(transformer),
        Kind::OutputTransformer(transformer) => {
            let mut ways = Vec::new();
            let half = transformer.primary_resistance.as_ref().map(|r| Ohms(r.value.base() / 2.0));
            if transformer.centre_tapped {
                ways.push(way("primary.start", "primary.centre", Conduction::Inductive(half)));
                ways.push(way("primary.centre", "primary.finish", Conduction::Inductive(half)));
            } else {
                let whole = transformer.primary_resistance.as_ref().map(|r| r.value);
                ways.push(way("primary.start", "primary.finish", Conduction::Inductive(whole)));
            }
            for (tap, _) in &transformer.taps {
                ways.push(way("primary.start", tap, Conduction::Inductive(None)));
            }
            for (name, _, resistance) in &transformer.secondaries {
                let resistance = resistance.as_ref().map(|r| r.value);
                ways.push((format!("{name}.start"), format!("{name}.finish"), Conduction::Inductive(resistance)));
            }
            ways
        }
        Kind::BenchSupply(_) => vec![way("plus", "minus", Conduction::Supply)],
        Kind::Choke(choke) => {
            vec![way("from", "to", Conduction::Inductive(choke.resistance.as_ref().map(|r| r.value)))]
        }
        Kind::Resistor(resistor) => vec![way("from", "to", Conduction::Resistive(resistor.resistance.value))],
        Kind::Potentiometer(pot) => {
            let (upper, lower) = pot.tracks();
            vec![
                way("top", "wiper", Conduction::Resistive(upper)),
                way("wiper", "bottom", Conduction::Resistive(lower)),
            ]
        }
        Kind::Capacitor(capacitor) => {
            let (from, to) = if capacitor.polarised { ("plus", "minus") } else { ("from", "to") };
            vec![way(from, to, Conduction::Capacitive)]
        }
        Kind::Diode(_) => vec![way("anode", "cathode", Conduction::Rectifying)],
        Kind::Bridge(_) => vec![
            way("ac1", "plus", Conduction::Rectifying),
            way("ac2", "plus", Conduction::Rectifying),
            way("minus", "ac1", Conduction::Rectifying),
            way("minus", "ac2", Conduction::Rectifying),
        ],
        Kind::Tube(tube) => {
            let mut ways = Vec::new();
            for section in &tube.sections {
                let left_out = tube.unused.iter().any(|unused| unused.value == section.suffix);
                if !left_out {
                    ways.extend(section_ways(&section.suffix, section.kind));
                }
            }
            if let Some(hot) = tube.hot_resistance() {
                if tube.directly_heated() {
                    let half = Ohms(hot.base() / 2.0);
                    ways.push(way("heater.from", "cathode", Conduction::Heater(half)));
                    ways.push(way("cathode", "heater.to", Conduction::Heater(half)));
                } else {
                    ways.push(way("heater.from", "heater.to", Conduction::Heater(hot)));
                    if tube.joined_cathode() {
                        ways.push(way("heater.from", "cathode", Conduction::Contact));
                    }
                }
            }
            ways
        }
        Kind::CurrentSource(_) => vec![way("from", "to", Conduction::Active)],
        Kind::Transistor(transistor) => {
            let [main, control, common] = transistor.terminals();
            vec![way(main, common, Conduction::Active), way(control, common, Conduction::Control)]
        }
        Kind::Input(_) | Kind::Output(_) => vec![way("hot", "cold", Conduction::Port)],
    }
}

fn section_ways(suffix: &str, kind: SectionKind) -> Vec<(String, String, Conduction)> {
    let name = |electrode: &str| electrode_name(suffix, electrode);
    match kind {
        SectionKind::Triode => vec![
            (name("plate"), name("cathode"), Conduction::Active),
            (name("grid"), name("cathode"), Conduction::Control),
        ],
        SectionKind::Pentode => vec![
            (name("plate"), name("cathode"), Conduction::Active),
            (name("screen"), name("cathode"), Conduction::Screen),
            (name("grid"), name("cathode"), Conduction::Control),
        ],
        SectionKind::Rectifier { plates: 1 } => vec![(name("plate"), name("cathode"), Conduction::Rectifying)],
        SectionKind::Rectifier { .. } => vec![
            (name("plate1"), name("cathode"), Conduction::Rectifying),
            (name("plate2"), name("cathode"), Conduction::Rectifying),
        ],
        SectionKind::Regulator => vec![(name("anode"), name("cathode"), Conduction::Active)],
    }
}

fn windings(transformer: &Transformer) -> Vec<(String, String, Conduction)> {
    let mut ways = Vec::new();
    for winding in std::iter::once(&transformer.primary).chain(&transformer.windings) {
        let name = &winding.name.value;
        let whole = winding.resistance.as_ref().map(|r| r.value.base());
        match winding.halves {
            Some((first, second)) => {
                let total = first.base() + second.base();
                let share = |half: f64| whole.map(|r| Ohms(r * half / total));
                let (start, centre, finish) =
                    (format!("{name}.start"), format!("{name}.centre"), format!("{name}.finish"));
                ways.push((start, centre.clone(), Conduction::Inductive(share(first.base()))));
                ways.push((centre, finish, Conduction::Inductive(share(second.base()))));
            }
            None => {
                let conduction = Conduction::Inductive(whole.map(Ohms));
                ways.push((format!("{name}.start"), format!("{name}.finish"), conduction));
            }
        }
    }
    ways
}
