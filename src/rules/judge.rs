//! Rules put to the facts of a design: one finding for a rule and subject, of its worst state and line-up.

use crate::facts::{FactTable, SubjectId, Value, ValueKind, Worst};
use crate::findings::{Class, FactValue, Finding, Label, NotJudged, Remedy};
use crate::units::Dimension;

use super::book::RuleBook;
use super::expression::{FactUse, Gap};
use super::rule::{Check, Rule};
use super::samples::{Bench, Setting, Sitting, changed_tubes, design_of};
use super::shelves::Shelves;

/// The outcome of judging.
#[derive(Clone, Debug, Default)]
pub struct Judgement {
    /// In order.
    pub findings: Vec<Finding>,
    /// What could not be judged, in order of rule and subject.
    pub not_judged: Vec<NotJudged>,
    /// How many rules were judged for at least one subject, or found that they apply to none.
    pub rules_judged: usize,
}

/// Puts every rule that is not kept quiet to every subject that it is about.
#[must_use]
pub fn judge(book: &RuleBook, facts: &FactTable, shelves: &Shelves) -> Judgement {
    let mut judgement = Judgement::default();
    let design = design_of(facts);
    for rule in book.rules().filter(|rule| !book.is_quiet(&rule.name)) {
        let Some(check) = rule.check() else {
            continue;
        };
        let mut any_judged = false;
        let mut any_open = false;
        for (index, subject) in facts.subjects.iter().enumerate() {
            if !check.about.contains(&subject.kind) {
                continue;
            }
            let bench = Bench { facts, subject: SubjectId(index), design, limits: &check.limits, shelves };
            match judge_subject(rule, check, bench) {
                Outcome::Holds => any_judged = true,
                Outcome::Broken(finding) => {
                    any_judged = true;
                    judgement.findings.push(*finding);
                }
                Outcome::Open(reason) => {
                    any_open = true;
                    judgement.not_judged.push(NotJudged {
                        rule: rule.name.clone(),
                        part: subject.name.clone(),
                        reason,
                    });
                }
            }
        }
        judgement.rules_judged += usize::from(any_judged || !any_open);
    }
    judgement.findings.sort_by(Finding::order);
    judgement
}

pub(super) enum Outcome {
    /// The demand holds everywhere, or the rule does not apply.
    Holds,
    Broken(Box<Finding>),
    Open(String),
}

pub(super) struct Breach {
    pub(super) setting: Setting,
    class: Class,
    raised_by: Option<usize>,
    excess: f64,
    badness: f64,
}

pub(super) fn judge_subject(rule: &Rule, check: &Check, bench: Bench<'_>) -> Outcome {
    let uses = facts_of(check);
    let mut worst: Option<Breach> = None;
    let mut answered = false;
    let mut gap: Option<Gap> = None;
    let mut note = |new: Gap| {
        // A fact that failed explains more than one that merely belongs to another state.
        let replace = match (&gap, &new) {
            (None, _) => true,
            (Some(Gap::OtherState(_)), other) => !matches!(other, Gap::OtherState(_)),
            (Some(Gap::Absent(_) | Gap::NoAnswer), Gap::Failed(..)) => true,
            _ => false,
        };
        if replace {
            gap = Some(new);
        }
    };
    let mut failed = false;
    let mut asked = false;
    let settings = bench.settings(&uses);
    for setting in &settings {
        let sitting = bench.in_setting(setting);
        let outcome = match check.when.as_ref().map(|when| when.holds(&sitting)) {
            Some(Ok(false)) => Ok(true),
            Some(Err(gap)) => Err(gap),
            Some(Ok(true)) | None => {
                asked = true;
                check.demand.holds(&sitting)
            }
        };
        match outcome {
            Ok(true) => answered = true,
            Ok(false) => {
                answered = true;
                let breach = breach(rule, check, &sitting);
                if worst.as_ref().is_none_or(|worst| worse(&breach, worst)) {
                    worst = Some(breach);
                }
            }
            Err(new) => {
                failed |= !matches!(new, Gap::OtherState(_));
                note(new);
            }
        }
    }
    if !asked && let Some(reason) = unasked(check, bench, &settings) {
        failed = true;
        note(reason);
    }
    match (worst, gap) {
        (Some(breach), _) => Outcome::Broken(Box::new(finding(rule, check, bench, &breach))),
        (None, Some(gap)) if failed || !answered => Outcome::Open(telling(gap, check, bench, &uses).reason()),
        _ => Outcome::Holds,
    }
}

/// Why a rule that applied in no condition that was solved may yet apply in one that was not: a guard that asks for
/// `running` is not answered by the other states.
fn unasked(check: &Check, bench: Bench<'_>, settings: &[Setting]) -> Option<Gap> {
    let when = check.when.as_ref()?;
    bench.facts.unsolved.iter().find_map(|open| {
        let setting = Setting { lineup: open.lineup, state: Some(open.state), empty_socket: open.empty_socket.clone() };
        let sitting = bench.in_setting(&setting);
        let applies = !settings.contains(&setting) && when.holds(&sitting) != Ok(false);
        let lacks = applies.then(|| check.demand.holds(&sitting).err()).flatten()?;
        let fact = match lacks {
            Gap::Absent(fact) | Gap::Failed(fact, _) | Gap::OtherState(fact) => fact,
            Gap::NoAnswer => return None,
        };
        Some(Gap::Failed(fact, open.reason.clone()))
    })
}

/// A guard that asks for a state where there is none says little; what the demand lacks says more.
fn telling(gap: Gap, check: &Check, bench: Bench<'_>, uses: &[FactUse]) -> Gap {
    if !matches!(gap, Gap::OtherState(_)) {
        return gap;
    }
    let settings = bench.settings(uses);
    let lacks = |setting: &Setting| check.demand.holds(&bench.in_setting(setting)).err();
    settings.iter().filter_map(lacks).find(|lack| !matches!(lack, Gap::OtherState(_))).unwrap_or(gap)
}

/// The facts that decide: those of guard, demand and raises.
pub(super) fn facts_of(check: &Check) -> Vec<FactUse> {
    let expressions = check.when.iter().chain([&check.demand]).chain(check.raises.iter().map(|raise| &raise.when));
    let mut uses: Vec<FactUse> = Vec::new();
    for fact in expressions.flat_map(|expression| expression.facts()) {
        if !uses.contains(&fact) {
            uses.push(fact);
        }
    }
    uses
}

pub(super) fn breach(rule: &Rule, check: &Check, sitting: &Sitting<'_>) -> Breach {
    let mut class = rule.class;
    let mut raised_by = None;
    for (index, raise) in check.raises.iter().enumerate() {
        if raise.class < class && raise.when.holds(sitting) == Ok(true) {
            class = raise.class;
            raised_by = Some(index);
        }
    }
    let marked = check.marks.first().map(|mark| FactUse { definition: mark.fact, of_design: mark.of_design });
    Breach {
        setting: sitting.setting.clone(),
        class,
        raised_by,
        excess: check.demand.excess(sitting),
        badness: marked.map_or(0.0, |fact| badness(sitting, &fact)),
    }
}

/// How bad a fact is by its own definition, where the demand is no comparison.
fn badness(sitting: &Sitting<'_>, fact: &FactUse) -> f64 {
    let Some(sample) = sitting.quoted(fact) else {
        return 0.0;
    };
    let number = match &sample.value {
        Value::Quantity(number) => *number,
        Value::Flag(flag) => f64::from(u8::from(*flag)),
        Value::Word(_) => return 0.0,
    };
    match fact.definition.worst {
        Worst::Highest => number,
        Worst::Lowest => -number,
        Worst::Magnitude => number.abs(),
    }
}

/// The first of two equals stays, so that the design as drawn comes before its alternates.
pub(super) fn worse(new: &Breach, old: &Breach) -> bool {
    let nearly = |a: f64, b: f64| a == b || (a - b).abs() <= 1e-9 * a.abs().max(b.abs());
    if new.class != old.class {
        return new.class < old.class;
    }
    if !nearly(new.excess, old.excess) {
        return new.excess > old.excess;
    }
    !nearly(new.badness, old.badness) && new.badness > old.badness
}

fn finding(rule: &Rule, check: &Check, bench: Bench<'_>, breach: &Breach) -> Finding {
    let sitting = bench.spoken_of_in(&breach.setting);
    let subject = bench.facts.subject(bench.subject);
    let raised = breach.raised_by.and_then(|index| check.raises.get(index));
    let say = raised.and_then(|raise| raise.say.as_ref()).unwrap_or(&check.say);
    let mut message = say.fill(&sitting);
    let deciding = check.demand.facts();
    let estimated = deciding.iter().filter_map(|fact| bench.known(fact)).any(|fact| fact.estimated);
    if estimated {
        message.push_str(" (estimated)");
    }
    let labels = labels(check, &sitting);
    let own_span = subject.map(|subject| subject.span);
    let span = labels.first().map(|label| label.span).or(own_span);
    let remedies = advice(rule, &sitting);
    Finding {
        rule: rule.name.clone(),
        class: breach.class,
        part: subject.map(|subject| subject.name.clone()).unwrap_or_default(),
        message,
        remedies,
        state: breach.setting.state,
        empty_socket: breach.setting.empty_socket.clone(),
        lineup: changed_tubes(bench.facts, breach.setting.lineup),
        span: span.unwrap_or(rule.span),
        labels,
        facts: quoted_facts(check, &deciding, &sitting),
        excess: breach.excess,
        waived: None,
        by_tolerance: None,
    }
}

/// The remedies in order; each says what else to do where it asks for a rating that no shelf carries.
fn advice(rule: &Rule, sitting: &Sitting<'_>) -> Vec<Remedy> {
    let told = rule.remedies.iter().map(|remedy| {
        let otherwise = remedy.otherwise.as_ref().filter(|_| remedy.text.is_off_shelf(sitting));
        otherwise.unwrap_or(&remedy.text).fill(sitting)
    });
    told.map(Remedy::untried).collect()
}

fn labels(check: &Check, sitting: &Sitting<'_>) -> Vec<Label> {
    let bench = sitting.bench;
    let mut labels: Vec<Label> = Vec::new();
    for (index, mark) in check.marks.iter().enumerate() {
        let fact = FactUse { definition: mark.fact, of_design: mark.of_design };
        let known = bench.known(&fact);
        if known.is_none() && index > 0 {
            continue;
        }
        let origin = known.and_then(|fact| fact.origins.first()).map(|origin| origin.span);
        let owner = bench.owner(mark.of_design).unwrap_or(bench.subject);
        let fallback = bench.facts.subject(owner).map(|subject| subject.span);
        if let Some(span) = origin.or(fallback) {
            let text = mark.text.fill(sitting);
            if !labels.iter().any(|label| label.span == span && label.text == text) {
                labels.push(Label { span, text });
            }
        }
    }
    labels
}

/// The facts that a finding rests on: those of the demand, then those that its sentences quote.
fn quoted_facts(check: &Check, deciding: &[FactUse], sitting: &Sitting<'_>) -> Vec<FactValue> {
    let quoted = check
        .say
        .facts()
        .into_iter()
        .chain(check.marks.iter().map(|mark| FactUse { definition: mark.fact, of_design: mark.of_design }));
    let mut values: Vec<FactValue> = Vec::new();
    for fact in deciding.iter().copied().chain(quoted) {
        let name = fact.definition.name;
        if values.iter().any(|value| value.name == name) {
            continue;
        }
        if let Some(sample) = sitting.quoted(&fact) {
            values.push(FactValue {
                name: name.to_owned(),
                value: sample.value.clone(),
                dimension: match fact.definition.value {
                    ValueKind::Quantity(dimension) => dimension,
                    ValueKind::Flag | ValueKind::Word => Dimension::NONE,
                },
                estimated: sitting.bench.known(&fact).is_some_and(|fact| fact.estimated),
            });
        }
    }
    values
}
