//! One subject in one state and line-up: the facts that stand together there.

use crate::facts::{Entry, Fact, FactTable, Sample, State, SubjectId, SubjectKind, Value};

use super::expression::{FactUse, Gap, Scope};
use super::rule::Limit;
use super::shelves::Shelves;
use super::template::Speaker;

/// A state and a line-up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Setting {
    pub(super) lineup: usize,
    pub(super) state: Option<State>,
    pub(super) empty_socket: Option<String>,
}

/// A subject of a table and what may be asked of it.
#[derive(Clone, Copy)]
pub(super) struct Bench<'a> {
    pub(super) facts: &'a FactTable,
    pub(super) subject: SubjectId,
    pub(super) design: Option<SubjectId>,
    pub(super) limits: &'a [Limit],
    pub(super) shelves: &'a Shelves,
}

impl<'a> Bench<'a> {
    pub(super) fn owner(&self, of_design: bool) -> Option<SubjectId> {
        if of_design { self.design } else { Some(self.subject) }
    }

    pub(super) fn known(&self, fact: &FactUse) -> Option<&'a Fact> {
        self.facts.fact(self.owner(fact.of_design)?, fact.definition.name)
    }

    pub(super) fn in_setting(self, setting: &'a Setting) -> Sitting<'a> {
        Sitting { bench: self, setting, speaks: false }
    }

    /// The subject as a finding speaks of it: a fact that is known in other states only is quoted at its worst.
    pub(super) fn spoken_of_in(self, setting: &'a Setting) -> Sitting<'a> {
        Sitting { bench: self, setting, speaks: true }
    }

    /// Every state and line-up in which the facts were computed: states that no fact singles out are left out where
    /// any fact has states, because what has none stands in all of them.
    pub(super) fn settings(&self, uses: &[FactUse]) -> Vec<Setting> {
        let mut lineups = vec![0];
        let mut states: Vec<(Option<State>, Option<String>)> = Vec::new();
        for sample in uses.iter().filter_map(|fact| self.known(fact)).flat_map(|fact| &fact.samples) {
            if !lineups.contains(&sample.lineup) {
                lineups.push(sample.lineup);
            }
            let state = (sample.state, sample.empty_socket.clone());
            if sample.state.is_some() && !states.contains(&state) {
                states.push(state);
            }
        }
        lineups.sort_unstable();
        states.sort();
        if states.is_empty() {
            states.push((None, None));
        }
        lineups
            .into_iter()
            .flat_map(|lineup| {
                states.iter().map(move |(state, empty)| Setting { lineup, state: *state, empty_socket: empty.clone() })
            })
            .collect()
    }
}

/// The subject that stands for the whole design.
pub(super) fn design_of(facts: &FactTable) -> Option<SubjectId> {
    facts.subjects.iter().position(|subject| subject.kind == SubjectKind::Design).map(SubjectId)
}

/// A subject in one setting.
pub(super) struct Sitting<'a> {
    pub(super) bench: Bench<'a>,
    pub(super) setting: &'a Setting,
    speaks: bool,
}

impl Sitting<'_> {
    /// The sample of a fact that belongs to this setting. A fact recorded for the design as drawn only stands for every
    /// line-up; one that was recorded for this line-up too is looked for in this line-up only.
    fn sample<'f>(&self, fact: &'f Fact) -> Option<&'f Sample> {
        let setting = self.setting;
        let own = fact.samples.iter().any(|s| s.lineup == setting.lineup);
        // A line-up that has no solution here does not borrow the figures of the design as drawn.
        let solved = fact.samples.iter().any(|s| s.state.is_some());
        let unsolved = self.bench.facts.unsolved.iter().any(|open| {
            open.lineup == setting.lineup
                && Some(open.state) == setting.state
                && open.empty_socket == setting.empty_socket
        });
        if !own && solved && unsolved {
            return None;
        }
        let lineup = if own { setting.lineup } else { 0 };
        let with = |state: Option<State>, empty: Option<&str>| {
            fact.samples.iter().find(|s| s.lineup == lineup && s.state == state && s.empty_socket.as_deref() == empty)
        };
        with(setting.state, setting.empty_socket.as_deref()).or_else(|| with(None, None))
    }

    /// The sample that is quoted: of this setting, or else the worst.
    pub(super) fn quoted(&self, fact: &FactUse) -> Option<&Sample> {
        let fact = self.bench.known(fact)?;
        self.sample(fact).or_else(|| fact.worst_sample())
    }
}

impl Scope for Sitting<'_> {
    fn fact(&self, fact: &FactUse) -> Result<Value, Gap> {
        let name = fact.definition.name;
        let owner = self.bench.owner(fact.of_design).ok_or(Gap::Absent(name))?;
        match self.bench.facts.entry(owner, name) {
            None => Err(Gap::Absent(name)),
            Some(Entry::Failed { reason }) => Err(Gap::Failed(name, reason.clone())),
            Some(Entry::Known(fact)) => self
                .sample(fact)
                .or_else(|| self.speaks.then(|| fact.worst_sample()).flatten())
                .map(|sample| sample.value.clone())
                .ok_or(Gap::OtherState(name)),
        }
    }

    fn limit(&self, name: &str) -> Option<f64> {
        self.bench.limits.iter().find(|limit| limit.name == name).map(|limit| limit.value)
    }

    fn state(&self) -> Option<State> {
        self.setting.state
    }

    fn subject(&self) -> Option<SubjectKind> {
        let subject = self.bench.facts.subject(self.bench.subject)?;
        Some(subject.kind)
    }

    fn shelves(&self) -> &Shelves {
        self.bench.shelves
    }
}

impl Speaker for Sitting<'_> {
    fn name(&self) -> &str {
        let subject = self.bench.facts.subject(self.bench.subject);
        match subject {
            Some(subject) if subject.kind == SubjectKind::Design => "the design",
            Some(subject) => &subject.name,
            None => "",
        }
    }

    fn state_of(&self, fact: &FactUse) -> String {
        let sample = self.quoted(fact);
        match sample.map(|s| (s.state, &s.empty_socket)) {
            Some((Some(State::SocketEmpty), Some(socket))) => format!("socket {socket} empty"),
            Some((Some(state), _)) => state.name().to_owned(),
            _ => "every state".to_owned(),
        }
    }

    fn lineup_of(&self, fact: &FactUse) -> String {
        let lineup = self.quoted(fact).map_or(0, |sample| sample.lineup);
        let tubes: Vec<String> = changed_tubes(self.bench.facts, lineup)
            .into_iter()
            .map(|(socket, tube)| format!("{tube} in {socket}"))
            .collect();
        if tubes.is_empty() { "as drawn".to_owned() } else { tubes.join(", ") }
    }
}

/// The sockets of a line-up that hold something else than in the design as drawn.
pub(super) fn changed_tubes(facts: &FactTable, lineup: usize) -> crate::facts::Lineup {
    let (Some(drawn), Some(other)) = (facts.lineups.first(), facts.lineups.get(lineup)) else {
        return crate::facts::Lineup::new();
    };
    other
        .iter()
        .filter(|(socket, tube)| drawn.get(*socket) != Some(tube))
        .map(|(socket, tube)| (socket.clone(), tube.clone()))
        .collect()
}
