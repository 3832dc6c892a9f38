//! Facts of outputs under large signals: distortion, largest level, power, headroom.
//!
//! What is solved and how the levels are sought is in [`super::large_search`]; the supply's answer in
//! [`super::large_supply`], where tubes clip in [`super::large_clipping`]; the facts of the tubes on the way in
//! [`super::large_stages`].

use std::sync::Arc;

use crate::design::{Kind, Output, PartId};
use crate::physics::{Element, ElementId, Held, Network, NodeId, Rails, SolveError, bends};
use crate::units::Quantity;

use super::large_clipping::{clipping, look_closer, until_one_clips};
use super::large_search::{Aim, Bench, Level, Point};
use super::large_stages::Stages;
use super::large_supply::{Sags, with_supply};
use super::memory::{OutcomeProblem, Resting};
use super::recorder::{Recorder, sample};
use super::signal::heard_input;
use super::small::{Port, Small, UNSOLVED, assumptions, first_highest, is_drawn_solved, ports};
use super::study::{Solved, Study};
use super::{Sample, State, SubjectId, SubjectKind, Unsolved, Value, large_loads, large_stages};

/// Distortion at which power is published (custom of the tube makers).
const POWER_LIMIT: f64 = 0.10;
/// Distortion at which the output of voltage amplifiers is published (the same).
const VOLTAGE_LIMIT: f64 = 0.05;
/// A load of less than this takes power; a larger one takes voltage, Ω.
const LINE_LOAD: f64 = 1e3;
/// Output with which a search begins where no level is stated, V rms.
const FIRST_LEVEL: f64 = 0.5;
/// Shares of full drive at which the plates of a push-pull stage are looked at besides: they are hottest below it.
const BELOW: [f64; 3] = [0.35, 0.55, 0.75];
/// A node of what is driven may rest away from where it does in the whole circuit by this share of the largest voltage and
/// so many volts: rectifiers that ripple are not solved alike in both.
const ELSEWHERE: f64 = 0.01;
const NEARBY: f64 = 0.1;
/// Rails that differ by less than this share leave a stage as it is.
const ALIKE: f64 = 0.003;

/// Why there is no largest level.
const BEYOND: &str = "every level is distorted beyond the limit";

const HELD: &str = "the supply stands at its running voltages while the signal plays, as nothing here draws much more with signal; this \
     output alone is driven";
const FOLLOWED: &str = "the supply is brought to where the mean current of the signal takes it, and held there within each period; this \
     output alone is driven";

/// What large signals do on the way to one output.
#[derive(Debug)]
pub(super) struct Outcome {
    /// The network that was played.
    pub(super) network: Network,
    /// What was asked of it.
    pub(super) aim: Aim,
    /// Direct voltage between the output's terminals at rest, load and all, V.
    pub(super) resting_output: f64,
    /// Voltage of each node at rest, V.
    rest: Vec<f64>,
    /// At the stated level; `None` where none is stated or it is never reached.
    pub(super) stated: Option<Point>,
    /// At the largest level; `None` where every level is distorted beyond the limit.
    pub(super) largest: Option<Point>,
    /// Drive at which each element begins to clip, V rms.
    pub(super) clips: Vec<Option<f64>>,
    /// All levels that were solved.
    pub(super) points: Vec<Point>,
    /// Voltage of each rail at the largest level, V.
    pub(super) rails: Vec<f64>,
    /// Whether the supply was re-solved with the signal's currents.
    followed: bool,
}

/// What has been found so far, that others may share.
#[derive(Default)]
struct Known {
    outcomes: Vec<Arc<Outcome>>,
    sags: Sags,
}

/// One output in one line-up.
pub(super) struct Played<'s> {
    pub(super) small: &'s Small,
    pub(super) held: Held,
    pub(super) outcome: Arc<Outcome>,
}

pub(super) fn record(recorder: &mut Recorder<'_>, small: &[Small]) {
    let study = recorder.study;
    let inputs = ports(study, |kind| matches!(kind, Kind::Input(_)));
    let rails: Vec<Rails> = small.iter().map(|each| Rails::of(&each.lowered.network, study.mains.frequency)).collect();
    let mut known = Known::default();
    let mut stages = Stages::default();
    let mut open = Vec::new();
    for port in ports(study, |kind| matches!(kind, Kind::Output(_))) {
        let part = study.design.part(port.id);
        let (Kind::Output(output), Some(subject)) = (&part.kind, recorder.find(SubjectKind::Output, &part.name)) else {
            continue;
        };
        let mut played = Vec::new();
        let mut troubles = Vec::new();
        for (each, rails) in small.iter().zip(&rails) {
            let found = scene(study, (each, rails), &port, output, &inputs).and_then(|scene| {
                let Some((held, aim)) = scene else { return Ok(None) };
                let outcome = play(study, each, held.clone(), aim, &mut known)?;
                Ok(Some(Played { small: each, held, outcome }))
            });
            match found {
                Ok(found) => played.extend(found),
                Err(reason) => troubles.push((each.lineup, reason)),
            }
        }
        let at_rest = (!inputs.is_empty() && !is_drawn_solved(small)).then(|| UNSOLVED.to_owned());
        let drawn = troubles.iter().find(|(lineup, _)| *lineup == 0).map(|(_, reason)| reason.clone());
        let trouble = drawn.or(at_rest);
        if !played.is_empty() {
            // Facts of the other line-ups stand; this one is told as a condition without a solution.
            recorder.table.unsolved.extend(troubles.into_iter().map(|(lineup, reason)| Unsolved {
                state: State::Running,
                lineup,
                empty_socket: None,
                reason: format!("a signal at {}: {reason}", part.name),
                span: Some(part.name_span),
            }));
        }
        output_facts(recorder, subject, &port, output, &played, trouble.as_deref());
        if let Some(drawn) = played.iter().find(|each| each.small.lineup == 0) {
            large_loads::record(recorder, subject, &port, output, drawn);
        }
        stages.collect(recorder, &played);
        let reason = match &trouble {
            Some(trouble) => format!("the large signal could not be solved: {trouble}"),
            None if inputs.is_empty() => "no input drives this output".to_owned(),
            None if played.is_empty() => "no tube stands in the way of a signal to this output".to_owned(),
            None => BEYOND.to_owned(),
        };
        large_loads::fail(recorder, subject, &port, output, &reason);
        open.push((port, reason));
    }
    stages.record(recorder);
    for (port, reason) in open.iter().filter(|_| !inputs.is_empty()) {
        large_stages::fail(recorder, port, reason);
    }
}

/// The network that one output is heard through, and what is asked of it; `None` where nothing in it bends a wave.
fn scene(
    study: &Study<'_>,
    (small, rails): (&Small, &Rails),
    port: &Port,
    output: &Output,
    inputs: &[Port],
) -> Result<Option<(Held, Aim)>, String> {
    const UNHEARD: &str = "no input is heard at this output";
    if inputs.is_empty() {
        return Ok(None);
    }
    let nodes = small.nodes(port).ok_or(UNHEARD)?;
    let (input, source) = heard_input(study, small, output, inputs, nodes).ok_or(UNHEARD)?;
    let gain = small.response(source, nodes, super::small::MIDDLE).filter(|gain| *gain > 0.0).ok_or(UNHEARD)?;
    let network = &small.lowered.network;
    let strays = small.lowered.strays();
    let held = Held::of(network, rails, &small.point.voltages, source, &strays).ok_or(UNHEARD)?;
    if !bends(&held.network) {
        return Ok(None);
    }
    let level =
        output.level.as_ref().map(|level| Level::Output(level.value.base())).or_else(|| source_level(study, input.id));
    let place = |node| held.node(node).ok_or("what drives this output reaches it through the supply only");
    let output_nodes = (place(nodes.0)?, place(nodes.1)?);
    let custom = if coupled(&held.network, output_nodes) { POWER_LIMIT } else { VOLTAGE_LIMIT };
    let limit = output.distortion.as_ref().map_or(custom, |share| share.value.base());
    Ok(Some((held, Aim { output: output_nodes, gain, level, limit })))
}

fn source_level(study: &Study<'_>, input: PartId) -> Option<Level> {
    match &study.design.part(input).kind {
        Kind::Input(stated) => stated.level.as_ref().map(|level| Level::Source(level.value.base())),
        _ => None,
    }
}

/// Whether the output hangs on a coil.
fn coupled(network: &Network, (hot, cold): (NodeId, NodeId)) -> bool {
    [hot, cold].into_iter().filter(|end| *end != NodeId::GROUND).any(|end| core_at(network, end).is_some())
}

/// Solves an output's levels, or finds them among those of a network that is the same.
fn play(study: &Study<'_>, small: &Small, held: Held, aim: Aim, known: &mut Known) -> Result<Arc<Outcome>, String> {
    if let Some(same) =
        known.outcomes.iter().find(|known| known.aim.is_like(&aim) && alike(&known.network, &held.network))
    {
        return Ok(Arc::clone(same));
    }
    let solved = study.solved.iter().find(|solved| solved.lineup == small.lineup && solved.state == State::Running);
    let solved = solved.ok_or("it was not solved at rest")?;
    let steady = solved.steady.as_ref().map_err(|error| error.to_string())?;
    let before = known.sags.clone();
    let problem = || OutcomeProblem {
        held: held.clone(),
        aim,
        supply: Resting(Arc::clone(steady)),
        lineup: small.lineup,
        sags: before.clone(),
    };
    let found = study.memory.recall(
        |memory| &memory.outcomes,
        problem,
        || {
            let mut sags = before.clone();
            let outcome = solve((study, solved), held.clone(), aim, &mut sags)?;
            Ok((Arc::new(outcome), sags))
        },
    );
    let (outcome, sags) = found.map_err(|error: SolveError| error.to_string())?;
    if !rests_alike(&held, &outcome, &small.point.voltages) {
        return Err("what is driven does not rest where the whole circuit does".to_owned());
    }
    known.sags = sags;
    known.outcomes.push(Arc::clone(&outcome));
    Ok(outcome)
}

/// Whether what is driven rests where it does in the whole circuit: nothing that was left out may have carried its bias.
fn rests_alike(held: &Held, outcome: &Outcome, whole: &[f64]) -> bool {
    let places =
        held.place.iter().zip(whole).filter_map(|(local, volts)| Some((outcome.rest.get((*local)?.0)?, volts)));
    let largest = places.clone().fold(0.0, |most, (_, volts)| f64::max(most, volts.abs()));
    places.into_iter().all(|(rest, volts)| (rest - volts).abs() <= ELSEWHERE * largest + NEARBY)
}

fn solve(supply: (&Study<'_>, &Solved), held: Held, aim: Aim, sags: &mut Sags) -> Result<Outcome, SolveError> {
    let network = held.network.clone();
    let mut bench = Bench::new(held, aim)?;
    let rails = bench.rails.clone();
    let resting_output = bench.rest(aim.output.0, aim.output.1);
    let rest = (0..network.nodes).map(|node| bench.rest(NodeId(node), NodeId::GROUND)).collect();
    let stated = with_supply(supply, sags, &mut bench, Bench::stated)?;
    let mut first = stated.as_ref().map_or(FIRST_LEVEL / aim.gain, |point| point.drive);
    let largest = with_supply(supply, sags, &mut bench, |bench| {
        let found = bench.largest(first)?;
        first = found.as_ref().map_or(first, |point| point.drive);
        Ok(found)
    })?;
    let full = [&largest, &stated].into_iter().flatten().map(|point| point.drive).max_by(f64::total_cmp);
    if let (Some(full), true) = (full, (0..network.elements.len()).any(|place| is_paired(&network, place))) {
        for share in BELOW {
            bench.at(share * full)?;
        }
    }
    until_one_clips(&mut bench, full);
    look_closer(&mut bench);
    let mut points = std::mem::take(&mut bench.points);
    points.extend(
        stated
            .iter()
            .filter(|point| !points.iter().any(|other| other.drive == point.drive))
            .cloned()
            .collect::<Vec<_>>(),
    );
    points.sort_by(|a, b| a.drive.total_cmp(&b.drive));
    let clips = (0..network.elements.len())
        .map(|place| clipping(&bench, place, points.iter()).map(|clipping| clipping.drive()))
        .collect();
    let followed = bench.rails != rails;
    let rails = bench.rails;
    Ok(Outcome { rails, network, aim, resting_output, rest, stated, largest, clips, points, followed })
}

/// The core that a coil at this node shares.
pub(super) fn core_at(network: &Network, node: NodeId) -> Option<NodeId> {
    network.elements.iter().find_map(|element| match element {
        Element::Coil { a, b, core, .. } if *a == node || *b == node => Some(*core),
        _ => None,
    })
}

/// Whether the plate of an element is at a coil.
pub(super) fn works_on_core(network: &Network, place: usize) -> bool {
    network.elements.get(place).is_some_and(|element| core_at(network, element.ends().0).is_some())
}

/// Whether another tube works on another coil of the core that this one works on.
pub(super) fn is_paired(network: &Network, place: usize) -> bool {
    let Some(plate) = network.elements.get(place).map(|element| element.ends().0) else { return false };
    let Some(core) = core_at(network, plate) else { return false };
    let tubes = network.elements.iter().filter(|element| element.grid().is_some());
    tubes.map(|tube| tube.ends().0).any(|other| other != plate && core_at(network, other) == Some(core))
}

impl Aim {
    fn is_like(&self, other: &Self) -> bool {
        self.output == other.output && self.level == other.level && self.limit == other.limit
    }
}

/// Whether two networks differ in nothing but a little in the voltages of what holds them.
fn alike(a: &Network, b: &Network) -> bool {
    a.nodes == b.nodes
        && a.elements.len() == b.elements.len()
        && a.elements.iter().zip(&b.elements).all(|(a, b)| match (a, b) {
            (
                Element::Supply { plus, minus, voltage, resistance },
                Element::Supply { plus: p, minus: m, voltage: v, resistance: r },
            ) => (plus, minus, resistance) == (p, m, r) && (voltage.0 - v.0).abs() <= ALIKE * voltage.0.abs(),
            _ => a == b,
        })
}

fn output_facts(
    recorder: &mut Recorder<'_>,
    subject: SubjectId,
    port: &Port,
    output: &Output,
    played: &[Played<'_>],
    trouble: Option<&str>,
) {
    let mut found: Vec<(&str, Vec<Sample>)> = Vec::new();
    let mut put = |fact: &'static str, sample: Sample| match found.iter_mut().find(|(name, _)| *name == fact) {
        Some((_, samples)) => samples.push(sample),
        None => found.push((fact, vec![sample])),
    };
    let load = output.load.as_ref().map(|load| load.value.base()).filter(|load| *load < LINE_LOAD);
    for each in played {
        let outcome = &each.outcome;
        let mut say = |fact: &'static str, value: f64| put(fact, each.small.sample(value));
        say("distortion-limit", outcome.aim.limit);
        if let Some(point) = &outcome.stated {
            say("signal-level", point.rms);
            say("distortion", point.distortion);
            say("distortion-second", point.second);
            say("distortion-third", point.third);
            if let Some(load) = load {
                say("load-power", point.rms * point.rms / load);
            }
        }
        if let Some(point) = &outcome.largest {
            say("largest-level", point.rms);
            if let Some(load) = load {
                say("largest-power", point.rms * point.rms / load);
            }
        }
        if let Some(headroom) = outcome.headroom() {
            say("headroom", headroom);
        }
        if let Some(name) = first_to_clip(recorder.study, each) {
            put("clips-first", sample(Some(State::Running), each.small.lineup, Value::Word(name)));
        }
    }
    let mut assumed = assumptions(recorder.study);
    if played.iter().any(|each| each.outcome.followed) {
        assumed.push(FOLLOWED.to_owned());
    } else if played.iter().any(|each| !each.held.rails.is_empty()) {
        assumed.push(HELD.to_owned());
    }
    let origins = recorder.terminal_origin(port.id, "hot");
    for (fact, samples) in found {
        recorder.samples_assuming(subject, fact, samples, origins.clone(), &assumed);
    }
    let asked = output.level.is_some() || played.iter().any(|each| each.outcome.aim.level.is_some());
    let mut fail = |facts: &[&str], reason: &str| {
        let taken = |fact: &str| load.is_some() || !fact.ends_with("-power");
        facts.iter().filter(|fact| taken(fact)).for_each(|fact| recorder.failure_where_missing(subject, fact, reason));
    };
    if let Some(reason) = trouble {
        let reason = format!("the large signal could not be solved: {reason}");
        fail(&["distortion", "largest-level", "largest-power", "headroom", "load-power"], &reason);
    } else if !played.is_empty() {
        fail(&["largest-level", "largest-power"], BEYOND);
        if asked {
            fail(&["distortion", "load-power"], "the level stated is never reached");
            fail(&["headroom"], BEYOND);
        }
    }
}

impl Outcome {
    /// Largest level over the one stated; over an input's level, the drives are compared.
    fn headroom(&self) -> Option<f64> {
        let largest = self.largest.as_ref()?;
        Some(match self.aim.level? {
            Level::Output(volts) => largest.rms / volts,
            Level::Source(volts) => largest.drive / volts,
        })
    }

    /// The point of the largest drive that the design is meant to meet: the largest level's, or the signal level's.
    pub(super) fn at_full_drive(&self) -> Option<&Point> {
        [&self.largest, &self.stated].into_iter().flatten().max_by(|a, b| a.drive.total_cmp(&b.drive))
    }

    /// Its drive, V rms.
    pub(super) fn full_drive(&self) -> Option<f64> {
        self.at_full_drive().map(|point| point.drive)
    }

    /// The source's drive that a tube's headroom is counted from, V rms.
    pub(super) fn reference(&self) -> Option<f64> {
        match self.aim.level? {
            Level::Output(volts) => Some(self.stated.as_ref().map_or(volts / self.aim.gain, |point| point.drive)),
            Level::Source(volts) => Some(volts),
        }
    }
}

/// The tube that begins to clip at the least drive.
fn first_to_clip(study: &Study<'_>, played: &Played<'_>) -> Option<String> {
    let drive = |id: &ElementId| {
        let local = played.held.element(*id)?;
        played.outcome.clips.get(local.0).copied().flatten()
    };
    let tubes = played.small.lowered.elements.iter().filter_map(|((part, way), id)| {
        matches!(study.design.part(*part).kind, Kind::Tube(_)).then_some(())?;
        Some((format!("{}{way}", study.design.part(*part).name), drive(id)?))
    });
    let mut named: Vec<(String, f64)> = tubes.collect();
    named.sort_by(|a, b| a.0.cmp(&b.0));
    first_highest(named, |(_, drive)| -drive).map(|(name, _)| name)
}
