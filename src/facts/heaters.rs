//! Heater windings under the load of their heaters: alternating voltages all in phase, solved as a network of resistances.
//!
//! A heater takes its published current whatever its voltage, so its resistance is found by repetition.

use std::collections::HashMap;

use crate::catalogue::{Devices, HeaterConnection};
use crate::circuit::{Circuit, NetId, Roles};
use crate::design::{Design, Kind, PartId};
use crate::physics::{Element, ElementId, Network, NodeId, operating_point};
use crate::units::{Ohms, Quantity, Volts};

use super::Lineup;
use super::windings::winding_sources;

const ROUNDS: usize = 12;

/// The heaters of one line-up at one mains voltage.
#[derive(Clone, Debug, Default)]
pub(crate) struct HeaterSolution {
    /// Rms voltage at each heater that a winding feeds with alternating current.
    pub(crate) voltages: HashMap<PartId, f64>,
    /// Hot resistance of each heater at its published current.
    pub(crate) resistances: HashMap<PartId, f64>,
    /// Alternating voltage of each net against ground, rms.
    pub(crate) nets: Vec<f64>,
    /// Rms current of each winding half, by part and way.
    pub(crate) windings: HashMap<(PartId, String), f64>,
}

/// The published heater connection of the tube that sits in a socket.
pub(crate) fn connection_in(
    design: &Design,
    devices: &dyn Devices,
    lineup: &Lineup,
    id: PartId,
) -> Option<HeaterConnection> {
    let part = design.part(id);
    let Kind::Tube(tube) = &part.kind else { return None };
    let wired = tube.heater.as_ref()?.voltage.value;
    match lineup.get(&part.name).filter(|name| **name != tube.canonical) {
        Some(name) => devices.tube(name)?.heater_connection(wired),
        None => tube.heater_connection(),
    }
}

/// Solves the heaters of a line-up; `mains` is the mains voltage over the primary's rating.
pub(crate) fn solve_heaters(
    design: &Design,
    circuit: &Circuit,
    roles: &Roles,
    devices: &dyn Devices,
    lineup: &Lineup,
    mains: f64,
    empty: Option<PartId>,
) -> HeaterSolution {
    let mut solution = HeaterSolution::default();
    let mut currents: HashMap<PartId, f64> = HashMap::new();
    for (id, part) in design.ids() {
        if !matches!(part.kind, Kind::Tube(_)) || Some(id) == empty {
            continue;
        }
        if let Some(connection) = connection_in(design, devices, lineup, id) {
            currents.insert(id, connection.current.base());
            solution.resistances.insert(id, connection.voltage.base() / connection.current.base());
        }
    }
    if currents.is_empty() {
        return solution;
    }
    for _ in 0..ROUNDS {
        let network = HeaterNetwork::of(design, circuit, roles, &solution.resistances, mains);
        let Ok(point) = operating_point(&network.network, None) else { return solution };
        let mut moved = 0.0_f64;
        solution.voltages.clear();
        for (id, (a, b)) in &network.heaters {
            let volts = point.between(*a, *b).0.abs();
            let (Some(current), Some(ohms)) = (currents.get(id), solution.resistances.get_mut(id)) else { continue };
            // A heater without alternating voltage is fed with direct current, or not at all: its resistance stays.
            if volts < 0.05 * *ohms * current {
                continue;
            }
            solution.voltages.insert(*id, volts);
            let wanted = volts / current;
            moved = moved.max((wanted / *ohms - 1.0).abs());
            *ohms = wanted;
        }
        solution.nets = (0..circuit.nets.len())
            .map(|net| if circuit.is_ground(NetId(net)) { 0.0 } else { point.voltage(NodeId(net + 1)).base() })
            .collect();
        solution.windings =
            network.windings.iter().map(|(way, id)| (way.clone(), current_of(&point, *id).abs())).collect();
        if moved < 1e-9 {
            break;
        }
    }
    solution
}

fn current_of(point: &crate::physics::OperatingPoint, id: ElementId) -> f64 {
    point.currents.get(id.0).map_or(0.0, |currents| currents.main.base())
}

struct HeaterNetwork {
    network: Network,
    heaters: Vec<(PartId, (NodeId, NodeId))>,
    windings: Vec<((PartId, String), ElementId)>,
}

impl HeaterNetwork {
    fn of(design: &Design, circuit: &Circuit, roles: &Roles, resistances: &HashMap<PartId, f64>, mains: f64) -> Self {
        let mut built = Self {
            network: Network { nodes: circuit.nets.len() + 1, elements: Vec::new() },
            heaters: Vec::new(),
            windings: Vec::new(),
        };
        let node = |part: PartId, terminal: &str| {
            let net = circuit.net_of(part, terminal)?;
            if roles.mains_side.contains(&net) {
                return None;
            }
            Some(if circuit.is_ground(net) { NodeId::GROUND } else { NodeId(net.0 + 1) })
        };
        let pair = |part, from: &str, to: &str| Some((node(part, from)?, node(part, to)?));
        for (id, part) in design.ids() {
            match &part.kind {
                Kind::Transformer(transformer) => {
                    for winding in winding_sources(transformer) {
                        for source in winding.sources {
                            let Some((plus, minus)) = pair(id, &source.ends.0, &source.ends.1) else { continue };
                            let way = (id, format!("{}.{}", winding.name, source.half));
                            built.windings.push((way, ElementId(built.network.elements.len())));
                            built.network.elements.push(Element::Supply {
                                plus,
                                minus,
                                voltage: Volts(source.emf.base() * mains),
                                resistance: source.resistance,
                            });
                        }
                    }
                }
                Kind::Resistor(resistor) => built.resistor(pair(id, "from", "to"), resistor.resistance.value),
                Kind::Fuse(_) => built.resistor(pair(id, "from", "to"), Ohms(0.0)),
                Kind::Switch(switch) if switch.closed => built.resistor(pair(id, "from", "to"), Ohms(0.0)),
                Kind::Potentiometer(pot) => {
                    let (upper, lower) = pot.tracks();
                    built.resistor(pair(id, "top", "wiper"), upper);
                    built.resistor(pair(id, "wiper", "bottom"), lower);
                }
                Kind::Tube(tube) => {
                    let Some(hot) = resistances.get(&id).copied() else { continue };
                    let Some(ends) = pair(id, "heater.from", "heater.to") else { continue };
                    built.heaters.push((id, ends));
                    if tube.directly_heated() {
                        built.resistor(pair(id, "heater.from", "cathode"), Ohms(hot / 2.0));
                        built.resistor(pair(id, "cathode", "heater.to"), Ohms(hot / 2.0));
                    } else {
                        built.resistor(Some(ends), Ohms(hot));
                    }
                }
                _ => {}
            }
        }
        built
    }

    fn resistor(&mut self, ends: Option<(NodeId, NodeId)>, resistance: Ohms) {
        if let Some((a, b)) = ends {
            self.network.elements.push(Element::Resistor { a, b, resistance });
        }
    }
}
