//! Groups the tokens of a text and the comments between them into lines to be laid out.
//!
//! Braces are known to match and to lie no deeper than any file is read.

use std::iter;

use super::trivia::{Trivia, trivia};
use crate::source::scan::{Token, TokenKind, is_newline};

/// What a block holds, in order.
#[derive(Debug)]
pub(super) enum Item<'a> {
    /// One or more blank lines.
    Blank,
    /// A comment on lines of its own.
    Comment(Vec<&'a str>),
    /// A statement.
    Statement(Line<'a>),
}

/// A statement with the comment behind it.
#[derive(Debug, Default)]
pub(super) struct Line<'a> {
    /// What it consists of.
    pub(super) parts: Vec<Part<'a>>,
    /// `// …` behind it.
    pub(super) comment: Option<&'a str>,
}

/// A piece of a statement.
#[derive(Debug)]
pub(super) struct Part<'a> {
    pub(super) kind: PartKind<'a>,
    /// Whether it follows the piece before it without a blank.
    pub(super) glued: bool,
}

/// What a piece is.
#[derive(Debug)]
pub(super) enum PartKind<'a> {
    /// A bare word.
    Word(&'a str),
    /// A string.
    Text(&'a str),
    /// `/-`
    Slashdash,
    /// `/* … */`
    Comment(&'a str),
    /// `\` and the comments behind it.
    Joint(Vec<&'a str>),
    /// What stands between two braces.
    Block {
        /// Comments behind the opening brace.
        opening: Vec<&'a str>,
        /// What it holds.
        items: Vec<Item<'a>>,
        /// Whether it was written on one line and holds no block.
        one_line: bool,
    },
}

/// Groups a whole text.
pub(super) fn group<'a>(text: &'a str, tokens: &[Token]) -> Vec<Item<'a>> {
    let mut grouper = Grouper { text, tokens, index: 0, gaps_read: 0 };
    grouper.block(false).1
}

struct Grouper<'t, 'a> {
    text: &'a str,
    tokens: &'t [Token],
    index: usize,
    /// How many gaps were read: the one before a statement's end belongs to the statement.
    gaps_read: usize,
}

impl<'a> Grouper<'_, 'a> {
    fn token(&self) -> Option<Token> {
        self.tokens.get(self.index).copied()
    }

    fn written(&self, token: Token) -> &'a str {
        self.text.get(token.start..token.end).unwrap_or("")
    }

    /// What stands before the token that comes next; nothing where that was read before.
    fn gap(&mut self) -> &'a str {
        if self.gaps_read > self.index {
            return "";
        }
        self.gaps_read = self.index + 1;
        let start = self.index.checked_sub(1).and_then(|before| self.tokens.get(before)).map_or(0, |token| token.end);
        let end = self.token().map_or(self.text.len(), |token| token.start);
        self.text.get(start..end).unwrap_or("")
    }

    fn is_line_end(&self, token: Token) -> bool {
        token.kind == TokenKind::End && self.written(token) != ";"
    }

    /// Everything up to a closing brace or the end of the text: comments behind the opening brace, and the items.
    fn block(&mut self, inner: bool) -> (Vec<&'a str>, Vec<Item<'a>>) {
        let mut opening = Vec::new();
        let mut items: Vec<Item<'a>> = Vec::new();
        // Line ends since the last item; comments with none before them belong to what stands there.
        let mut line_ends = usize::from(!inner);
        loop {
            let mut comments = Vec::new();
            for each in trivia(self.gap()) {
                match each {
                    Trivia::LineComment(comment) | Trivia::BlockComment(comment) => comments.push(comment),
                    Trivia::Joint(found) if found.is_empty() && comments.is_empty() => {}
                    Trivia::Joint(found) => {
                        comments.extend(found);
                        place(&mut opening, &mut items, &mut line_ends, std::mem::take(&mut comments));
                        line_ends += 1;
                    }
                }
            }
            let Some(token) = self.token() else {
                place(&mut opening, &mut items, &mut line_ends, comments);
                break;
            };
            match token.kind {
                TokenKind::End => {
                    place(&mut opening, &mut items, &mut line_ends, comments);
                    line_ends += usize::from(self.is_line_end(token));
                    self.index += 1;
                }
                TokenKind::Close => {
                    if items.is_empty() && line_ends == 0 {
                        items.extend((!comments.is_empty()).then_some(Item::Comment(comments)));
                    } else {
                        place(&mut opening, &mut items, &mut line_ends, comments);
                    }
                    break;
                }
                _ => {
                    blank(&mut items, line_ends);
                    let line = self.line(comments);
                    items.push(Item::Statement(line));
                    line_ends = 0;
                }
            }
        }
        if matches!(items.last(), Some(Item::Blank)) {
            items.pop();
        }
        (opening, items)
    }

    /// A statement, up to its end and the comment behind it.
    fn line(&mut self, leading: Vec<&'a str>) -> Line<'a> {
        let mut line = Line::default();
        line.parts.extend(leading.into_iter().map(|comment| Part { kind: PartKind::Comment(comment), glued: false }));
        loop {
            let hiding = matches!(line.parts.last(), Some(Part { kind: PartKind::Slashdash, .. }));
            let gap = self.gap();
            self.between(&mut line, gap, hiding);
            let Some(token) = self.token() else { break };
            let glued = self.glued(&line, gap, token);
            let kind = match token.kind {
                // `/-` reaches over line ends to what it leaves out.
                TokenKind::End if hides(&line) => {
                    self.index += 1;
                    continue;
                }
                TokenKind::End | TokenKind::Close => break,
                TokenKind::Word => PartKind::Word(self.written(token)),
                TokenKind::Text { .. } => PartKind::Text(self.written(token)),
                TokenKind::Slashdash => PartKind::Slashdash,
                TokenKind::Open => {
                    line.parts.push(Part { kind: self.braces(), glued });
                    continue;
                }
            };
            line.parts.push(Part { kind, glued });
            self.index += 1;
        }
        // A joint at the end joins nothing; its comment ends the line, but two comments need two lines.
        while let Some(Part { kind: PartKind::Joint(comments), .. }) = line.parts.last()
            && !(line.comment.is_some() && comments.iter().any(|comment| comment.starts_with("//")))
        {
            let comments = comments.clone();
            line.parts.pop();
            append(&mut line, comments);
        }
        line
    }

    /// What stands between two tokens of a statement.
    fn between(&self, line: &mut Line<'a>, gap: &'a str, hiding: bool) {
        for each in trivia(gap) {
            let kind = match each {
                Trivia::BlockComment(comment) => PartKind::Comment(comment),
                // Only behind `/-` does a statement go on after a line comment.
                Trivia::LineComment(comment) if hiding || hides(line) => PartKind::Joint(vec![comment]),
                Trivia::LineComment(comment) => {
                    line.comment = Some(comment);
                    continue;
                }
                Trivia::Joint(comments) if comments.is_empty() => {
                    if line.parts.last().is_none_or(is_joint) || hiding {
                        continue;
                    }
                    PartKind::Joint(comments)
                }
                Trivia::Joint(comments) => {
                    line.parts.pop_if(|part| matches!(&part.kind, PartKind::Joint(before) if before.is_empty()));
                    PartKind::Joint(comments)
                }
            };
            line.parts.push(Part { kind, glued: false });
        }
    }

    fn braces(&mut self) -> PartKind<'a> {
        let open = self.index;
        self.index += 1;
        let (opening, items) = self.block(true);
        let close = self.index;
        self.index += 1;
        let inside = self.tokens.get(open + 1..close).unwrap_or(&[]);
        let from = self.tokens.get(open).map_or(0, |token| token.end);
        let until = self.tokens.get(close).map_or(from, |token| token.start);
        let written = self.text.get(from..until).unwrap_or("");
        let one_line = !written.contains(is_newline) && !inside.iter().any(|token| token.kind == TokenKind::Open);
        PartKind::Block { opening, items, one_line }
    }

    /// Whether a token stands without a blank behind the last part: `key=value`, `/-value`.
    fn glued(&self, line: &Line<'a>, gap: &str, token: Token) -> bool {
        let Some(last) = line.parts.last() else { return false };
        let equals = |text: &str| matches!(token.kind, TokenKind::Word) && text.starts_with('=');
        match last.kind {
            PartKind::Slashdash => true,
            PartKind::Word(_) | PartKind::Text(_) if token.kind == TokenKind::Open => false,
            PartKind::Word(word) => {
                token.kind != TokenKind::Slashdash
                    && (gap.is_empty() || word.ends_with('=') || equals(self.written(token)))
            }
            PartKind::Text(_) => token.kind != TokenKind::Slashdash && (gap.is_empty() || equals(self.written(token))),
            PartKind::Comment(_) | PartKind::Joint(_) | PartKind::Block { .. } => false,
        }
    }
}

fn is_joint(part: &Part<'_>) -> bool {
    matches!(part.kind, PartKind::Joint(_))
}

/// Whether a `/-` still waits for what it leaves out.
fn hides(line: &Line<'_>) -> bool {
    let mut parts = line.parts.iter().rev();
    let last = parts.find(|part| !matches!(part.kind, PartKind::Comment(_) | PartKind::Joint(_)));
    matches!(last, Some(Part { kind: PartKind::Slashdash, .. }))
}

/// Puts comments where they stand: behind the opening brace, behind a statement, or on lines of their own.
fn place<'a>(opening: &mut Vec<&'a str>, items: &mut Vec<Item<'a>>, line_ends: &mut usize, comments: Vec<&'a str>) {
    if comments.is_empty() {
        return;
    }
    match items.last_mut() {
        None if *line_ends == 0 => opening.extend(comments),
        Some(Item::Statement(line)) if *line_ends == 0 && line.comment.is_none() => append(line, comments),
        _ => {
            blank(items, *line_ends);
            items.push(Item::Comment(comments));
            *line_ends = 0;
        }
    }
}

/// Comments at the end of a statement.
fn append<'a>(line: &mut Line<'a>, comments: Vec<&'a str>) {
    let kept = line.comment.take();
    for comment in comments.into_iter().chain(kept) {
        if comment.starts_with("//") {
            line.comment = Some(comment);
        } else {
            line.parts.push(Part { kind: PartKind::Comment(comment), glued: false });
        }
    }
}

fn blank(items: &mut Vec<Item<'_>>, line_ends: usize) {
    if line_ends > 1 && !items.is_empty() {
        items.extend(iter::once(Item::Blank));
    }
}
