//! The facts of a design with the band that the spread gives each: its worst corners solved, and the builds between.

use std::collections::HashMap;

use rayon::prelude::*;

use crate::design::Design;
use crate::facts::{Entry, FactTable, Sample, State, SubjectId, Value};
use crate::findings::SpreadSummary;
use crate::inspection::Grounds;

use super::SpreadOptions;
use super::builds::builds;
use super::judging::facts_as_drawn;
use super::probing::{moves, probes};
use super::spreading::spreading;
use super::steering::{Course, corners};
use super::trial::{Ground, sampled};
use super::varying::as_drawn;

/// Where a quantity lies when the parts are within their tolerances.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// Lowest of its worst corners and of all builds.
    pub low: f64,
    /// Highest of them.
    pub high: f64,
    /// Quantiles of the builds, where there are any: a twentieth, half, nineteen twentieths.
    pub quantiles: Option<[f64; 3]>,
    /// In so many builds it was known.
    pub builds: usize,
}

/// A fact of a subject in a state.
type Figure = (SubjectId, &'static str, Option<State>, Option<String>);

/// The bands of the facts that the spread moves.
#[derive(Clone, Debug, Default)]
pub struct Bands {
    /// What was varied.
    pub summary: SpreadSummary,
    /// Conditions without a solution, the first of the corners or builds.
    pub unsolved: Option<String>,
    bands: HashMap<Figure, Band>,
}

impl Bands {
    /// The band of a fact in the state of a sample; none for what the spread does not move, and for other tubes than those
    /// that are drawn.
    #[must_use]
    pub fn of(&self, subject: SubjectId, fact: &'static str, sample: &Sample) -> Option<&Band> {
        let figure = (subject, fact, sample.state, sample.empty_socket.clone());
        self.bands.get(&figure).filter(|_| sample.lineup == 0)
    }
}

/// The bands of the facts of some subjects, or of all: of each in the state of its worst value, and in running.
#[must_use]
pub fn bands(
    design: &Design,
    facts: &FactTable,
    subjects: Option<&[SubjectId]>,
    grounds: Grounds<'_>,
    options: SpreadOptions,
) -> Bands {
    let plain = as_drawn(design);
    let nominal = facts_as_drawn(design, &plain, facts, grounds);
    let spreading = spreading(&plain);
    let ground = Ground { design: &plain, variations: &spreading.variations, grounds, nominal: &nominal };
    let wanted = figures(facts, &nominal, subjects);
    let read = |table: &FactTable| -> Vec<Option<f64>> {
        let value = |(id, fact, state, socket): &Figure| sampled(table, *id, fact, *state, socket.as_deref());
        wanted.iter().map(value).collect()
    };
    let middle = read(&nominal);
    let probed = probes(&ground, read);
    let mut courses = Vec::new();
    for (place, value) in middle.iter().enumerate() {
        let Some(value) = value.filter(|value| value.is_finite()) else { continue };
        let moved = moves(&probed, value, |values: &Vec<Option<f64>>| values.get(place).copied().flatten());
        let other_way: Vec<Option<(f64, f64)>> = moved.iter().map(|one| one.map(|(share, by)| (share, -by))).collect();
        courses.extend(Course::to_lowest(ground.variations, &moved));
        courses.extend(Course::to_lowest(ground.variations, &other_way));
    }
    let (corners, _) = corners(&courses);
    let unsolved = |table: &FactTable| {
        let open = ground.newly_unsolved(table);
        open.first().map(|open| format!("{}: {}", open.state.name(), open.reason))
    };
    let at_corners: Vec<(Vec<Option<f64>>, Option<String>)> = corners
        .par_iter()
        .map(|corner| {
            let table = ground.facts(&corner.departures(ground.variations));
            (read(&table), unsolved(&table))
        })
        .collect();
    let in_builds = builds(&ground, options, |table| (read(table), unsolved(table)));
    let mut found = Bands {
        summary: SpreadSummary {
            varied: spreading.variations.len(),
            corners: at_corners.len(),
            unsolved_corners: at_corners.iter().filter(|(_, open)| open.is_some()).count(),
            builds: options.builds,
            unsolved_builds: in_builds.iter().filter(|(_, open)| open.is_some()).count(),
            seed: options.seed,
            assumptions: spreading.assumptions,
        },
        unsolved: at_corners.iter().chain(&in_builds).find_map(|(_, open)| open.clone()),
        bands: HashMap::new(),
    };
    for (place, figure) in wanted.iter().enumerate() {
        let at = |(values, _): &(Vec<Option<f64>>, Option<String>)| values.get(place).copied().flatten();
        let sample: Vec<f64> = in_builds.iter().filter_map(at).collect();
        let limits = at_corners.iter().filter_map(at).chain(middle.get(place).copied().flatten());
        found.bands.extend(band(limits, sample).map(|band| (figure.clone(), band)));
    }
    found
}

/// The quantities to follow, where the table of the design as drawn speaks of the same subject.
fn figures(facts: &FactTable, nominal: &FactTable, subjects: Option<&[SubjectId]>) -> Vec<Figure> {
    let mut wanted: Vec<Figure> = Vec::new();
    for (id, name, entry) in facts.iter() {
        let Entry::Known(fact) = entry else { continue };
        if subjects.is_some_and(|some| !some.contains(&id)) || facts.subject(id) != nominal.subject(id) {
            continue;
        }
        let running = fact.samples.iter().find(|sample| sample.lineup == 0 && sample.state == Some(State::Running));
        for sample in fact.worst_sample().into_iter().chain(running) {
            let figure = (id, name, sample.state, sample.empty_socket.clone());
            if matches!(sample.value, Value::Quantity(_)) && !wanted.contains(&figure) {
                wanted.push(figure);
            }
        }
    }
    wanted
}

/// None where nothing moved.
fn band(limits: impl Iterator<Item = f64>, mut sample: Vec<f64>) -> Option<Band> {
    sample.sort_by(f64::total_cmp);
    let mut low = f64::INFINITY;
    let mut high = f64::NEG_INFINITY;
    for value in limits.chain(sample.iter().copied()) {
        (low, high) = (low.min(value), high.max(value));
    }
    let quantiles = [0.05, 0.5, 0.95].map(|share| quantile(&sample, share));
    let moves = high > low && high - low > 1e-6 * high.abs().max(low.abs());
    moves.then_some(Band { low, high, quantiles: (!sample.is_empty()).then_some(quantiles), builds: sample.len() })
}

/// Between the two nearest of a sorted sample, in proportion.
fn quantile(sorted: &[f64], share: f64) -> f64 {
    let place = share * sorted.len().saturating_sub(1) as f64;
    let (Some(below), Some(above)) = (sorted.get(place.floor() as usize), sorted.get(place.ceil() as usize)) else {
        return f64::NAN;
    };
    // Two infinities differ by nothing.
    if below == above { *below } else { below + (above - below) * place.fract() }
}
