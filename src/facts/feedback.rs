//! Feedback loops: the loop gain, with its margins, of the strongest negative loop that a resistor closes around an output.
//!
//! The loop is opened at the resistor. Its near end is driven by a test voltage; its far end is loaded by a copy of what
//! was taken away, led to ground. What comes back at the far end, turned about, is the loop gain.

use crate::circuit::{Conduction, NetId, ResistorRole};
use crate::design::{Kind, PartId};
use crate::physics::{Complex, Drive, Element, ElementId, Linear, NodeId, linearise};
use crate::units::{Farads, Hertz, Ohms, Quantity, Volts};

use super::recorder::{Recorder, origin, sample};
use super::signal::heard_input;
use super::small::{MIDDLE, Port, Small, UNSOLVED, ports};
use super::{State, SubjectId, SubjectKind, Value};

/// Below this a loop is none: at 1 kHz it would change the gain by less than a half.
const LEAST_LOOP: f64 = 0.5;
/// A loop that gives back more than it gets, in phase, does not stay at rest: it oscillates.
const RUNAWAY: f64 = -1.0;
/// Share by which opening the loop must raise the gain of an output.
const LEAST_RISE: f64 = 1.2;
/// Frequencies that are looked at.
const RANGE: (f64, f64) = (0.01, 3e7);
const STEPS: f64 = 60.0;

/// A resistor that may close a loop, seen from one side.
struct Way {
    part: PartId,
    from: NetId,
    into: NetId,
}

/// A loop opened at one way.
struct Opened {
    linear: Linear,
    test: ElementId,
    far: NodeId,
}

pub(super) fn record(recorder: &mut Recorder<'_>, small: &[Small]) {
    let study = recorder.study;
    let inputs = ports(study, |kind| matches!(kind, Kind::Input(_)));
    let outputs = ports(study, |kind| matches!(kind, Kind::Output(_)));
    let Some(drawn) = small.iter().find(|each| each.lineup == 0) else {
        // Whether a loop is closed is not told without a solution: only what amplifies closes one.
        let amplifies = study.circuit.all_links().any(|link| link.conduction == Conduction::Control);
        for port in outputs.iter().filter(|_| amplifies && !inputs.is_empty()) {
            if let Some(subject) = recorder.find(SubjectKind::Output, &study.design.part(port.id).name) {
                recorder.failure(subject, "phase-margin", UNSOLVED);
            }
        }
        return;
    };
    let loops = if outputs.is_empty() { Vec::new() } else { loops(recorder, drawn) };
    if loops.is_empty() {
        return;
    }
    for port in outputs {
        let part = study.design.part(port.id);
        let (Kind::Output(output), Some(subject)) = (&part.kind, recorder.find(SubjectKind::Output, &part.name)) else {
            continue;
        };
        let Some(nodes) = drawn.nodes(&port) else { continue };
        let Some((_, input)) = heard_input(study, drawn, output, &inputs, nodes) else { continue };
        let around = loops.iter().find(|(_, opened, loop_gain)| {
            if loop_gain.re < RUNAWAY {
                return true;
            }
            let closed = drawn.response(input, nodes, MIDDLE).unwrap_or(f64::INFINITY);
            let open = opened.linear.transfer(Drive::Within(input), nodes, MIDDLE);
            open.is_ok_and(|open| open.norm() > LEAST_RISE * closed)
        });
        if let Some((way, ..)) = around {
            margins(recorder, subject, way, small, &port);
        }
    }
}

/// Every way that closes a negative loop at 1 kHz in the design as drawn, or a positive one that runs away, the strongest
/// first.
fn loops(recorder: &Recorder<'_>, drawn: &Small) -> Vec<(Way, Opened, Complex)> {
    let study = recorder.study;
    let mut found = Vec::new();
    for (id, part) in study.design.ids() {
        let Kind::Resistor(_) = part.kind else { continue };
        let nets = ["from", "to"].map(|end| study.circuit.net_of(id, end));
        let [Some(a), Some(b)] = nets else { continue };
        let still = |net: NetId| study.circuit.is_ground(net) || study.roles.rails.contains(&net);
        // A stopper stands in the way forward: what returns through it, another resistor has led back.
        let role = study.roles.resistor(study.design, study.circuit, id, a, b);
        if still(a) || still(b) || role == ResistorRole::GridStopper {
            continue;
        }
        for (from, into) in [(a, b), (b, a)] {
            let way = Way { part: id, from, into };
            let Some(opened) = open(drawn, &way) else { continue };
            let Some(ratio) = opened.gain(MIDDLE) else { continue };
            if ratio.re > LEAST_LOOP || ratio.re < RUNAWAY {
                found.push((way, opened, ratio));
            }
        }
    }
    found.sort_by(|a, b| b.2.norm().total_cmp(&a.2.norm()));
    found
}

fn open(small: &Small, way: &Way) -> Option<Opened> {
    let mut network = small.lowered.network.clone();
    let (far, near) = (small.lowered.node(way.from)?, small.lowered.node(way.into)?);
    let test = NodeId(network.nodes);
    network.nodes += 1;
    // What stands beside the resistor closes the loop too, a capacitor as a rule.
    let beside = |element: &Element| {
        let between = matches!(element.ends(), (a, b) if (a, b) == (far, near) || (b, a) == (far, near));
        between && matches!(element, Element::Resistor { .. } | Element::Capacitor { .. })
    };
    let taken: Vec<Element> = network.elements.iter().filter(|element| beside(element)).copied().collect();
    for element in network.elements.iter_mut().filter(|element| beside(element)) {
        *element = Element::Capacitor { a: far, b: NodeId::GROUND, capacitance: Farads(0.0) };
    }
    for element in taken {
        for (a, b) in [(test, near), (far, NodeId::GROUND)] {
            network.elements.push(match element {
                Element::Capacitor { capacitance, .. } => Element::Capacitor { a, b, capacitance },
                Element::Resistor { resistance, .. } => Element::Resistor { a, b, resistance },
                other => other,
            });
        }
    }
    let source = ElementId(network.elements.len());
    let ground = NodeId::GROUND;
    network.elements.push(Element::Supply { plus: test, minus: ground, voltage: Volts(0.0), resistance: Ohms(0.0) });
    Some(Opened { linear: linearise(&network, &small.point).ok()?, test: source, far })
}

impl Opened {
    /// The loop gain: positive where the feedback is negative.
    fn gain(&self, frequency: Hertz) -> Option<Complex> {
        let back = self.linear.transfer(Drive::Within(self.test), (self.far, NodeId::GROUND), frequency).ok()?;
        (back.re.is_finite() && back.im.is_finite()).then_some(-back)
    }
}

fn margins(recorder: &mut Recorder<'_>, subject: SubjectId, way: &Way, small: &[Small], port: &Port) {
    let (mut gains, mut phases, mut margins) = (Vec::new(), Vec::new(), Vec::new());
    let (mut phases_at, mut margins_at, mut positive) = (Vec::new(), Vec::new(), Vec::new());
    for each in small {
        let Some(opened) = open(each, way) else { continue };
        let Some(middle) = opened.gain(MIDDLE) else { continue };
        gains.push(each.sample(middle.norm()));
        let runs_away = middle.re < RUNAWAY;
        positive.push(sample(Some(State::Running), each.lineup, Value::Flag(runs_away)));
        if runs_away {
            phases.push(each.sample(0.0));
            phases_at.push(each.sample(MIDDLE.base()));
            continue;
        }
        let up = walk(&opened, middle, RANGE.1);
        let down = walk(&opened, middle, RANGE.0);
        if let Some(Margin { size, hertz }) = lesser(up.phase, down.phase) {
            phases.push(each.sample(size));
            phases_at.push(each.sample(hertz));
        }
        if let Some(Margin { size, hertz }) = lesser(up.gain, down.gain) {
            margins.push(each.sample(size));
            margins_at.push(each.sample(hertz));
        }
    }
    let part = recorder.study.design.part(way.part);
    let mut origins = vec![origin(part.name_span, "closes the loop")];
    origins.extend(recorder.terminal_origin(port.id, "hot"));
    recorder.word(subject, "feedback-through", &part.name, part.name_span);
    for (fact, samples) in [
        ("loop-gain", gains),
        ("positive-feedback", positive),
        ("phase-margin", phases),
        ("phase-margin-frequency", phases_at),
        ("gain-margin", margins),
        ("gain-margin-frequency", margins_at),
    ] {
        recorder.samples(subject, fact, samples, origins.clone());
    }
}

fn lesser(one: Option<Margin>, other: Option<Margin>) -> Option<Margin> {
    one.into_iter().chain(other).min_by(|a, b| a.size.total_cmp(&b.size))
}

/// A margin and the frequency at which it is met.
#[derive(Clone, Copy)]
struct Margin {
    size: f64,
    hertz: f64,
}

#[derive(Default)]
struct Margins {
    /// Degrees short of half a turn where the loop gain falls to one for the last time.
    phase: Option<Margin>,
    /// One over the loop gain where it has turned by half a turn.
    gain: Option<Margin>,
}

/// Follows the loop gain from 1 kHz to one end, its phase without jumps.
fn walk(opened: &Opened, middle: Complex, end: f64) -> Margins {
    let direction = if end < MIDDLE.base() { -1.0 } else { 1.0 };
    let (mut hertz, mut phase, mut before) = (MIDDLE.base(), middle.arg().to_degrees(), middle);
    let mut found = Margins::default();
    while (end - hertz) * direction > 0.0 {
        let started = hertz;
        hertz *= 10f64.powf(direction / STEPS);
        let between = |share: f64| started * (hertz / started).powf(share);
        let Some(now) = opened.gain(Hertz(hertz)) else { break };
        let turned = phase + (now / before).arg().to_degrees();
        let (was, is) = (before.norm(), now.norm());
        if was >= 1.0 && is < 1.0 {
            let share = was.ln() / (was.ln() - is.ln());
            let size = 180.0 - (phase + share * (turned - phase)).abs();
            found.phase = Some(Margin { size, hertz: between(share) });
        }
        if phase.abs() < 180.0 && turned.abs() >= 180.0 && found.gain.is_none() {
            let share = (180.0 - phase.abs()) / (turned.abs() - phase.abs());
            let size = (-(was.ln() + share * (is.ln() - was.ln()))).exp();
            found.gain = Some(Margin { size, hertz: between(share) });
        }
        (phase, before) = (turned, now);
    }
    found
}
