//! A complaint: something that could not be read or judged. Never about the electronics of a design.

use super::Span;

/// Whether what follows can still be trusted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The statement was left out; exit code 2.
    Error,
    /// Read, but worth saying.
    Warning,
}

/// What could not be read, where, and what to do about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Complaint {
    /// Whether the statement was left out.
    pub severity: Severity,
    /// One line, own words.
    pub message: String,
    /// The place, where there is one.
    pub span: Option<Span>,
    /// What to write under the place.
    pub label: String,
    /// Further places.
    pub others: Vec<(Span, String)>,
    /// What to do about it.
    pub help: Option<String>,
}

impl Complaint {
    /// An error at a place.
    pub fn at(span: Span, message: impl Into<String>, label: impl Into<String>) -> Self {
        Self {
            severity: Severity::Error,
            message: message.into(),
            span: Some(span),
            label: label.into(),
            others: Vec::new(),
            help: None,
        }
    }

    /// An error without a place (a file that cannot be opened).
    pub fn general(message: impl Into<String>) -> Self {
        Self {
            severity: Severity::Error,
            message: message.into(),
            span: None,
            label: String::new(),
            others: Vec::new(),
            help: None,
        }
    }

    /// Adds what to do about it.
    #[must_use]
    pub fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    /// Adds a further place.
    #[must_use]
    pub fn also(mut self, span: Span, text: impl Into<String>) -> Self {
        self.others.push((span, text.into()));
        self
    }

    /// Makes it a warning.
    #[must_use]
    pub fn warning(mut self) -> Self {
        self.severity = Severity::Warning;
        self
    }
}
