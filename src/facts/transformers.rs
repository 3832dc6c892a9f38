//! Facts of the output transformer that an output hangs on: what it is wound for, and the direct current in its core.
//!
//! Knows nothing of signals.

use crate::circuit::NetId;
use crate::design::{Kind, OutputTransformer, PartId};
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

/// Writes them for the output whose hot end is this net.
pub(super) fn record(recorder: &mut Recorder<'_>, subject: SubjectId, hot: NetId) {
    let Some((id, transformer, _)) = at(recorder.study, hot) else { return };
    let span = recorder.study.design.part(id).name_span;
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
