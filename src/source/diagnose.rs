//! Finds what KDL does not allow in a head, says it in a builder's words, and mends it where the meaning is plain.
//!
//! `resistor R1 100k` is not KDL, but nobody doubts what was meant: the complaint is made and the value is read.

use super::scan::{Token, TokenKind};
use super::{Complaint, FileId, Span};

/// What was found in a head.
pub(super) struct Diagnosis {
    pub(super) complaints: Vec<Complaint>,
    /// Byte ranges that are read as strings although they lack their quotes.
    pub(super) unquoted: Vec<(usize, usize)>,
    /// Byte ranges that cannot be read at all.
    pub(super) unreadable: Vec<(usize, usize)>,
}

/// Looks through the tokens of a head that the parser refused.
pub(super) fn diagnose(text: &str, file: FileId, head: &[Token]) -> Diagnosis {
    let mut found = Diagnosis { complaints: Vec::new(), unquoted: Vec::new(), unreadable: Vec::new() };
    for (index, token) in head.iter().enumerate() {
        let next = index.checked_add(1).and_then(|index| head.get(index)).copied();
        let previous = index.checked_sub(1).and_then(|index| head.get(index));
        let written = text.get(token.start..token.end).unwrap_or("");
        match token.kind {
            TokenKind::Text { closed: false } => found.unclosed(file, *token),
            TokenKind::Text { .. } if touches(text, previous, token) => {
                found.complaints.push(Complaint::at(
                    Span::new(file, token.start, token.end),
                    "a blank is missing before an opening quotation mark",
                    "put a blank before this",
                ));
                found.unreadable.push((token.start, token.end));
            }
            TokenKind::Text { .. } => {
                found.escapes(file, *token, written);
                found.crowded(text, file, *token, next);
            }
            TokenKind::Word => {
                // `V1"x` was already said at the string.
                let crowded = previous.is_some_and(|previous| {
                    previous.end == token.start && matches!(previous.kind, TokenKind::Text { .. })
                });
                if index == 0 {
                    found.name(file, *token, written);
                } else if crowded && !written.starts_with('=') {
                    found.unreadable.push((token.start, token.end));
                } else {
                    found.word(text, file, *token, written, previous, next);
                }
            }
            _ => {}
        }
    }
    found
}

/// Whether a string stands hard against a word that is not `name=`.
fn touches(text: &str, previous: Option<&Token>, token: &Token) -> bool {
    previous.is_some_and(|previous| {
        previous.kind == TokenKind::Word
            && previous.end == token.start
            && text.get(previous.start..previous.end).is_some_and(|word| !word.ends_with(['=', ')']))
    })
}

impl Diagnosis {
    fn unclosed(&mut self, file: FileId, token: Token) {
        self.complaints.push(
            Complaint::at(
                Span::new(file, token.start, token.end),
                "a quotation mark is not closed on its line",
                "this string has no end",
            )
            .help("look for a missing `\"` here or earlier on the line"),
        );
        self.unreadable.push((token.start, token.end));
    }

    /// A backslash that begins no escape of KDL 2.0.
    fn escapes(&mut self, file: FileId, token: Token, written: &str) {
        let Some((start, end)) = bad_escape(written) else {
            return;
        };
        let escape = written.get(start..end).unwrap_or("");
        self.complaints.push(
            Complaint::at(
                Span::new(file, token.start + start, token.start + end),
                format!("`{escape}` means nothing in a string"),
                "a backslash begins an escape",
            )
            .help("a backslash itself is written `\\\\`"),
        );
        self.unreadable.push((token.start, token.end));
    }

    fn crowded(&mut self, text: &str, file: FileId, token: Token, next: Option<Token>) {
        let Some(next) = next else { return };
        let follows = text.get(next.start..next.end).unwrap_or("");
        if next.start == token.end && !follows.starts_with('=') {
            self.complaints.push(Complaint::at(
                Span::new(file, next.start, next.end),
                "a blank is missing behind a closing quotation mark",
                "put a blank before this",
            ));
        }
    }

    fn name(&mut self, file: FileId, token: Token, written: &str) {
        let span = Span::new(file, token.start, token.end);
        let complaint = match not_bare(written) {
            None => return,
            Some(Reason::Hidden(c)) => hidden(c, span),
            Some(_) => Complaint::at(
                span,
                format!("`{written}` cannot begin a statement"),
                "a statement begins with a plain word",
            )
            .help("begin with the name of a statement, such as `resistor` or `wire`"),
        };
        self.complaints.push(complaint);
        self.unquoted.push((token.start, token.end));
    }

    fn word(
        &mut self,
        text: &str,
        file: FileId,
        token: Token,
        written: &str,
        previous: Option<&Token>,
        next: Option<Token>,
    ) {
        let (key, value, value_start) = match written.find('=') {
            Some(index) => (
                Some(written.get(..index).unwrap_or("")),
                written.get(index + 1..).unwrap_or(""),
                token.start + index + 1,
            ),
            None => (None, written, token.start),
        };
        let span = Span::new(file, token.start, token.end);
        if let Some(key) = key {
            let named = !key.is_empty()
                || previous.is_some_and(|previous| {
                    text.get(previous.start..previous.end).is_some_and(|text| !text.contains('='))
                });
            if !named {
                self.complaints.push(Complaint::at(
                    span,
                    "an equals sign without a name before it",
                    "a property is written `name=value`",
                ));
                self.unreadable.push((token.start, token.end));
                return;
            }
            if value.is_empty() {
                let given =
                    next.is_some_and(|next| text.get(next.start..next.end).is_some_and(|text| !text.contains('=')));
                if !given {
                    let name = if key.is_empty() { "this property" } else { key };
                    self.complaints.push(Complaint::at(
                        span,
                        format!("`{name}` is given no value"),
                        "a value belongs behind the equals sign",
                    ));
                    self.unreadable.push((token.start, token.end));
                }
                return;
            }
            if !key.is_empty() && not_bare(key).is_some() {
                self.complaints.push(Complaint::at(
                    Span::new(file, token.start, token.start + key.len()),
                    format!("`{key}` cannot name a property"),
                    "a property's name is a plain word",
                ));
                self.unreadable.push((token.start, token.end));
                return;
            }
        }
        let Some(reason) = not_bare(value) else {
            return;
        };
        let at = Span::new(file, value_start, token.end);
        let message = match reason {
            Reason::Hidden(c) => {
                self.complaints.push(hidden(c, at));
                self.unreadable.push((value_start, token.end));
                return;
            }
            Reason::Number | Reason::Keyword => format!("`{value}` cannot stand without quotes"),
            Reason::Character(c) => {
                format!("`{value}` cannot stand without quotes, because of its `{c}`")
            }
        };
        let quoted = value.replace('\\', "\\\\");
        self.complaints
            .push(Complaint::at(at, message, "put the value in quotes").help(format!("write `\"{quoted}\"`")));
        self.unquoted.push((value_start, token.end));
    }
}

/// The byte range of the first bad escape of a string with its quotes; raw strings have none.
fn bad_escape(string: &str) -> Option<(usize, usize)> {
    if !string.starts_with('"') {
        return None;
    }
    let mut chars = string.char_indices();
    while let Some((index, c)) = chars.next() {
        if c != '\\' {
            continue;
        }
        let Some((at, escaped)) = chars.next() else {
            return Some((index, string.len()));
        };
        let end = at + escaped.len_utf8();
        let good = match escaped {
            'n' | 'r' | 't' | 's' | 'b' | 'f' | '"' | '\\' => true,
            'u' => {
                let digits = string
                    .get(end..)
                    .and_then(|rest| rest.strip_prefix('{'))
                    .and_then(|rest| rest.get(..rest.find('}')?));
                digits.is_some_and(|digits| {
                    (1..=6).contains(&digits.len())
                        && u32::from_str_radix(digits, 16).ok().is_some_and(|code| char::from_u32(code).is_some())
                })
            }
            other => other.is_whitespace(),
        };
        if !good {
            return Some((index, end));
        }
    }
    None
}

enum Reason {
    Number,
    Keyword,
    Character(char),
    /// A character that nobody sees.
    Hidden(char),
}

/// Why a word cannot stand without quotes, if it cannot (KDL 2.0, identifier strings and numbers).
fn not_bare(word: &str) -> Option<Reason> {
    if let Some(hidden) = word.chars().find(|c| is_hidden(*c)) {
        return Some(Reason::Hidden(hidden));
    }
    if matches!(word, "true" | "false" | "null" | "inf" | "-inf" | "nan") {
        return Some(Reason::Keyword);
    }
    if matches!(word, "#true" | "#false" | "#null" | "#inf" | "#-inf" | "#nan") {
        return None;
    }
    let digits = word.trim_start_matches(['+', '-']);
    let leading = digits.strip_prefix('.').unwrap_or(digits);
    if leading.starts_with(|c: char| c.is_ascii_digit()) {
        return (!is_number(word)).then_some(Reason::Number);
    }
    word.chars().find(|c| matches!(c, '(' | ')' | '[' | ']' | '/' | '\\' | '#' | '=' | '"')).map(Reason::Character)
}

/// Characters that KDL 2.0 disallows and that no screen shows.
fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{feff}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

fn hidden(c: char, span: Span) -> Complaint {
    Complaint::at(
        span,
        format!("an invisible character (U+{:04X}) stands in this word", c as u32),
        "type this word anew",
    )
    .help("such characters come along when text is copied")
}

fn is_number(word: &str) -> bool {
    let unsigned = word.strip_prefix(['+', '-']).unwrap_or(word);
    for (mark, radix) in [("0x", 16), ("0o", 8), ("0b", 2)] {
        if let Some(digits) = unsigned.strip_prefix(mark) {
            return digits.starts_with(|c: char| c.is_digit(radix))
                && digits.chars().all(|c| c.is_digit(radix) || c == '_');
        }
    }
    let (mantissa, exponent) = match unsigned.split_once(['e', 'E']) {
        Some((mantissa, exponent)) => (mantissa, Some(exponent)),
        None => (unsigned, None),
    };
    let digits = |text: &str| {
        text.starts_with(|c: char| c.is_ascii_digit()) && text.chars().all(|c| c.is_ascii_digit() || c == '_')
    };
    let mantissa_good = match mantissa.split_once('.') {
        Some((whole, fraction)) => digits(whole) && digits(fraction),
        None => digits(mantissa),
    };
    mantissa_good && exponent.is_none_or(|exponent| digits(exponent.strip_prefix(['+', '-']).unwrap_or(exponent)))
}
