//! The corner of each capacitor with the resistance that it really sees, and of each grid stopper.
//!
//! The resistance is the real part of the impedance between the capacitor's terminals with the capacitor taken out, at
//! the corner itself: other capacitors stand as what they are there, neither short nor open.

use crate::catalogue::{Section, SectionKind};
use crate::circuit::electrode_name;
use crate::design::{Capacitor, Kind, PartId};
use crate::physics::NodeId;
use crate::units::{Hertz, Quantity};

use super::lowering::sections_in;
use super::recorder::Recorder;
use super::small::{Small, UNSOLVED, is_drawn_solved};
use super::{Origin, Sample, State, SubjectId, SubjectKind, Value};

const ROUNDS: usize = 40;

pub(super) fn record(recorder: &mut Recorder<'_>, small: &[Small]) {
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        let Kind::Capacitor(capacitor) = &part.kind else { continue };
        let Some(subject) = recorder.find(SubjectKind::Capacitor, &part.name) else { continue };
        capacitor_corner(recorder, subject, id, capacitor, small);
    }
    for (id, part) in study.design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        for section in &tube.sections {
            if matches!(section.kind, SectionKind::Triode | SectionKind::Pentode) {
                let name = format!("{}{}", part.name, section.suffix);
                if let Some(subject) = recorder.find(SubjectKind::Tube, &name) {
                    stopper_corner(recorder, subject, id, &section.suffix, small);
                }
            }
        }
    }
}

fn capacitor_corner(
    recorder: &mut Recorder<'_>,
    subject: SubjectId,
    id: PartId,
    capacitor: &Capacitor,
    small: &[Small],
) {
    let (plus, minus) = super::capacitors::terminals(capacitor);
    let circuit = recorder.study.circuit;
    let (Some(from), Some(to)) = (circuit.net_of(id, plus), circuit.net_of(id, minus)) else { return };
    let farads = capacitor.capacitance.value.base();
    let mut seen = Vec::new();
    let mut corners = Vec::new();
    let mut reason = None;
    for each in small {
        let (Some(a), Some(b)) = (each.lowered.node(from), each.lowered.node(to)) else { continue };
        let Some(element) = each.lowered.element(id, "") else { continue };
        let impedance = |hertz: f64| {
            let found = each.linear.impedance(a, b, Hertz(hertz), &[element]);
            found.map(|z| z.re).map_err(|error| error.to_string())
        };
        match own_corner(farads, impedance) {
            Ok((ohms, hertz)) => {
                let sample = |value| Sample {
                    state: Some(State::Running),
                    lineup: each.lineup,
                    empty_socket: None,
                    value: Value::Quantity(value),
                };
                seen.push(sample(ohms));
                corners.push(sample(hertz));
            }
            Err(error) => reason = Some(error),
        }
    }
    let origins: Vec<Origin> = vec![super::recorder::origin(capacitor.capacitance.span, "its capacitance")];
    match reason {
        Some(reason) if corners.is_empty() => {
            recorder.failure(subject, "corner-frequency", &format!("no resistance could be computed: {reason}"));
        }
        None if corners.is_empty() && !is_drawn_solved(small) => {
            recorder.failure(subject, "corner-frequency", UNSOLVED)
        }
        _ => {
            recorder.samples(subject, "corner-resistance", seen, origins.clone());
            recorder.samples(subject, "corner-frequency", corners, origins);
        }
    }
}

/// The frequency at which a capacitor's reactance equals the resistance that it sees there.
fn own_corner(farads: f64, resistance: impl Fn(f64) -> Result<f64, String>) -> Result<(f64, f64), String> {
    let mut hertz = 100.0;
    let mut ohms = 0.0;
    for _ in 0..ROUNDS {
        ohms = resistance(hertz)?;
        if !ohms.is_finite() || ohms <= 0.0 {
            return Err("the resistance that it sees is not positive".to_owned());
        }
        let next: f64 = 1.0 / (2.0 * std::f64::consts::PI * ohms * farads);
        let settled = (next / hertz - 1.0).abs() < 1e-6;
        // Half the way in the logarithm: the resistance may itself change steeply with frequency.
        hertz = if settled { next } else { (next * hertz).sqrt() };
        if settled {
            return Ok((ohms, hertz));
        }
    }
    let wanted = 1.0 / (2.0 * std::f64::consts::PI * ohms * farads);
    if (wanted / hertz - 1.0).abs() < 0.02 { Ok((ohms, wanted)) } else { Err("its corner would not settle".to_owned()) }
}

/// Corner of the stopper with the input capacitance: grid to cathode, and grid to plate times one plus the gain.
fn stopper_corner(recorder: &mut Recorder<'_>, subject: SubjectId, id: PartId, suffix: &str, small: &[Small]) {
    let study = recorder.study;
    let part = study.design.part(id);
    let Kind::Tube(tube) = &part.kind else { return };
    let circuit = study.circuit;
    let net = |electrode: &str| circuit.net_of(id, &electrode_name(suffix, electrode));
    let (Some(plate), Some(grid), Some(cathode)) = (net("plate"), net("grid"), net("cathode")) else { return };
    let Some(ohms) = recorder.table.value(subject, "grid-stopper", 0, None).and_then(Value::number) else { return };
    if ohms <= 0.0 {
        return;
    }
    let mut samples = Vec::new();
    for each in small {
        let sections = study.lineups.get(each.lineup).map(|lineup| sections_in(study.devices, part, tube, lineup));
        let section = sections.and_then(|all| all.into_iter().find(|section| section.suffix == suffix));
        let Some(section) = section else { continue };
        let (Some(input), Some(feedback)) = (section.input_capacitance, section.grid_plate_capacitance) else {
            continue;
        };
        let node = |net| each.lowered.node(net);
        let (Some(plate), Some(grid), Some(cathode)) = (node(plate), node(grid), node(cathode)) else { continue };
        let gain = |output: NodeId| {
            let drive = crate::physics::Drive::Between { plus: grid, minus: NodeId::GROUND };
            each.linear.transfer(drive, (output, NodeId::GROUND), Hertz(1000.0)).map(|ratio| ratio.re)
        };
        let (Ok(to_plate), Ok(to_cathode)) = (gain(plate), gain(cathode)) else { continue };
        let farads = input.base() * (1.0 - to_cathode) + feedback.base() * (1.0 - to_plate);
        // Where feedback makes the electrodes follow the grid and more, there is nothing to load the stopper.
        if farads <= 0.0 {
            continue;
        }
        samples.push(Sample {
            state: Some(State::Running),
            lineup: each.lineup,
            empty_socket: None,
            value: Value::Quantity(1.0 / (2.0 * std::f64::consts::PI * ohms * farads)),
        });
    }
    let drawn = tube.sections.iter().find(|section| section.suffix == suffix);
    let published = |section: &Section| section.input_capacitance.is_some() && section.grid_plate_capacitance.is_some();
    if !is_drawn_solved(small) && drawn.is_some_and(published) {
        recorder.failure(subject, "grid-stopper-corner", UNSOLVED);
        return;
    }
    let origins = recorder.terminal_origin(id, &electrode_name(suffix, "grid"));
    recorder.samples(subject, "grid-stopper-corner", samples, origins);
}
