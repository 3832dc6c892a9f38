//! What a part does where it stands, read from the connections alone: rails, reservoirs, coupling, leaks, stoppers.

use std::collections::BTreeSet;

use crate::catalogue::SectionKind;
use crate::design::{Design, DiodeKind, Kind, PartId};
use crate::units::Ohms;

use super::graph::electrode_name;
use super::rails::{alternating, filament_legs, holds_still, mains_side, rails};
use super::{Circuit, Conduction, Link, NetId};

/// A cathode resistor up to here, Ω, below a grid with a bias supply of its own is there to measure the current (common
/// practice: 1 Ω or 10 Ω).
const MEASURING_OHMS: f64 = 22.0;
/// A load from here on, Ω, is a line or another amplifier's input, not a loudspeaker (common practice: lines of 600 Ω).
const LINE_OHMS: f64 = 100.0;

/// What a hum-balance control and the filament behind it come to at most, Ω, seen from the filament's middle (common
/// practice: 50 to 200 Ω end to end; a filament's own bias wants several hundred).
const BALANCE_OHMS: f64 = 100.0;

/// From here a resistor between a grid and ground is a leak, Ω (common practice: stoppers go up to 68 kΩ, leaks begin at
/// 100 kΩ).
const LEAST_LEAK: f64 = 100e3;

/// What a capacitor does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CapacitorRole {
    /// First capacitor after a rectifier.
    Reservoir,
    /// Later filter section of a supply.
    Decoupling,
    /// Across a cathode resistor.
    CathodeBypass,
    /// From a screen to ground or cathode.
    ScreenBypass,
    /// Carries the signal to an output.
    OutputCoupling,
    /// Carries the signal to a grid or control.
    Coupling,
    /// Live to neutral.
    AcrossMains,
    /// Live or neutral to earth.
    LineToEarth,
    /// None of these.
    Other,
}

impl CapacitorRole {
    /// The word of the fact `role`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Reservoir => "reservoir",
            Self::Decoupling => "decoupling",
            Self::CathodeBypass => "cathode-bypass",
            Self::ScreenBypass => "screen-bypass",
            Self::OutputCoupling => "output-coupling",
            Self::Coupling => "coupling",
            Self::AcrossMains => "across-mains",
            Self::LineToEarth => "line-to-earth",
            Self::Other => "other",
        }
    }
}

/// What a resistor does.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ResistorRole {
    /// From a grid circuit to its return.
    GridLeak,
    /// At a grid pin.
    GridStopper,
    /// From a plate to its supply.
    PlateLoad,
    /// From a cathode towards ground.
    Cathode,
    /// Discharges a supply.
    Bleeder,
    /// Fixes the potential of a heater winding.
    HeaterReference,
    /// Between two sections of a supply.
    Dropper,
    /// None of these.
    Other,
}

impl ResistorRole {
    /// The word of the fact `role`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::GridLeak => "grid-leak",
            Self::GridStopper => "grid-stopper",
            Self::PlateLoad => "plate-load",
            Self::Cathode => "cathode",
            Self::Bleeder => "bleeder",
            Self::HeaterReference => "heater-reference",
            Self::Dropper => "dropper",
            Self::Other => "other",
        }
    }
}

/// How a section gets its bias.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum BiasKind {
    /// A resistance in the cathode: more current makes more bias.
    Cathode,
    /// A voltage that the tube's own current hardly moves: a bias supply, a diode or LED in the cathode.
    Fixed,
    /// Cathode at ground and grid returned to ground.
    None,
}

impl BiasKind {
    /// The word of the fact `bias-kind`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Cathode => "cathode",
            Self::Fixed => "fixed",
            Self::None => "none",
        }
    }
}

/// The connections read once, for every question about roles.
#[derive(Clone, Debug, Default)]
pub struct Roles {
    /// Nets that the mains reaches directly: inlet, fuse, switch, primary, and capacitors between them.
    pub mains_side: BTreeSet<NetId>,
    /// Nets on which a winding's alternating voltage stands.
    pub alternating: BTreeSet<NetId>,
    /// Direct-current outputs of rectifiers and bench supplies.
    pub outputs: BTreeSet<NetId>,
    /// Supply rails: the outputs and every filter section behind them.
    pub rails: BTreeSet<NetId>,
    /// Ground and the rails: what a grid circuit may return to.
    pub returns: BTreeSet<NetId>,
    /// Diodes, bridges and tubes that rectify.
    pub rectifiers: BTreeSet<PartId>,
    /// Nets whose potential something that conducts direct current ties to ground.
    pub fixed: BTreeSet<NetId>,
    /// Where the filaments of directly heated amplifying tubes meet what biases them: their legs, the winding between them,
    /// and the wiper of what balances their hum.
    seats: BTreeSet<NetId>,
    stoppers: BTreeSet<PartId>,
    islands: Vec<Island>,
    /// The island of each net; none for a return.
    island_of: Vec<Option<usize>>,
}

/// Nets that share a signal: joined through what always conducts, without passing a return.
#[derive(Clone, Debug, Default)]
struct Island {
    nets: BTreeSet<NetId>,
    /// The returns at its edge, with the part that leads there.
    edges: Vec<(NetId, PartId)>,
}

impl Roles {
    /// Reads the roles of a design's nets.
    #[must_use]
    pub fn of(design: &Design, circuit: &Circuit) -> Self {
        let mut roles = Self { mains_side: mains_side(design, circuit), ..Self::default() };
        roles.alternating = alternating(design, circuit, &roles.mains_side);
        roles.find_rectifiers(design, circuit);
        roles.rails = rails(design, circuit, &roles.outputs);
        roles.returns = roles.rails.clone();
        roles.returns.extend(circuit.ground());
        roles.find_islands(circuit);
        roles.seats = design.ids().flat_map(|(id, _)| Self::filament_seat(design, circuit, id)).collect();
        let conducts = |link: &Link| link.conduction.passes_direct_current();
        roles.fixed = circuit.ground().map_or_else(BTreeSet::new, |ground| circuit.reach(ground, conducts, |_| false));
        roles.stoppers = grids(design, circuit).filter_map(|grid| roles.stopper_of(design, circuit, grid)).collect();
        roles
    }

    fn find_rectifiers(&mut self, design: &Design, circuit: &Circuit) {
        for (id, part) in design.ids() {
            let candidate = match &part.kind {
                Kind::Bridge(_) => true,
                Kind::Tube(tube) => tube.sections.iter().any(|s| matches!(s.kind, SectionKind::Rectifier { .. })),
                Kind::Diode(diode) => matches!(diode.kind, DiodeKind::Plain(_)),
                Kind::BenchSupply(_) => {
                    let ends = ["plus", "minus"].into_iter().filter_map(|t| circuit.net_of(id, t));
                    self.outputs.extend(ends.filter(|net| !circuit.is_ground(*net)));
                    false
                }
                _ => false,
            };
            if !candidate {
                continue;
            }
            let ways: Vec<&Link> =
                circuit.all_links().filter(|l| l.part == id && l.conduction == Conduction::Rectifying).collect();
            let alternates = |net: NetId| self.alternating.contains(&net);
            if !ways.iter().any(|l| alternates(l.from_net) || alternates(l.to_net)) {
                continue;
            }
            self.rectifiers.insert(id);
            for link in ways {
                let direct = |net: NetId| !self.alternating.contains(&net) && !circuit.is_ground(net);
                let found: Vec<NetId> = [link.from_net, link.to_net].into_iter().filter(|net| direct(*net)).collect();
                self.outputs.extend(found);
            }
            let taken = |net: &NetId| {
                let winding = |part: PartId| matches!(design.part(part).kind, Kind::Transformer(_));
                let mut links = circuit.links(*net);
                !circuit.is_ground(*net)
                    && links.any(|link| !matches!(link.conduction, Conduction::Heater(_)) && !winding(link.part))
            };
            self.outputs.extend(filament_legs(design, circuit, id).into_iter().filter(taken));
        }
    }

    /// What a capacitor does. `ends` are its nets.
    #[must_use]
    pub fn capacitor(&self, design: &Design, circuit: &Circuit, from: NetId, to: NetId) -> CapacitorRole {
        if self.mains_side.contains(&from) || self.mains_side.contains(&to) {
            let both = self.mains_side.contains(&from) && self.mains_side.contains(&to);
            return if both { CapacitorRole::AcrossMains } else { CapacitorRole::LineToEarth };
        }
        let steady = |net: NetId| circuit.is_ground(net) || self.rails.contains(&net);
        for (net, other) in [(from, to), (to, from)] {
            if self.outputs.contains(&net) && steady(other) {
                return CapacitorRole::Reservoir;
            }
        }
        for (net, other) in [(from, to), (to, from)] {
            if steady(other) && !steady(net) && self.is_cathode(design, circuit, net) {
                return CapacitorRole::CathodeBypass;
            }
            if has_electrode(design, circuit, net, "screen")
                && (steady(other) || has_electrode(design, circuit, other, "cathode"))
            {
                return CapacitorRole::ScreenBypass;
            }
        }
        if steady(from) && steady(to) {
            return CapacitorRole::Decoupling;
        }
        if steady(from) || steady(to) {
            return CapacitorRole::Other;
        }
        let (near, far) = (self.island_of.get(from.0).copied().flatten(), self.island_of.get(to.0).copied().flatten());
        if near == far || self.is_bypassed(circuit, from, to) {
            return CapacitorRole::Other;
        }
        let driven = |net: NetId| self.signal_island(net).any(|net| is_driven(design, circuit, net));
        for (net, other) in [(from, to), (to, from)] {
            if driven(net) && self.signal_island(other).any(|net| has_output(design, circuit, net)) {
                return CapacitorRole::OutputCoupling;
            }
        }
        for (net, other) in [(from, to), (to, from)] {
            if driven(net) && self.signal_island(other).any(|net| has_control(design, circuit, net)) {
                return CapacitorRole::Coupling;
            }
        }
        CapacitorRole::Other
    }

    fn is_cathode(&self, design: &Design, circuit: &Circuit, net: NetId) -> bool {
        self.seats.contains(&net) || has_electrode(design, circuit, net, "cathode")
    }

    fn filament_seat(design: &Design, circuit: &Circuit, id: PartId) -> BTreeSet<NetId> {
        let Kind::Tube(tube) = &design.part(id).kind else { return BTreeSet::new() };
        let amplifies = tube.sections.iter().any(|s| matches!(s.kind, SectionKind::Triode | SectionKind::Pentode));
        let Some(cathode) = circuit.net_of(id, "cathode").filter(|_| amplifies && tube.directly_heated()) else {
            return BTreeSet::new();
        };
        Self::seat(circuit, cathode)
    }

    /// The nets that stand with a cathode: itself, and of a filament all that heats it and balances its hum.
    #[must_use]
    pub fn seat(circuit: &Circuit, cathode: NetId) -> BTreeSet<NetId> {
        let shares = |link: &Link| match link.conduction {
            Conduction::Heater(_) | Conduction::Inductive(_) => true,
            Conduction::Resistive(ohms) => ohms.0 <= BALANCE_OHMS,
            _ => false,
        };
        if !circuit.links(cathode).any(|link| matches!(link.conduction, Conduction::Heater(_))) {
            return BTreeSet::from([cathode]);
        }
        let mut seat = circuit.reach(cathode, shares, |net| circuit.is_ground(net));
        seat.retain(|net| !circuit.is_ground(*net));
        seat
    }

    /// Whether the signal has another way between the ends of a capacitor, as between the branches of a tone control: then
    /// its own corner shapes the response and does not end it. A capacitor straight beside it is no other way.
    fn is_bypassed(&self, circuit: &Circuit, from: NetId, to: NetId) -> bool {
        let beside = |link: &Link| [(from, to), (to, from)].contains(&(link.from_net, link.to_net));
        let passes =
            |link: &Link| matches!(link.conduction, Conduction::Resistive(_) | Conduction::Capacitive) && !beside(link);
        circuit.reach(from, passes, |net| self.returns.contains(&net)).contains(&to)
    }

    /// What a resistor does.
    #[must_use]
    pub fn resistor(&self, design: &Design, circuit: &Circuit, id: PartId, from: NetId, to: NetId) -> ResistorRole {
        let steady = |net: NetId| circuit.is_ground(net) || self.rails.contains(&net);
        if self.stoppers.contains(&id) {
            return ResistorRole::GridStopper;
        }
        if steady(from) && steady(to) {
            if !circuit.is_ground(from) && !circuit.is_ground(to) {
                return ResistorRole::Dropper;
            }
            // Across a rail that regulators alone hold it is a load: nothing there stores what it could bleed.
            let stores = [from, to].into_iter().any(|net| !circuit.is_ground(net) && holds_still(design, circuit, net));
            return if stores { ResistorRole::Bleeder } else { ResistorRole::Other };
        }
        for (net, other) in [(from, to), (to, from)] {
            let heats = circuit.links(net).any(|l| matches!(l.conduction, Conduction::Heater(_)));
            if heats && (steady(other) || !self.alternating.contains(&other)) {
                return ResistorRole::HeaterReference;
            }
            if has_electrode(design, circuit, net, "plate") && self.leads_to(other, id, &self.rails) {
                return ResistorRole::PlateLoad;
            }
            let within = self.seats.contains(&net) && self.seats.contains(&other);
            if self.is_cathode(design, circuit, net) && !within && !self.rails.contains(&other) {
                return ResistorRole::Cathode;
            }
        }
        for (net, other) in [(from, to), (to, from)] {
            if steady(other) && self.signal_island(net).any(|n| has_control(design, circuit, n)) {
                return ResistorRole::GridLeak;
            }
            if self.rails.contains(&net) && self.leads_to(other, id, &circuit.ground().into_iter().collect()) {
                return ResistorRole::Bleeder;
            }
        }
        ResistorRole::Other
    }

    fn find_islands(&mut self, circuit: &Circuit) {
        self.island_of = vec![None; circuit.nets.len()];
        for index in 0..circuit.nets.len() {
            let net = NetId(index);
            if self.returns.contains(&net) || self.island_of[index].is_some() {
                continue;
            }
            let mut island = Island::default();
            let mut waiting = vec![net];
            while let Some(net) = waiting.pop() {
                if !island.nets.insert(net) {
                    continue;
                }
                self.island_of[net.0] = Some(self.islands.len());
                for link in circuit.links(net).filter(|link| link.conduction.is_permanent()) {
                    let other = link.other(net);
                    if self.returns.contains(&other) {
                        island.edges.push((other, link.part));
                    } else {
                        waiting.push(other);
                    }
                }
            }
            self.islands.push(island);
        }
    }

    fn island(&self, net: NetId) -> Option<&Island> {
        self.islands.get(self.island_of.get(net.0).copied().flatten()?)
    }

    /// Whether a net is one of the goals, which are returns, or another part than `without` leads from its island there.
    fn leads_to(&self, net: NetId, without: PartId, goals: &BTreeSet<NetId>) -> bool {
        goals.contains(&net)
            || self
                .island(net)
                .is_some_and(|island| island.edges.iter().any(|(edge, part)| *part != without && goals.contains(edge)))
    }

    /// The nets that a signal shares with a net: everything reached through resistance without passing a return.
    pub fn signal_island(&self, net: NetId) -> impl Iterator<Item = NetId> + '_ {
        self.island(net).into_iter().flat_map(|island| island.nets.iter().copied())
    }

    /// Whether signal stands on a net that is no return: a plate, input or output shares it, or a capacitor couples to it.
    ///
    /// A bias adjuster shares its net with grids only, and a heater's balance control with heaters only.
    #[must_use]
    pub fn carries_signal(&self, design: &Design, circuit: &Circuit, net: NetId) -> bool {
        if self.returns.contains(&net) || self.sets_a_bias(design, circuit, net) {
            return false;
        }
        self.signal_island(net).any(|net| {
            has_electrode(design, circuit, net, "plate")
                || circuit.links(net).any(|link| match link.conduction {
                    Conduction::Port => true,
                    Conduction::Capacitive => !self.returns.contains(&link.other(net)),
                    _ => false,
                })
        })
    }

    /// Whether a net lies on the way from a bias supply to a grid: resistance leads to a rail, and nothing that makes or
    /// takes a signal but grids shares it.
    fn sets_a_bias(&self, design: &Design, circuit: &Circuit, net: NetId) -> bool {
        let from_rail =
            self.island(net).is_some_and(|island| island.edges.iter().any(|(edge, _)| !circuit.is_ground(*edge)));
        let joins = |net: NetId| {
            ["plate", "cathode"].iter().any(|electrode| has_electrode(design, circuit, net, electrode))
                || circuit.links(net).any(|link| link.conduction == Conduction::Port)
        };
        from_rail && !self.signal_island(net).any(joins)
    }

    /// Whether a net that nothing fixes is one side of a balanced line: a winding of a signal transformer and the plug that
    /// it leads to, the potential being that of what is plugged in. A loudspeaker brings none.
    #[must_use]
    pub fn is_balanced_line(&self, design: &Design, circuit: &Circuit, net: NetId) -> bool {
        let island = circuit.reach(net, |link| link.conduction.passes_direct_current(), |_| false);
        let plugged = |part: PartId| match &design.part(part).kind {
            Kind::Input(_) => true,
            Kind::Output(output) => output.load.as_ref().is_some_and(|load| load.value.0 >= LINE_OHMS),
            _ => false,
        };
        let winding = |part: PartId| matches!(design.part(part).kind, Kind::OutputTransformer(_));
        let of_a_line = |link: &Link| match link.conduction {
            Conduction::Port => plugged(link.part),
            Conduction::Inductive(_) => winding(link.part),
            Conduction::Capacitive => true,
            Conduction::Resistive(_) => island.contains(&link.from_net) && island.contains(&link.to_net),
            _ => false,
        };
        let links: Vec<&Link> = island.iter().flat_map(|net| circuit.links(*net)).collect();
        links.iter().all(|link| of_a_line(link))
            && links.iter().any(|link| link.conduction == Conduction::Port)
            && links.iter().any(|link| winding(link.part))
            && island.is_disjoint(&self.fixed)
    }

    /// The direct-current resistance that a grid sees to its return, and `None` where it has no return.
    #[must_use]
    pub fn grid_leak(&self, circuit: &Circuit, grid: NetId) -> Option<Ohms> {
        circuit.resistance_to(grid, &self.returns, &[])
    }

    /// The stopper at a grid pin: the one resistor in series through which every signal must pass to the pin. A leak beside
    /// the pin is none.
    #[must_use]
    pub fn stopper_of(&self, design: &Design, circuit: &Circuit, grid: NetId) -> Option<PartId> {
        let (mut through, mut returned) = (Vec::new(), Vec::new());
        for link in circuit.links(grid) {
            match link.conduction {
                Conduction::Control => {}
                Conduction::Resistive(_) if self.returns.contains(&link.other(grid)) => returned.push(link.part),
                Conduction::Resistive(_) if matches!(design.part(link.part).kind, Kind::Resistor(_)) => {
                    through.push(link.part);
                }
                _ => return None,
            }
        }
        // A grid that stands still may do so through its stopper; what is as large as a leak is one, and stops nothing.
        let small =
            |part: PartId| matches!(&design.part(part).kind, Kind::Resistor(r) if r.resistance.value.0 < LEAST_LEAK);
        match (through.as_slice(), returned.as_slice()) {
            ([one], _) => Some(*one),
            ([], [one]) if small(*one) => Some(*one),
            _ => None,
        }
    }

    /// The resistance between a screen pin and whatever else is joined there; `None` where the screen is wired straight on.
    #[must_use]
    pub fn screen_stopper(&self, design: &Design, circuit: &Circuit, screen: NetId) -> Option<Ohms> {
        let mut through = None;
        for link in circuit.links(screen).filter(|link| link.conduction != Conduction::Screen) {
            match link.conduction {
                Conduction::Resistive(ohms) if matches!(design.part(link.part).kind, Kind::Resistor(_)) => {
                    through = through.or(Some(ohms));
                }
                // A bypass capacitor at the pin holds the screen still.
                Conduction::Capacitive => {}
                _ => return None,
            }
        }
        through
    }

    /// How a section gets its bias.
    #[must_use]
    pub fn bias_kind(&self, circuit: &Circuit, grid: Option<NetId>, cathode: NetId) -> BiasKind {
        let fixed = grid.is_some_and(|grid| {
            let reached = circuit.reach(grid, |l| l.conduction.is_permanent(), |n| self.returns.contains(&n));
            reached.iter().any(|net| self.rails.contains(net))
        });
        let grounds = circuit.ground().into_iter().collect();
        let measured = circuit.resistance_to(cathode, &grounds, &[]).is_some_and(|found| found.0 <= MEASURING_OHMS);
        if fixed && measured {
            return BiasKind::Fixed;
        }
        // A filament meets its bias resistor beyond its legs, its winding and what balances its hum.
        if circuit.links(cathode).any(|link| matches!(link.conduction, Conduction::Heater(_))) {
            let beyond = circuit.resistance_to(cathode, &grounds, &[]).is_some_and(|found| found.0 > BALANCE_OHMS);
            return match (beyond, fixed) {
                (true, _) => BiasKind::Cathode,
                (false, true) => BiasKind::Fixed,
                (false, false) => BiasKind::None,
            };
        }
        if !circuit.is_ground(cathode) && !self.rails.contains(&cathode) {
            // A tube or current sink below the cathode holds its current as a resistor would.
            let resists = circuit.links(cathode).any(|l| match l.conduction {
                Conduction::Resistive(_) | Conduction::Inductive(_) => true,
                Conduction::Active => l.from_net == cathode,
                _ => false,
            });
            return if resists { BiasKind::Cathode } else { BiasKind::Fixed };
        }
        if fixed { BiasKind::Fixed } else { BiasKind::None }
    }
}

pub(super) fn has_electrode(design: &Design, circuit: &Circuit, net: NetId, electrode: &str) -> bool {
    circuit.net(net).terminals.iter().any(|(terminal, _)| {
        matches!(&design.part(terminal.part).kind, Kind::Tube(tube)
            if tube.sections.iter().any(|s| !matches!(s.kind, SectionKind::Rectifier { .. })
                && terminal.name == electrode_name(&s.suffix, electrode)))
    })
}

fn has_control(design: &Design, circuit: &Circuit, net: NetId) -> bool {
    has_electrode(design, circuit, net, "grid")
        || circuit.links(net).any(|l| l.conduction == Conduction::Control && l.from_net == net)
}

fn is_driven(design: &Design, circuit: &Circuit, net: NetId) -> bool {
    has_electrode(design, circuit, net, "plate")
        || has_electrode(design, circuit, net, "cathode")
        || circuit.links(net).any(|l| match l.conduction {
            Conduction::Active => true,
            Conduction::Port => matches!(design.part(l.part).kind, Kind::Input(_)),
            _ => false,
        })
}

fn has_output(design: &Design, circuit: &Circuit, net: NetId) -> bool {
    circuit.links(net).any(|l| l.conduction == Conduction::Port && matches!(design.part(l.part).kind, Kind::Output(_)))
}

fn grids<'a>(design: &'a Design, circuit: &'a Circuit) -> impl Iterator<Item = NetId> + 'a {
    design.ids().flat_map(move |(id, part)| {
        let sections = match &part.kind {
            Kind::Tube(tube) => tube.sections.as_slice(),
            _ => &[],
        };
        sections.iter().filter_map(move |s| circuit.net_of(id, &electrode_name(&s.suffix, "grid")))
    })
}
