//! What other loads would do to an output stage: none at all, half and twice the one stated; and the direct current in it.
//!
//! For the design as drawn only: a tube plugged in besides does not change what the transformer was wound for.

use crate::design::{Output, OutputTransformer, PartId};
use crate::physics::{Element, ElementId, Held, NodeId, SolveError};
use crate::units::{Ohms, Quantity};

use super::large::{Played, core_at};
use super::large_search::{Bench, Point};
use super::recorder::{Recorder, origin};
use super::small::Port;
use super::{SubjectId, SubjectKind, transformers};

/// Iron loss of an output transformer, as so many times its rated impedance across the primary: 5 % of its power.
const IRON: f64 = 20.0;
/// Share of full drive at which a stage still amplifies as it does the smallest signal.
const SLIGHT: f64 = 0.01;
/// No load, Ω.
const OPEN: f64 = 1e9;

const IRON_ASSUMED: &str =
    "iron loss of the output transformer taken as 5 % of its power; the capacitance of its windings left out";

/// The output transformer that one output hangs on, in the network that is played.
struct Coupled<'d> {
    id: PartId,
    transformer: &'d OutputTransformer,
}

pub(super) fn record(
    recorder: &mut Recorder<'_>,
    subject: SubjectId,
    port: &Port,
    output: &Output,
    played: &Played<'_>,
) {
    direct_current(recorder, subject, port, output, played);
    let Some((id, transformer, _)) = transformers::at(recorder.study, port.hot) else { return };
    let coupled = Coupled { id, transformer };
    let Some(load) = &output.load else { return };
    let Some(element) = load_element(port, played) else {
        return fail(recorder, subject, port, output, "its load is not in what the signal was followed through");
    };
    for (fact, times) in [("power-at-half-load", 0.5), ("power-at-double-load", 2.0)] {
        let ohms = times * load.value.base();
        match other_load(played, element, ohms) {
            Ok(Some(point)) => {
                let sample = played.small.sample(point.rms * point.rms / ohms);
                recorder.samples(subject, fact, vec![sample], vec![origin(load.span, "the load stated")]);
            }
            Ok(None) => recorder.failure(subject, fact, "into this load every level is distorted beyond the limit"),
            Err(error) => recorder.failure(subject, fact, &format!("the large signal could not be solved: {error}")),
        }
    }
    open(recorder, &coupled, played, element);
}

/// Says of what was not recorded, and should be where a load is stated, why it is not.
pub(super) fn fail(recorder: &mut Recorder<'_>, subject: SubjectId, port: &Port, output: &Output, reason: &str) {
    if output.load.is_none() {
        return;
    }
    let coupled = transformers::at(recorder.study, port.hot).is_some();
    let powers = ["power-at-half-load", "power-at-double-load"].into_iter().filter(|_| coupled);
    for fact in powers.chain(["load-direct-current"]) {
        recorder.failure_where_missing(subject, fact, reason);
    }
}

/// Direct current through a load that takes power.
fn direct_current(recorder: &mut Recorder<'_>, subject: SubjectId, port: &Port, output: &Output, played: &Played<'_>) {
    let Some(load) = &output.load else { return };
    let amperes = played.outcome.resting_output / load.value.base();
    let origins = recorder.terminal_origin(port.id, "hot");
    recorder.samples(subject, "load-direct-current", vec![played.small.sample(amperes.abs())], origins);
}

fn load_element(port: &Port, played: &Played<'_>) -> Option<ElementId> {
    played.held.element(played.small.lowered.element(port.id, "")?)
}

fn other_load(played: &Played<'_>, element: ElementId, ohms: f64) -> Result<Option<Point>, SolveError> {
    let mut held = played.held.clone();
    if let Some(Element::Resistor { resistance, .. }) = held.network.elements.get_mut(element.0) {
        *resistance = Ohms(ohms);
    }
    let outcome = &played.outcome;
    let first =
        outcome.largest.as_ref().map(|point| point.drive).or(outcome.full_drive()).unwrap_or(0.5 / outcome.aim.gain);
    let mut bench = Bench::new(held, outcome.aim)?;
    bench.hold_all(&outcome.rails)?;
    // The small-signal gain into this load, which tells a rise of the gain with the drive from one with the load.
    let slight = bench.at(SLIGHT * first)?;
    bench.aim.gain = slight.rms / slight.drive;
    bench.largest(first)
}

/// The crest at each plate with nothing across the secondary, at full drive.
fn open(recorder: &mut Recorder<'_>, coupled: &Coupled<'_>, played: &Played<'_>, element: ElementId) {
    let study = recorder.study;
    let Some(drive) = played.outcome.full_drive() else { return };
    let Some(core) = coupled.core(played) else { return };
    let held = opened(coupled, played, element, core);
    let solved = Bench::new(held, played.outcome.aim).and_then(|mut bench| {
        bench.hold_all(&played.outcome.rails)?;
        bench.at(drive)
    });
    for ((part, way), id) in &played.small.lowered.elements {
        let Some(place) = played.held.element(*id) else { continue };
        let tube = played.held.network.elements.get(place.0).filter(|element| element.grid().is_some());
        if tube.and_then(|tube| core_at(&played.held.network, tube.ends().0)) != Some(core) {
            continue;
        }
        let name = format!("{}{way}", study.design.part(*part).name);
        let Some(subject) = recorder.find(SubjectKind::Tube, &name) else { continue };
        let origins = recorder.terminal_origin(coupled.id, "primary.start");
        match &solved {
            Ok(point) => {
                let Some(swing) = point.tubes.get(place.0).copied().flatten() else { continue };
                let sample = played.small.sample(swing.plate_most);
                let assumed = [IRON_ASSUMED.to_owned()];
                recorder.samples_assuming(subject, "open-load-crest", vec![sample], origins, &assumed);
            }
            Err(error) => {
                let reason = format!("the large signal could not be solved without its load: {error}");
                recorder.failure(subject, "open-load-crest", &reason);
            }
        }
    }
}

impl Coupled<'_> {
    /// The node of its core, in the network that is played.
    fn core(&self, played: &Played<'_>) -> Option<NodeId> {
        let inductor = played.held.element(played.small.lowered.element(self.id, "core")?)?;
        played.held.network.elements.get(inductor.0).map(|element| element.ends().0)
    }
}

/// The network with its load taken off and the iron's loss put in.
fn opened(coupled: &Coupled<'_>, played: &Played<'_>, element: ElementId, core: NodeId) -> Held {
    let mut held = played.held.clone();
    if let Some(Element::Resistor { resistance, .. }) = held.network.elements.get_mut(element.0) {
        *resistance = Ohms(OPEN);
    }
    let resistance = Ohms(IRON * coupled.transformer.primary.value.base());
    held.network.elements.push(Element::Resistor { a: core, b: NodeId::GROUND, resistance });
    held
}
