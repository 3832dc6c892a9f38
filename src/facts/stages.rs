//! What the supply brings to each stage: the ripple of the rail that feeds its plate load.

use crate::catalogue::SectionKind;
use crate::circuit::{Conduction, electrode_name};
use crate::design::{Kind, PartId};

use super::SubjectKind;
use super::recorder::{Recorder, origin};

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        for section in &tube.sections {
            let left_out = tube.unused.iter().any(|unused| unused.value == section.suffix);
            if !left_out && matches!(section.kind, SectionKind::Triode | SectionKind::Pentode) {
                one(recorder, id, &part.name, &section.suffix);
            }
        }
    }
}

fn one(recorder: &mut Recorder<'_>, id: PartId, part: &str, suffix: &str) {
    let study = recorder.study;
    let Some(plate) = study.circuit.net_of(id, &electrode_name(suffix, "plate")) else { return };
    // A plate that stands on a rail, as a follower's does, has no load there: a resistor to the rail before filters the rail.
    if study.roles.rails.contains(&plate) {
        return;
    }
    let load = study.circuit.links(plate).find(|link| {
        matches!(link.conduction, Conduction::Resistive(_)) && study.roles.rails.contains(&link.other(plate))
    });
    let Some(load) = load else { return };
    let rail = load.other(plate);
    let name = format!("{part}{suffix}");
    let kind = |subject: &super::SubjectId| {
        recorder.table.subject(*subject).is_some_and(|subject| subject.kind == SubjectKind::Tube)
    };
    let Some(subject) = recorder.table.named(&name).find(kind) else { return };
    let joined = study.circuit.net(rail).span;
    let origins = [origin(study.design.part(load.part).name_span, "its plate load"), origin(joined, "this rail")];
    recorder.solved(subject, "supply-ripple", &origins, |solved, steady| {
        let node = solved.lowered.node(rail)?;
        Some(steady.nodes.get(node.0)?.peak_to_peak())
    });
}
