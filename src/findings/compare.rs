//! Two revisions of one design held beside each other: findings new, worse, better, cleared, and facts that moved.
//!
//! Findings are matched by identity, never by line. Pure: knows nothing of files or formats.

use std::collections::{BTreeSet, HashMap, VecDeque};

use crate::facts::FactTable;

use super::moved::{Moved, moved_facts, subjects_apart};
use super::{Class, DesignReport, Finding, NotJudged};

/// One side of a comparison.
#[derive(Clone, Copy, Debug)]
pub struct Side<'a> {
    /// What was found.
    pub report: &'a DesignReport,
    /// The facts, where any could be had.
    pub facts: Option<&'a FactTable>,
}

/// How a finding has changed between two revisions.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Turn {
    /// It was not there before.
    New,
    /// Its class is more serious, it is further past what is allowed, or its waiver is gone.
    Worse,
    /// Its class is less serious, or it is less far past what is allowed.
    Better,
    /// It is covered by a waiver now.
    Waived,
    /// It is no longer found, because its rule is no longer judged there. This is no improvement.
    Unjudged,
    /// It is no longer found, and its rule was judged.
    Cleared,
}

impl Turn {
    /// All, in order of telling.
    pub const ALL: [Self; 6] = [Self::New, Self::Worse, Self::Unjudged, Self::Waived, Self::Better, Self::Cleared];

    /// The words used in every output for people.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::New => "new",
            Self::Worse => "worse",
            Self::Better => "better",
            Self::Waived => "waived now",
            Self::Unjudged => "no longer judged",
            Self::Cleared => "cleared",
        }
    }
}

/// A finding that has changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// How.
    pub turn: Turn,
    /// The finding in the older revision; its spans point into the older sources.
    pub before: Option<Finding>,
    /// The finding in the newer revision.
    pub after: Option<Finding>,
    /// What has changed about it, in words; empty for what is new or cleared.
    pub because: Vec<String>,
}

impl Change {
    /// The newer finding where there is one, else the older.
    #[must_use]
    pub fn finding(&self) -> Option<&Finding> {
        self.after.as_ref().or(self.before.as_ref())
    }

    /// Whether it fails a gate: what is new, more serious than before or no longer waived, at or above the gate and
    /// not waived.
    #[must_use]
    pub fn fails(&self, gate: Class) -> bool {
        let Some(after) = self.after.as_ref().filter(|after| after.waived.is_none()) else { return false };
        let counts = match &self.before {
            None => true,
            Some(before) => before.waived.is_some() || after.class < before.class,
        };
        counts && after.class.reaches(gate)
    }
}

/// What two revisions of one design change.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Comparison {
    /// In order of turn, then of place.
    pub changes: Vec<Change>,
    /// How many findings are in both revisions without a change worth telling.
    pub unchanged: usize,
    /// Facts that moved by more than the threshold, in order of the newer source.
    pub moved: Vec<Moved>,
    /// Parts that only the newer revision has.
    pub added: Vec<String>,
    /// Parts that only the older revision has.
    pub removed: Vec<String>,
    /// What could be judged before and cannot be now.
    pub no_longer_judged: Vec<NotJudged>,
}

impl Comparison {
    /// The changes of one kind.
    pub fn turned(&self, turn: Turn) -> impl Iterator<Item = &Change> {
        self.changes.iter().filter(move |change| change.turn == turn)
    }

    /// Whether any change fails a gate.
    #[must_use]
    pub fn fails(&self, gate: Class) -> bool {
        self.changes.iter().any(|change| change.fails(gate))
    }

    /// Whether there is anything to tell.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.changes.is_empty()
            && self.moved.is_empty()
            && self.added.is_empty()
            && self.removed.is_empty()
            && self.no_longer_judged.is_empty()
    }
}

/// Compares two revisions of a design; `threshold` is the share by which a value must move to be told of, and `quiet`
/// says which rules the newer side keeps quiet. A side that is missing is a design that is new, all of whose findings are,
/// or removed, of which nothing is told.
#[must_use]
pub fn compare(
    old: Option<Side<'_>>,
    new: Option<Side<'_>>,
    threshold: f64,
    quiet: &dyn Fn(&str) -> bool,
) -> Comparison {
    if new.is_none() {
        // What was found in a design that is gone is not mended.
        return Comparison::default();
    }
    let findings = |side: Option<Side<'_>>| side.map(|side| side.report.findings.clone()).unwrap_or_default();
    let open = new.map(|side| side.report.not_judged.as_slice()).unwrap_or_default();
    let mut comparison = Comparison::default();
    for pair in paired(findings(old), findings(new)) {
        let change = match pair {
            (Some(before), Some(after)) => match turned(&before, &after, threshold) {
                Some((turn, because)) => Change { turn, before: Some(before), after: Some(after), because },
                None => {
                    comparison.unchanged += 1;
                    continue;
                }
            },
            (None, after) => Change { turn: Turn::New, before: None, after, because: Vec::new() },
            (Some(before), None) => gone(before, open, quiet),
        };
        comparison.changes.push(change);
    }
    let rank = |turn: Turn| Turn::ALL.iter().position(|known| *known == turn);
    comparison.changes.sort_by(|a, b| {
        let by_place = || match (a.finding(), b.finding()) {
            (Some(a), Some(b)) => a.order(b),
            _ => std::cmp::Ordering::Equal,
        };
        rank(a.turn).cmp(&rank(b.turn)).then_with(by_place)
    });
    if let (Some(old), Some(new)) = (old, new) {
        let before: BTreeSet<(&str, &str)> =
            old.report.not_judged.iter().map(|open| (open.rule.as_str(), open.part.as_str())).collect();
        let is_new = |open: &&NotJudged| !before.contains(&(open.rule.as_str(), open.part.as_str()));
        comparison.no_longer_judged = open.iter().filter(is_new).cloned().collect();
        if let (Some(old), Some(new)) = (old.facts, new.facts) {
            comparison.moved = moved_facts(old, new, threshold);
            (comparison.removed, comparison.added) = subjects_apart(old, new);
        }
    }
    comparison
}

/// Pairs findings by identity; what is left, by rule and part: a line-up that is now the worst is the same finding.
fn paired(old: Vec<Finding>, new: Vec<Finding>) -> Vec<(Option<Finding>, Option<Finding>)> {
    let mut old: Vec<Option<Finding>> = old.into_iter().map(Some).collect();
    let mut new: Vec<Option<Finding>> = new.into_iter().map(Some).collect();
    let mut pairs = Vec::new();
    let keys: [fn(&Finding) -> String; 2] = [Finding::identity, |finding| format!("{}|{}", finding.rule, finding.part)];
    for key in keys {
        let mut waiting: HashMap<String, VecDeque<&mut Option<Finding>>> = HashMap::new();
        for slot in &mut old {
            if let Some(wanted) = slot.as_ref().map(key) {
                waiting.entry(wanted).or_default().push_back(slot);
            }
        }
        for after in &mut new {
            let slots = after.as_ref().and_then(|finding| waiting.get_mut(&key(finding)));
            if let Some(before) = slots.and_then(VecDeque::pop_front) {
                pairs.push((before.take(), after.take()));
            }
        }
    }
    pairs.extend(old.into_iter().flatten().map(|before| (Some(before), None)));
    pairs.extend(new.into_iter().flatten().map(|after| (None, Some(after))));
    pairs
}

fn gone(before: Finding, open: &[NotJudged], quiet: &dyn Fn(&str) -> bool) -> Change {
    let unjudged = open.iter().find(|open| open.rule == before.rule && open.part == before.part);
    let (turn, because) = match unjudged {
        Some(open) => (Turn::Unjudged, vec![open.reason.clone()]),
        None if quiet(&before.rule) => (Turn::Unjudged, vec!["the workshop file keeps the rule quiet".to_owned()]),
        None => (Turn::Cleared, Vec::new()),
    };
    Change { turn, before: Some(before), after: None, because }
}

fn turned(before: &Finding, after: &Finding, threshold: f64) -> Option<(Turn, Vec<String>)> {
    match (&before.waived, &after.waived) {
        (Some(_), None) => return Some((Turn::Worse, vec!["it is no longer waived".to_owned()])),
        (None, Some(waived)) => return Some((Turn::Waived, vec![waived.because.clone()])),
        _ => {}
    }
    if before.class != after.class {
        let turn = if after.class < before.class { Turn::Worse } else { Turn::Better };
        return Some((turn, vec![format!("{} before, {} now", before.class.word(), after.class.word())]));
    }
    let (was, is) = (strain(before.excess), strain(after.excess));
    let turn = if is > was * (1.0 + threshold) {
        Turn::Worse
    } else if was > is * (1.0 + threshold) {
        Turn::Better
    } else {
        return None;
    };
    Some((turn, vec![format!("before: {}", before.message)]))
}

/// What is measured over what is allowed, from the share by which it is past that.
fn strain(excess: f64) -> f64 {
    if excess < 1.0 { 1.0 / (1.0 - excess.max(0.0)) } else { f64::INFINITY }
}
