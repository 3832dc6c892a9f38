//! What is read of a scope (the top level or a stage) before it is unfolded: typed parts whose references are still words.
//!
//! A stage is read once, however often it is fitted, so that a wrong value is told once.

use std::collections::{HashMap, HashSet};

use crate::catalogue::Devices;
use crate::source::{Span, Spanned};
use crate::units::{Ratio, Volts};

use super::Kind;
use super::ledger::Ledger;

/// What every reader of statements is given.
pub(super) struct Context<'a> {
    pub(super) devices: &'a dyn Devices,
    pub(super) complaints: &'a Ledger,
}

/// A terminal joined to a reference that is still a word.
#[derive(Clone, Debug)]
pub(super) struct Join {
    pub(super) terminal: String,
    pub(super) to: Spanned<String>,
}

/// The kind of a part with its terminals and what its statement joins.
pub(super) struct Body {
    pub(super) kind: Kind,
    pub(super) terminals: Vec<String>,
    pub(super) joins: Vec<Join>,
}

/// A part as its scope has it.
pub(super) struct PartTemplate {
    pub(super) name: Spanned<String>,
    pub(super) span: Span,
    pub(super) body: Body,
    pub(super) note: Option<String>,
    pub(super) maker: Option<String>,
    pub(super) series: Option<String>,
    pub(super) waivers: Vec<WaiverTemplate>,
}

/// `wire`, not resolved.
pub(super) struct WireTemplate {
    pub(super) ends: Vec<Spanned<String>>,
    pub(super) span: Span,
}

/// `reading`, not resolved.
pub(super) struct ReadingTemplate {
    pub(super) at: Spanned<String>,
    pub(super) voltage: Spanned<Volts>,
    pub(super) by: Option<String>,
    pub(super) tolerance: Option<Ratio>,
    pub(super) span: Span,
}

/// `waive`, its subject not resolved.
pub(super) struct WaiverTemplate {
    pub(super) rule: Spanned<String>,
    pub(super) subject: Option<Spanned<String>>,
    pub(super) because: String,
    pub(super) until: Option<Spanned<jiff::civil::Date>>,
    pub(super) span: Span,
}

/// `fit`, not resolved.
pub(super) struct FitTemplate {
    pub(super) stage: Spanned<String>,
    pub(super) name: Spanned<String>,
    pub(super) ports: Vec<(Spanned<String>, Spanned<String>)>,
    pub(super) span: Span,
    pub(super) broken: bool,
}

/// Everything of one scope.
#[derive(Default)]
pub(super) struct Scope {
    pub(super) ports: Vec<Spanned<String>>,
    pub(super) parts: Vec<PartTemplate>,
    pub(super) wires: Vec<WireTemplate>,
    pub(super) readings: Vec<ReadingTemplate>,
    pub(super) waivers: Vec<WaiverTemplate>,
    pub(super) fits: Vec<FitTemplate>,
    /// Names of parts and copies, with the place of the first.
    pub(super) names: HashMap<String, Span>,
    /// Names of parts that could not be read: references to them are passed over in silence.
    pub(super) lost: HashSet<String>,
    /// Names used as nets of this scope.
    pub(super) nets: HashSet<String>,
}

/// A stage.
pub(super) struct Stage {
    pub(super) name: Spanned<String>,
    pub(super) scope: Scope,
}

/// The nets that are the same in every scope.
pub(crate) const RESERVED_NETS: [&str; 3] = ["ground", "chassis", "earth"];

impl Scope {
    /// All references of the scope, as words.
    fn words(&self) -> impl Iterator<Item = &str> {
        let joins = self.parts.iter().flat_map(|part| part.body.joins.iter().map(|join| join.to.value.as_str()));
        let wires = self.wires.iter().flat_map(|wire| wire.ends.iter().map(|end| end.value.as_str()));
        let readings = self.readings.iter().map(|reading| reading.at.value.as_str());
        let fits = self.fits.iter().flat_map(|fit| fit.ports.iter().map(|(_, to)| to.value.as_str()));
        joins.chain(wires).chain(readings).chain(fits)
    }

    /// Notes which words name nets of this scope.
    pub(super) fn note_nets(&mut self) {
        let nets: HashSet<String> = self
            .words()
            .filter(|word| {
                !word.contains('.')
                    && !RESERVED_NETS.contains(word)
                    && !self.names.contains_key(*word)
                    && !self.ports.iter().any(|port| port.value == *word)
            })
            .map(str::to_owned)
            .collect();
        self.nets = nets;
    }
}
