//! How the facts of a subject are written down: stated ones once, computed ones for every condition that was solved.

use std::collections::BTreeSet;

use crate::circuit::NetId;
use crate::design::PartId;
use crate::physics::{ElementId, ElementSwing, SolveError, SteadyState};
use crate::source::Span;

use super::study::{Solved, Study};
use super::windings::winding_sources;
use super::{
    Fact, FactTable, Origin, Sample, State, Subject, SubjectId, SubjectKind, Unsolved, Value, find_definition,
};

/// Writes facts into the table of a study.
pub(crate) struct Recorder<'a> {
    /// The study.
    pub(crate) study: &'a Study<'a>,
    /// What has been written.
    pub(crate) table: FactTable,
    assumptions: Vec<String>,
}

impl<'a> Recorder<'a> {
    /// An empty table for a study, its unsolved conditions noted.
    pub(crate) fn new(study: &'a Study<'a>) -> Self {
        let mut table = FactTable::default();
        table.lineups.clone_from(&study.lineups);
        table.unsolved = unsolved(study);
        Self { study, table, assumptions: assumptions(study) }
    }

    /// Adds a subject; `part` is the part it belongs to.
    pub(crate) fn subject(&mut self, kind: SubjectKind, name: &str, part: Option<PartId>, span: Span) -> SubjectId {
        let part = part.map(|id| self.study.design.part(id).name.clone());
        self.table.add_subject(Subject { kind, name: name.to_owned(), part, span })
    }

    /// A fact that no state or line-up changes.
    pub(crate) fn stated(&mut self, subject: SubjectId, fact: &str, value: Value, span: Span, text: &str) {
        let samples = vec![sample(None, 0, value)];
        self.write(subject, fact, samples, vec![origin(span, text)], Vec::new());
    }

    /// A quantity that no state or line-up changes.
    pub(crate) fn quantity(&mut self, subject: SubjectId, fact: &str, value: f64, span: Span, text: &str) {
        self.stated(subject, fact, Value::Quantity(value), span, text);
    }

    /// A yes or no read from the connections.
    pub(crate) fn flag(&mut self, subject: SubjectId, fact: &str, value: bool, span: Span) {
        self.stated(subject, fact, Value::Flag(value), span, "as connected");
    }

    /// A word.
    pub(crate) fn word(&mut self, subject: SubjectId, fact: &str, value: &str, span: Span) {
        self.stated(subject, fact, Value::Word(value.to_owned()), span, "as connected");
    }

    /// A fact that only the line-up changes: a published limit of the tube that sits there.
    pub(crate) fn by_lineup(
        &mut self,
        subject: SubjectId,
        fact: &str,
        span: Span,
        text: &str,
        mut value: impl FnMut(usize) -> Option<Value>,
    ) {
        let samples: Vec<Sample> =
            (0..self.study.lineups.len()).filter_map(|i| Some(sample(None, i, value(i)?))).collect();
        self.write(subject, fact, samples, vec![origin(span, text)], Vec::new());
    }

    /// A fact computed in every condition that was solved; `None` where the condition does not reach it.
    pub(crate) fn solved(
        &mut self,
        subject: SubjectId,
        fact: &str,
        origins: &[Origin],
        value: impl Fn(&Solved, &SteadyState) -> Option<f64>,
    ) {
        let study = self.study;
        let mut samples = Vec::new();
        let mut failed = false;
        for solved in &study.solved {
            match &solved.steady {
                Ok(steady) => {
                    if let Some(number) = value(solved, steady).filter(|number| !number.is_nan()) {
                        samples.push(Sample {
                            state: Some(solved.state),
                            lineup: solved.lineup,
                            empty_socket: solved.empty.map(|id| study.design.part(id).name.clone()),
                            value: Value::Quantity(number),
                        });
                    }
                }
                Err(_) => failed = true,
            }
        }
        if samples.is_empty() && failed {
            self.failure(subject, fact, "the circuit could not be solved");
            return;
        }
        let assumptions = self.assumptions.clone();
        self.write(subject, fact, samples, origins.to_vec(), assumptions);
    }

    /// A computed fact in one state of the design as drawn.
    pub(crate) fn in_state(
        &mut self,
        subject: SubjectId,
        fact: &str,
        state: State,
        value: Value,
        origins: Vec<Origin>,
    ) {
        let assumptions = self.assumptions.clone();
        self.write(subject, fact, vec![sample(Some(state), 0, value)], origins, assumptions);
    }

    /// Samples made elsewhere, with what they rest on.
    pub(crate) fn samples(&mut self, subject: SubjectId, fact: &str, samples: Vec<Sample>, origins: Vec<Origin>) {
        let assumptions = self.assumptions.clone();
        self.write(subject, fact, samples, origins, assumptions);
    }

    /// The same, resting besides on what is given here.
    pub(crate) fn samples_assuming(
        &mut self,
        subject: SubjectId,
        fact: &str,
        samples: Vec<Sample>,
        origins: Vec<Origin>,
        more: &[String],
    ) {
        let assumptions = self.assumptions.iter().chain(more).cloned().collect();
        self.write(subject, fact, samples, origins, assumptions);
    }

    /// The subject of a kind and name that was added before.
    pub(crate) fn find(&self, kind: SubjectKind, name: &str) -> Option<SubjectId> {
        self.table.named(name).find(|id| self.table.subject(*id).is_some_and(|subject| subject.kind == kind))
    }

    /// A fact that should exist and could not be had.
    pub(crate) fn failure(&mut self, subject: SubjectId, fact: &str, reason: &str) {
        if let Some(definition) = find_definition(fact) {
            self.table.record_failure(subject, definition, reason);
        }
    }

    /// The same for a fact of which nothing has been recorded.
    pub(crate) fn failure_where_missing(&mut self, subject: SubjectId, fact: &str, reason: &str) {
        if self.table.entry(subject, fact).is_none() {
            self.failure(subject, fact, reason);
        }
    }

    fn write(
        &mut self,
        subject: SubjectId,
        fact: &str,
        samples: Vec<Sample>,
        origins: Vec<Origin>,
        assumptions: Vec<String>,
    ) {
        if let Some(definition) = find_definition(fact) {
            let estimated = !assumptions.is_empty();
            self.table.record(subject, definition, Fact { samples, worst: 0, estimated, assumptions, origins });
        }
    }

    /// Where a terminal is joined, for pointing at.
    pub(crate) fn terminal_origin(&self, part: PartId, terminal: &str) -> Vec<Origin> {
        let name_span = self.study.design.part(part).name_span;
        let span = self.study.circuit.joined_at(part, terminal).unwrap_or(name_span);
        vec![origin(span, "joined here")]
    }
}

/// A sample of the design as drawn, or of a line-up.
pub(crate) fn sample(state: Option<State>, lineup: usize, value: Value) -> Sample {
    Sample { state, lineup, empty_socket: None, value }
}

/// A place with a few words.
pub(crate) fn origin(span: Span, text: &str) -> Origin {
    Origin { span, text: text.to_owned() }
}

impl Solved {
    /// The swing of a part's element.
    pub(crate) fn swing<'s>(&self, steady: &'s SteadyState, part: PartId, way: &str) -> Option<&'s ElementSwing> {
        let ElementId(place) = self.lowered.element(part, way)?;
        steady.elements.get(place)
    }

    /// The mean voltage of a net, where its potential is fixed.
    pub(crate) fn mean(&self, steady: &SteadyState, net: NetId) -> Option<f64> {
        let node = self.lowered.node(net)?;
        if steady.mean.floating.contains(&node) {
            return None;
        }
        steady.nodes.get(node.0).map(|swing| swing.mean)
    }
}

fn assumptions(study: &Study<'_>) -> Vec<String> {
    let mut found: BTreeSet<String> = study.mains.assumption.iter().cloned().collect();
    for part in &study.design.parts {
        match &part.kind {
            crate::design::Kind::Transformer(transformer) => {
                found.extend(winding_sources(transformer).into_iter().flat_map(|winding| winding.assumptions));
            }
            crate::design::Kind::Choke(choke) if choke.resistance.is_none() => {
                found.insert(format!("resistance of choke {} taken as 0 Ω", part.name));
            }
            _ => {}
        }
    }
    found.into_iter().collect()
}

fn unsolved(study: &Study<'_>) -> Vec<Unsolved> {
    let mut found = Vec::new();
    for solved in &study.solved {
        if let Err(error) = &solved.steady {
            let nodes = match error {
                SolveError::Singular { node } | SolveError::NonFinite { node } => vec![*node],
                SolveError::NoConvergence { nodes, .. } => nodes.clone(),
                SolveError::Malformed { .. } => Vec::new(),
            };
            let nets: Vec<NetId> = nodes.iter().filter_map(|node| solved.lowered.net(*node)).take(4).collect();
            let names: Vec<&str> = nets.iter().map(|net| study.circuit.net(*net).name.as_str()).collect();
            let at = if names.is_empty() { String::new() } else { format!(", at {}", names.join(", ")) };
            found.push(Unsolved {
                state: solved.state,
                lineup: solved.lineup,
                empty_socket: solved.empty.map(|id| study.design.part(id).name.clone()),
                reason: format!("{error}{at}"),
                span: nets.first().map(|net| study.circuit.net(*net).span),
            });
        }
    }
    if let Some(first) = study.solved.first() {
        for (part, reason) in &first.lowered.unmodelled {
            let part = study.design.part(*part);
            found.push(Unsolved {
                state: State::Running,
                lineup: 0,
                empty_socket: None,
                reason: format!("{}: {reason}", part.name),
                span: Some(part.name_span),
            });
        }
    }
    found
}
