//! What to do about a finding, with the edit that was tried out for it.

use crate::source::Span;

/// A stretch of a design's texts and what shall stand there instead.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Edit {
    /// The stretch; empty where something is put in.
    pub span: Span,
    /// What shall stand there.
    pub text: String,
}

/// What was done to a copy of the design, and cleared the finding there without bringing another as serious.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Checked {
    /// The edits in words.
    pub title: String,
    /// The edits.
    pub edits: Vec<Edit>,
}

/// A thing to do about a finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Remedy {
    /// The advice.
    pub text: String,
    /// What was tried out of it, where anything was.
    pub checked: Option<Checked>,
}

impl Remedy {
    /// Advice that nobody has tried.
    #[must_use]
    pub fn untried(text: impl Into<String>) -> Self {
        Self { text: text.into(), checked: None }
    }

    /// The advice, and what was checked of it.
    #[must_use]
    pub fn told(&self) -> String {
        match &self.checked {
            Some(checked) => format!("{} (checked: {})", self.text, checked.title),
            None => self.text.clone(),
        }
    }
}
