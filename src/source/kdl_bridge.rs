//! The only file that names types of the `kdl` crate: the head of one statement in, neutral values out.
//!
//! Sees a head without braces, so that the parser's time and stack do not depend on nesting.

use kdl::{KdlDocument, KdlIdentifier, KdlValue};

use super::statement::Scalar;

/// A value with its byte range in the head.
pub(super) struct Entry {
    /// The key and its range, for a property.
    pub(super) key: Option<(String, usize, usize)>,
    /// The value; `None` where a number is not finite.
    pub(super) value: Option<Scalar>,
    pub(super) start: usize,
    pub(super) end: usize,
    /// The range of a `(type)` annotation's word, where there is one.
    pub(super) annotation: Option<(usize, usize)>,
}

/// The head of a statement.
pub(super) struct Head {
    pub(super) name: (String, usize, usize),
    pub(super) entries: Vec<Entry>,
    pub(super) annotation: Option<(usize, usize)>,
}

/// Where the parser stopped, as a byte range of the head.
pub(super) struct Stopped {
    pub(super) start: usize,
    pub(super) end: usize,
}

/// Parses the head of one statement.
pub(super) fn read_head(text: &str) -> Result<Head, Stopped> {
    let document = KdlDocument::parse(text).map_err(|error| {
        error
            .diagnostics
            .iter()
            .map(|found| Stopped { start: found.span.offset(), end: found.span.offset() + found.span.len() })
            .min_by_key(|stopped| stopped.start)
            .unwrap_or(Stopped { start: 0, end: 0 })
    })?;
    let [node] = document.nodes() else {
        return Err(Stopped { start: 0, end: 0 });
    };
    let range = |identifier: &KdlIdentifier| {
        let span = identifier.span();
        (span.offset(), span.offset() + span.len())
    };
    let (start, end) = range(node.name());
    let entries = node
        .entries()
        .iter()
        .map(|entry| {
            let end = entry.span().offset() + entry.span().len();
            let start = match (entry.name(), entry.format()) {
                (Some(_), Some(format)) => end.saturating_sub(format.value_repr.len()),
                _ => entry.span().offset(),
            };
            Entry {
                key: entry.name().map(|name| {
                    let (start, end) = range(name);
                    (name.value().to_owned(), start, end)
                }),
                value: scalar(entry.value()),
                start,
                end,
                annotation: entry.ty().map(range),
            }
        })
        .collect();
    Ok(Head { name: (node.name().value().to_owned(), start, end), entries, annotation: node.ty().map(range) })
}

fn scalar(value: &KdlValue) -> Option<Scalar> {
    Some(match value {
        KdlValue::String(text) => Scalar::Text(text.clone()),
        // Whole numbers beyond 2^53 lose digits, and no value of an amplifier has so many.
        KdlValue::Integer(number) => Scalar::Number(*number as f64),
        KdlValue::Float(number) if number.is_finite() => Scalar::Number(*number),
        KdlValue::Float(_) => return None,
        KdlValue::Bool(flag) => Scalar::Flag(*flag),
        KdlValue::Null => Scalar::Null,
    })
}
