//! Facts of outputs, inputs and stages under small signals: gain, corners, impedances, the replay curve.

use crate::catalogue::SectionKind;
use crate::circuit::electrode_name;
use crate::design::{Kind, Output, PartId};
use crate::physics::{Drive, ElementId, NodeId, Reach};
use crate::units::{Hertz, Quantity};

use super::recorder::Recorder;
use super::small::{MIDDLE, Port, Small, UNSOLVED, assumptions, first_highest, is_drawn_solved, ports};
use super::study::Study;
use super::{Origin, Sample, SubjectId, SubjectKind, Value};

/// Steps a decade of the search for a corner.
const STEPS: f64 = 8.0;
/// Lowest and highest frequency that is looked at, Hz.
const RANGE: (f64, f64) = (1e-3, 1e8);
/// Setting of a volume control that is worst for treble: its track shows the largest resistance there.
const HALF_WAY: f64 = 0.5;
/// An input that reaches an output by less is not heard there.
const HEARD: f64 = 1e-12;
/// A stage that less of an input reaches is not in the way of the signal: what is seen there came through the supply.
const IN_THE_WAY: f64 = 1e-3;

pub(super) fn record(recorder: &mut Recorder<'_>, small: &[Small]) {
    let study = recorder.study;
    let assumed = assumptions(study);
    let inputs = ports(study, |kind| matches!(kind, Kind::Input(_)));
    let pots = signal_pots(recorder);
    let turned: Vec<Option<Small>> =
        small.iter().map(|each| if pots.is_empty() { None } else { each.turned(study, &pots, HALF_WAY) }).collect();
    for port in ports(study, |kind| matches!(kind, Kind::Output(_))) {
        let part = study.design.part(port.id);
        let (Kind::Output(output), Some(subject)) = (&part.kind, recorder.find(SubjectKind::Output, &part.name)) else {
            continue;
        };
        wanted(recorder, subject, output);
        let scene = Scene { study, port: &port, output, inputs: &inputs, subject, assumed: &assumed };
        scene.record(recorder, small, &turned);
    }
    for port in &inputs {
        input_impedance(recorder, port, small, &assumed);
    }
    stages(recorder, small);
}

fn signal_pots(recorder: &Recorder<'_>) -> Vec<PartId> {
    let pots = recorder.study.design.ids().filter(|(_, part)| matches!(part.kind, Kind::Potentiometer(_)));
    pots.filter(|(_, part)| {
        let subject = recorder.find(SubjectKind::Potentiometer, &part.name);
        let flag = subject.and_then(|subject| recorder.table.value(subject, "carries-signal", 0, None));
        flag == Some(&Value::Flag(true))
    })
    .map(|(id, _)| id)
    .collect()
}

fn wanted(recorder: &mut Recorder<'_>, subject: SubjectId, output: &Output) {
    let mut say = |fact: &str, found: Option<(f64, crate::source::Span)>| {
        if let Some((value, span)) = found {
            recorder.quantity(subject, fact, value, span, "stated");
        }
    };
    say("wanted-gain", output.gain.as_ref().map(|v| (v.value.base(), v.span)));
    say("wanted-level", output.level.as_ref().map(|v| (v.value.base(), v.span)));
    say("wanted-distortion", output.distortion.as_ref().map(|v| (v.value.base(), v.span)));
    say("wanted-power", output.power.as_ref().map(|v| (v.value.base(), v.span)));
    say("wanted-hum", output.hum.as_ref().map(|v| (v.value.base(), v.span)));
    say("wanted-noise", output.noise.as_ref().map(|v| (v.value.base(), v.span)));
    say("wanted-source-impedance", output.source_impedance.as_ref().map(|v| (v.value.base(), v.span)));
    say("wanted-low-corner", output.low_corner.as_ref().map(|v| (v.value.base(), v.span)));
    say("load", output.load.as_ref().map(|v| (v.value.base(), v.span)));
}

/// The element of the input that an output is heard from: the one that it names, else the strongest.
pub(super) fn heard_input<'p>(
    study: &Study<'_>,
    small: &Small,
    output: &Output,
    inputs: &'p [Port],
    nodes: (NodeId, NodeId),
) -> Option<(&'p Port, ElementId)> {
    let reach = small.linear.reach(nodes, MIDDLE).ok()?;
    let named = |port: &Port| output.of.as_ref().is_none_or(|of| study.design.part(port.id).name == of.value);
    let elements =
        inputs.iter().filter(|port| named(port)).filter_map(|port| Some((port, small.lowered.element(port.id, "")?)));
    let strength = |element| reach.of_emf(element).norm();
    let heard = elements.filter(|(_, element)| strength(*element).is_finite() && strength(*element) > HEARD);
    first_highest(heard, |(_, element)| strength(*element))
}

struct Scene<'a> {
    study: &'a Study<'a>,
    port: &'a Port,
    output: &'a Output,
    inputs: &'a [Port],
    subject: SubjectId,
    assumed: &'a [String],
}

impl Scene<'_> {
    fn record(&self, recorder: &mut Recorder<'_>, small: &[Small], turned: &[Option<Small>]) {
        let mut found: Vec<(&str, Vec<Sample>)> =
            ["gain", "low-corner", "high-corner", "driven-level", "riaa-deviation"]
                .into_iter()
                .chain(["source-impedance", "loading-ratio"])
                .map(|fact| (fact, Vec::new()))
                .collect();
        let mut put = |fact: &str, sample: Sample| {
            found.iter_mut().filter(|(name, _)| *name == fact).for_each(|(_, samples)| samples.push(sample.clone()));
        };
        let mut heard = None;
        for (each, turned) in small.iter().zip(turned) {
            let Some(nodes) = each.nodes(self.port) else { continue };
            let settings = || std::iter::once(each).chain(turned);
            let impedances = settings().filter_map(|setting| self.source_impedance(setting, nodes));
            if let Some(ohms) = impedances.max_by(f64::total_cmp) {
                put("source-impedance", each.sample(ohms));
                if let Some(load) = &self.output.load {
                    put("loading-ratio", each.sample(load.value.base() / ohms));
                }
            }
            let Some((input, element)) = heard_input(self.study, each, self.output, self.inputs, nodes) else {
                // Solved, and nothing arrives: that is a gain, of nought.
                if !self.inputs.is_empty() && each.linear.reach(nodes, MIDDLE).is_ok() {
                    put("gain", each.sample(0.0));
                }
                continue;
            };
            heard = heard.or(Some(input.id));
            let Some(gain) = each.response(element, nodes, MIDDLE) else { continue };
            put("gain", each.sample(gain));
            if let Kind::Input(stated) = &self.study.design.part(input.id).kind
                && let Some(level) = &stated.level
            {
                put("driven-level", each.sample(level.value.base() * gain));
            }
            let curve = |setting: &Small, hertz: f64| self.curve(setting, element, nodes, hertz);
            let band = &self.study.design.band;
            if let Some(low) = corner(|hertz| curve(each, hertz), band.from.base(), RANGE.0) {
                put("low-corner", each.sample(low));
            }
            if let Some(high) = settings()
                .filter_map(|s| corner(|hertz| curve(s, hertz), band.to.base(), RANGE.1))
                .min_by(f64::total_cmp)
            {
                put("high-corner", each.sample(high));
            }
            if self.output.equalisation.is_some()
                && let Some(decibels) = deviation(|hertz| curve(each, hertz))
            {
                put("riaa-deviation", each.sample(decibels));
            }
        }
        let origins = self.origins(recorder);
        if let Some(input) = heard {
            let part = self.study.design.part(input);
            recorder.word(self.subject, "heard-input", &part.name, part.name_span);
        }
        for (fact, samples) in found {
            if samples.is_empty() && self.expects(fact) {
                recorder.failure(self.subject, fact, self.why_missing(fact, heard.is_some(), small));
            }
            recorder.samples_assuming(self.subject, fact, samples, origins.clone(), self.assumed);
        }
    }

    /// Whether a fact belongs to this output as it is stated.
    fn expects(&self, fact: &str) -> bool {
        match fact {
            "source-impedance" => true,
            "loading-ratio" => self.output.load.is_some(),
            "riaa-deviation" => self.output.equalisation.is_some() && !self.inputs.is_empty(),
            // Which input's level would count is told by the one that is heard.
            "driven-level" => false,
            _ => !self.inputs.is_empty(),
        }
    }

    fn why_missing(&self, fact: &str, is_heard: bool, small: &[Small]) -> &'static str {
        let impedance = matches!(fact, "source-impedance" | "loading-ratio");
        if !is_drawn_solved(small) {
            UNSOLVED
        } else if impedance {
            "the impedance there could not be computed"
        } else if is_heard {
            "the response could not be computed"
        } else {
            "no input is heard at this output"
        }
    }

    fn origins(&self, recorder: &Recorder<'_>) -> Vec<Origin> {
        recorder.terminal_origin(self.port.id, "hot")
    }

    /// The response, freed of the replay curve where one is asked for.
    fn curve(&self, small: &Small, input: ElementId, nodes: (NodeId, NodeId), hertz: f64) -> Option<f64> {
        let plain = small.response(input, nodes, Hertz(hertz))?;
        Some(if self.output.equalisation.is_some() { plain / riaa(hertz) } else { plain })
    }

    fn source_impedance(&self, small: &Small, nodes: (NodeId, NodeId)) -> Option<f64> {
        let own = ["", "cable"].into_iter().filter_map(|way| small.lowered.element(self.port.id, way));
        let own: Vec<_> = own.collect();
        Some(small.linear.impedance(nodes.0, nodes.1, MIDDLE, &own).ok()?.norm()).filter(|ohms| ohms.is_finite())
    }
}

/// The frequency towards `end` at which a response is first 3 dB below that at 1 kHz: zero or infinite where it never is.
/// Where the edge of the promised band is still heard, a dip on the way there is what a tone control was turned to.
fn corner(response: impl Fn(f64) -> Option<f64>, edge: f64, end: f64) -> Option<f64> {
    let limit = response(MIDDLE.0)? / std::f64::consts::SQRT_2;
    let direction = if end < MIDDLE.0 { -1.0 } else { 1.0 };
    let ratio = 10f64.powf(direction / STEPS);
    let heard = (edge - MIDDLE.0) * direction > 0.0 && (end - edge) * direction > 0.0 && response(edge)? >= limit;
    let mut inside = if heard { edge } else { MIDDLE.0 };
    loop {
        let outside = inside * ratio;
        if (outside - end) * direction > 0.0 {
            return Some(if direction < 0.0 { 0.0 } else { f64::INFINITY });
        }
        if response(outside)? < limit {
            return refine(response, limit, inside, outside);
        }
        inside = outside;
    }
}

fn refine(response: impl Fn(f64) -> Option<f64>, limit: f64, mut inside: f64, mut outside: f64) -> Option<f64> {
    for _ in 0..16 {
        let middle = (inside * outside).sqrt();
        if response(middle)? < limit {
            outside = middle;
        } else {
            inside = middle;
        }
    }
    Some((inside * outside).sqrt())
}

/// The replay curve of IEC 60098 as a ratio to its value at 1 kHz: time constants 3180 µs, 318 µs and 75 µs.
fn riaa(hertz: f64) -> f64 {
    let curve = |f: f64| {
        let turn = |seconds: f64| 1.0f64.hypot(std::f64::consts::TAU * f * seconds);
        turn(318e-6) / (turn(3180e-6) * turn(75e-6))
    };
    curve(hertz) / curve(1000.0)
}

/// Largest departure from flat about 1 kHz, dB, 20 Hz to 20 kHz.
fn deviation(flattened: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    let middle = flattened(MIDDLE.0)?;
    let mut largest: f64 = 0.0;
    for step in 0..=60 {
        let hertz = 20.0 * 1000f64.powf(f64::from(step) / 60.0);
        largest = largest.max((20.0 * (flattened(hertz)? / middle).log10()).abs());
    }
    Some(largest)
}

fn input_impedance(recorder: &mut Recorder<'_>, port: &Port, small: &[Small], assumed: &[String]) {
    let part = recorder.study.design.part(port.id);
    let Some(subject) = recorder.find(SubjectKind::Input, &part.name) else { return };
    let samples = small.iter().filter_map(|each| {
        let (hot, cold) = each.nodes(port)?;
        let source = each.lowered.element(port.id, "")?;
        let ohms = each.linear.impedance(hot, cold, MIDDLE, &[source]).ok()?.norm();
        ohms.is_finite().then(|| each.sample(ohms))
    });
    let samples: Vec<Sample> = samples.collect();
    if samples.is_empty() {
        let reason = if is_drawn_solved(small) { "the impedance there could not be computed" } else { UNSOLVED };
        recorder.failure(subject, "input-impedance", reason);
        return;
    }
    let origins = recorder.terminal_origin(port.id, "hot");
    recorder.samples_assuming(subject, "input-impedance", samples, origins, assumed);
}

/// Gain of each section by itself, and how much of its supply's ripple reaches its plate.
fn stages(recorder: &mut Recorder<'_>, small: &[Small]) {
    let study = recorder.study;
    let ripple = Hertz(2.0 * study.mains.frequency.0);
    let sources: Vec<PartId> = ports(study, |kind| matches!(kind, Kind::Input(_))).iter().map(|port| port.id).collect();
    for (id, part) in study.design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        for section in &tube.sections {
            if !matches!(section.kind, SectionKind::Triode | SectionKind::Pentode) {
                continue;
            }
            let name = format!("{}{}", part.name, section.suffix);
            let Some(subject) = recorder.find(SubjectKind::Tube, &name) else { continue };
            let net = |electrode: &str| study.circuit.net_of(id, &electrode_name(&section.suffix, electrode));
            let (Some(plate), Some(grid), Some(cathode)) = (net("plate"), net("grid"), net("cathode")) else {
                continue;
            };
            let feed = super::tubes::load_supply(study, plate);
            let (mut gains, mut rejections) = (Vec::new(), Vec::new());
            for each in small {
                if each.lowered.element(id, &section.suffix).is_none() {
                    continue;
                }
                let node = |net| each.lowered.node(net);
                let ratio = |from: Option<NodeId>, to: Option<NodeId>, at: Hertz| {
                    let drive = Drive::Between { plus: from?, minus: NodeId::GROUND };
                    let ratio = each.linear.transfer(drive, (to?, NodeId::GROUND), at).ok()?.norm();
                    ratio.is_finite().then_some(ratio)
                };
                let nodes = [grid, cathode, plate].map(node);
                if let Some(gain) = driven_gain(each, &sources, nodes).or_else(|| lone_gain(nodes, &ratio)) {
                    gains.push(each.sample(gain));
                }
                if let Some(share) = feed.and_then(|feed| ratio(node(feed), node(plate), ripple)) {
                    rejections.push(each.sample(share));
                }
            }
            let origins = recorder.terminal_origin(id, &electrode_name(&section.suffix, "plate"));
            recorder.samples(subject, "stage-gain", gains, origins.clone());
            recorder.samples(subject, "supply-rejection", rejections, origins);
        }
    }
}

/// What two probes at its grid and its plate show while the design is driven where it is meant to be: the gain of the
/// stage itself, with its neighbours and any feedback at work. `nodes` are grid, cathode and plate. None where no input
/// reaches it.
fn driven_gain(small: &Small, inputs: &[PartId], nodes: [Option<NodeId>; 3]) -> Option<f64> {
    let [grid, cathode, plate] = nodes;
    let reach = |node: Option<NodeId>| match node {
        Some(NodeId::GROUND) | None => None,
        Some(node) => small.linear.reach((node, NodeId::GROUND), MIDDLE).ok(),
    };
    let (grid, cathode, plate) = (reach(grid), reach(cathode), reach(plate));
    let at = |reach: &Option<Reach>, source| reach.as_ref().map_or(0.0, |reach| reach.of_emf(source).norm());
    // A grid that stands still leaves the cathode to be driven.
    let driven = |source| at(&grid, source).max(at(&cathode, source));
    let sources = inputs.iter().filter_map(|input| small.lowered.element(*input, ""));
    let source = first_highest(sources, |source| driven(*source))?;
    let carried = if at(&grid, source) >= at(&cathode, source) { at(&cathode, source) } else { 0.0 };
    let gain = at(&plate, source).max(carried) / driven(source);
    (driven(source) > IN_THE_WAY && gain.is_finite()).then_some(gain)
}

/// The same of a stage that no input reaches, driven at its own grid, or at its cathode where the grid stands still.
fn lone_gain(
    [grid, cathode, plate]: [Option<NodeId>; 3],
    ratio: &dyn Fn(Option<NodeId>, Option<NodeId>, Hertz) -> Option<f64>,
) -> Option<f64> {
    let grid = grid.filter(|grid| *grid != NodeId::GROUND);
    let driven = grid.or(cathode);
    let at_cathode = grid.and_then(|_| ratio(driven, cathode, MIDDLE));
    ratio(driven, plate, MIDDLE).into_iter().chain(at_cathode).max_by(f64::total_cmp)
}
