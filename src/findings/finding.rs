//! What an inspection says: plain data, in a total order.

use std::cmp::Ordering;
use std::path::PathBuf;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::facts::{Lineup, State, Value};
use crate::source::{Complaint, Span};
use crate::units::Dimension;

use super::remedy::{Checked, Remedy};
use super::{ByTolerance, SpreadSummary};

/// The consequence, most serious first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Class {
    /// A person can be hurt, or it can burn.
    Hazard,
    /// A part is past what it may bear.
    Overstress,
    /// The circuit will not do its job.
    Malfunction,
    /// It works; good practice does better.
    Refinement,
}

impl Class {
    /// All classes, most serious first.
    pub const ALL: [Self; 4] = [Self::Hazard, Self::Overstress, Self::Malfunction, Self::Refinement];

    /// The word used everywhere.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Hazard => "hazard",
            Self::Overstress => "overstress",
            Self::Malfunction => "malfunction",
            Self::Refinement => "refinement",
        }
    }

    /// Whether a finding of this class fails a gate set at `gate`.
    #[must_use]
    pub fn reaches(self, gate: Self) -> bool {
        self <= gate
    }
}

impl FromStr for Class {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        Self::ALL
            .into_iter()
            .find(|class| class.word() == text)
            .ok_or_else(|| format!("`{text}` is no class; the classes are hazard, overstress, malfunction, refinement"))
    }
}

/// A place with what to write under it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Label {
    /// The place.
    pub span: Span,
    /// The words.
    pub text: String,
}

/// A fact as a finding quotes it.
#[derive(Clone, Debug, PartialEq)]
pub struct FactValue {
    /// The fact's name.
    pub name: String,
    /// Its value in the finding's state and line-up.
    pub value: Value,
    /// Its dimension.
    pub dimension: Dimension,
    /// Whether it rests on an estimate.
    pub estimated: bool,
}

/// The waiver that covers a finding.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct Waived {
    /// Why it is accepted.
    pub because: String,
    /// The last day, as written.
    pub until: Option<String>,
}

/// Something about the design that its builder should know.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The rule's name.
    pub rule: String,
    /// The consequence.
    pub class: Class,
    /// The subject: part, section, winding, net or `design`.
    pub part: String,
    /// One line, measured against allowed.
    pub message: String,
    /// What may be done about it, in order of preference.
    pub remedies: Vec<Remedy>,
    /// The state of the worst value.
    pub state: Option<State>,
    /// For `socket-empty`: which socket.
    pub empty_socket: Option<String>,
    /// The tubes that differ from the design as drawn; empty for the design as drawn.
    pub lineup: Lineup,
    /// Where it points.
    pub span: Span,
    /// Labels; the first is at `span`.
    pub labels: Vec<Label>,
    /// The facts it rests on.
    pub facts: Vec<FactValue>,
    /// How far it is past what is allowed, as a share of the larger of the two: 0.5 is twice what is allowed. 0 where the
    /// rule's demand is no comparison.
    pub excess: f64,
    /// The waiver that covers it.
    pub waived: Option<Waived>,
    /// How it fares within the tolerances of the parts, where that was asked for.
    pub by_tolerance: Option<ByTolerance>,
}

impl Finding {
    /// The identity that survives moved lines: rule, part and line-up.
    #[must_use]
    pub fn identity(&self) -> String {
        let lineup: Vec<String> = self.lineup.iter().map(|(socket, tube)| format!("{socket}={tube}")).collect();
        format!("{}|{}|{}", self.rule, self.part, lineup.join(","))
    }

    /// What to do about it, in one sentence; none where the rule has no advice.
    #[must_use]
    pub fn remedy(&self) -> Option<String> {
        self.joined(|remedy| remedy.text.clone())
    }

    /// The same, with what was checked of it.
    #[must_use]
    pub fn remedy_told(&self) -> Option<String> {
        self.joined(Remedy::told)
    }

    /// The edit that was tried out, where one was.
    #[must_use]
    pub fn checked(&self) -> Option<&Checked> {
        self.remedies.iter().find_map(|remedy| remedy.checked.as_ref())
    }

    fn joined(&self, each: impl Fn(&Remedy) -> String) -> Option<String> {
        let all: Vec<String> = self.remedies.iter().map(each).collect();
        (!all.is_empty()).then(|| all.join("; or "))
    }

    /// Total order: file, span, rule, part, message.
    #[must_use]
    pub fn order(&self, other: &Self) -> Ordering {
        (self.span, &self.rule, &self.part, &self.message).cmp(&(other.span, &other.rule, &other.part, &other.message))
    }
}

/// A rule that could not be judged for a subject, and why: it never passes silently.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
pub struct NotJudged {
    /// The rule.
    pub rule: String,
    /// The subject.
    pub part: String,
    /// Why.
    pub reason: String,
}

/// The outcome for one design.
#[derive(Clone, Debug)]
pub struct DesignReport {
    /// The path as it shall be shown.
    pub path: PathBuf,
    /// The design's title.
    pub name: String,
    /// The design's revision.
    pub revision: Option<String>,
    /// In order.
    pub findings: Vec<Finding>,
    /// Rules not judged, in order.
    pub not_judged: Vec<NotJudged>,
    /// How many rules were judged.
    pub rules_judged: usize,
    /// The largest voltage to ground that the analysis found, V; decides the caution line.
    pub highest_voltage: Option<f64>,
    /// What could not be read of this design.
    pub complaints: Vec<Complaint>,
    /// What was varied, where the spread of the parts was asked for.
    pub spread: Option<SpreadSummary>,
}
