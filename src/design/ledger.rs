//! Where the readers write: complaints and, where somebody wants to know, what each statement was asked for.
//!
//! What a statement may have is told by the readers that ask for it, so that no list of it is kept elsewhere.

use std::cell::RefCell;
use std::ops::Deref;

use crate::source::{Complaint, Statement};
use crate::units::Dimension;

/// How the value of a property is written.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Form {
    /// A net or a terminal.
    Reference,
    /// A quantity of a dimension.
    Quantity(Dimension),
    /// One of some words.
    OneOf(Vec<String>),
    /// Anything else.
    Other,
}

/// What one statement was asked for, known by the place where the statement begins.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Asked {
    /// A property.
    Property(usize, &'static str, Form),
    /// The statements that may stand inside it.
    Children(usize, Vec<String>),
}

/// Complaints, and what was asked.
pub(super) struct Ledger {
    complaints: RefCell<Vec<Complaint>>,
    asked: Option<RefCell<Vec<Asked>>>,
}

impl Ledger {
    /// A ledger that begins with these complaints.
    pub(super) fn new(complaints: Vec<Complaint>) -> Self {
        Self { complaints: RefCell::new(complaints), asked: None }
    }

    /// A ledger that remembers what was asked.
    pub(super) fn listening() -> Self {
        Self { complaints: RefCell::default(), asked: Some(RefCell::default()) }
    }

    pub(super) fn into_complaints(self) -> Vec<Complaint> {
        self.complaints.into_inner()
    }

    pub(super) fn into_asked(self) -> Vec<Asked> {
        self.asked.map(RefCell::into_inner).unwrap_or_default()
    }

    pub(super) fn note(&self, statement: &Statement, property: &'static str, form: impl FnOnce() -> Form) {
        if let Some(asked) = &self.asked {
            asked.borrow_mut().push(Asked::Property(statement.span.start, property, form()));
        }
    }

    pub(super) fn note_children(&self, statement: &Statement, children: &[&str]) {
        if let Some(asked) = &self.asked {
            let children = children.iter().map(|&child| child.to_owned()).collect();
            asked.borrow_mut().push(Asked::Children(statement.span.start, children));
        }
    }
}

impl Deref for Ledger {
    type Target = RefCell<Vec<Complaint>>;

    fn deref(&self) -> &Self::Target {
        &self.complaints
    }
}
