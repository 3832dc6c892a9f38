//! Facts of the output transformer that an output hangs on: what it is wound for, and the direct current in its core.
//!
//! Knows nothing of signals.

use std::collections::BTreeSet;

use crate::catalogue::Section;
use crate::circuit::{Conduction, Link, NetId, electrode_name};
use crate::design::{Half, Kind, OutputTransformer, PartId};
use crate::units::{Ohms, Quantity};

use super::recorder::{Recorder, origin};
use super::study::Study;
use super::{State, SubjectId};

/// The output transformer of which a secondary ends at a net, and the impedance for which that one is wound.
pub(super) fn at<'d>(study: &Study<'d>, hot: NetId) -> Option<(PartId, &'d OutputTransformer, Ohms)> {
    study.design.ids().find_map(|(id, part)| {
        let Kind::OutputTransformer(transformer) = &part.kind else { return None };
        transformer.secondaries.iter().find_map(|(name, impedance, _)| {
            let end = |end: &str| study.circuit.net_of(id, &format!("{name}.{end}"));
            let ends = [end("start"), end("finish")];
            ends.contains(&Some(hot)).then_some((id, transformer, impedance.value))
        })
    })
}

/// The output transformer on a coil of which a plate works; none for a plate that a supply holds.
pub(super) fn worked_by(study: &Study<'_>, plate: NetId) -> Option<PartId> {
    let held = study.roles.returns.contains(&plate);
    let mut parts = study.circuit.net(plate).terminals.iter().map(|(terminal, _)| terminal.part).filter(|_| !held);
    parts.find(|part| matches!(study.design.part(*part).kind, Kind::OutputTransformer(_)))
}

/// The sections whose plates work on an output transformer: tube, section and plate.
pub(super) fn workers<'d>(study: &Study<'d>, on: PartId) -> Vec<(PartId, &'d Section, NetId)> {
    let mut found = Vec::new();
    for (id, part) in study.design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        for section in &tube.sections {
            let plate = study.circuit.net_of(id, &electrode_name(&section.suffix, "plate"));
            let used = !tube.unused.iter().any(|unused| unused.value == section.suffix);
            let works = |plate: &NetId| used && worked_by(study, *plate) == Some(on);
            found.extend(plate.filter(works).map(|plate| (id, section, plate)));
        }
    }
    found
}

/// Whether a screen hangs on the half of the primary that its own plate works; nothing where it hangs on no tap, or on
/// taps of both halves.
pub(super) fn screen_on_own_half(study: &Study<'_>, plate: NetId, screen: NetId) -> Option<bool> {
    let circuit = study.circuit;
    let passes = |link: &Link| matches!(link.conduction, Conduction::Resistive(_) | Conduction::Contact);
    let reached = |net| circuit.reach(net, passes, |other| study.roles.returns.contains(&other));
    let (near_plate, near_screen) = (reached(plate), reached(screen));
    study.design.ids().find_map(|(id, part)| {
        let Kind::OutputTransformer(transformer) = &part.kind else { return None };
        let at =
            |nets: &BTreeSet<NetId>, terminal: &str| circuit.net_of(id, terminal).is_some_and(|n| nets.contains(&n));
        let taps = transformer.taps.iter().enumerate().filter(|(_, (terminal, _))| at(&near_screen, terminal));
        let screens: BTreeSet<Half> = taps.filter_map(|(index, _)| transformer.half_of_tap(index)).collect();
        let ends = [("primary.start", Half::Start), ("primary.finish", Half::Finish)];
        let plates: BTreeSet<Half> =
            ends.into_iter().filter(|(end, _)| at(&near_plate, end)).map(|(_, half)| half).collect();
        (screens.len() == 1 && plates.len() == 1).then(|| screens == plates)
    })
}

/// Writes them for the output whose hot end is this net.
pub(super) fn record(recorder: &mut Recorder<'_>, subject: SubjectId, hot: NetId) {
    let Some((id, transformer, rated)) = at(recorder.study, hot) else { return };
    let span = recorder.study.design.part(id).name_span;
    recorder.quantity(subject, "matched-load", rated.base(), span, "rated here");
    if let Some(power) = &transformer.power {
        recorder.quantity(subject, "transformer-power", power.value.base(), power.span, "as stated");
    }
    if let Some(current) = &transformer.current {
        recorder.quantity(subject, "core-direct-current-limit", current.value.base(), current.span, "as stated");
    }
    // With a tube pulled one half of a pair stands alone, for as long as somebody works at it.
    recorder.solved(subject, "core-direct-current", &[origin(span, "magnetises its core")], |solved, steady| {
        let plays = matches!(solved.state, State::Running | State::HighMains | State::LowMains);
        plays.then(|| solved.swing(steady, id, "core").map(|swing| swing.current.mean))?
    });
}
