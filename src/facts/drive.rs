//! Facts of what a section is asked to do: how hard its input drives its grid, and how heavily its plate is loaded.

use std::collections::BTreeSet;

use crate::catalogue::SectionKind;
use crate::circuit::{Conduction, Link, NetId, electrode_name};
use crate::design::{Kind, PartId};
use crate::physics::{Drive, NodeId, tube_slopes};
use crate::source::Span;
use crate::units::Quantity;

use super::recorder::Recorder;
use super::small::{MIDDLE, Port, Small, ports};
use super::tubes::load_supply;
use super::{Sample, SubjectKind};

/// Up to this gain from the source no stage has amplified yet: a little above one for what is rounded.
const PASSIVE: f64 = 1.05;

pub(super) fn record(recorder: &mut Recorder<'_>, small: &[Small]) {
    let study = recorder.study;
    let inputs = ports(study, |kind| matches!(kind, Kind::Input(_)));
    for (id, part) in study.design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        for section in tube.sections.iter().filter(|s| matches!(s.kind, SectionKind::Triode | SectionKind::Pentode)) {
            let name = format!("{}{}", part.name, section.suffix);
            let Some(subject) = recorder.find(SubjectKind::Tube, &name) else { continue };
            let stage = Stage { id, suffix: &section.suffix };
            let driven: Vec<Sample> =
                small.iter().filter_map(|each| Some(each.sample(stage.drive(recorder, each, &inputs)?))).collect();
            if !driven.is_empty() {
                let origins = recorder.terminal_origin(id, &electrode_name(&section.suffix, "grid"));
                recorder.samples(subject, "grid-drive", driven, origins);
            }
            if let Some((held, span)) = stage.feed_held(recorder) {
                recorder.flag(subject, "feed-decoupled", held, span);
            }
            let loads: Vec<Sample> =
                small.iter().filter_map(|each| Some(each.sample(stage.load_ratio(recorder, each)?))).collect();
            if section.kind == SectionKind::Triode && !loads.is_empty() {
                let origins = recorder.terminal_origin(id, &electrode_name(&section.suffix, "plate"));
                recorder.samples(subject, "load-ratio", loads, origins);
            }
        }
    }
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

    /// What the plate sees with the tube itself left out, over the plate resistance.
    fn load_ratio(&self, recorder: &Recorder<'_>, small: &Small) -> Option<f64> {
        let study = recorder.study;
        let net = study.circuit.net_of(self.id, &electrode_name(self.suffix, "plate"))?;
        load_supply(study, net)?;
        // Sections side by side share their load: none of them sees it alone.
        if study.circuit.links(net).filter(|link| link.conduction == Conduction::Active).count() != 1 {
            return None;
        }
        let plate = self.node(recorder, small, "plate")?;
        if self.follows(recorder, small, plate) {
            return None;
        }
        let tube = small.lowered.element(self.id, self.suffix)?;
        let bare = small.linear.without(&[tube]).ok()?;
        let load = bare.impedance(plate, NodeId::GROUND, MIDDLE, &[]).ok()?.norm();
        let element = small.lowered.network.elements.get(tube.0)?;
        let slopes = tube_slopes(element, |node| small.point.voltage(node).base())?;
        let ratio = load * slopes.plate_conductance.base();
        ratio.is_finite().then_some(ratio)
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
