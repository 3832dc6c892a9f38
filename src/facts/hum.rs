//! Hum at each output: the ripple of the supply that reaches it, and an estimate of what leaks from heaters.

use crate::catalogue::SectionKind;
use crate::circuit::{NetId, electrode_name};
use crate::design::Kind;
use crate::physics::{Complex, Element, ElementId, Network, NodeId, OperatingPoint, SteadyState, linearise};
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
/// voltage stands is put into the linear network: everything behind those nets follows from them. A winding that feeds no
/// rectifier gives the difference of its ends alone: what both do together, as those of an output tube's filament follow its
/// current, is not what it is without the load.
fn rippled(
    study: &Study<'_>,
    small: &Small,
    (solved, steady): (&Solved, &SteadyState),
    outputs: Vec<Option<(NodeId, NodeId)>>,
) -> HumProblem {
    let mut network = small.lowered.network.clone();
    let held = study.roles.outputs.iter().filter_map(|net| small.lowered.node(*net)).collect();
    let carried = carried_along(&network, &held);
    let swing = |node: NodeId| {
        let from = small.lowered.net(node).and_then(|net| solved.lowered.node(net));
        from.and_then(|from| steady.waveforms.get(from.0)).map_or(&[][..], Vec::as_slice)
    };
    let mut sources = Vec::new();
    for (place, element) in network.elements.iter_mut().enumerate() {
        let Element::Winding { a, b, .. } = *element else { continue };
        if carried.contains(&a) || carried.contains(&b) {
            *element = Element::Supply { plus: a, minus: b, voltage: Volts(0.0), resistance: STIFF };
            let (over, under) = (harmonics(swing(a)), harmonics(swing(b)));
            let of = |phasors: &[Complex], n: usize| phasors.get(n).copied().unwrap_or_default();
            let told = over.len().max(under.len());
            sources.push((ElementId(place), (0..told).map(|n| of(&over, n) - of(&under, n)).collect()));
        } else {
            *element = Element::Capacitor { a, b, capacitance: Farads(0.0) };
        }
    }
    let mut moved = winding_ends(study);
    moved.extend(study.roles.outputs.union(&study.roles.alternating));
    for net in moved {
        let Some(node) = small.lowered.node(net) else { continue };
        let phasors = harmonics(swing(node));
        if phasors.is_empty() || node == NodeId::GROUND || carried.contains(&node) {
            continue;
        }
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

/// The nets that a winding ends at, a directly heated rectifier's reservoir among them: a winding that feeds a rectifier is
/// taken out of the linear network, so both of its ends are to be held.
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

/// The nodes that windings which feed no rectifier carry along: those that they reach through resistances, as far as ground
/// and the nets that are held anyway.
fn carried_along(network: &Network, held: &BTreeSet<NodeId>) -> BTreeSet<NodeId> {
    let mut found = BTreeSet::new();
    for element in &network.elements {
        let Element::Winding { a, b, .. } = *element else { continue };
        let (mut reached, mut waiting) = (BTreeSet::new(), vec![a, b]);
        while let Some(node) = waiting.pop() {
            if node == NodeId::GROUND || held.contains(&node) || !reached.insert(node) {
                continue;
            }
            for element in &network.elements {
                let (from, to) = element.ends();
                if matches!(element, Element::Resistor { .. } | Element::Winding { .. }) && (from == node || to == node)
                {
                    waiting.push(if from == node { to } else { from });
                }
            }
        }
        let rectified = network.elements.iter().any(|element| {
            let (from, to) = element.ends();
            matches!(element, Element::Junction { .. } | Element::VacuumDiode { .. })
                && (reached.contains(&from) || reached.contains(&to))
        });
        if !rectified {
            found.extend(reached);
        }
    }
    found
}

/// Phasors of the harmonics that are counted, the first one first.
fn harmonics(wave: &[f64]) -> Vec<Complex> {
    (1..=HARMONICS.min(wave.len() / 2)).map(|harmonic| fourier(wave, harmonic)).collect()
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
