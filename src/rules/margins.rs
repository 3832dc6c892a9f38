//! By how much each rule is kept, for every subject and state: what a neighbouring design is predicted from.

use indexmap::IndexMap;

use crate::facts::{FactTable, State, SubjectId, SubjectKind};

use super::book::RuleBook;
use super::expression::Gap;
use super::judge::facts_of;
use super::rule::Check;
use super::samples::{Bench, Sitting};
use super::shelves::Shelves;

/// One rule put to one subject in one setting.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct MarginKey<'b> {
    /// The rule's name.
    pub rule: &'b str,
    /// The subject.
    pub subject: SubjectId,
    /// Index of the line-up.
    pub lineup: usize,
    /// The state.
    pub state: Option<State>,
    /// The socket that is empty.
    pub empty_socket: Option<String>,
}

/// By how much each rule is kept (see [`super::Expression::firmness`]): above zero where it is, below where it is broken.
/// What could not be judged is left out.
pub type Margins<'b> = IndexMap<MarginKey<'b>, f64>;

/// By how much every rule that is not kept quiet is kept.
#[must_use]
pub fn margins<'b>(book: &'b RuleBook, facts: &FactTable, shelves: &Shelves) -> Margins<'b> {
    let mut found = Margins::new();
    let design = facts.subjects.iter().position(|subject| subject.kind == SubjectKind::Design).map(SubjectId);
    for rule in book.rules().filter(|rule| !book.is_quiet(&rule.name)) {
        let Some(check) = rule.check() else { continue };
        let uses = facts_of(check);
        let subjects = facts.subjects.iter().enumerate().filter(|(_, subject)| check.about.contains(&subject.kind));
        for (place, _) in subjects {
            let bench = Bench { facts, subject: SubjectId(place), design, limits: &check.limits, shelves };
            for setting in bench.settings(&uses) {
                if let Ok(margin) = margin(check, &bench.in_setting(&setting)) {
                    let key = MarginKey {
                        rule: &rule.name,
                        subject: bench.subject,
                        lineup: setting.lineup,
                        state: setting.state,
                        empty_socket: setting.empty_socket,
                    };
                    found.insert(key, margin);
                }
            }
        }
    }
    found
}

/// A rule is kept where it does not apply or its demand holds, whichever stands the more firmly.
fn margin(check: &Check, sitting: &Sitting<'_>) -> Result<f64, Gap> {
    let spared = check.when.as_ref().map_or(Ok(f64::NEG_INFINITY), |when| when.firmness(sitting).map(|firm| -firm))?;
    match check.demand.firmness(sitting) {
        Ok(kept) => Ok(spared.max(kept)),
        Err(_) if spared > 0.0 => Ok(spared),
        Err(gap) => Err(gap),
    }
}
