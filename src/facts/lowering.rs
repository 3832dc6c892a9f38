//! From a design in a condition to a network that physics can solve. The only place that knows both.

use std::collections::HashMap;

use crate::catalogue::{
    Devices, DiodeModel, DiodeModelChanges, Section, SectionKind, TriodeModel, TubeModel, VacuumDiodeModel,
};
use crate::circuit::{Circuit, NetId, Roles, electrode_name};
use crate::design::{Design, DiodeKind, Kind, Part, PartId, Tube};
use crate::physics::{Element, ElementId, Network, NodeId};
use crate::units::{Farads, Ohms, Quantity, Volts};

mod coupled;
mod stray;

pub(crate) use coupled::transformer_assumptions;

use super::Lineup;
use super::windings::winding_sources;

/// The condition in which a design is lowered.
#[derive(Clone, Debug)]
pub(crate) struct Condition<'a> {
    /// Which tube sits where.
    pub(crate) lineup: &'a Lineup,
    /// Mains voltage over nominal; zero when the mains is off.
    pub(crate) mains: f64,
    /// Whether bench supplies are on.
    pub(crate) bench: bool,
    /// Whether the signal tubes are cold.
    pub(crate) cold: bool,
    /// Whether the rectifier tubes are cold.
    pub(crate) rectifiers_cold: bool,
    /// A socket without its tube.
    pub(crate) empty: Option<PartId>,
    /// What is plugged in at inputs and outputs is counted: for small signals only.
    pub(crate) ports: bool,
    /// Hot resistances of heaters, where they were corrected from the catalogue's.
    pub(crate) heaters: &'a HashMap<PartId, f64>,
}

/// Which element of a part: the key of [`Lowered::elements`].
pub(crate) type Way = (PartId, String);

/// A network with the way back to nets and parts.
#[derive(Clone, Debug, Default)]
pub(crate) struct Lowered {
    /// What physics solves.
    pub(crate) network: Network,
    nodes: Vec<Option<NodeId>>,
    nets: Vec<NetId>,
    /// Elements by part and way: `""` for the only one, `upper`/`lower` of a track, a winding's `ht.start`, a section's
    /// suffix, a rectifier's `plate1`, a bridge's `ac1-plus`.
    pub(crate) elements: HashMap<Way, ElementId>,
    /// Parts that physics has no model for.
    pub(crate) unmodelled: Vec<(PartId, String)>,
}

impl Lowered {
    /// The node of a net, where the net is part of the network.
    pub(crate) fn node(&self, net: NetId) -> Option<NodeId> {
        self.nodes.get(net.0).copied().flatten()
    }

    /// The net of a node.
    pub(crate) fn net(&self, node: NodeId) -> Option<NetId> {
        node.0.checked_sub(1).and_then(|place| self.nets.get(place)).copied()
    }

    /// The element of a part.
    pub(crate) fn element(&self, part: PartId, way: &str) -> Option<ElementId> {
        self.elements.get(&(part, way.to_owned())).copied()
    }
}

/// A gas tube that is reversed, which no design does on purpose: saturation current and emission coefficient of the
/// junction that stands for it. The second also rounds the knee at the voltage that it holds, by less than 0.1 V.
const FORWARD_GAS_AMPERES: f64 = 1e-15;
const GAS_KNEE: f64 = 1.5;

struct Lowering<'a> {
    circuit: &'a Circuit,
    devices: &'a dyn Devices,
    condition: &'a Condition<'a>,
    done: Lowered,
}

/// Lowers a design in a condition. Nets of the mains side are left out: mains windings are sources by themselves.
pub(crate) fn lower(
    design: &Design,
    circuit: &Circuit,
    roles: &Roles,
    devices: &dyn Devices,
    condition: &Condition<'_>,
) -> Lowered {
    let mut done = Lowered { nodes: vec![None; circuit.nets.len()], ..Lowered::default() };
    done.network.nodes = 1;
    for index in 0..circuit.nets.len() {
        let net = NetId(index);
        if circuit.is_ground(net) {
            done.nodes[index] = Some(NodeId::GROUND);
        } else if !roles.mains_side.contains(&net) {
            done.nodes[index] = Some(NodeId(done.network.nodes));
            done.network.nodes += 1;
            done.nets.push(net);
        }
    }
    let mut lowering = Lowering { circuit, devices, condition, done };
    for (id, part) in design.ids() {
        lowering.part(id, part);
    }
    lowering.done
}

impl Lowering<'_> {
    fn node(&self, part: PartId, terminal: &str) -> Option<NodeId> {
        self.done.node(self.circuit.net_of(part, terminal)?)
    }

    fn pair(&self, part: PartId, from: &str, to: &str) -> Option<(NodeId, NodeId)> {
        Some((self.node(part, from)?, self.node(part, to)?))
    }

    fn add(&mut self, part: PartId, way: &str, element: Element) {
        let id = ElementId(self.done.network.elements.len());
        self.done.network.elements.push(element);
        self.done.elements.insert((part, way.to_owned()), id);
    }

    fn resistor(&mut self, part: PartId, way: &str, from: &str, to: &str, resistance: Ohms) {
        if let Some((a, b)) = self.pair(part, from, to) {
            self.add(part, way, Element::Resistor { a, b, resistance });
        }
    }

    fn part(&mut self, id: PartId, part: &Part) {
        match &part.kind {
            Kind::Inlet(_) => {}
            Kind::Fuse(_) => self.resistor(id, "", "from", "to", Ohms(0.0)),
            Kind::Switch(switch) => {
                if switch.closed {
                    self.resistor(id, "", "from", "to", Ohms(0.0));
                }
            }
            Kind::Resistor(resistor) => self.resistor(id, "", "from", "to", resistor.resistance.value),
            Kind::Potentiometer(pot) => {
                let (upper, lower) = pot.tracks();
                if self.circuit.net_of(id, "wiper").is_some() {
                    self.resistor(id, "upper", "top", "wiper", upper);
                    self.resistor(id, "lower", "wiper", "bottom", lower);
                } else {
                    self.resistor(id, "upper", "top", "bottom", pot.resistance.value);
                }
            }
            Kind::Capacitor(capacitor) => {
                let (from, to) = if capacitor.polarised { ("plus", "minus") } else { ("from", "to") };
                if let Some((a, b)) = self.pair(id, from, to) {
                    self.add(id, "", Element::Capacitor { a, b, capacitance: capacitor.capacitance.value });
                }
            }
            Kind::Choke(choke) => {
                let resistance = choke.resistance.as_ref().map_or(Ohms(0.0), |r| r.value);
                if let Some((a, b)) = self.pair(id, "from", "to") {
                    self.add(id, "", Element::Inductor { a, b, inductance: choke.inductance.value, resistance });
                }
            }
            Kind::BenchSupply(supply) => {
                let voltage = if self.condition.bench { supply.voltage.value } else { Volts(0.0) };
                let resistance = supply.resistance.as_ref().map_or(Ohms(0.0), |r| r.value);
                // Switched off, a bench supply is taken to be unplugged: it discharges nothing.
                if let (true, Some((plus, minus))) = (self.condition.bench, self.pair(id, "plus", "minus")) {
                    self.add(id, "", Element::Supply { plus, minus, voltage, resistance });
                }
            }
            Kind::Transformer(transformer) => {
                for winding in winding_sources(transformer) {
                    for source in winding.sources {
                        if let Some((a, b)) = self.pair(id, &source.ends.0, &source.ends.1) {
                            let emf = Volts(source.emf.base() * self.condition.mains);
                            let way = format!("{}.{}", winding.name, source.half);
                            self.add(
                                id,
                                &way,
                                Element::Winding { a, b, emf, resistance: source.resistance, phase: 0.0 },
                            );
                        }
                    }
                }
            }
            Kind::OutputTransformer(transformer) => self.output_transformer(id, transformer),
            Kind::Diode(diode) => {
                if let (Some((anode, cathode)), Some(model)) =
                    (self.pair(id, "anode", "cathode"), diode_model(self.devices, &diode.kind, &diode.changes))
                {
                    self.add(id, "", Element::Junction { anode, cathode, model });
                }
            }
            Kind::Bridge(bridge) => {
                let kind = DiodeKind::Plain(bridge.device.clone());
                if let Some(model) = diode_model(self.devices, &kind, &bridge.changes) {
                    for (from, to) in [("ac1", "plus"), ("ac2", "plus"), ("minus", "ac1"), ("minus", "ac2")] {
                        if let Some((anode, cathode)) = self.pair(id, from, to) {
                            self.add(id, &format!("{from}-{to}"), Element::Junction { anode, cathode, model });
                        }
                    }
                }
            }
            Kind::Tube(tube) => self.tube(id, part, tube),
            Kind::CurrentSource(source) => {
                if let Some((from, to)) = self.pair(id, "from", "to") {
                    self.add(id, "", Element::CurrentSource { from, to, current: source.current.value });
                }
            }
            Kind::Transistor(transistor) => self.transistor(id, transistor),
            Kind::Input(input) => {
                if let (true, Some((plus, minus))) = (self.condition.ports, self.pair(id, "hot", "cold")) {
                    let resistance = input.source.as_ref().map_or(Ohms(0.0), |source| source.value);
                    self.add(id, "", Element::Supply { plus, minus, voltage: Volts(0.0), resistance });
                }
            }
            Kind::Output(output) => {
                if self.condition.ports {
                    if let Some(load) = &output.load {
                        self.resistor(id, "", "hot", "cold", load.value);
                    }
                    if let (Some(cable), Some((a, b))) = (&output.cable, self.pair(id, "hot", "cold")) {
                        self.add(id, "cable", Element::Capacitor { a, b, capacitance: cable.value });
                    }
                }
            }
        }
    }

    fn tube(&mut self, id: PartId, part: &Part, tube: &Tube) {
        self.heater(id, tube);
        if self.condition.empty == Some(id) {
            return;
        }
        let sections = sections_in(self.devices, part, tube, self.condition.lineup);
        for section in &sections {
            let rectifies = matches!(section.kind, SectionKind::Rectifier { .. });
            let cold = match section.kind {
                // A gas tube has nothing to warm up.
                SectionKind::Regulator => false,
                _ if rectifies => self.condition.rectifiers_cold,
                _ => self.condition.cold,
            };
            let left_out = tube.unused.iter().any(|unused| unused.value == section.suffix);
            if !cold && !left_out {
                self.section(id, section);
            }
        }
    }

    fn heater(&mut self, id: PartId, tube: &Tube) {
        let empty = self.condition.empty == Some(id);
        let corrected = self.condition.heaters.get(&id).copied();
        let Some(hot) = corrected.or_else(|| tube.hot_resistance().map(Quantity::base)) else { return };
        if empty || !hot.is_finite() {
            return;
        }
        if tube.directly_heated() {
            self.resistor(id, "heater.from", "heater.from", "cathode", Ohms(hot / 2.0));
            self.resistor(id, "heater.to", "cathode", "heater.to", Ohms(hot / 2.0));
        } else {
            self.resistor(id, "heater", "heater.from", "heater.to", Ohms(hot));
            if tube.joined_cathode() {
                self.resistor(id, "heater-cathode", "heater.from", "cathode", Ohms(0.0));
            }
        }
    }

    fn section(&mut self, id: PartId, section: &Section) {
        let places: HashMap<&str, NodeId> = section
            .kind
            .electrodes()
            .iter()
            .filter_map(|electrode| Some((*electrode, self.node(id, &electrode_name(&section.suffix, electrode))?)))
            .collect();
        let at = |electrode: &str| places.get(electrode).copied();
        match (section.kind, section.model) {
            (SectionKind::Rectifier { plates }, TubeModel::VacuumDiode(model)) => {
                let plate_names: &[&str] = if plates == 1 { &["plate"] } else { &["plate1", "plate2"] };
                for name in plate_names {
                    if let (Some(plate), Some(cathode)) = (at(name), at("cathode")) {
                        self.add(id, name, Element::VacuumDiode { plate, cathode, model });
                    }
                }
            }
            (_, TubeModel::Triode(model)) => {
                if let (Some(plate), Some(grid), Some(cathode)) = (at("plate"), at("grid"), at("cathode")) {
                    self.add(id, &section.suffix, Element::Triode { plate, grid, cathode, model });
                }
            }
            (_, TubeModel::Pentode(model)) => {
                if let (Some(plate), Some(grid), Some(screen), Some(cathode)) =
                    (at("plate"), at("grid"), at("screen"), at("cathode"))
                {
                    self.add(id, &section.suffix, Element::Pentode { plate, grid, screen, cathode, model });
                }
            }
            (SectionKind::Regulator, TubeModel::Regulator(model)) => {
                if let (Some(anode), Some(cathode)) = (at("anode"), at("cathode")) {
                    // Struck, it is a breakdown at its voltage: a zener's junction with anode and cathode exchanged.
                    let model = DiodeModel {
                        is: FORWARD_GAS_AMPERES,
                        n: GAS_KNEE,
                        rs: model.resistance,
                        breakdown: Some(model.voltage),
                    };
                    self.add(id, &section.suffix, Element::Junction { anode: cathode, cathode: anode, model });
                }
            }
            _ => self.done.unmodelled.push((id, format!("section {} has no model", section.suffix))),
        }
        self.section_capacitances(id, section);
    }
}

/// The sections of the tube that sits in a socket: the design's own with its changes, or an alternate's.
pub(crate) fn sections_in(devices: &dyn Devices, part: &Part, tube: &Tube, lineup: &Lineup) -> Vec<Section> {
    match lineup.get(&part.name) {
        Some(name) if *name != tube.canonical => {
            devices.tube(name).map_or_else(|| tube.sections.clone(), |entry| entry.sections.clone())
        }
        _ => {
            let mut sections = tube.sections.clone();
            for section in &mut sections {
                for (key, value) in tube.changes_of(&section.suffix) {
                    match key {
                        "cgk" => section.input_capacitance = Some(Farads(value)),
                        "cgp" => section.grid_plate_capacitance = Some(Farads(value)),
                        "cpk" => section.output_capacitance = Some(Farads(value)),
                        _ => {}
                    }
                }
                section.model = changed_model(section.model, tube, &section.suffix);
            }
            sections
        }
    }
}

/// The catalogue's model of a section with what the design says of it in place.
fn changed_model(model: TubeModel, tube: &Tube, suffix: &str) -> TubeModel {
    let key = |name: &str| tube.changes_of(suffix).filter(|(key, _)| *key == name).map(|(_, value)| value).last();
    let or = |own: f64, name: &str| key(name).unwrap_or(own);
    match model {
        TubeModel::Triode(m) => TubeModel::Triode(TriodeModel {
            mu: or(m.mu, "mu"),
            x: or(m.x, "x"),
            kg1: or(m.kg1, "kg1"),
            kp: or(m.kp, "kp"),
            kvb: or(m.kvb, "kvb"),
            rgi: key("rgi").or(m.rgi),
        }),
        TubeModel::Pentode(law) => {
            let form = tube.form_of(suffix).unwrap_or(law.form());
            TubeModel::Pentode(law.changed(form, key("rgi"), key).unwrap_or(law))
        }
        TubeModel::VacuumDiode(m) => TubeModel::VacuumDiode(VacuumDiodeModel { k: or(m.k, "k") }),
        TubeModel::Regulator(_) => model,
    }
}

/// The model of a junction device with the design's changes.
pub(crate) fn diode_model(devices: &dyn Devices, kind: &DiodeKind, changes: &DiodeModelChanges) -> Option<DiodeModel> {
    let mut model = match kind {
        DiodeKind::Plain(name) => devices.diode(&name.value)?.model,
        DiodeKind::Zener(voltage) => devices.zener_model(voltage.value),
        DiodeKind::Led(colour) => devices.led(&colour.value)?.model,
    };
    for (key, value) in &changes.keys {
        match key.as_str() {
            "is" => model.is = *value,
            "n" => model.n = *value,
            "rs" => model.rs = *value,
            _ => {}
        }
    }
    Some(model)
}
