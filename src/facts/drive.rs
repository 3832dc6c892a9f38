//! Facts of what a section is asked to do: how hard its input drives its grid, and how heavily its plate is loaded.

use std::collections::BTreeSet;

use crate::catalogue::SectionKind;
use crate::circuit::{Conduction, Link, NetId, electrode_name};
use crate::design::{Kind, PartId};
use crate::physics::{Drive, NodeId, tube_slopes};
use crate::source::Span;
use crate::units::Quantity;

use super::recorder::Recorder;
use super::small::{MIDDLE, Port, Small, UNSOLVED, is_drawn_solved, ports};
use super::tubes::load_supply;
use super::{Sample, SubjectId, SubjectKind};

/// Up to this gain from the source no stage has amplified yet: a little above one for what is rounded.
const PASSIVE: f64 = 1.05;

pub(super) fn record(recorder: &mut Recorder<'_>, small: &[Small]) {
    let study = recorder.study;
    let inputs = ports(study, |kind| matches!(kind, Kind::Input(_)));
    for (id, part) in study.design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        for section in tube.sections.iter().filter(|s| matches!(s.kind, SectionKind::Triode | SectionKind::Pentode)) {
            if tube.unused.iter().any(|unused| unused.value == section.suffix) {
                continue;
            }
            let name = format!("{}{}", part.name, section.suffix);
            let Some(subject) = recorder.find(SubjectKind::Tube, &name) else { continue };
            let stage = Stage { id, suffix: &section.suffix };
            let driven: Vec<Sample> =
                small.iter().filter_map(|each| Some(each.sample(stage.drive(recorder, each, &inputs)?))).collect();
            let asked = inputs.iter().any(|port| states_level(recorder, port));
            if driven.is_empty() && asked && !is_drawn_solved(small) {
                recorder.failure(subject, "grid-drive", UNSOLVED);
            } else {
                let origins = recorder.terminal_origin(id, &electrode_name(&section.suffix, "grid"));
                recorder.samples(subject, "grid-drive", driven, origins);
            }
            if let Some((held, span)) = stage.feed_held(recorder) {
                recorder.flag(subject, "feed-decoupled", held, span);
            }
            let loads: Vec<Sample> =
                small.iter().filter_map(|each| Some(each.sample(stage.load_ratio(recorder, each)?))).collect();
            stage.plate_is_output(recorder, subject, small);
            if section.kind != SectionKind::Triode {
                continue;
            }
            if loads.is_empty() && !is_drawn_solved(small) && stage.has_own_load(recorder) {
                recorder.failure(subject, "load-ratio", UNSOLVED);
            } else {
                let origins = recorder.terminal_origin(id, &electrode_name(&section.suffix, "plate"));
                recorder.samples(subject, "load-ratio", loads, origins);
            }
        }
    }
}

fn states_level(recorder: &Recorder<'_>, port: &Port) -> bool {
    matches!(&recorder.study.design.part(port.id).kind, Kind::Input(input) if input.level.is_some())
}

fn is_plate(link: &Link, net: NetId) -> bool {
    link.conduction == Conduction::Active && link.from_net == net
}

struct Stage<'a> {
    id: PartId,
    suffix: &'a str,
}

impl Stage<'_> {
    fn node(&self, recorder: &Recorder<'_>, small: &Small, electrode: &str) -> Option<NodeId> {
        small.lowered.node(recorder.study.circuit.net_of(self.id, &electrode_name(self.suffix, electrode))?)
    }

    /// Crest between grid and cathode at the level of the input that drives it hardest, where nothing amplifies before.
    fn drive(&self, recorder: &Recorder<'_>, small: &Small, inputs: &[Port]) -> Option<f64> {
        let (grid, cathode) = (self.node(recorder, small, "grid")?, self.node(recorder, small, "cathode")?);
        if grid == NodeId::GROUND {
            return None;
        }
        let whole = small.linear.reach((grid, NodeId::GROUND), MIDDLE).ok()?;
        let across = small.linear.reach((grid, cathode), MIDDLE).ok()?;
        let crests = inputs.iter().filter_map(|port| {
            let Kind::Input(input) = &recorder.study.design.part(port.id).kind else { return None };
            let level = input.level.as_ref()?.value.base();
            let element = small.lowered.element(port.id, "")?;
            let own = across.of_emf(element).norm();
            let passive = whole.of_emf(element).norm() <= PASSIVE && own.is_finite();
            passive.then_some(level * std::f64::consts::SQRT_2 * own)
        });
        crests.reduce(f64::max)
    }

    /// Whether the net behind the plate resistor is held still, and where that resistor stands; nothing where the net
    /// feeds this plate alone: then the resistors are one load.
    fn feed_held(&self, recorder: &Recorder<'_>) -> Option<(bool, Span)> {
        let study = recorder.study;
        let (circuit, roles) = (study.circuit, study.roles);
        let plates = |net: NetId| -> BTreeSet<NetId> {
            let near = circuit.links(net).filter(|link| matches!(link.conduction, Conduction::Resistive(_)));
            near.map(|link| link.other(net)).filter(|net| circuit.links(*net).any(|l| is_plate(l, *net))).collect()
        };
        let plate = circuit.net_of(self.id, &electrode_name(self.suffix, "plate"))?;
        load_supply(study, plate)?;
        let resistors = circuit.links(plate).filter(|link| matches!(link.conduction, Conduction::Resistive(_)));
        let mut feeds = resistors.map(|link| (link.other(plate), study.design.part(link.part).name_span));
        feeds.find_map(|(net, span)| {
            if roles.rails.contains(&net) {
                return Some((true, span));
            }
            // One section speaks for all that share the net.
            let sharing = plates(net);
            let speaks = !circuit.is_ground(net) && sharing.len() > 1 && sharing.first() == Some(&plate);
            speaks.then_some((false, span))
        })
    }

    /// Whether a resistor feeds its plate, and its plate alone: sections side by side share their load, and none of them
    /// sees it alone.
    fn has_own_load(&self, recorder: &Recorder<'_>) -> bool {
        let study = recorder.study;
        let plate = study.circuit.net_of(self.id, &electrode_name(self.suffix, "plate"));
        let active = |net| study.circuit.links(net).filter(|link| link.conduction == Conduction::Active).count();
        plate.is_some_and(|net| load_supply(study, net).is_some() && active(net) == 1)
    }

    /// What the plate sees with the tube itself left out, over the plate resistance.
    fn load_ratio(&self, recorder: &Recorder<'_>, small: &Small) -> Option<f64> {
        if !self.has_own_load(recorder) {
            return None;
        }
        if !self.gives_at_plate(recorder, small)? {
            return None;
        }
        let plate = self.node(recorder, small, "plate")?;
        let tube = small.lowered.element(self.id, self.suffix)?;
        let bare = small.linear.without(&[tube]).ok()?;
        let load = bare.impedance(plate, NodeId::GROUND, MIDDLE, &[]).ok()?.norm();
        let element = small.lowered.network.elements.get(tube.0)?;
        let slopes = tube_slopes(element, |node| small.point.voltage(node).base())?;
        let ratio = load * slopes.plate_conductance.base();
        ratio.is_finite().then_some(ratio)
    }

    /// Tells of a plate that a resistor feeds whether that resistor is a load.
    fn plate_is_output(&self, recorder: &mut Recorder<'_>, subject: SubjectId, small: &[Small]) {
        let study = recorder.study;
        let electrode = electrode_name(self.suffix, "plate");
        let Some(plate) = study.circuit.net_of(self.id, &electrode) else { return };
        if load_supply(study, plate).is_none() {
            return;
        }
        let drawn = small.iter().find(|each| each.lineup == 0);
        let gives = |drawn| Some(self.gives_at_plate(recorder, drawn)? || self.drives_from_plate(recorder, plate));
        match drawn.and_then(gives) {
            Some(gives) => {
                let span = study.circuit.joined_at(self.id, &electrode).unwrap_or(study.design.part(self.id).name_span);
                recorder.flag(subject, "plate-is-output", gives, span);
            }
            None => recorder.failure(subject, "plate-is-output", UNSOLVED),
        }
    }

    fn gives_at_plate(&self, recorder: &Recorder<'_>, small: &Small) -> Option<bool> {
        let circuit = recorder.study.circuit;
        let net = circuit.net_of(self.id, &electrode_name(self.suffix, "plate"))?;
        let plate = self.node(recorder, small, "plate")?;
        let is_tube = |part| matches!(recorder.study.design.part(part).kind, Kind::Tube(_));
        let feeds_cathode =
            circuit.links(net).any(|l| l.conduction == Conduction::Active && l.to_net == net && is_tube(l.part));
        Some(!feeds_cathode && !self.follows(recorder, small, plate))
    }

    /// Whether its plate drives a grid or an output besides, as that of a phase splitter does: not the grid of the section
    /// below it, as in a follower that is driven at both ends.
    fn drives_from_plate(&self, recorder: &Recorder<'_>, plate: NetId) -> bool {
        let study = recorder.study;
        let (circuit, returns) = (study.circuit, &study.roles.returns);
        let cathode = circuit.net_of(self.id, &electrode_name(self.suffix, "cathode"));
        let own = electrode_name(self.suffix, "grid");
        let below = |link: &Link| {
            let plates = circuit.all_links().filter(|l| l.part == link.part && l.to == link.to);
            plates.filter(|l| l.conduction == Conduction::Active).any(|l| Some(l.from_net) == cathode)
        };
        let signal = |link: &Link| matches!(link.conduction, Conduction::Resistive(_) | Conduction::Capacitive);
        let reached = circuit.reach(plate, signal, |net| returns.contains(&net));
        let mut links = reached.iter().filter(|net| !returns.contains(net)).flat_map(|net| circuit.links(*net));
        links.any(|link| match link.conduction {
            Conduction::Control => (link.part != self.id || link.from != own) && !below(link),
            Conduction::Port => matches!(study.design.part(link.part).kind, Kind::Output(_)),
            _ => false,
        })
    }

    /// Whether its cathode carries more of its grid's signal than its plate: the resistor at such a plate is no load.
    fn follows(&self, recorder: &Recorder<'_>, small: &Small, plate: NodeId) -> bool {
        let carried = |to: NodeId| {
            let grid = self.node(recorder, small, "grid").filter(|grid| *grid != NodeId::GROUND)?;
            let drive = Drive::Between { plus: grid, minus: NodeId::GROUND };
            Some(small.linear.transfer(drive, (to, NodeId::GROUND), MIDDLE).ok()?.norm())
        };
        let cathode = self.node(recorder, small, "cathode").filter(|cathode| *cathode != NodeId::GROUND);
        cathode.and_then(carried) > carried(plate)
    }
}
