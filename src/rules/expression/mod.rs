//! The expression language of rules: numbers with units, facts, limits, arithmetic, comparisons, logic.
//!
//! Text is lexed, parsed, and checked for dimension when a rule is read; what comes out can only be evaluated. A fact that
//! is not known makes the outcome unknown, never true.

mod check;
mod evaluate;
mod firmness;
mod functions;
mod lexer;
mod parser;
mod solve;
mod syntax;
mod term;
mod trace;

pub use check::Vocabulary;
pub use evaluate::{Gap, Scope};
pub use solve::Edge;
pub use term::{Expression, FactUse};

pub use trace::{Step, Traced};

pub(super) use lexer::read_number;
pub(super) use trace::shown;

use crate::facts::ValueKind;

/// Why an expression is no expression: a byte range of its text and what is wrong there.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ExpressionError {
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
    /// One line.
    pub message: String,
    /// What to write under the place.
    pub label: String,
    /// What to do about it.
    pub help: Option<String>,
}

impl ExpressionError {
    fn new(start: usize, end: usize, message: impl Into<String>, label: impl Into<String>) -> Self {
        Self { start, end, message: message.into(), label: label.into(), help: None }
    }

    fn help(mut self, help: impl Into<String>) -> Self {
        self.help = Some(help.into());
        self
    }

    pub(super) fn shifted(mut self, by: usize) -> Self {
        self.start += by;
        self.end += by;
        self
    }
}

impl Expression {
    /// Lexes, parses and checks a text against what may be named in it.
    ///
    /// # Errors
    /// The first thing that is wrong, with its place in the text.
    pub fn read(text: &str, vocabulary: &Vocabulary) -> Result<Self, ExpressionError> {
        let tokens = lexer::lex(text)?;
        let node = parser::parse(&tokens, text.len())?;
        check::check(&node, vocabulary).map(|term| Self { term, text: text.trim().to_owned() })
    }

    /// The expression as written.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The same, for a text that must answer yes or no.
    ///
    /// # Errors
    /// As [`Expression::read`]; also where the outcome is no yes or no.
    pub fn read_flag(text: &str, vocabulary: &Vocabulary) -> Result<Self, ExpressionError> {
        let expression = Self::read(text, vocabulary)?;
        match expression.kind() {
            ValueKind::Flag => Ok(expression),
            other => Err(ExpressionError::new(
                0,
                text.len(),
                format!("a yes or no is wanted here, and this is {}", check::describe(other)),
                "compare it with something",
            )),
        }
    }
}
