//! A checked expression: every name is resolved and every dimension agrees.

use crate::facts::{FactDefinition, SubjectKind, ValueKind};

use super::functions::Function;
use super::syntax::Operator;

/// A checked expression.
#[derive(Clone, Debug, PartialEq)]
pub struct Expression {
    pub(super) term: Term,
    pub(super) text: String,
}

/// A fact as an expression uses it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FactUse {
    /// Which.
    pub definition: &'static FactDefinition,
    /// Whether it is had from the design instead of the subject.
    pub of_design: bool,
}

#[derive(Clone, Debug, PartialEq)]
pub(in crate::rules) struct Term {
    pub(super) what: TermKind,
    pub(super) kind: ValueKind,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) enum TermKind {
    Number(f64),
    Word(String),
    Flag(bool),
    Fact(FactUse),
    Limit(String),
    State,
    SubjectKind,
    Negate(Box<Term>),
    Not(Box<Term>),
    Binary(Operator, Box<Term>, Box<Term>),
    Known(FactUse),
    Shelf(FactUse, Vec<SubjectKind>, Box<Term>),
    Call(Function, Vec<Term>),
}

impl Expression {
    /// What kind of value comes out.
    #[must_use]
    pub fn kind(&self) -> ValueKind {
        self.term.kind
    }

    /// The facts that it names, each once, in order of writing.
    #[must_use]
    pub fn facts(&self) -> Vec<FactUse> {
        let mut facts = Vec::new();
        collect(&self.term, &mut facts);
        facts
    }

    /// The fact, where it is nothing else.
    #[must_use]
    pub fn only_fact(&self) -> Option<FactUse> {
        match &self.term.what {
            TermKind::Fact(fact) => Some(*fact),
            _ => None,
        }
    }

    pub(in crate::rules) fn term(&self) -> &Term {
        &self.term
    }
}

pub(super) fn children(term: &Term) -> Vec<&Term> {
    match &term.what {
        TermKind::Number(_)
        | TermKind::Word(_)
        | TermKind::Flag(_)
        | TermKind::Fact(_)
        | TermKind::Limit(_)
        | TermKind::State
        | TermKind::SubjectKind
        | TermKind::Known(_) => Vec::new(),
        TermKind::Negate(inner) | TermKind::Not(inner) | TermKind::Shelf(_, _, inner) => {
            vec![inner]
        }
        TermKind::Binary(_, left, right) => vec![left, right],
        TermKind::Call(_, arguments) => arguments.iter().collect(),
    }
}

pub(super) fn collect(term: &Term, facts: &mut Vec<FactUse>) {
    if let TermKind::Fact(fact) | TermKind::Known(fact) = &term.what
        && !facts.contains(fact)
    {
        facts.push(*fact);
    }
    for child in children(term) {
        collect(child, facts);
    }
}
