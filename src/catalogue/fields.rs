//! Reading one value, one word or one source of a catalogue statement, with a complaint at its span where it is wrong.

use crate::source::{Complaint, Scalar, Span, Spanned, Statement};
use crate::units::{Quantity, parse_value};

use super::DeviceSource;
use super::names::nearest;

/// A positive quantity written as builders write it, or as a bare number in base SI units.
pub(super) fn quantity<Q: Quantity>(value: &Spanned<Scalar>, out: &mut Vec<Complaint>) -> Option<Q> {
    let noun = Q::DIMENSION.with_article();
    let read = match &value.value {
        Scalar::Text(text) => parse_value(text, Q::DIMENSION).map_err(|error| error.to_string()),
        Scalar::Number(number) if number.is_finite() => Ok(*number),
        Scalar::Number(_) | Scalar::Flag(_) | Scalar::Null => Err(format!("{noun} is wanted here")),
    };
    match read {
        Ok(number) if number > 0.0 => Some(Q::from_base(number)),
        Ok(_) => {
            out.push(Complaint::at(value.span, format!("{noun} of the catalogue is above zero"), "not above zero"));
            None
        }
        Err(message) => {
            out.push(Complaint::at(value.span, message, format!("{noun} is wanted")));
            None
        }
    }
}

/// The only argument of a statement, as a quantity.
pub(super) fn only_quantity<Q: Quantity>(statement: &Statement, out: &mut Vec<Complaint>) -> Option<Q> {
    match statement.arguments.as_slice() {
        [value] => quantity(value, out),
        _ => {
            out.push(Complaint::at(
                statement.span,
                format!("`{}` takes one value", statement.name.value),
                "one value is wanted",
            ));
            None
        }
    }
}

/// A word at a position of a statement's arguments.
pub(super) fn word<'a>(
    statement: &'a Statement,
    index: usize,
    what: &str,
    out: &mut Vec<Complaint>,
) -> Option<Spanned<&'a str>> {
    match statement.argument(index) {
        Some(Spanned { value: Scalar::Text(text), span }) => Some(Spanned::new(text.as_str(), *span)),
        Some(other) => {
            out.push(Complaint::at(other.span, format!("{what} is a word"), "a word is wanted"));
            None
        }
        None => {
            out.push(Complaint::at(
                statement.name.span,
                format!("`{}` lacks {what}", statement.name.value),
                format!("{what} is missing"),
            ));
            None
        }
    }
}

/// All arguments as words.
pub(super) fn words<'a>(
    statement: &'a Statement,
    from: usize,
    what: &str,
    out: &mut Vec<Complaint>,
) -> Vec<Spanned<&'a str>> {
    (from..statement.arguments.len()).filter_map(|index| word(statement, index, what, out)).collect()
}

/// A word that is none of those known here.
pub(super) fn unknown(span: Span, what: &str, written: &str, known: &[&str], out: &mut Vec<Complaint>) {
    let complaint = Complaint::at(span, format!("`{written}` is no {what}"), "not known here");
    out.push(match nearest(written, known.iter().copied()) {
        Some(word) => complaint.help(format!("`{word}` is the nearest known")),
        None => complaint.help(format!("known here: {}", known.join(", "))),
    });
}

/// Complains of every property that is none of those known.
pub(super) fn known_properties(statement: &Statement, known: &[&str], out: &mut Vec<Complaint>) {
    for property in &statement.properties {
        if !known.contains(&property.name.value.as_str()) {
            let what = format!("key of `{}`", statement.name.value);
            unknown(property.name.span, &what, &property.name.value, known, out);
        }
    }
}

/// A statement that needs something that it does not have.
pub(super) fn missing(statement: &Statement, what: &str, out: &mut Vec<Complaint>) {
    if statement.broken {
        return;
    }
    out.push(Complaint::at(
        statement.name.span,
        format!("`{}` lacks {what}", statement.name.value),
        format!("{what} is missing"),
    ));
}

/// The `source` children of a group of figures; a group without one is worth a warning.
pub(super) fn sources(group: &Statement, out: &mut Vec<Complaint>) -> Vec<DeviceSource> {
    let mut found = Vec::new();
    for child in group.children.iter().filter(|c| c.name.value == "source") {
        known_properties(child, &["from-memory"], out);
        let document = word(child, 0, "the name of a document", out);
        let from_memory = match child.property("from-memory").map(|p| &p.value.value) {
            Some(Scalar::Flag(flag)) => Some(*flag),
            _ => {
                missing(child, "`from-memory=#true` or `from-memory=#false`", out);
                None
            }
        };
        if let (Some(document), Some(from_memory)) = (document, from_memory) {
            found.push(DeviceSource { document: document.value.to_owned(), from_memory });
        }
    }
    if found.is_empty() {
        out.push(
            Complaint::at(
                group.name.span,
                format!("nothing says where the figures of `{}` come from", group.name.value),
                "no source",
            )
            .help("add `source \"the document\" from-memory=#true` (or #false where a page was checked)")
            .warning(),
        );
    }
    found
}

/// Complains of every child that is none of those known, and of a second one where only one can be meant; `source` is
/// known everywhere.
pub(super) fn known_children(statement: &Statement, single: &[&str], repeated: &[&str], out: &mut Vec<Complaint>) {
    let mut seen: Vec<&Statement> = Vec::new();
    for child in &statement.children {
        let name = child.name.value.as_str();
        if single.contains(&name) {
            match seen.iter().find(|first| first.name.value == name) {
                Some(first) => out.push(
                    Complaint::at(child.name.span, format!("`{name}` is given twice"), "given again here")
                        .also(first.name.span, "first given here"),
                ),
                None => seen.push(child),
            }
        } else if name != "source" && !repeated.contains(&name) {
            let what = format!("statement of `{}`", statement.name.value);
            let known: Vec<&str> = single.iter().chain(repeated).copied().collect();
            unknown(child.name.span, &what, name, &known, out);
        }
    }
}

/// Complains of what stands on the line of a group whose figures are its children.
pub(super) fn children_only(group: &Statement, out: &mut Vec<Complaint>) {
    let values = group.arguments.iter().map(|argument| argument.span);
    let keys = group.properties.iter().map(|property| property.name.span);
    for span in values.chain(keys) {
        out.push(Complaint::at(
            span,
            format!("the figures of `{}` stand between its braces, one a line", group.name.value),
            "not read here",
        ));
    }
}
