//! From a text to neutral statements: scan, split, parse each head, and complain of what could not be read.
//!
//! One broken statement never silences another, and a broken line between braces never silences its neighbours.

use std::collections::HashMap;

use super::diagnose::diagnose;
use super::kdl_bridge::{Entry, Head, read_head};
use super::plain::read_plain;
use super::scan::{Token, TokenKind, scan};
use super::split::{Piece, split};
use super::{Complaint, FileId, Property, Scalar, Sources, Span, Spanned, Statement};

/// Parses a file of the run. Complaints are in order of place.
#[must_use]
pub fn parse(sources: &Sources, file: FileId) -> (Vec<Statement>, Vec<Complaint>) {
    match sources.get(file) {
        Some(source) => parse_text(file, &source.text),
        None => (Vec::new(), Vec::new()),
    }
}

/// Parses a text as the content of a file. Complaints are in order of place.
#[must_use]
pub fn parse_text(file: FileId, text: &str) -> (Vec<Statement>, Vec<Complaint>) {
    let scanned = scan(text);
    let (pieces, complaints) = split(text, &scanned, file);
    let mut reader = Reader { text, file, comments: &scanned.comments, complaints };
    let statements = reader.statements(&pieces);
    let mut complaints = reader.complaints;
    complaints.sort_by_key(|complaint| complaint.span.map(|span| (span.start, span.end)));
    (statements, complaints)
}

/// Whether a text has a top-level statement of a name, without reading what its statements say.
///
/// In a text whose statements cannot be told apart, a line that begins with the name counts.
#[must_use]
pub fn states(text: &str, name: &str) -> bool {
    if !text.contains(name) {
        return false;
    }
    let (pieces, complaints) = split(text, &scan(text), FileId(0));
    let named = |piece: &Piece| {
        let first = piece.head.first().and_then(|token| text.get(token.start..token.end));
        first.is_some_and(|first| first.trim_matches('"') == name)
    };
    let begins = |line: &str| line.trim_start_matches('\u{feff}').starts_with(name);
    pieces.iter().any(named) || !complaints.is_empty() && text.lines().any(begins)
}

/// More values than any statement has.
const VALUE_LIMIT: usize = 1_000;
/// The parser recovers from each slip by a further call of itself; past so many bytes of slips it is not asked,
/// because its stack would not suffice.
const RECOVERY_LIMIT: usize = 500;

struct Reader<'a> {
    text: &'a str,
    /// Block comments: the parser's stack grows with their nesting, so it never sees one.
    comments: &'a [(usize, usize)],
    file: FileId,
    complaints: Vec<Complaint>,
}

impl Reader<'_> {
    fn statements(&mut self, pieces: &[Piece]) -> Vec<Statement> {
        pieces.iter().filter_map(|piece| self.statement(piece)).collect()
    }

    fn statement(&mut self, piece: &Piece) -> Option<Statement> {
        let few = piece.head.len() <= VALUE_LIMIT;
        let plain = if few { read_plain(self.text, piece.start, &piece.head) } else { None };
        let mut statement = match plain {
            Some(head) => self.convert(piece, head, &[]),
            None => self.unusual(piece)?,
        };
        statement.broken |= piece.broken;
        statement.children = self.statements(&piece.children);
        Some(statement)
    }

    /// Reads a head by the general parser.
    fn unusual(&mut self, piece: &Piece) -> Option<Statement> {
        let head = self.text.get(piece.start..piece.head_end).unwrap_or("").to_owned();
        let from = self.comments.partition_point(|(start, _)| *start < piece.start);
        let to = self.comments.partition_point(|(start, _)| *start < piece.head_end);
        let comments = self.comments.get(from..to).unwrap_or(&[]);
        let head = cover(head, piece.start, comments, b' ');
        let mut head = cover(head, piece.start, &piece.blanked, b' ');
        let mut broken = false;
        if let Some(surplus) = piece.head.get(VALUE_LIMIT) {
            broken = true;
            self.complaints.push(Complaint::at(
                Span::new(self.file, surplus.start, surplus.end),
                format!("a statement has more than {VALUE_LIMIT} values"),
                "not read from here",
            ));
            head.truncate(surplus.start.saturating_sub(piece.start));
        }
        let parsed = if head.len() > RECOVERY_LIMIT && self.slips(piece) > RECOVERY_LIMIT {
            None
        } else {
            read_head(&head).ok()
        };
        let mut statement = match parsed {
            Some(read) => self.convert(piece, read, &[]),
            None => self.mend(piece, head)?,
        };
        statement.broken |= broken;
        Some(statement)
    }

    /// How many bytes of a head are plainly no KDL.
    fn slips(&self, piece: &Piece) -> usize {
        let found = diagnose(self.text, self.file, read_tokens(piece));
        let ranges = found.unquoted.iter().chain(&found.unreadable);
        ranges.map(|(start, end)| end - start).sum()
    }

    /// Reads a head that is not KDL: plain slips are mended, the rest is left out.
    fn mend(&mut self, piece: &Piece, head: String) -> Option<Statement> {
        let found = diagnose(self.text, self.file, read_tokens(piece));
        let told = !found.complaints.is_empty();
        self.complaints.extend(found.complaints);
        let head = cover(head, piece.start, &found.unreadable, b' ');
        let head = cover(head, piece.start, &found.unquoted, b'x');
        let stopped = match read_head(&head) {
            Ok(read) if told => {
                let mut statement = self.convert(piece, read, &found.unquoted);
                statement.broken = true;
                return Some(statement);
            }
            Ok(_) => 0,
            Err(stopped) => {
                if !told {
                    self.not_understood(piece, stopped.start, stopped.end);
                }
                stopped.start
            }
        };
        // What stands before the place where the parser stopped may still be good.
        let kept = head.get(..stopped).unwrap_or("").trim_end();
        let mut statement = match read_head(kept) {
            Ok(read) if !kept.is_empty() => self.convert(piece, read, &found.unquoted),
            _ => self.name_only(piece)?,
        };
        statement.broken = true;
        Some(statement)
    }

    fn not_understood(&mut self, piece: &Piece, start: usize, end: usize) {
        let start = (piece.start + start).min(piece.head_end);
        let end = (piece.start + end).clamp(start, piece.head_end);
        let string = piece
            .head
            .iter()
            .find(|token| matches!(token.kind, TokenKind::Text { .. }) && (token.start..token.end).contains(&start));
        let (start, end) = string.map_or((start, end), |string| (string.start, string.end));
        let written = self.text.get(start..end).and_then(|written| written.lines().next()).unwrap_or("").trim_end();
        let span = Span::new(self.file, start, start + written.len());
        let complaint = if written.starts_with(['"', '#']) {
            Complaint::at(
                span,
                "this string is not written as KDL wants it",
                "not understood",
            )
            .help("a backslash in a string is written `\\\\`; the lines of a string between `\"\"\"` begin on a new line and share their indentation")
        } else {
            Complaint::at(span, "this statement cannot be read", "not understood from here")
                .help("a statement is a name, then values and `name=value` pairs, then `{ … }` where it has children")
        };
        self.complaints.push(complaint);
    }

    fn name_only(&self, piece: &Piece) -> Option<Statement> {
        let word = |token: &Token| {
            let text = self.text.get(token.start..token.end)?;
            let plain = !text.is_empty() && text.chars().all(|c| c.is_alphanumeric() || matches!(c, '-' | '_'));
            plain.then(|| Spanned::new(text.to_owned(), Span::new(self.file, token.start, token.end)))
        };
        let name = piece.head.first().and_then(word)?;
        let arguments = piece.head.get(1).and_then(word).into_iter();
        Some(Statement {
            span: Span::new(self.file, piece.start, piece.end),
            name,
            arguments: arguments.map(|word| word.map(Scalar::Text)).collect(),
            properties: Vec::new(),
            children: Vec::new(),
            broken: true,
        })
    }

    fn convert(&mut self, piece: &Piece, head: Head, unquoted: &[(usize, usize)]) -> Statement {
        let at = |start: usize, end: usize| Span::new(self.file, piece.start + start, piece.start + end);
        let as_written = |start: usize, end: usize| {
            let place = (piece.start + start, piece.start + end);
            unquoted.contains(&place).then(|| self.text.get(place.0..place.1).unwrap_or("").to_owned())
        };
        let (name, start, end) = head.name;
        let name = as_written(start, end).unwrap_or(name);
        let mut statement = Statement {
            name: Spanned::new(name, at(start, end)),
            arguments: Vec::new(),
            properties: Vec::new(),
            children: Vec::new(),
            span: Span::new(self.file, piece.start, piece.end),
            broken: false,
        };
        let mut complaints = Vec::new();
        let annotations = head.annotation.into_iter().chain(head.entries.iter().filter_map(|entry| entry.annotation));
        for (start, end) in annotations {
            complaints.push(Complaint::at(
                at(start, end),
                "a word in parentheses has no meaning here",
                "leave this out",
            ));
        }
        let mut seen: HashMap<String, Span> = HashMap::new();
        for Entry { key, value, start, end, .. } in head.entries {
            let span = at(start, end);
            let value = as_written(start, end).map(Scalar::Text).or(value);
            let Some(value) = value else {
                complaints.push(Complaint::at(span, "this number is too large to be a value", "not finite"));
                statement.broken = true;
                continue;
            };
            let value = Spanned::new(value, span);
            let Some((key, start, end)) = key else {
                statement.arguments.push(value);
                continue;
            };
            let name = Spanned::new(key, at(start, end));
            match seen.get(&name.value) {
                Some(first) => complaints.push(
                    Complaint::at(
                        name.span,
                        format!("`{}` is given twice in one statement", name.value),
                        "given again here",
                    )
                    .also(*first, "first given here")
                    .help("keep one of the two"),
                ),
                None => {
                    seen.insert(name.value.clone(), name.span);
                    statement.properties.push(Property { name, value });
                }
            }
        }
        self.complaints.extend(complaints);
        statement
    }
}

/// The tokens of a head that are read.
fn read_tokens(piece: &Piece) -> &[Token] {
    piece.head.get(..VALUE_LIMIT.min(piece.head.len())).unwrap_or(&[])
}

/// Covers byte ranges of the file with a filler, so that every other byte keeps its place.
fn cover(head: String, base: usize, ranges: &[(usize, usize)], filler: u8) -> String {
    if ranges.is_empty() {
        return head;
    }
    let mut bytes = head.into_bytes();
    for (start, end) in ranges {
        let from = start.saturating_sub(base);
        let to = end.saturating_sub(base).min(bytes.len());
        if let Some(range) = bytes.get_mut(from..to.max(from)) {
            range.fill(filler);
        }
    }
    String::from_utf8(bytes).unwrap_or_default()
}
