//! Facts of inputs and outputs: the direct voltage that stands there.

use crate::design::Kind;
use crate::units::Quantity;

use super::SubjectKind;
use super::recorder::Recorder;

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        let kind = match part.kind {
            Kind::Input(_) => SubjectKind::Input,
            Kind::Output(_) => SubjectKind::Output,
            _ => continue,
        };
        let subject = recorder.subject(kind, &part.name, Some(id), part.name_span);
        super::resistors::shorted(recorder, subject, id, "hot", "cold");
        recorder.flag(subject, "carries-signal", true, part.name_span);
        if let Kind::Input(input) = &part.kind
            && let Some(source) = &input.source
        {
            recorder.quantity(subject, "source-resistance", source.value.base(), source.span, "as stated");
        }
        let hot = study.circuit.net_of(id, "hot");
        let cold = study.circuit.net_of(id, "cold").or_else(|| study.circuit.ground());
        let origins = recorder.terminal_origin(id, "hot");
        let (Some(hot), Some(cold)) = (hot, cold) else { continue };
        if kind == SubjectKind::Output {
            super::transformers::record(recorder, subject, hot);
        }
        recorder.solved(subject, "direct-voltage", &origins, |solved, steady| {
            Some(solved.mean(steady, hot)? - solved.mean(steady, cold)?)
        });
        // No direct current flows round a winding and what is plugged into it.
        let balanced = |net| study.roles.is_balanced_line(study.design, study.circuit, net);
        if balanced(hot) && balanced(cold) {
            recorder.quantity(subject, "direct-voltage", 0.0, part.name_span, "across a winding");
            continue;
        }
        let running = study.drawn(super::State::Running);
        let floats = running.is_some_and(|solved| {
            solved.steady.as_ref().is_ok_and(|s| solved.mean(s, hot).is_none() || solved.mean(s, cold).is_none())
        });
        if floats {
            recorder.failure(subject, "direct-voltage", "nothing fixes the potential at one of its ends");
        }
    }
}
