//! A rule put to one subject with every number shown: figures, limits, steps, verdict, and what would turn it.

use crate::facts::{FactTable, Lineup, Origin, State, SubjectId, SubjectKind, Value, ValueKind, fact_shown};
use crate::findings::{Class, Finding};
use crate::units::format_quantity;

use super::expression::{Edge, FactUse, Gap, Scope, Step, Traced, shown};
use super::judge::{self, Breach, Outcome};
use super::rule::{Check, Rule};
use super::samples::{Bench, Setting, Sitting, changed_tubes, design_of};
use super::shelves::Shelves;

/// How a rule stands towards a subject.
#[derive(Clone, Debug, PartialEq)]
pub enum Standing {
    /// Broken: the class and the message of the finding.
    Broken {
        /// The consequence.
        class: Class,
        /// What the finding says.
        message: String,
    },
    /// Kept; how far from the limit, as a share of the larger side, where the demand is a comparison.
    Kept {
        /// The least margin over all states and line-ups.
        margin: Option<f64>,
    },
    /// The rule does not apply: its condition is not met.
    Elsewhere,
    /// Not judged, and why.
    Open(String),
}

/// A subject and how the rule stands towards it.
#[derive(Clone, Debug, PartialEq)]
pub struct Appraisal {
    /// The subject.
    pub subject: SubjectId,
    /// Its name.
    pub name: String,
    /// How the rule stands towards it.
    pub standing: Standing,
    excess: f64,
    setting: Option<Setting>,
}

/// A fact as a rule uses it for a subject.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// Its name.
    pub name: &'static str,
    /// Its value here, or why there is none.
    pub value: Result<String, String>,
    /// What it is.
    pub meaning: &'static str,
    /// The analysis that gives it.
    pub analysis: &'static str,
    /// The state that the value is of; none for what no state changes.
    pub state: Option<State>,
    /// Whether it is the design's and not the subject's.
    pub of_design: bool,
    /// The places that it came from.
    pub origins: Vec<Origin>,
    /// What was estimated or assumed for it.
    pub assumptions: Vec<String>,
}

/// A limit that the rule uses here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LimitUsed {
    /// Its name.
    pub name: String,
    /// Its value.
    pub value: String,
    /// What it is.
    pub meaning: String,
}

/// What would turn the verdict, everything else as it is.
#[derive(Clone, Debug, PartialEq)]
pub struct Turning {
    /// The fact.
    pub fact: &'static str,
    /// Where it turns, base SI units.
    pub edge: f64,
    /// The same, as it is shown.
    pub shown: String,
    /// Whether the demand's comparison holds above it; else below.
    pub above: bool,
}

/// A rule put to a subject.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// The subject's name.
    pub part: String,
    /// Its kind.
    pub kind: SubjectKind,
    /// How it stands.
    pub standing: Standing,
    /// The state that is shown.
    pub state: Option<State>,
    /// For `socket-empty`: which socket.
    pub empty_socket: Option<String>,
    /// The tubes that differ from the design as drawn.
    pub lineup: Lineup,
    /// The facts that decide.
    pub figures: Vec<Figure>,
    /// The limits that decide.
    pub limits: Vec<LimitUsed>,
    /// The condition, worked out.
    pub guard: Vec<Step>,
    /// The demand, worked out; nothing where the condition is not met.
    pub demand: Vec<Step>,
    /// What has made it more serious, worked out.
    pub raised: Vec<Step>,
    /// What would turn the verdict.
    pub turnings: Vec<Turning>,
}

/// How a rule stands towards every subject that it is about: broken ones first, the worst of them first; then by margin.
/// Nothing where the rule is judged by the program itself.
#[must_use]
pub fn appraise(rule: &Rule, facts: &FactTable, shelves: &Shelves) -> Vec<Appraisal> {
    let Some(check) = rule.check() else { return Vec::new() };
    let mut all: Vec<Appraisal> = facts
        .subjects
        .iter()
        .enumerate()
        .filter(|(_, subject)| check.about.contains(&subject.kind))
        .map(|(place, subject)| {
            let bench = bench(check, facts, SubjectId(place), shelves);
            appraised(rule, check, bench, SubjectId(place), &subject.name)
        })
        .collect();
    all.sort_by(|a, b| rank(a).partial_cmp(&rank(b)).unwrap_or(std::cmp::Ordering::Equal));
    all
}

/// What differs by rounding alone stays in the order of the source.
fn rank(one: &Appraisal) -> (u8, f64) {
    let plainly = |share: f64| (share * 1e6).round();
    match &one.standing {
        Standing::Broken { class, .. } => (*class as u8, -plainly(one.excess)),
        Standing::Kept { margin: Some(margin) } => (10, plainly(*margin)),
        Standing::Kept { margin: None } => (11, 0.0),
        Standing::Open(_) => (12, 0.0),
        Standing::Elsewhere => (13, 0.0),
    }
}

fn bench<'a>(check: &'a Check, facts: &'a FactTable, subject: SubjectId, shelves: &'a Shelves) -> Bench<'a> {
    Bench { facts, subject, design: design_of(facts), limits: &check.limits, shelves }
}

fn appraised(rule: &Rule, check: &Check, bench: Bench<'_>, subject: SubjectId, name: &str) -> Appraisal {
    let uses = judge::facts_of(check);
    let mut worst: Option<Breach> = None;
    let mut nearest: Option<(Option<f64>, Setting)> = None;
    for setting in bench.settings(&uses) {
        let sitting = bench.in_setting(&setting);
        let applies = check.when.as_ref().is_none_or(|when| when.holds(&sitting) == Ok(true));
        match check.demand.holds(&sitting) {
            Ok(false) if applies => {
                let breach = judge::breach(rule, check, &sitting);
                if worst.as_ref().is_none_or(|worst| judge::worse(&breach, worst)) {
                    worst = Some(breach);
                }
            }
            Ok(true) if applies => {
                let margin = check.demand.margin(&sitting);
                let nearer = |known: Option<f64>| margin.is_some_and(|new| known.is_none_or(|known| new < known));
                if nearest.as_ref().is_none_or(|(known, _)| nearer(*known)) {
                    nearest = Some((margin, setting.clone()));
                }
            }
            _ => {}
        }
    }
    let (standing, excess, setting) = match judge::judge_subject(rule, check, bench) {
        Outcome::Broken(finding) => {
            let Finding { class, message, excess, .. } = *finding;
            (Standing::Broken { class, message }, excess, worst.map(|breach| breach.setting))
        }
        Outcome::Open(reason) => (Standing::Open(reason), 0.0, None),
        Outcome::Holds => match nearest {
            Some((margin, setting)) => (Standing::Kept { margin }, 0.0, Some(setting)),
            None => (Standing::Elsewhere, 0.0, None),
        },
    };
    Appraisal { subject, name: name.to_owned(), standing, excess, setting }
}

/// A rule put to a subject that was appraised.
#[must_use]
pub fn walk(rule: &Rule, facts: &FactTable, shelves: &Shelves, appraisal: &Appraisal) -> Option<Walk> {
    let check = rule.check()?;
    let bench = bench(check, facts, appraisal.subject, shelves);
    let uses = judge::facts_of(check);
    let setting = appraisal.setting.clone().or_else(|| bench.settings(&uses).into_iter().next())?;
    let sitting = bench.in_setting(&setting);
    let guard = check.when.as_ref().map(|when| when.traced(&sitting)).unwrap_or_default();
    let judged = !matches!(appraisal.standing, Standing::Elsewhere);
    let demand = if judged { check.demand.traced(&sitting) } else { Traced::default() };
    let broken = matches!(appraisal.standing, Standing::Broken { .. });
    let raising = check.raises.iter().filter(|raise| broken && raise.when.holds(&sitting) == Ok(true));
    let raised: Vec<Traced> = raising.map(|raise| raise.when.traced(&sitting)).collect();
    let ways = || [&guard, &demand].into_iter().chain(&raised);
    let mut figures: Vec<Figure> = Vec::new();
    for fact in ways().flat_map(|way| &way.facts) {
        if !figures.iter().any(|known| known.name == fact.definition.name) {
            figures.push(figure(&sitting, fact));
        }
    }
    let limits = check.limits.iter().filter(|limit| ways().any(|way| way.limits.contains(&limit.name)));
    let limits = limits
        .map(|limit| LimitUsed {
            name: limit.name.clone(),
            value: format_quantity(limit.value, limit.dimension),
            meaning: limit.meaning.clone(),
        })
        .collect();
    let decided = matches!(appraisal.standing, Standing::Broken { .. } | Standing::Kept { .. });
    let edges = if decided { check.demand.edges(&sitting) } else { Vec::new() };
    Some(Walk {
        part: appraisal.name.clone(),
        kind: facts.subject(appraisal.subject)?.kind,
        standing: appraisal.standing.clone(),
        state: setting.state,
        empty_socket: setting.empty_socket.clone(),
        lineup: changed_tubes(facts, setting.lineup),
        figures,
        limits,
        guard: guard.steps,
        demand: demand.steps,
        raised: raised.into_iter().flat_map(|way| way.steps).collect(),
        turnings: edges.iter().filter_map(turning).collect(),
    })
}

fn turning(edge: &Edge) -> Option<Turning> {
    let ValueKind::Quantity(dimension) = edge.fact.definition.value else { return None };
    Some(Turning {
        fact: edge.fact.definition.name,
        edge: edge.value,
        // Rounded away from the edge, so that the figure shown is one that will do.
        shown: format_quantity(rounded(edge.value, edge.above), dimension),
        above: edge.above,
    })
}

/// A value to four digits, rounded up or down.
fn rounded(value: f64, up: bool) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    let step = 10f64.powi(value.abs().log10().floor() as i32 - 3);
    // What stands on a digit but for the last bits stays there.
    let steps = value / step;
    let steps = if up { (steps - 1e-6).ceil() } else { (steps + 1e-6).floor() };
    steps * step
}

fn figure(sitting: &Sitting<'_>, fact: &FactUse) -> Figure {
    let known = sitting.bench.known(fact);
    let definition = fact.definition;
    Figure {
        name: definition.name,
        value: sitting
            .fact(fact)
            .map(|value| match value {
                Value::Quantity(number) => fact_shown(definition.name, number),
                other => shown(&other, definition.value),
            })
            .map_err(|gap: Gap| gap.reason()),
        meaning: definition.meaning,
        analysis: definition.analysis,
        state: sitting.quoted(fact).and_then(|sample| sample.state),
        of_design: fact.of_design,
        origins: known.map(|fact| fact.origins.clone()).unwrap_or_default(),
        assumptions: known.map(|fact| fact.assumptions.clone()).unwrap_or_default(),
    }
}
