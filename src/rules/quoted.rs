//! A quoted text of a rule file, with the way back from a byte of the text to its place in the file.

use crate::source::{Complaint, Scalar, Sources, Span, Spanned};

use super::expression::ExpressionError;

/// A text and where it was written.
#[derive(Clone, Debug)]
pub(super) struct Quoted {
    pub(super) text: String,
    pub(super) span: Span,
    /// File offset of the text's first byte; `None` where escapes or indentation make the two differ.
    base: Option<usize>,
}

impl Quoted {
    /// The text of a value, where it is a text.
    pub(super) fn new(value: &Spanned<Scalar>, sources: &Sources) -> Option<Self> {
        let Scalar::Text(text) = &value.value else {
            return None;
        };
        let raw = sources.text(value.span);
        let base =
            (!text.is_empty()).then(|| raw.find(text.as_str())).flatten().map(|offset| value.span.start + offset);
        Some(Self { text: text.clone(), span: value.span, base })
    }

    /// The place of a byte range of the text; the whole value where it cannot be told.
    pub(super) fn place(&self, start: usize, end: usize) -> Span {
        match self.base {
            Some(base) => Span::new(self.span.file, base + start, base + end.max(start)),
            None => self.span,
        }
    }

    /// A complaint about the text.
    pub(super) fn complain(&self, error: ExpressionError) -> Complaint {
        let place = self.place(error.start, error.end);
        let complaint = Complaint::at(place, error.message, error.label);
        match error.help {
            Some(help) => complaint.help(help),
            None => complaint,
        }
    }
}
