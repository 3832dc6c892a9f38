//! One layout for designs, rules, catalogues and workshop files: whitespace changes, nothing else does.
//!
//! Knows the lexical rules of KDL 2.0 and no statement's meaning. The layout:
//! - one statement a line, four spaces for each block, one space between values, none around `=`;
//! - a block written on one line stays there (`{ a; b; }`) while the line holds 120 characters and no block lies in it;
//! - at most one blank line between statements, none at the ends of a block;
//! - neighbours of one name and with properties have their arguments in columns, unless they differ much in length;
//! - comments stay where they are; the lines of a `"""` string move with their statement.

mod group;
mod lay;
mod strings;
mod trivia;

use super::parse::parse_text;
use super::scan::{Token, TokenKind, scan};
use super::split::DEPTH_LIMIT;
use super::{Complaint, FileId, Severity, Span, Statement};

/// Lays a text out the one way, comments kept. The outcome says the same as the text, and laid out again it is itself.
///
/// # Errors
/// What makes the text unreadable; such a text is not to be touched. Spans are of file 0.
pub fn tidy(text: &str) -> Result<String, Vec<Complaint>> {
    let file = FileId(0);
    let (before, complaints) = parse_text(file, text);
    let errors: Vec<Complaint> =
        complaints.into_iter().filter(|complaint| complaint.severity == Severity::Error).collect();
    if !errors.is_empty() {
        return Err(errors);
    }
    let tokens = scan(text).tokens;
    if let Some(token) = bad_brace(&tokens) {
        // Only what is hidden behind `/-` comes here: elsewhere the reader complains.
        let span = Span::new(file, token.start, token.end);
        return Err(vec![
            Complaint::at(span, "braces behind a `/-` do not match, or lie too deep", "this one")
                .help("mend or delete what is left out with `/-`"),
        ]);
    }
    let laid = with_line_ends(lay::lay(&group::group(text, &tokens)), text);
    let laid = if text.starts_with('\u{feff}') { format!("\u{feff}{laid}") } else { laid };
    let (after, _) = parse_text(file, &laid);
    if all_alike(&before, &after) {
        Ok(laid)
    } else {
        Err(vec![Complaint::general("another layout would change what this file says; it is left as it is")])
    }
}

/// The first brace without its partner, or deeper than any file is read.
fn bad_brace(tokens: &[Token]) -> Option<Token> {
    let mut open = Vec::new();
    for token in tokens {
        match token.kind {
            TokenKind::Open if open.len() >= DEPTH_LIMIT => return Some(*token),
            TokenKind::Open => open.push(*token),
            TokenKind::Close if open.pop().is_none() => return Some(*token),
            _ => {}
        }
    }
    open.first().copied()
}

/// The layout with the line end that comes first in the text, everywhere.
fn with_line_ends(laid: String, text: &str) -> String {
    let carriage = text.find('\n').is_some_and(|at| text.get(..at).is_some_and(|line| line.ends_with('\r')));
    let plain = if laid.contains("\r\n") { laid.replace("\r\n", "\n") } else { laid };
    if carriage { plain.replace('\n', "\r\n") } else { plain }
}

fn all_alike(one: &[Statement], other: &[Statement]) -> bool {
    one.len() == other.len() && one.iter().zip(other).all(|(one, other)| alike(one, other))
}

/// Whether two statements say the same, wherever they stand.
fn alike(one: &Statement, other: &Statement) -> bool {
    one.name.value == other.name.value
        && one.broken == other.broken
        && one.arguments.iter().map(|argument| &argument.value).eq(other.arguments.iter().map(|other| &other.value))
        && one
            .properties
            .iter()
            .map(|property| (&property.name.value, &property.value.value))
            .eq(other.properties.iter().map(|other| (&other.name.value, &other.value.value)))
        && all_alike(&one.children, &other.children)
}
