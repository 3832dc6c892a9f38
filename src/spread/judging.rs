//! The rules put to the spread: corners where they are predicted to break, and every build.

use std::collections::HashMap;
use std::path::Path;

use rayon::prelude::*;

use crate::circuit::Circuit;
use crate::design::{Design, DesignReading, Kind};
use crate::facts::{FactTable, Memory, SubjectKind, Unsolved, facts_of};
use crate::findings::{DesignReport, Finding, NotJudged, SpreadSummary};
use crate::inspection::{Grounds, Inspection, inspect_further};
use crate::rules::{Judgement, MarginKey, Margins, judge, margins};

use super::SpreadOptions;
use super::builds::builds;
use super::probing::{Probe, moves, probes};
use super::spreading::spreading;
use super::steering::{Corner, Course, corners};
use super::telling::{Telling, tell};
use super::trial::Ground;
use super::varying::as_drawn;

/// A corner is solved for a rule that is predicted to keep less than this share of its margin: the prediction is linear,
/// and the circuit is not.
const NEAR: f64 = 0.2;

/// The rule and the subject of a finding.
pub(super) type Whose = (String, String);

/// A rule that is predicted to break, or nearly, and how.
pub(super) struct Aim<'b> {
    /// The rule, subject and setting.
    pub(super) key: MarginKey<'b>,
    /// Where the quantities are taken for it.
    pub(super) course: Course,
    /// The corner in which that ends, by its place.
    pub(super) corner: usize,
}

/// A corner solved and judged.
pub(super) struct Judged {
    /// Where the quantities stand.
    pub(super) corner: Corner,
    /// What the rules say there.
    pub(super) judgement: Judgement,
    /// What has no solution there.
    pub(super) unsolved: Vec<Unsolved>,
}

/// What all builds together say.
#[derive(Default)]
pub(super) struct Tally {
    /// In how many builds each rule is broken for a subject.
    pub(super) broken: HashMap<Whose, usize>,
    /// In how many builds it could not be judged.
    pub(super) open: HashMap<Whose, usize>,
    /// The worst finding of each rule and subject.
    pub(super) worst: HashMap<Whose, Finding>,
    /// How many builds had a condition without a solution.
    pub(super) unsolved: usize,
    /// The first such condition.
    pub(super) first_unsolved: Option<Unsolved>,
}

/// Inspects what was read of a design, and what the spread of its parts makes of it.
///
/// Findings that only the spread gives are added and marked; those of the design as drawn are marked with how many builds
/// share them. What could not be solved is told.
#[must_use]
pub fn inspect_spread(
    path: &Path,
    reading: DesignReading,
    grounds: Grounds<'_>,
    memory: &Memory,
    options: SpreadOptions,
) -> Inspection {
    inspect_further(path, reading, grounds, memory, |design, facts, report| {
        look(design, facts, report, grounds, options)
    })
}

fn look(design: &Design, facts: &FactTable, report: &mut DesignReport, grounds: Grounds<'_>, options: SpreadOptions) {
    let plain = as_drawn(design);
    let nominal = facts_as_drawn(design, &plain, facts, grounds);
    let spreading = spreading(&plain);
    let ground = Ground { design: &plain, variations: &spreading.variations, grounds, nominal: &nominal };
    let probed = probes(&ground, |facts| margins(grounds.rules, facts, grounds.shelves));
    let aims = aims(&ground, &probed, &report.findings);
    let (corners, ends) = corners(aims.iter().map(|(_, course)| course));
    let aims: Vec<Aim<'_>> =
        aims.into_iter().zip(ends).map(|((key, course), corner)| Aim { key, course, corner }).collect();
    let judged: Vec<Judged> = corners
        .into_par_iter()
        .map(|corner| {
            let facts = ground.facts(&corner.departures(ground.variations));
            let judgement = judge(grounds.rules, &facts, grounds.shelves);
            let unsolved = ground.newly_unsolved(&facts).into_iter().cloned().collect();
            Judged { corner, judgement, unsolved }
        })
        .collect();
    let tally = tally(&ground, options);
    report.spread = Some(SpreadSummary {
        varied: spreading.variations.len(),
        corners: judged.len(),
        unsolved_corners: judged.iter().filter(|one| !one.unsolved.is_empty()).count(),
        builds: options.builds,
        unsolved_builds: tally.unsolved,
        seed: options.seed,
        assumptions: spreading.assumptions,
    });
    let unprobed: Vec<(usize, String)> =
        probed.into_iter().enumerate().filter_map(|(place, probe)| Some((place, probe.err()?))).collect();
    tell(
        report,
        Telling { ground: &ground, aims: &aims, judged: &judged, tally: &tally, unprobed: &unprobed, options },
    );
}

/// The facts of the design as drawn: those that there are, where no other tube is named.
pub(super) fn facts_as_drawn(design: &Design, plain: &Design, facts: &FactTable, grounds: Grounds<'_>) -> FactTable {
    let others = |kind: &Kind| matches!(kind, Kind::Tube(tube) if !tube.alternates.is_empty());
    if design.parts.iter().any(|part| others(&part.kind)) {
        facts_of(plain, &Circuit::of(plain), grounds.devices)
    } else {
        facts.clone()
    }
}

pub(super) fn whose(finding: &Finding) -> Whose {
    (finding.rule.clone(), finding.part.clone())
}

/// The rules that hold as drawn and are predicted to break within the tolerances, or nearly.
fn aims<'b>(
    ground: &Ground<'b>,
    probed: &[Result<Probe<Margins<'b>>, String>],
    findings: &[Finding],
) -> Vec<(MarginKey<'b>, Course)> {
    let mut aims = Vec::new();
    for (key, nominal) in margins(ground.grounds.rules, ground.nominal, ground.grounds.shelves) {
        let Some(subject) = ground.nominal.subject(key.subject) else { continue };
        let told = findings.iter().find(|known| known.rule == key.rule && known.part == subject.name);
        let open = match told {
            None => nominal >= 0.0,
            // What is broken as drawn is followed where it can become graver.
            Some(known) => nominal < 0.0 && can_be_graver(ground, known),
        };
        if !open || !is_judged(subject.kind) {
            continue;
        }
        // A rule that one quantity alone breaks out of a firm standing has no slope: that limit is its corner.
        let at_once = probed.iter().map(|probe| {
            let probe = probe.as_ref().ok()?;
            let there = *probe.read.get(&key)?;
            (there < 0.0).then_some((probe.share, there.max(-1.0)))
        });
        let moved = if nominal.is_finite() {
            moves(probed, nominal, |margins| margins.get(&key).copied())
        } else {
            at_once.collect()
        };
        let Some(course) = Course::to_lowest(ground.variations, &moved) else { continue };
        if told.is_some() || !nominal.is_finite() || nominal + course.fall() < NEAR * nominal {
            aims.push((key, course));
        }
    }
    aims
}

/// Whether the rule of a finding has a graver class in store.
fn can_be_graver(ground: &Ground<'_>, finding: &Finding) -> bool {
    let check = ground.grounds.rules.rule(&finding.rule).and_then(|rule| rule.check());
    check.is_some_and(|check| check.raises.iter().any(|raise| raise.class < finding.class))
}

/// Whether the spread is anything to a subject: the tolerance of a reading allows for that of the parts already.
pub(super) fn is_judged(kind: SubjectKind) -> bool {
    kind != SubjectKind::Reading
}

fn tally(ground: &Ground<'_>, options: SpreadOptions) -> Tally {
    let each = builds(ground, options, |facts| {
        let judgement = judge(ground.grounds.rules, facts, ground.grounds.shelves);
        (judgement, ground.newly_unsolved(facts).first().map(|open| (*open).clone()))
    });
    let mut tally = Tally::default();
    for (judgement, open) in each {
        for NotJudged { rule, part, .. } in judgement.not_judged {
            *tally.open.entry((rule, part)).or_default() += 1;
        }
        for finding in judgement.findings {
            let whose = whose(&finding);
            *tally.broken.entry(whose.clone()).or_default() += 1;
            keep_worse(&mut tally.worst, whose, finding);
        }
        tally.unsolved += usize::from(open.is_some());
        tally.first_unsolved = tally.first_unsolved.or(open);
    }
    tally
}

fn keep_worse(kept: &mut HashMap<Whose, Finding>, whose: Whose, finding: Finding) {
    if kept.get(&whose).is_none_or(|old| is_worse(&finding, old)) {
        kept.insert(whose, finding);
    }
}

/// Whether a finding is the more serious of two of one rule and subject; of equals the first stays.
pub(super) fn is_worse(new: &Finding, old: &Finding) -> bool {
    new.class < old.class || (new.class == old.class && new.excess > old.excess)
}
