//! Cuts a text into tokens: words, strings, braces, statement ends, slashdashes. One pass, linear in the text.
//!
//! Knows the lexical rules of KDL 2.0 and no grammar; what never closes ends with its line, so that a lost
//! quotation mark costs one line and not the rest of the file.

use std::collections::HashSet;

/// What a token is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TokenKind {
    /// A run of characters without blanks: a bare word, a number, `key=`.
    Word,
    /// A string in any of its forms.
    Text {
        /// Whether its closing quotation mark was found.
        closed: bool,
    },
    /// `{`
    Open,
    /// `}`
    Close,
    /// A line end or `;`
    End,
    /// `/-`
    Slashdash,
}

/// A token and its byte range.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Token {
    pub(super) kind: TokenKind,
    pub(super) start: usize,
    pub(super) end: usize,
    /// The column in bytes where it is the first of its line.
    pub(super) indent: Option<usize>,
}

/// All tokens of a text, and the places of its block comments.
pub(super) struct Scanned {
    pub(super) tokens: Vec<Token>,
    /// Block comments that close, in order.
    pub(super) comments: Vec<(usize, usize)>,
    /// Block comments that never close.
    pub(super) open_comments: Vec<(usize, usize)>,
}

/// Cuts a text into tokens.
pub(super) fn scan(text: &str) -> Scanned {
    let mut scanner = Scanner {
        text,
        at: if text.starts_with('\u{feff}') { 3 } else { 0 },
        line_start: 0,
        first_of_line: true,
        tokens: Vec::new(),
        comments: Vec::new(),
        open_comments: Vec::new(),
        multi_line_unclosed: false,
        raw_unclosed: HashSet::new(),
    };
    scanner.line_start = scanner.at;
    while scanner.step() {}
    Scanned { tokens: scanner.tokens, comments: scanner.comments, open_comments: scanner.open_comments }
}

struct Scanner<'a> {
    text: &'a str,
    at: usize,
    line_start: usize,
    first_of_line: bool,
    tokens: Vec<Token>,
    comments: Vec<(usize, usize)>,
    open_comments: Vec<(usize, usize)>,
    // What was once searched for to the end of the file in vain is not searched for again: keeps the scan linear.
    multi_line_unclosed: bool,
    raw_unclosed: HashSet<usize>,
}

pub(super) fn is_newline(c: char) -> bool {
    matches!(c, '\n' | '\r' | '\u{85}' | '\u{b}' | '\u{c}' | '\u{2028}' | '\u{2029}')
}

pub(super) fn is_blank(c: char) -> bool {
    matches!(c, '\t' | ' ' | '\u{a0}' | '\u{1680}' | '\u{2000}'..='\u{200a}' | '\u{202f}' | '\u{205f}' | '\u{3000}')
}

impl Scanner<'_> {
    fn rest(&self) -> &str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn push(&mut self, kind: TokenKind, start: usize, end: usize) {
        let indent = (self.first_of_line && kind != TokenKind::End).then(|| start.saturating_sub(self.line_start));
        if indent.is_some() {
            self.first_of_line = false;
        }
        self.tokens.push(Token { kind, start, end, indent });
    }

    fn step(&mut self) -> bool {
        let start = self.at;
        let rest = self.text.get(start..).unwrap_or("");
        let Some(c) = rest.chars().next() else {
            return false;
        };
        let single = start + c.len_utf8();
        match c {
            _ if is_newline(c) => {
                self.at = start + newline_length(rest);
                self.push(TokenKind::End, start, self.at);
                self.line_start = self.at;
                self.first_of_line = true;
            }
            _ if is_blank(c) => self.at = single,
            ';' | '{' | '}' => {
                let kind = match c {
                    ';' => TokenKind::End,
                    '{' => TokenKind::Open,
                    _ => TokenKind::Close,
                };
                self.at = single;
                self.push(kind, start, single);
            }
            '/' if rest.starts_with("//") => self.at = start + line_length(rest),
            '/' if rest.starts_with("/*") => self.comment(start),
            '/' if rest.starts_with("/-") => {
                self.at = start + 2;
                self.push(TokenKind::Slashdash, start, self.at);
            }
            '\\' => self.continuation(start),
            '"' => self.string(start),
            '#' if raw_hashes(rest).is_some() => {
                self.raw_string(start, raw_hashes(rest).unwrap_or(1));
            }
            _ => self.word(start),
        }
        true
    }

    fn word(&mut self, start: usize) {
        let rest = self.text.get(start..).unwrap_or("");
        let mut length = 0;
        let mut previous = '\0';
        for (index, c) in rest.char_indices() {
            let tail = rest.get(index..).unwrap_or("");
            let ends = is_newline(c)
                || is_blank(c)
                || matches!(c, ';' | '{' | '}' | '"')
                || (c == '/' && ["//", "/*", "/-"].iter().any(|mark| tail.starts_with(mark)))
                || (c == '#' && previous != '#' && raw_hashes(tail).is_some())
                || (c == '\\' && index > 0);
            if ends && index > 0 {
                break;
            }
            length = index + c.len_utf8();
            previous = c;
        }
        self.at = start + length;
        self.push(TokenKind::Word, start, self.at);
    }

    /// `\` joins the next line to this one when nothing but blanks and comments follow it.
    fn continuation(&mut self, start: usize) {
        self.at = start + 1;
        loop {
            let rest = self.rest();
            let blanks: usize = rest.chars().take_while(|c| is_blank(*c)).map(char::len_utf8).sum();
            let after = rest.get(blanks..).unwrap_or("");
            let joins = after.is_empty() || after.starts_with("//") || after.starts_with(is_newline);
            let comments = after.starts_with("/*");
            let comment = if joins { line_length(after) } else { 0 };
            let newline = after.get(comment..).map_or(0, newline_length);
            self.at += blanks;
            if joins {
                self.at += comment + newline;
                self.line_start = self.at;
                return;
            }
            if !comments {
                return self.word(start);
            }
            self.comment(self.at);
        }
    }

    fn comment(&mut self, start: usize) {
        let bytes = self.text.as_bytes();
        let mut depth = 0usize;
        let mut index = start;
        let bounded = !self.open_comments.is_empty();
        let limit = if bounded { start + line_length(self.rest()) } else { bytes.len() };
        while index < limit {
            match (bytes.get(index), bytes.get(index + 1)) {
                (Some(b'/'), Some(b'*')) => {
                    depth += 1;
                    index += 2;
                }
                (Some(b'*'), Some(b'/')) => {
                    depth -= 1;
                    index += 2;
                    if depth == 0 {
                        self.at = index;
                        self.comments.push((start, index));
                        return;
                    }
                }
                _ => index += 1,
            }
        }
        let end = start + line_length(self.rest());
        self.open_comments.push((start, end));
        self.at = end;
    }

    fn string(&mut self, start: usize) {
        let rest = self.text.get(start..).unwrap_or("");
        let multi = rest.starts_with("\"\"\"");
        let found =
            if multi { if self.multi_line_unclosed { None } else { multi_line_end(rest) } } else { quoted_end(rest) };
        if multi && found.is_none() {
            self.multi_line_unclosed = true;
        }
        self.finish_string(start, found);
    }

    fn raw_string(&mut self, start: usize, hashes: usize) {
        let rest = self.text.get(start..).unwrap_or("");
        let body = rest.get(hashes..).unwrap_or("");
        let multi = body.starts_with("\"\"\"");
        let mark = if multi { "\"\"\"" } else { "\"" };
        let close = format!("{mark}{}", "#".repeat(hashes));
        let body = body.get(mark.len()..).unwrap_or("");
        let found = if multi {
            if self.raw_unclosed.contains(&hashes) { None } else { body.find(&close) }
        } else {
            body.get(..line_length(body)).and_then(|line| line.find(&close))
        };
        if multi && found.is_none() {
            self.raw_unclosed.insert(hashes);
        }
        let end = found.map(|index| hashes + mark.len() + index + close.len());
        self.finish_string(start, end);
    }

    fn finish_string(&mut self, start: usize, found: Option<usize>) {
        let length = found.unwrap_or_else(|| line_length(self.rest()));
        let end = start + length;
        self.push(TokenKind::Text { closed: found.is_some() }, start, end);
        self.at = end;
    }
}

/// Length of what stands before the line's end.
fn line_length(text: &str) -> usize {
    text.find(is_newline).unwrap_or(text.len())
}

fn newline_length(text: &str) -> usize {
    if text.starts_with("\r\n") { 2 } else { text.chars().next().filter(|c| is_newline(*c)).map_or(0, char::len_utf8) }
}

/// The number of `#` of a raw string that begins here.
fn raw_hashes(text: &str) -> Option<usize> {
    let hashes = text.bytes().take_while(|b| *b == b'#').count();
    (hashes > 0 && text.as_bytes().get(hashes) == Some(&b'"')).then_some(hashes)
}

fn quoted_end(text: &str) -> Option<usize> {
    let mut chars = text.char_indices().skip(1).peekable();
    while let Some((index, c)) = chars.next() {
        match c {
            '"' => return Some(index + 1),
            '\\' => {
                // An escaped line end, with the blanks around it, is part of the string.
                let mut blank = false;
                while chars.next_if(|(_, c)| is_blank(*c) || is_newline(*c)).is_some() {
                    blank = true;
                }
                if !blank {
                    chars.next();
                }
            }
            _ if is_newline(c) => return None,
            _ => {}
        }
    }
    None
}

fn multi_line_end(text: &str) -> Option<usize> {
    let bytes = text.as_bytes();
    let mut index = 3;
    while index < bytes.len() {
        if bytes.get(index) == Some(&b'\\') {
            index += 2;
        } else if text.get(index..).is_some_and(|tail| tail.starts_with("\"\"\"")) {
            return Some(index + 3);
        } else {
            index += 1;
        }
    }
    None
}
