//! Facts of transistors: where they rest, and what they may bear.

use crate::circuit::NetId;
use crate::design::Kind;
use crate::physics::SteadyState;
use crate::units::Quantity;

use super::SubjectKind;
use super::recorder::Recorder;
use super::study::Solved;

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        let Kind::Transistor(transistor) = &part.kind else { continue };
        let subject = recorder.subject(SubjectKind::Transistor, &part.name, Some(id), part.name_span);
        let [main, control, common] = transistor.terminals();
        let net = |terminal: &str| study.circuit.net_of(id, terminal);
        let (main_net, control_net, common_net) = (net(main), net(control), net(common));
        let mean = |solved: &Solved, steady: &SteadyState, a: Option<NetId>, b: Option<NetId>| {
            Some(solved.mean(steady, a?)? - solved.mean(steady, b?)?)
        };
        let origins = recorder.terminal_origin(id, main);
        recorder.solved(subject, "main-voltage", &origins, |solved, steady| {
            let swing = solved.swing(steady, id, "")?.voltage;
            let larger = swing.maximum.abs() >= swing.minimum.abs();
            Some(if larger { swing.maximum } else { swing.minimum })
        });
        recorder.solved(subject, "main-current", &origins, |solved, steady| {
            Some(solved.swing(steady, id, "")?.current.mean)
        });
        recorder.solved(subject, "transistor-dissipation", &origins, |solved, steady| {
            Some((solved.swing(steady, id, "")?.current.mean * mean(solved, steady, main_net, common_net)?).abs())
        });
        let control_origins = recorder.terminal_origin(id, control);
        recorder.solved(subject, "control-voltage", &control_origins, |solved, steady| {
            mean(solved, steady, control_net, common_net)
        });
        let Some(entry) = study.devices.transistor(transistor.family, &transistor.device.value) else { continue };
        let limits = [
            ("main-voltage-limit", entry.limits.voltage.map(Quantity::base)),
            ("main-current-limit", entry.limits.current.map(Quantity::base)),
            ("control-voltage-limit", entry.limits.gate_voltage.map(Quantity::base)),
            ("transistor-dissipation-limit", entry.limits.dissipation.map(Quantity::base)),
        ];
        for (fact, value) in limits {
            if let Some(value) = value {
                recorder.quantity(subject, fact, value, transistor.device.span, "published limit");
            }
        }
    }
}
