//! Hum at each output: the ripple of the supply that reaches it, and an estimate of what leaks from heaters.

use crate::catalogue::SectionKind;
use crate::circuit::{NetId, electrode_name};
use crate::design::Kind;
use crate::physics::{Complex, Element, ElementId, NodeId, OperatingPoint, SteadyState, linearise};
use crate::units::{Farads, Hertz, Ohms, Volts};
use std::collections::BTreeSet;
use std::f64::consts::TAU;

use super::memory::HumProblem;
use super::recorder::Recorder;
use super::small::{Port, Small, assumptions, ports};
use super::study::{Solved, Study};
use super::{State, SubjectKind};

/// Harmonics of the mains that are counted.
const HARMONICS: usize = 20;
/// Leakage resistance between a hot heater and its cathode, Ω. Data sheets allow some megohms at the end of life; fresh
/// tubes show a hundred.
const LEAKAGE: f64 = 20e6;
/// Share of the heater voltage by which the two ends of a heater leak unequally.
const UNEQUAL: f64 = 0.05;

pub(super) fn record(recorder: &mut Recorder<'_>, small: &[Small]) {
    let study = recorder.study;
    let assumed = assumptions(study);
    let mut guessed = assumed.clone();
    guessed.push("each heater taken to leak into its cathode through 20 MΩ, its ends unequally by 5 %".to_owned());
    let outputs = ports(study, |kind| matches!(kind, Kind::Output(_)));
    let mut carried = Vec::new();
    for each in small {
        let solved = study.solved.iter().find(|s| s.lineup == each.lineup && s.state == State::Running);
        let Some((solved, steady)) = solved.and_then(|solved| Some((solved, solved.steady.as_ref().ok()?))) else {
            continue;
        };
        let nodes: Vec<_> = outputs.iter().map(|port| each.nodes(port)).collect();
        let problem = rippled(study, each, (solved, steady), nodes);
        let solve = || heard(&problem, &each.point);
        carried.push((each, solved, study.memory.recall(|memory| &memory.hums, || problem.clone(), solve)));
    }
    for (place, port) in outputs.iter().enumerate() {
        let part = study.design.part(port.id);
        let Some(subject) = recorder.find(SubjectKind::Output, &part.name) else { continue };
        let (mut supply, mut heater, mut both) = (Vec::new(), Vec::new(), Vec::new());
        for (each, solved, heard) in &carried {
            let Some(ripple) = heard[place] else { continue };
            supply.push(each.sample(ripple));
            if let Some(leaked) = heater_hum(study, each, port, solved) {
                heater.push(each.sample(leaked));
                both.push(each.sample(ripple.hypot(leaked)));
            }
        }
        if both.is_empty() {
            recorder.failure(subject, "hum", "the hum there could not be computed");
        }
        let origins = recorder.terminal_origin(port.id, "hot");
        recorder.samples_assuming(subject, "supply-hum", supply, origins.clone(), &assumed);
        recorder.samples_assuming(subject, "heater-hum", heater, origins.clone(), &guessed);
        recorder.samples_assuming(subject, "hum", both, origins, &guessed);
    }
}

/// What a source of ripple stands behind: little enough beside everything, and something, because wire may join two.
const STIFF: Ohms = Ohms(1e-3);

/// What the supply of one line-up moves, put into the linear network that has load and cable. Each net that it moves is a
/// source of its own, with the phasors of its harmonics, the first one first.
///
/// The steady state stands without what is plugged in. So what it gives at the rectifiers and at the nets where alternating
/// voltage stands is put into the linear network: everything behind those nets follows from them.
fn rippled(
    study: &Study<'_>,
    small: &Small,
    (solved, steady): (&Solved, &SteadyState),
    outputs: Vec<Option<(NodeId, NodeId)>>,
) -> HumProblem {
    let mut network = small.lowered.network.clone();
    for element in &mut network.elements {
        if let Element::Winding { a, b, .. } = *element {
            *element = Element::Capacitor { a, b, capacitance: Farads(0.0) };
        }
    }
    let mut sources = Vec::new();
    let mut moved = winding_ends(study);
    moved.extend(study.roles.outputs.union(&study.roles.alternating));
    for net in moved {
        let (Some(from), Some(node)) = (solved.lowered.node(net), small.lowered.node(net)) else { continue };
        let wave = steady.waveforms.get(from.0).map_or(&[][..], Vec::as_slice);
        if wave.is_empty() || node == NodeId::GROUND {
            continue;
        }
        let told = HARMONICS.min(wave.len() / 2);
        let phasors = (1..=told).map(|harmonic| fourier(wave, harmonic)).collect();
        sources.push((ElementId(network.elements.len()), phasors));
        let (voltage, resistance) = (Volts(0.0), STIFF);
        network.elements.push(Element::Supply { plus: node, minus: NodeId::GROUND, voltage, resistance });
    }
    let frequency = study.mains.frequency;
    HumProblem { network, voltages: small.point.voltages.clone(), frequency, sources, outputs }
}

/// Rms of what the ripple makes between each pair of nodes; `None` where it cannot be had.
fn heard(problem: &HumProblem, point: &OperatingPoint) -> Vec<Option<f64>> {
    let HumProblem { network, frequency, sources, outputs, .. } = problem;
    let mut squares: Vec<Option<f64>> = outputs.iter().map(|nodes| nodes.map(|_| 0.0)).collect();
    if sources.is_empty() {
        return squares;
    }
    let linear = linearise(network, point);
    for harmonic in 1..=HARMONICS {
        let ears = linear.as_ref().ok().and_then(|linear| linear.ears(Hertz(frequency.0 * harmonic as f64)).ok());
        for (square, nodes) in squares.iter_mut().zip(outputs) {
            let reach = nodes.and_then(|nodes| ears.as_ref()?.reach(nodes).ok());
            *square = reach.zip(*square).map(|(reach, square)| {
                let counted = sources.iter().filter_map(|(id, phasors)| Some((id, phasors.get(harmonic - 1)?)));
                let heard: Complex = counted.map(|(source, phasor)| phasor * reach.of_emf(*source)).sum();
                square + heard.norm_sqr() / 2.0
            });
        }
    }
    squares.into_iter().map(|square| square.map(f64::sqrt)).collect()
}

/// The nets that a winding ends at, a directly heated rectifier's reservoir among them: the winding is taken out of the
/// linear network, so both of its ends are to be held.
fn winding_ends(study: &Study<'_>) -> BTreeSet<NetId> {
    let transformers = study.design.ids().filter_map(|(id, part)| match &part.kind {
        Kind::Transformer(transformer) => Some((id, transformer)),
        _ => None,
    });
    let ends = transformers.flat_map(|(id, transformer)| {
        let terminals = transformer
            .windings
            .iter()
            .flat_map(|winding| ["start", "centre", "finish"].map(|end| format!("{}.{end}", winding.name.value)));
        terminals.filter_map(move |terminal| study.circuit.net_of(id, &terminal)).collect::<Vec<_>>()
    });
    ends.collect()
}

fn fourier(samples: &[f64], harmonic: usize) -> Complex {
    let count = samples.len() as f64;
    let turn = Complex::from_polar(1.0, -TAU * harmonic as f64 / count);
    // Horner's rule over the samples: one turn for each instead of an angle.
    samples.iter().rev().fold(Complex::default(), |sum, v| sum * turn + *v) * (2.0 / count)
}

/// Rms of what leaks from alternating-current heaters; `None` where the heaters of the line-up are not known.
fn heater_hum(study: &Study<'_>, small: &Small, port: &Port, solved: &Solved) -> Option<f64> {
    let heaters = study.heaters(solved.lineup, State::Running, None)?;
    let reach = small.linear.reach(small.nodes(port)?, study.mains.frequency).ok()?;
    let mut sum = 0.0;
    for (id, part) in study.design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        if tube.directly_heated() || !heaters.voltages.contains_key(&id) {
            continue;
        }
        let volts = |end: &str| {
            let net = study.circuit.net_of(id, end)?;
            heaters.nets.get(net.0).copied()
        };
        let (Some(from), Some(to)) = (volts("heater.from"), volts("heater.to")) else { continue };
        let effective = ((from + to) / 2.0).abs() + UNEQUAL * (from - to).abs();
        let signal = tube.sections.iter().filter(|s| !matches!(s.kind, SectionKind::Rectifier { .. }));
        for section in signal {
            let cathode = study.circuit.net_of(id, &electrode_name(&section.suffix, "cathode"));
            if let Some(node) = cathode.and_then(|net| small.lowered.node(net)) {
                sum += effective / LEAKAGE * reach.of_current(node, NodeId::GROUND).norm();
            }
        }
    }
    Some(sum)
}
