//! Nets of the supply, read from the connections: what the mains reaches, where a winding's voltage stands, what a
//! capacitor holds still, and how far a rail goes. Knows nothing of what stages do with it.

use std::collections::BTreeSet;

use crate::catalogue::SectionKind;
use crate::design::{Design, DiodeKind, Kind, PartId};

use super::roles::has_electrode;
use super::{Circuit, Conduction, Link, NetId};

// Common practice: smaller capacitors to ground set treble corners, larger ones hold a supply.
pub(crate) const FILTER_FARADS: f64 = 0.5e-6;

pub(super) fn mains_side(design: &Design, circuit: &Circuit) -> BTreeSet<NetId> {
    let safe: BTreeSet<NetId> = ["ground", "chassis", "earth"].into_iter().filter_map(|n| circuit.named(n)).collect();
    let mut reached = BTreeSet::new();
    for (id, part) in design.ids() {
        let starts: &[&str] = match part.kind {
            Kind::Inlet(_) => &["live", "neutral"],
            Kind::Transformer(_) => &["primary.start", "primary.finish"],
            _ => &[],
        };
        for net in starts.iter().filter_map(|terminal| circuit.net_of(id, terminal)).filter(|n| !safe.contains(n)) {
            reached.extend(circuit.reach(net, |_| true, |n| safe.contains(&n)));
        }
    }
    reached.retain(|net| !safe.contains(net));
    reached
}

/// From the ends of every secondary, through what always conducts, as far as no capacitor or ground holds the net still.
pub(super) fn alternating(design: &Design, circuit: &Circuit, mains: &BTreeSet<NetId>) -> BTreeSet<NetId> {
    let mut found = BTreeSet::new();
    let filaments: BTreeSet<NetId> = design.ids().flat_map(|(id, _)| filament_legs(design, circuit, id)).collect();
    let still = |net: NetId| circuit.is_ground(net) || mains.contains(&net);
    for (id, part) in design.ids() {
        let Kind::Transformer(transformer) = &part.kind else { continue };
        for winding in &transformer.windings {
            for end in ["start", "centre", "finish"] {
                let terminal = format!("{}.{end}", winding.name.value);
                let Some(net) = circuit.net_of(id, &terminal) else { continue };
                // What heats a rectifier whose cathode it touches rides on the direct voltage.
                if filaments.contains(&net) {
                    continue;
                }
                // A grounded end stands still; so does the centre, against which both halves swing.
                if still(net) || end == "centre" {
                    continue;
                }
                let held = |n: NetId| holds_still(design, circuit, n);
                let passes = |l: &Link| {
                    matches!(l.conduction, Conduction::Resistive(_) | Conduction::Contact | Conduction::Capacitive)
                        && !held(l.from_net)
                        && !held(l.to_net)
                };
                found.extend(circuit.reach(net, passes, |n| still(n) || filaments.contains(&n)));
            }
        }
    }
    found.retain(|net| !still(*net) && !filaments.contains(net) && !holds_still(design, circuit, *net));
    found
}

/// What rides on the output of a rectifier that is its own filament, or whose cathode is joined to its heater inside: its
/// heater legs, and the winding between them with its centre. What is taken from there is taken from the cathode.
pub(super) fn filament_legs(design: &Design, circuit: &Circuit, id: PartId) -> BTreeSet<NetId> {
    let mut legs = BTreeSet::new();
    if let Kind::Tube(tube) = &design.part(id).kind
        && (tube.directly_heated() || tube.joined_cathode())
        && tube.sections.iter().any(|s| matches!(s.kind, SectionKind::Rectifier { .. }))
    {
        legs.extend(["heater.from", "heater.to"].into_iter().filter_map(|leg| circuit.net_of(id, leg)));
    }
    for (winding, part) in design.ids() {
        let Kind::Transformer(transformer) = &part.kind else { continue };
        for name in transformer.windings.iter().map(|winding| &winding.name.value) {
            let place = |end: &str| circuit.net_of(winding, &format!("{name}.{end}"));
            if ["start", "finish"].into_iter().filter_map(place).any(|net| legs.contains(&net)) {
                legs.extend(place("centre"));
            }
        }
    }
    legs
}

/// Whether ground, or a capacitor to ground that is more than a treble corner, keeps the net from following a winding.
/// Capacitors stacked upon each other, with nothing at their joints but what shares the voltage out, hold as one does.
pub(super) fn holds_still(design: &Design, circuit: &Circuit, net: NetId) -> bool {
    let filters = |link: &Link| {
        link.conduction == Conduction::Capacitive
            && matches!(&design.part(link.part).kind, Kind::Capacitor(c) if c.capacitance.value.0 >= FILTER_FARADS)
    };
    circuit.is_ground(net)
        || circuit
            .reach(net, filters, |other| !is_joint(circuit, other))
            .into_iter()
            .any(|other| circuit.is_ground(other))
}

/// Whether nothing but capacitors, resistors, rectifiers and windings meets at a net that is not ground: the joint of a stack
/// of capacitors, or the middle of a voltage doubler.
pub(super) fn is_joint(circuit: &Circuit, net: NetId) -> bool {
    let shares = |conduction: Conduction| {
        matches!(
            conduction,
            Conduction::Capacitive | Conduction::Resistive(_) | Conduction::Rectifying | Conduction::Inductive(_)
        )
    };
    !circuit.is_ground(net) && circuit.links(net).all(|link| shares(link.conduction))
}

pub(super) fn rails(design: &Design, circuit: &Circuit, outputs: &BTreeSet<NetId>) -> BTreeSet<NetId> {
    let mut rails = outputs.clone();
    let mut waiting: Vec<NetId> = outputs.iter().copied().collect();
    while let Some(net) = waiting.pop() {
        for link in circuit.links(net) {
            let other = link.other(net);
            let filter = match link.conduction {
                Conduction::Inductive(_) | Conduction::Contact => true,
                Conduction::Resistive(_) | Conduction::Heater(_) => is_filtered(design, circuit, other),
                _ => false,
            };
            let plain = !circuit.is_ground(other) && !has_electrode(design, circuit, other, "cathode");
            let winding = matches!(design.part(link.part).kind, Kind::Transformer(_) | Kind::OutputTransformer(_));
            if filter && plain && !winding && rails.insert(other) {
                waiting.push(other);
            }
        }
    }
    rails
}

/// A filter section: held still by a capacitor or by regulators, and no part of a grid circuit.
fn is_filtered(design: &Design, circuit: &Circuit, net: NetId) -> bool {
    !has_electrode(design, circuit, net, "grid")
        && (holds_still(design, circuit, net) || is_regulated(design, circuit, net))
}

/// Whether gas regulators or zeners alone, one upon another, stand between the net and ground.
fn is_regulated(design: &Design, circuit: &Circuit, net: NetId) -> bool {
    let regulates = |link: &Link| match &design.part(link.part).kind {
        Kind::Tube(tube) => tube.sections.iter().all(|section| section.kind == SectionKind::Regulator),
        Kind::Diode(diode) => matches!(diode.kind, DiodeKind::Zener(_)),
        _ => false,
    };
    circuit.reach(net, regulates, |_| false).into_iter().any(|reached| circuit.is_ground(reached))
}
