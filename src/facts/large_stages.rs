//! Facts of tubes under large signals: swing, headroom, and what their electrodes bear at full drive.

use indexmap::IndexMap;

use crate::catalogue::SectionKind;
use crate::circuit::electrode_name;
use crate::design::{Kind, PartId, Tube};

use super::large::{Played, works_on_core};
use super::large_search::{Point, TubeSwing};
use super::recorder::{Recorder, sample};
use super::small::Port;
use super::{Origin, Sample, State, SubjectId, SubjectKind, Value, Worst, find_definition, transformers};

/// A plate current below this share of its mean is none.
const CUT_OFF: f64 = 0.02;

/// Samples of a fact and what they point at.
type Told = (Vec<Sample>, Vec<Origin>);

/// Samples by subject and fact, with what they point at.
#[derive(Default)]
pub(super) struct Stages {
    found: IndexMap<(SubjectId, &'static str), Told>,
}

impl Stages {
    /// Takes in every tube on the way to an output.
    pub(super) fn collect(&mut self, recorder: &Recorder<'_>, played: &[Played<'_>]) {
        let study = recorder.study;
        for (id, part) in study.design.ids() {
            let Kind::Tube(tube) = &part.kind else { continue };
            for section in &tube.sections {
                let name = format!("{}{}", part.name, section.suffix);
                let Some(subject) = recorder.find(SubjectKind::Tube, &name) else { continue };
                let origins = recorder.terminal_origin(id, &electrode_name(&section.suffix, "plate"));
                for each in played {
                    self.tube(subject, (id, tube, &section.suffix), each, &origins);
                }
            }
        }
    }

    /// Writes all that was taken in.
    pub(super) fn record(self, recorder: &mut Recorder<'_>) {
        for ((subject, fact), (samples, origins)) in self.found {
            recorder.samples(subject, fact, samples, origins);
        }
    }

    fn tube(&mut self, subject: SubjectId, tube: (PartId, &Tube, &str), played: &Played<'_>, origins: &[Origin]) {
        let (id, kind, suffix) = tube;
        let outcome = &played.outcome;
        let Some(place) = played.small.lowered.element(id, suffix).and_then(|id| played.held.element(id)) else {
            return;
        };
        let swing = |point: &Point| point.tubes.get(place.0).copied().flatten();
        let mut say = |fact: &'static str, value: Value| {
            self.put(subject, fact, sample(Some(State::Running), played.small.lineup, value), origins);
        };
        let mut put = |fact: &'static str, number: f64| say(fact, Value::Quantity(number));
        if let Some(swing) = outcome.stated.as_ref().and_then(swing) {
            put("signal-swing", swing.swing);
            put("grid-crest", swing.grid_crest);
        }
        if let (Some(drive), Some(reference)) = (outcome.clips.get(place.0).copied().flatten(), outcome.reference()) {
            put("headroom", drive / reference);
        }
        let Some(full) = outcome.at_full_drive() else { return };
        let upto = || outcome.points.iter().filter(|point| point.drive <= full.drive).chain([full]).filter_map(swing);
        let most = |pick: fn(&TubeSwing) -> f64| upto().map(|swing| pick(&swing)).fold(0.0, f64::max);
        if let Some(swing) = swing(full) {
            let [plate, grid, screen] = swing.electrodes.map(|electrode| electrode.mean);
            put("signal-plate-current", plate);
            put("signal-cathode-current", plate + grid + screen);
            if has_screen(kind, suffix) {
                put("signal-screen-current", screen);
            }
        }
        put("signal-plate-dissipation", most(|swing| swing.electrodes[0].power));
        if has_screen(kind, suffix) {
            put("signal-screen-dissipation", most(|swing| swing.electrodes[2].power));
        }
        if works_on_core(&outcome.network, place.0) {
            let stops = upto().any(|swing| swing.electrodes[0].minimum < CUT_OFF * swing.electrodes[0].mean);
            say("cuts-off", Value::Flag(stops));
        }
    }

    /// Keeps the worse of two samples of one line-up, as where two outputs hang on one tube.
    fn put(&mut self, subject: SubjectId, fact: &'static str, sample: Sample, origins: &[Origin]) {
        let (samples, _) = self.found.entry((subject, fact)).or_insert_with(|| (Vec::new(), origins.to_vec()));
        let Some(known) = samples.iter_mut().find(|known| known.lineup == sample.lineup) else {
            samples.push(sample);
            return;
        };
        let lowest = find_definition(fact).is_some_and(|definition| definition.worst == Worst::Lowest);
        let number = |sample: &Sample| Value::number(&sample.value).unwrap_or(0.0);
        if (number(&sample) < number(known)) == lowest {
            *known = sample;
        }
    }
}

/// Says of the tubes that work the transformer of an output, where nothing was recorded of them, why not.
pub(super) fn fail(recorder: &mut Recorder<'_>, port: &Port, reason: &str) {
    let study = recorder.study;
    let Some((on, ..)) = transformers::at(study, port.hot) else { return };
    for (id, section, _) in transformers::workers(study, on) {
        let name = format!("{}{}", study.design.part(id).name, section.suffix);
        let Some(subject) = recorder.find(SubjectKind::Tube, &name) else { continue };
        for fact in ["cuts-off", "signal-plate-dissipation", "signal-cathode-current", "open-load-crest"] {
            recorder.failure_where_missing(subject, fact, reason);
        }
        if section.kind == SectionKind::Pentode {
            recorder.failure_where_missing(subject, "signal-screen-dissipation", reason);
        }
    }
}

fn has_screen(tube: &Tube, suffix: &str) -> bool {
    tube.sections.iter().any(|section| section.suffix == suffix && section.kind == SectionKind::Pentode)
}
