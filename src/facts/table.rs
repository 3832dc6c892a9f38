//! The facts of one design as the floors above read them.

use std::collections::HashMap;

use indexmap::IndexMap;
use serde::{Deserialize, Serialize};

use crate::source::Span;
use crate::units::Dimension;

use super::{FactDefinition, SubjectKind, ValueKind, Worst};

/// A condition in which the design may stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// Nominal mains, warm.
    Running,
    /// Warm at the upper limit of the mains tolerance.
    HighMains,
    /// Warm at the lower limit of the mains tolerance.
    LowMains,
    /// High mains, signal tubes cold, rectifiers conducting at once.
    SwitchOn,
    /// Mains removed, tubes cold, capacitors discharging.
    SwitchedOff,
    /// As running, with one signal tube pulled.
    SocketEmpty,
}

impl State {
    /// All states, in order of reporting.
    pub const ALL: [Self; 6] =
        [Self::Running, Self::HighMains, Self::LowMains, Self::SwitchOn, Self::SwitchedOff, Self::SocketEmpty];

    /// The name as it is written everywhere.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Running => "running",
            Self::HighMains => "high-mains",
            Self::LowMains => "low-mains",
            Self::SwitchOn => "switch-on",
            Self::SwitchedOff => "switched-off",
            Self::SocketEmpty => "socket-empty",
        }
    }
}

/// Which tube sits in which socket: part name → canonical type.
pub type Lineup = IndexMap<String, String>;

/// The value of a fact.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// A quantity in base SI units of the definition's dimension. An infinite time means never.
    Quantity(f64),
    /// Yes or no.
    Flag(bool),
    /// A word, such as the kind of a capacitor.
    Word(String),
}

impl Value {
    /// The number, where it is one.
    #[must_use]
    pub fn number(&self) -> Option<f64> {
        match self {
            Self::Quantity(value) => Some(*value),
            Self::Flag(_) | Self::Word(_) => None,
        }
    }
}

/// A fact in one state and line-up.
#[derive(Clone, Debug, PartialEq)]
pub struct Sample {
    /// The state; `None` for what no state changes (a rating, a value).
    pub state: Option<State>,
    /// Index into [`FactTable::lineups`].
    pub lineup: usize,
    /// For `socket-empty`: the socket that was empty.
    pub empty_socket: Option<String>,
    /// The value.
    pub value: Value,
}

/// A place in the source that a fact rests on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Origin {
    /// The place.
    pub span: Span,
    /// What stands there, in a few words.
    pub text: String,
}

/// A computed fact.
#[derive(Clone, Debug, PartialEq)]
pub struct Fact {
    /// Every state and line-up in which it was computed; never empty.
    pub samples: Vec<Sample>,
    /// Index of the worst sample.
    pub worst: usize,
    /// Whether it rests on something estimated.
    pub estimated: bool,
    /// What was estimated or assumed, in words.
    pub assumptions: Vec<String>,
    /// Where it came from; the first is where a finding points.
    pub origins: Vec<Origin>,
}

impl Fact {
    /// The worst sample.
    #[must_use]
    pub fn worst_sample(&self) -> Option<&Sample> {
        self.samples.get(self.worst)
    }
}

/// A fact, or why there is none.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// Computed.
    Known(Fact),
    /// It should exist for this subject, and could not be computed: rules that need it are not judged.
    Failed {
        /// Why, in a sentence.
        reason: String,
    },
}

/// A subject's place in [`FactTable::subjects`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SubjectId(pub usize);

/// What facts are about.
#[derive(Clone, Debug, PartialEq)]
pub struct Subject {
    /// Its kind.
    pub kind: SubjectKind,
    /// Its name as it is shown: `C10`, `V1a`, `T1.ht`, `V1.heater`, `bplus`, `V1a.plate`, `design`.
    pub name: String,
    /// The full name of the part it belongs to, where it belongs to one (for waivers and line-ups).
    pub part: Option<String>,
    /// Where it is named in the source.
    pub span: Span,
}

/// A condition that physics could not solve: rules that look at it are not judged there.
#[derive(Clone, Debug, PartialEq)]
pub struct Unsolved {
    /// The state.
    pub state: State,
    /// Index of the line-up.
    pub lineup: usize,
    /// The socket that was empty.
    pub empty_socket: Option<String>,
    /// Why, in a sentence that names the nets.
    pub reason: String,
    /// Where the first of those nets is named.
    pub span: Option<Span>,
}

/// All facts of one design.
#[derive(Clone, Debug, Default)]
pub struct FactTable {
    /// The subjects, in order of the source.
    pub subjects: Vec<Subject>,
    /// The line-ups; the first is the design as drawn.
    pub lineups: Vec<Lineup>,
    /// Conditions without a solution.
    pub unsolved: Vec<Unsolved>,
    entries: IndexMap<(SubjectId, &'static str), Entry>,
    by_name: HashMap<String, Vec<SubjectId>>,
}

impl FactTable {
    /// Adds a subject.
    pub fn add_subject(&mut self, subject: Subject) -> SubjectId {
        let id = SubjectId(self.subjects.len());
        self.by_name.entry(subject.name.clone()).or_default().push(id);
        self.subjects.push(subject);
        id
    }

    /// The subject of an identity, where it belongs to this table.
    #[must_use]
    pub fn subject(&self, id: SubjectId) -> Option<&Subject> {
        self.subjects.get(id.0)
    }

    /// The subject of a name (several kinds may share one name: a net and a part).
    pub fn named(&self, name: &str) -> impl Iterator<Item = SubjectId> + '_ {
        self.by_name.get(name).into_iter().flatten().copied()
    }

    /// Records a fact; the worst sample is chosen by the definition.
    pub fn record(&mut self, subject: SubjectId, definition: &'static FactDefinition, mut fact: Fact) {
        if fact.samples.is_empty() {
            return;
        }
        fact.worst = worst_index(&fact.samples, definition.worst, rounding(definition.value));
        self.entries.insert((subject, definition.name), Entry::Known(fact));
    }

    /// Records that a fact could not be had.
    pub fn record_failure(
        &mut self,
        subject: SubjectId,
        definition: &'static FactDefinition,
        reason: impl Into<String>,
    ) {
        self.entries.insert((subject, definition.name), Entry::Failed { reason: reason.into() });
    }

    /// The entry of a fact. `None`: this subject has no such fact (a rating that the design does not state).
    #[must_use]
    pub fn entry(&self, subject: SubjectId, fact: &str) -> Option<&Entry> {
        let definition = super::find_definition(fact)?;
        self.entries.get(&(subject, definition.name))
    }

    /// The fact, where it is known.
    #[must_use]
    pub fn fact(&self, subject: SubjectId, fact: &str) -> Option<&Fact> {
        match self.entry(subject, fact)? {
            Entry::Known(fact) => Some(fact),
            Entry::Failed { .. } => None,
        }
    }

    /// The value in a line-up and state. A fact that a line-up does not change is recorded for the design as drawn
    /// only, and one that no state changes without a state; both stand for every line-up and state.
    #[must_use]
    pub fn value(&self, subject: SubjectId, fact: &str, lineup: usize, state: Option<State>) -> Option<&Value> {
        let samples = &self.fact(subject, fact)?.samples;
        let find = |lineup: usize, state: Option<State>| {
            samples.iter().find(|s| s.lineup == lineup && s.state == state).map(|s| &s.value)
        };
        find(lineup, state).or_else(|| find(lineup, None)).or_else(|| find(0, state)).or_else(|| find(0, None))
    }

    /// All entries in order of recording.
    pub fn iter(&self) -> impl Iterator<Item = (SubjectId, &'static str, &Entry)> {
        self.entries.iter().map(|((subject, name), entry)| (*subject, *name, entry))
    }
}

/// What is left of nothing where a solution is rounded: below it two figures of a dimension do not differ.
fn rounding(value: ValueKind) -> f64 {
    match value {
        ValueKind::Quantity(Dimension::VOLTAGE) => 1e-10,
        ValueKind::Quantity(Dimension::CURRENT) => 1e-13,
        ValueKind::Quantity(Dimension::POWER | Dimension::ENERGY) => 1e-15,
        _ => 0.0,
    }
}

fn worst_index(samples: &[Sample], worst: Worst, floor: f64) -> usize {
    let badness = |sample: &Sample| match (&sample.value, worst) {
        (Value::Quantity(v), Worst::Highest) => *v,
        (Value::Quantity(v), Worst::Lowest) => -*v,
        (Value::Quantity(v), Worst::Magnitude) => v.abs(),
        (Value::Flag(flag), Worst::Lowest) => f64::from(u8::from(!*flag)),
        (Value::Flag(flag), _) => f64::from(u8::from(*flag)),
        (Value::Word(_), _) => 0.0,
    };
    let mut best = 0;
    for (index, sample) in samples.iter().enumerate() {
        let (here, known) = (badness(sample), badness(&samples[best]));
        // What differs by rounding alone is told of the state that comes first.
        if here > known + (1e-9 * known.abs()).max(floor) {
            best = index;
        }
    }
    best
}
