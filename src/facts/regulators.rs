//! Facts of gas regulators: what they pass, whether they strike, what stands beside them.

use crate::catalogue::{RegulatorLimits, SectionKind};
use crate::circuit::electrode_name;
use crate::design::{Kind, PartId, Tube};
use crate::units::Quantity;

use super::lowering::sections_in;
use super::recorder::Recorder;
use super::study::Study;
use super::{State, SubjectId, SubjectKind, Value};

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        for section in tube.sections.iter().filter(|section| section.kind == SectionKind::Regulator) {
            one(recorder, id, tube, &section.suffix);
        }
    }
}

fn one(recorder: &mut Recorder<'_>, id: PartId, tube: &Tube, suffix: &str) {
    let study = recorder.study;
    let part = study.design.part(id);
    let name = format!("{}{suffix}", part.name);
    let subject = recorder.subject(SubjectKind::Regulator, &name, Some(id), part.name_span);
    let (anode, cathode) = (electrode_name(suffix, "anode"), electrode_name(suffix, "cathode"));
    super::resistors::shorted(recorder, subject, id, &anode, &cathode);
    limits(recorder, subject, id, tube);
    let origins = recorder.terminal_origin(id, &anode);
    // The element is a breakdown: its anode is the regulator's cathode, so that everything counts the other way.
    recorder.solved(subject, "regulator-current", &origins, |solved, steady| {
        Some((-solved.swing(steady, id, suffix)?.current.minimum).max(0.0))
    });
    recorder.solved(subject, "least-regulator-current", &origins, |solved, steady| {
        // While the tubes are cold or pulled it takes more; what counts is the load that it is there for.
        let warm = matches!(solved.state, State::Running | State::HighMains | State::LowMains);
        let swing = solved.swing(steady, id, suffix).filter(|_| warm)?;
        Some((-swing.current.maximum).max(0.0))
    });
    recorder.solved(subject, "held-voltage", &origins, |solved, steady| {
        Some(-solved.swing(steady, id, suffix)?.voltage.mean)
    });
    let ends = (study.circuit.net_of(id, &anode), study.circuit.net_of(id, &cathode));
    let (Some(anode), Some(cathode)) = ends else { return };
    let pulled = |solved: &super::study::Solved, steady: &crate::physics::SteadyState| {
        if solved.empty != Some(id) {
            return None;
        }
        Some(solved.mean(steady, anode)? - solved.mean(steady, cathode)?)
    };
    recorder.solved(subject, "open-voltage", &origins, pulled);
    let open = study.solved.iter().filter(|solved| solved.lineup == 0).find_map(|solved| {
        let steady = solved.steady.as_ref().ok()?;
        pulled(solved, steady)
    });
    let asked = limits_in(study, id, tube, 0).and_then(|limits| limits.least_supply);
    if let (Some(open), Some(asked)) = (open, asked) {
        recorder.flag(subject, "struck", open >= asked.base(), part.name_span);
    }
    let mut beside = 0.0;
    let mut place = part.name_span;
    for (other, capacitor_part) in study.design.ids() {
        let Kind::Capacitor(capacitor) = &capacitor_part.kind else { continue };
        let (plus, minus) = super::capacitors::terminals(capacitor);
        let nets = (study.circuit.net_of(other, plus), study.circuit.net_of(other, minus));
        if nets == (Some(anode), Some(cathode)) || nets == (Some(cathode), Some(anode)) {
            beside += capacitor.capacitance.value.base();
            place = capacitor.capacitance.span;
        }
    }
    recorder.quantity(subject, "capacitance-beside", beside, place, "straight across it");
}

fn limits_in(study: &Study<'_>, id: PartId, tube: &Tube, lineup: usize) -> Option<RegulatorLimits> {
    let sections = sections_in(study.devices, study.design.part(id), tube, study.lineups.get(lineup)?);
    sections.into_iter().find_map(|section| section.regulator)
}

fn limits(recorder: &mut Recorder<'_>, subject: SubjectId, id: PartId, tube: &Tube) {
    let study = recorder.study;
    let span = tube.device.span;
    let mut published = |fact: &str, pick: &dyn Fn(&RegulatorLimits) -> Option<f64>| {
        recorder.by_lineup(subject, fact, span, "published limit", |lineup| {
            Some(Value::Quantity(pick(&limits_in(study, id, tube, lineup)?)?))
        });
    };
    published("regulator-current-limit", &|l| l.largest_current.map(Quantity::base));
    published("least-regulator-current-limit", &|l| l.least_current.map(Quantity::base));
    published("least-supply-limit", &|l| l.least_supply.map(Quantity::base));
    published("capacitance-beside-limit", &|l| l.largest_capacitor.map(Quantity::base));
}
