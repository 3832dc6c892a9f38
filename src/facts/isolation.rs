//! Whether the mains side is kept apart from all that hands, signal cables and the chassis touch. Reads connections only;
//! knows nothing of voltages. Capacitors between the two have rules of their own.

use std::collections::BTreeSet;

use crate::circuit::{Conduction, Link, NetId};
use crate::design::{Kind, PartId};
use crate::units::Quantity;

use super::SubjectId;
use super::recorder::Recorder;
use super::study::Study;

/// A resistor from here on, Ω, may lead from the mains to earth, as in a filter (common practice).
const DISCHARGING_OHMS: f64 = 1e6;

pub(super) fn record(recorder: &mut Recorder<'_>, subject: SubjectId, inlet: PartId) {
    let study = recorder.study;
    let bridge = Mains::of(study, inlet).bridge();
    let span = study.design.part(bridge.unwrap_or(inlet)).name_span;
    recorder.flag(subject, "mains-apart", bridge.is_none(), span);
    if let Some(part) = bridge {
        recorder.word(subject, "mains-bridge", &study.design.part(part).name, span);
    }
}

struct Mains<'a> {
    study: &'a Study<'a>,
    inlet: PartId,
    /// What the inlet's pins, fuses, switches, filter chokes and primaries share.
    core: BTreeSet<NetId>,
}

impl<'a> Mains<'a> {
    fn of(study: &'a Study<'a>, inlet: PartId) -> Self {
        let circuit = study.circuit;
        let passes = |link: &Link| match study.design.part(link.part).kind {
            Kind::Fuse(_) | Kind::Switch(_) | Kind::Choke(_) => true,
            Kind::Transformer(_) => is_primary(study, link),
            _ => false,
        };
        let pins = ["live", "neutral"].into_iter().filter_map(|pin| circuit.net_of(inlet, pin));
        let mut core = BTreeSet::new();
        for pin in pins {
            core.extend(circuit.reach(pin, passes, |net| is_protective(study, net)));
        }
        Self { study, inlet, core }
    }

    /// The first part that joins the mains to the protective side, or to what stands behind the transformer.
    fn bridge(&self) -> Option<PartId> {
        let circuit = self.study.circuit;
        let pin_earthed = |pin: &str| circuit.net_of(self.inlet, pin).is_some_and(|net| is_protective(self.study, net));
        if pin_earthed("live") || pin_earthed("neutral") {
            return Some(self.inlet);
        }
        self.study.design.ids().map(|(id, _)| id).find(|id| *id != self.inlet && self.bridges(*id))
    }

    fn bridges(&self, id: PartId) -> bool {
        let (study, circuit) = (self.study, self.study.circuit);
        let part = study.design.part(id);
        let nets = |keep: &dyn Fn(&str) -> bool| -> Vec<NetId> {
            let kept = part.terminals.iter().filter(|terminal| keep(terminal));
            kept.filter_map(|terminal| circuit.net_of(id, terminal)).collect()
        };
        let all = nets(&|_| true);
        let on_mains = |nets: &[NetId]| nets.iter().any(|net| self.core.contains(net));
        let protective = |nets: &[NetId]| nets.iter().any(|net| is_protective(study, *net));
        match &part.kind {
            Kind::Capacitor(_) => false,
            Kind::Transformer(_) => {
                let primary = |terminal: &str| terminal.starts_with("primary.");
                let own = nets(&primary);
                (on_mains(&own) && protective(&own)) || on_mains(&nets(&|terminal| !primary(terminal)))
            }
            Kind::Fuse(_) | Kind::Switch(_) | Kind::Choke(_) => on_mains(&all) && protective(&all),
            Kind::Resistor(_) | Kind::Potentiometer(_) | Kind::Diode(_) => {
                let behind = all.iter().filter(|net| !self.core.contains(net));
                on_mains(&all) && behind.into_iter().any(|net| self.leads_out(id, *net))
            }
            _ => on_mains(&all),
        }
    }

    /// Whether direct current that left the mains through a part comes to earth, or to what stands behind the transformer.
    fn leads_out(&self, through: PartId, net: NetId) -> bool {
        let (study, circuit) = (self.study, self.study.circuit);
        let passes = |link: &Link| link.conduction.passes_direct_current() && link.part != through;
        let stops = |net: NetId| self.core.contains(&net) || is_protective(study, net);
        let reached = if stops(net) { BTreeSet::from([net]) } else { circuit.reach(net, passes, stops) };
        let small = match &study.design.part(through).kind {
            Kind::Resistor(resistor) => resistor.resistance.value.base() < DISCHARGING_OHMS,
            _ => true,
        };
        reached.iter().any(|net| {
            let behind = circuit.net(*net).terminals.iter().any(|(terminal, _)| self.is_behind(terminal));
            !self.core.contains(net) && (behind || (small && is_protective(study, *net)))
        })
    }

    fn is_behind(&self, terminal: &crate::design::TerminalId) -> bool {
        match self.study.design.part(terminal.part).kind {
            Kind::Transformer(_) => !terminal.name.starts_with("primary."),
            Kind::Tube(_) | Kind::Transistor(_) | Kind::OutputTransformer(_) | Kind::Input(_) | Kind::Output(_) => true,
            _ => false,
        }
    }
}

fn is_primary(study: &Study<'_>, link: &Link) -> bool {
    let ends = ["start", "centre", "finish"];
    let at =
        |net: NetId| ends.iter().any(|end| study.circuit.net_of(link.part, &format!("primary.{end}")) == Some(net));
    matches!(link.conduction, Conduction::Inductive(_)) && at(link.from_net) && at(link.to_net)
}

fn is_protective(study: &Study<'_>, net: NetId) -> bool {
    let named = |name: &str| study.circuit.named(name) == Some(net);
    study.circuit.is_ground(net) || named("chassis") || named("earth")
}
