//! Facts of nets, terminals and wires: what meets where, what leads nowhere, what nothing holds.

use crate::circuit::{Conduction, Net, NetId, electrode_name};
use crate::design::{Design, Kind, PartId, TerminalId};
use crate::source::Span;
use crate::units::Quantity;

use super::recorder::{Recorder, origin};
use super::{State, SubjectKind, Value};

/// Tolerance of a reading that states none (common practice: schematics print voltages to about a fifth).
const READING_TOLERANCE: f64 = 0.2;

const RESERVED: [&str; 3] = ["ground", "chassis", "earth"];

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for index in 0..study.circuit.nets.len() {
        net(recorder, NetId(index));
    }
    for (id, part) in study.design.ids() {
        for terminal in &part.terminals {
            self::terminal(recorder, id, terminal);
        }
    }
    for (wire, joins) in study.design.wires.iter().zip(&study.circuit.wire_joins) {
        let name = wire.ends.iter().map(|end| describe(recorder, &end.value)).collect::<Vec<_>>().join(" ");
        let subject = recorder.subject(SubjectKind::Wire, &format!("wire {name}"), None, wire.span);
        recorder.flag(subject, "repeats", !joins, wire.span);
    }
    readings(recorder);
}

fn describe(recorder: &Recorder<'_>, reference: &crate::design::Reference) -> String {
    match reference {
        crate::design::Reference::Net(name) => name.clone(),
        crate::design::Reference::Terminal(terminal) => recorder.study.design.terminal_label(terminal),
    }
}

/// Where a net is dangling, if it is: one terminal only, or a name that nothing else uses.
fn loose_end(recorder: &Recorder<'_>, net: &Net) -> Option<Span> {
    let design = recorder.study.design;
    let filament = |terminal: &TerminalId| terminal.name == "cathode" && leads_out_by_heater(recorder, terminal.part);
    let reserved = net.names.iter().any(|(name, ..)| RESERVED.contains(&name.as_str()));
    if net.terminals.len() < 2 {
        let exempt = reserved || net.terminals.iter().any(|(terminal, _)| filament(terminal));
        return (!exempt).then(|| named_at_fit(design, net).unwrap_or(net.span));
    }
    // A name used once, and only by a wire, joins nothing: it is often a slip of spelling.
    let lonely = net.names.iter().find(|(name, uses, _)| *uses == 1 && !RESERVED.contains(&name.as_str()));
    lonely.filter(|_| net.names.len() > 1).map(|(_, _, span)| *span)
}

/// Whether the heater legs of a tube lead its cathode out: a filament, or a cathode joined to its heater inside, whose legs
/// meet more than windings and heaters.
fn leads_out_by_heater(recorder: &Recorder<'_>, part: PartId) -> bool {
    let study = recorder.study;
    let Kind::Tube(tube) = &study.design.part(part).kind else { return false };
    let heats = |terminal: &TerminalId| match study.design.part(terminal.part).kind {
        Kind::Transformer(_) => true,
        Kind::Tube(_) => terminal.name.starts_with("heater."),
        _ => false,
    };
    let leg = |name: &str| study.circuit.net_of(part, name).map(|net| study.circuit.net(net));
    (tube.directly_heated() || tube.joined_cathode())
        && ["heater.from", "heater.to"].into_iter().filter_map(leg).any(|net| {
            net.names.iter().any(|(name, ..)| RESERVED.contains(&name.as_str()))
                || net.terminals.iter().any(|(terminal, _)| !heats(terminal))
        })
}

/// Where a copy of a stage is given a net of that name: inside the stage only the port's own name stands.
fn named_at_fit(design: &Design, net: &Net) -> Option<Span> {
    let (terminal, _) = net.terminals.first()?;
    let part = design.part(terminal.part);
    let (copy, _) = part.name.rsplit_once('.')?;
    let inside = net.names.iter().any(|(name, ..)| name.starts_with(copy));
    if inside { None } else { part.copied_by.last().copied() }
}

fn net(recorder: &mut Recorder<'_>, id: NetId) {
    let study = recorder.study;
    let net = study.circuit.net(id);
    let loose = loose_end(recorder, net);
    let span = loose.unwrap_or(net.span);
    let subject = recorder.subject(SubjectKind::Net, &net.name, None, span);
    let count = u32::try_from(net.terminals.len()).map_or(0.0, f64::from);
    recorder.quantity(subject, "connections", count, span, "as connected");
    recorder.flag(subject, "dangling", loose.is_some(), span);
    let on_mains = study.roles.mains_side.contains(&id);
    recorder.flag(subject, "on-mains", on_mains, span);
    if on_mains {
        return;
    }
    let fixed = study.roles.fixed.contains(&id) || protective(recorder, net);
    recorder.flag(subject, "dc-path-to-ground", fixed, span);
    recorder.flag(subject, "floats", !fixed && leads_its_island(recorder, id), span);
    let origins = [origin(net.span, "this net")];
    recorder.solved(subject, "voltage", &origins, |solved, steady| solved.mean(steady, id));
    recorder.solved(subject, "ripple", &origins, |solved, steady| {
        solved.mean(steady, id)?;
        let node = solved.lowered.node(id)?;
        Some(steady.nodes.get(node.0)?.peak_to_peak())
    });
    if !fixed {
        recorder.failure(subject, "voltage", "nothing fixes the potential of this net");
        recorder.failure(subject, "ripple", "nothing fixes the potential of this net");
    }
}

/// Whether a net that nothing fixes is the one to speak for all that float with it.
fn leads_its_island(recorder: &Recorder<'_>, id: NetId) -> bool {
    let (design, circuit) = (recorder.study.design, recorder.study.circuit);
    if recorder.study.roles.is_balanced_line(design, circuit, id) {
        return false;
    }
    let island = circuit.reach(id, |link| link.conduction.passes_direct_current(), |_| false);
    let spoken_for = island
        .iter()
        .flat_map(|net| circuit.links(*net))
        .any(|link| matches!(link.conduction, Conduction::Control | Conduction::Heater(_)));
    !spoken_for && island.first() == Some(&id)
}

/// Chassis and earth are held by the building, and are not asked for a path to 0 V here: `mains/earth` does.
fn protective(recorder: &Recorder<'_>, net: &Net) -> bool {
    net.names.iter().any(|(name, ..)| name == "chassis" || name == "earth")
        || net.terminals.iter().any(|(terminal, _)| {
            matches!(recorder.study.design.part(terminal.part).kind, Kind::Inlet(_)) && terminal.name == "earth"
        })
}

fn terminal(recorder: &mut Recorder<'_>, part: PartId, name: &str) {
    let study = recorder.study;
    let id = TerminalId { part, name: name.to_owned() };
    let label = study.design.terminal_label(&id);
    let Some(net) = study.circuit.net_of(part, name) else {
        loose_terminal(recorder, part, name, &label);
        return;
    };
    let span = study.circuit.joined_at(part, name).unwrap_or(study.design.part(part).name_span);
    let subject = recorder.subject(SubjectKind::Terminal, &label, Some(part), span);
    recorder.flag(subject, "dangling", false, span);
    if study.roles.mains_side.contains(&net) {
        return;
    }
    recorder.solved(subject, "voltage", &[origin(span, "joined here")], |solved, steady| solved.mean(steady, net));
}

/// A terminal that nothing is joined to: of a tube it is an electrode in the air; other parts may leave some open.
fn loose_terminal(recorder: &mut Recorder<'_>, part: PartId, name: &str, label: &str) {
    let design = recorder.study.design;
    let owner = design.part(part);
    let needed = match &owner.kind {
        Kind::Tube(tube) => {
            // A stage drawn by itself may leave its heaters out; a design with a transformer may not.
            let mains = design.parts.iter().any(|part| matches!(part.kind, Kind::Transformer(_)));
            let heater = name.starts_with("heater.");
            name != "heater.tap" && (!heater || mains) && !in_idle_section(recorder, part, tube, name)
        }
        Kind::Bridge(_) | Kind::Transistor(_) => true,
        _ => false,
    };
    if needed {
        let subject = recorder.subject(SubjectKind::Terminal, label, Some(part), owner.name_span);
        recorder.flag(subject, "dangling", true, owner.name_span);
    }
}

/// Whether a terminal belongs to a section of which nothing is joined: `tube/unused-section` speaks of that.
fn in_idle_section(recorder: &Recorder<'_>, part: PartId, tube: &crate::design::Tube, terminal: &str) -> bool {
    let joined = |name: &str| recorder.study.circuit.net_of(part, name).is_some();
    tube.sections.iter().filter(|section| !section.suffix.is_empty()).any(|section| {
        let names: Vec<String> = section.kind.electrodes().iter().map(|e| electrode_name(&section.suffix, e)).collect();
        names.iter().any(|name| name == terminal) && !names.iter().any(|name| joined(name))
    })
}

fn readings(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for reading in &study.design.readings {
        let name = describe(recorder, &reading.at.value);
        let subject = recorder.subject(SubjectKind::Reading, &name, None, reading.voltage.span);
        recorder.quantity(
            subject,
            "stated-voltage",
            reading.voltage.value.base(),
            reading.voltage.span,
            "printed or measured",
        );
        let share = reading.tolerance.map_or(READING_TOLERANCE, Quantity::base);
        recorder.quantity(subject, "allowed-difference", share, reading.span, "of the reading");
        let net = match &reading.at.value {
            crate::design::Reference::Net(name) => study.circuit.named(name),
            crate::design::Reference::Terminal(terminal) => study.circuit.net_of(terminal.part, &terminal.name),
        };
        let volts = net.and_then(|net| {
            let running = study.drawn(State::Running)?;
            running.mean(running.steady.as_ref().ok()?, net)
        });
        match volts {
            Some(volts) => recorder.in_state(
                subject,
                "computed-voltage",
                State::Running,
                Value::Quantity(volts),
                vec![origin(reading.at.span, "read here")],
            ),
            None => recorder.failure(subject, "computed-voltage", "the voltage there could not be computed"),
        }
    }
}
