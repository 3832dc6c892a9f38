//! What the spread found, told: findings that only it gives, the share of builds, and what could not be solved.

use std::collections::{BTreeMap, HashMap, HashSet};

use crate::facts::{SubjectId, SubjectKind, Unsolved, Value, fact_shown};
use crate::findings::{ByTolerance, Departure, DesignReport, FactValue, Finding, Label, NotJudged, Spoken, UNSOLVED};

use super::judging::{Aim, Judged, Tally, Whose, is_judged, is_worse, whose};
use super::trial::{Ground, sampled};
use super::{SpreadOptions, label};

/// So many quantities of a worst corner are named.
const NAMED: usize = 3;

/// What there is to tell.
pub(super) struct Telling<'a> {
    /// What was varied.
    pub(super) ground: &'a Ground<'a>,
    /// Why each corner was solved.
    pub(super) aims: &'a [Aim<'a>],
    /// The corners.
    pub(super) judged: &'a [Judged],
    /// The builds.
    pub(super) tally: &'a Tally,
    /// Quantities at whose limits nothing could be solved, with the reason.
    pub(super) unprobed: &'a [(usize, String)],
    /// How many builds, with which seed.
    pub(super) options: SpreadOptions,
}

/// Marks the findings of a report, and adds those that only the spread gives.
pub(super) fn tell(report: &mut DesignReport, telling: Telling<'_>) {
    let worst = telling.worst();
    for finding in &mut report.findings {
        telling.mark(finding, worst.get(&whose(finding)));
    }
    let known: HashSet<Whose> = report.findings.iter().map(whose).collect();
    for (whose, seen) in worst {
        if !known.contains(&whose) && telling.spreads(&whose.0) {
            report.findings.push(telling.only_by_tolerance(seen));
        }
    }
    let told: HashSet<Whose> = report.findings.iter().map(whose).collect();
    report.not_judged.extend(telling.open_aims(&told));
    let rules = telling.ground.grounds.rules;
    report.findings.extend(telling.unsolved(report).into_iter().filter_map(|each| rules.speak(each)));
}

/// The worst that was seen of a rule and subject.
struct Seen {
    finding: Finding,
    /// In which corner; none where only builds show it.
    corner: Option<usize>,
}

impl Telling<'_> {
    /// Whether the spread is anything to a rule.
    fn spreads(&self, rule: &str) -> bool {
        let check = self.ground.grounds.rules.rule(rule).and_then(|rule| rule.check());
        check.is_some_and(|check| check.about.iter().any(|kind| is_judged(*kind)))
    }

    /// The worst of every rule and subject: in the corners, or else in the builds.
    fn worst(&self) -> BTreeMap<Whose, Seen> {
        let mut worst: BTreeMap<Whose, Seen> = BTreeMap::new();
        for (place, judged) in self.judged.iter().enumerate() {
            for finding in &judged.judgement.findings {
                let whose = whose(finding);
                if worst.get(&whose).is_none_or(|old| is_worse(finding, &old.finding)) {
                    worst.insert(whose, Seen { finding: finding.clone(), corner: Some(place) });
                }
            }
        }
        for (whose, finding) in &self.tally.worst {
            if worst.get(whose).is_none_or(|old| finding.class < old.finding.class) {
                worst.insert(whose.clone(), Seen { finding: finding.clone(), corner: None });
            }
        }
        worst
    }

    /// In how many builds a rule is broken for a subject, of how many in which it could be judged.
    fn counts(&self, whose: &Whose) -> (usize, usize) {
        let of = |counts: &HashMap<Whose, usize>| counts.get(whose).copied().unwrap_or(0);
        (of(&self.tally.broken), self.options.builds.saturating_sub(of(&self.tally.open)))
    }

    /// Says of a finding of the design as drawn how many builds share it. One that another tube makes is not counted: the
    /// builds have the tubes as drawn.
    fn mark(&self, finding: &mut Finding, worst: Option<&Seen>) {
        if !self.spreads(&finding.rule) || !finding.lineup.is_empty() {
            return;
        }
        let (broken, judged) = self.counts(&whose(finding));
        if broken < judged {
            finding.message.push_str(&format!(" (in {broken} of {judged} builds)"));
        }
        let graver = worst.filter(|seen| seen.finding.class < finding.class);
        let drawn_class = graver.map(|_| finding.class);
        if let Some(Seen { finding: there, .. }) = graver {
            let (now, drawn) = (there.class.word(), finding.class.word());
            finding.message.push_str(&format!(" (as drawn {drawn}; by tolerance {now}: {})", there.message));
            finding.class = there.class;
        }
        finding.by_tolerance =
            Some(ByTolerance { only: false, drawn_class, nominal: None, broken, judged, departures: Vec::new() });
    }

    fn only_by_tolerance(&self, seen: Seen) -> Finding {
        let Seen { mut finding, corner } = seen;
        let (broken, judged) = self.counts(&whose(&finding));
        let nominal = self.nominal_of(&finding);
        let holds = nominal.as_ref().and_then(|fact| {
            Some(format!("{} {}", fact.name.replace('-', " "), fact_shown(&fact.name, fact.value.number()?)))
        });
        let holds = holds.map_or_else(|| "it holds as drawn".to_owned(), |fact| format!("{fact} as drawn holds"));
        let share = if judged > 0 { format!("; {broken} of {judged} builds break it") } else { String::new() };
        let elsewhere = if corner.is_none() { ", and none of the corners tried" } else { "" };
        finding.message.push_str(&format!(" (only by tolerance: {holds}{share}{elsewhere})"));
        let aim = corner.and_then(|corner| self.aim(&finding, corner));
        let places = aim.map(|aim| aim.course.weightiest(NAMED)).unwrap_or_default();
        let departures: Vec<Departure> = places.iter().filter_map(|place| self.departure(*place, corner?)).collect();
        for (place, departure) in places.iter().zip(&departures) {
            self.label(&mut finding, *place, departure);
        }
        finding.by_tolerance = Some(ByTolerance { only: true, drawn_class: None, nominal, broken, judged, departures });
        finding
    }

    fn aim(&self, finding: &Finding, corner: usize) -> Option<&Aim<'_>> {
        let named = |id: SubjectId| self.ground.nominal.subject(id).is_some_and(|s| s.name == finding.part);
        let mut fitting = self
            .aims
            .iter()
            .filter(|aim| aim.corner == corner && aim.key.rule == finding.rule && named(aim.key.subject));
        let first = fitting.clone().next();
        fitting.find(|aim| aim.key.state == finding.state).or(first)
    }

    fn departure(&self, place: usize, corner: usize) -> Option<Departure> {
        let variation = self.ground.variations.get(place)?;
        let share = self.judged.get(corner)?.corner.share(self.ground.variations, place);
        Some(Departure { part: label(self.ground.design, variation), quantity: variation.what.word(), share })
    }

    fn label(&self, finding: &mut Finding, place: usize, departure: &Departure) {
        let Some(variation) = self.ground.variations.get(place) else { return };
        let percent = (departure.share.abs() * 1000.0).round() / 10.0;
        let side = if departure.share < 0.0 { "low" } else { "high" };
        let text = format!("{} of {} {percent} % {side} in the worst corner", departure.quantity, departure.part);
        let span = self.ground.design.part(variation.part).name_span;
        finding.labels.push(Label { span, text });
    }

    /// The first fact that a finding rests on which the spread moved, as it is with every part at its nominal value.
    fn nominal_of(&self, finding: &Finding) -> Option<FactValue> {
        let facts = self.ground.nominal;
        let design = facts.subjects.iter().position(|subject| subject.kind == SubjectKind::Design).map(SubjectId);
        let owners: Vec<SubjectId> = facts.named(&finding.part).chain(design).collect();
        finding.facts.iter().find_map(|fact| {
            let there = fact.value.number()?;
            let socket = finding.empty_socket.as_deref();
            let here = owners.iter().find_map(|id| sampled(facts, *id, &fact.name, finding.state, socket))?;
            let moved = (here - there).abs() > 1e-6 * here.abs().max(there.abs());
            moved.then(|| FactValue { value: Value::Quantity(here), ..fact.clone() })
        })
    }

    /// Rules that were predicted to break in a corner where they could not be judged.
    fn open_aims(&self, told: &HashSet<Whose>) -> Vec<NotJudged> {
        let mut open: BTreeMap<Whose, String> = BTreeMap::new();
        for aim in self.aims {
            let Some(judged) = self.judged.get(aim.corner) else { continue };
            let Some(subject) = self.ground.nominal.subject(aim.key.subject) else { continue };
            let whose: Whose = (aim.key.rule.to_owned(), subject.name.clone());
            let unsolved = judged.unsolved.iter().find(|open| Some(open.state) == aim.key.state);
            let gap = judged.judgement.not_judged.iter().find(|gap| (&gap.rule, &gap.part) == (&whose.0, &whose.1));
            let reason = match (unsolved, gap) {
                (Some(open), _) => format!("{}: {}", open.state.name(), open.reason),
                (None, Some(gap)) => gap.reason.clone(),
                (None, None) => continue,
            };
            if !told.contains(&whose) {
                open.entry(whose).or_insert_with(|| format!("at its worst corner of the tolerances: {reason}"));
            }
        }
        open.into_iter().map(|((rule, part), reason)| NotJudged { rule, part, reason }).collect()
    }

    /// What had no solution: quantities at their limits, corners, builds.
    fn unsolved(&self, report: &DesignReport) -> Vec<Spoken> {
        let mut told = Vec::new();
        let title = self.ground.design.title.span;
        let mut say = |message: String, span| {
            let label = Label { span, text: "this would not settle".to_owned() };
            told.push(Spoken::new(UNSOLVED, "design", message, label));
        };
        for (place, reason) in self.unprobed {
            if let Some(variation) = self.ground.variations.get(*place) {
                let (word, of) = (variation.what.word(), label(self.ground.design, variation));
                let span = self.ground.design.part(variation.part).name_span;
                say(
                    format!(
                        "with the {word} of {of} at a limit of its tolerance the circuit could not be solved in {reason}"
                    ),
                    span,
                );
            }
        }
        let place = |open: &Unsolved| open.span.unwrap_or(title);
        if let Some(open) = self.judged.iter().find_map(|judged| judged.unsolved.first()) {
            let count = report.spread.as_ref().map_or(0, |summary| summary.unsolved_corners);
            let all = self.judged.len();
            let (state, reason) = (open.state.name(), &open.reason);
            say(
                format!(
                    "{count} of {all} worst corners of the tolerances could not be solved, the first in {state}: {reason}"
                ),
                place(open),
            );
        }
        if let Some(open) = &self.tally.first_unsolved {
            let (count, all) = (self.tally.unsolved, self.options.builds);
            let (state, reason) = (open.state.name(), &open.reason);
            say(format!("{count} of {all} builds could not be solved, the first in {state}: {reason}"), place(open));
        }
        told
    }
}
