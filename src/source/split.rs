//! Groups tokens into statements with their children, and mends braces that do not match.
//!
//! Nothing here recurses deeper than [`DEPTH_LIMIT`]: deeper blocks are stepped over, with a complaint.

use super::scan::{Scanned, Token, TokenKind};
use super::{Complaint, FileId, Span};

/// The deepest nesting of braces that is read.
pub(super) const DEPTH_LIMIT: usize = 64;

/// A statement as found in the text, not yet parsed.
#[derive(Debug)]
pub(super) struct Piece {
    /// Tokens of the head: name, arguments, properties.
    pub(super) head: Vec<Token>,
    /// Byte ranges inside the head that are commented out with `/-`.
    pub(super) blanked: Vec<(usize, usize)>,
    /// The statements between its braces.
    pub(super) children: Vec<Piece>,
    /// First byte of the head.
    pub(super) start: usize,
    /// One past the last byte of the head.
    pub(super) head_end: usize,
    /// One past its last byte.
    pub(super) end: usize,
    /// Whether something of it was stepped over with a complaint.
    pub(super) broken: bool,
}

/// Groups all tokens of a file.
pub(super) fn split(text: &str, scanned: &Scanned, file: FileId) -> (Vec<Piece>, Vec<Complaint>) {
    let mut splitter =
        Splitter { text, tokens: &scanned.tokens, blocks: match_braces(&scanned.tokens), file, complaints: Vec::new() };
    for (start, end) in &scanned.open_comments {
        let span = Span::new(file, *start, (*start + 2).min(*end));
        splitter.complaints.push(
            Complaint::at(span, "a comment that begins here is never closed", "`/*` without its `*/`")
                .help("close it with `*/`, or use `//` for the rest of one line"),
        );
    }
    let pieces = splitter.block(0, scanned.tokens.len(), 0);
    (pieces, splitter.complaints)
}

/// Where the block of an opening brace ends: the index of its closing brace, or of the token that it must end before.
#[derive(Clone, Copy)]
struct Block {
    end: usize,
    closed: bool,
}

fn match_braces(tokens: &[Token]) -> Vec<Option<Block>> {
    let (blocks, balanced) = pair(tokens, false);
    if balanced { blocks } else { pair(tokens, true).0 }
}

/// Pairs braces; with `by_indent` a block also ends where a line begins at or left of the line that opened it.
fn pair(tokens: &[Token], by_indent: bool) -> (Vec<Option<Block>>, bool) {
    let mut blocks = vec![None; tokens.len()];
    let mut open: Vec<(usize, usize)> = Vec::new();
    let mut line_indent = 0;
    let mut balanced = true;
    let unclosed = |blocks: &mut Vec<Option<Block>>, index: usize, end: usize| {
        if let Some(slot) = blocks.get_mut(index) {
            *slot = Some(Block { end, closed: false });
        }
    };
    for (index, token) in tokens.iter().enumerate() {
        if let Some(indent) = token.indent {
            line_indent = indent;
            if by_indent {
                let closes = token.kind == TokenKind::Close;
                while let Some((opener, opened_at)) = open.last().copied()
                    && (opened_at > indent || (opened_at == indent && !closes))
                    && token.kind != TokenKind::Open
                {
                    unclosed(&mut blocks, opener, index);
                    open.pop();
                }
            }
        }
        match token.kind {
            TokenKind::Open => open.push((index, line_indent)),
            TokenKind::Close => match open.pop() {
                Some((opener, _)) => {
                    if let Some(slot) = blocks.get_mut(opener) {
                        *slot = Some(Block { end: index, closed: true });
                    }
                }
                None => balanced = false,
            },
            _ => {}
        }
    }
    balanced &= open.is_empty();
    for (opener, _) in open {
        unclosed(&mut blocks, opener, tokens.len());
    }
    (blocks, balanced)
}

struct Splitter<'a> {
    text: &'a str,
    tokens: &'a [Token],
    blocks: Vec<Option<Block>>,
    file: FileId,
    complaints: Vec<Complaint>,
}

impl Splitter<'_> {
    fn span(&self, token: Token) -> Span {
        Span::new(self.file, token.start, token.end)
    }

    fn text(&self, token: Token) -> &str {
        self.text.get(token.start..token.end).unwrap_or("")
    }

    fn kind(&self, index: usize) -> Option<TokenKind> {
        self.tokens.get(index).map(|token| token.kind)
    }

    /// The end of the block that opens at a token, kept within `limit`, and the index after it.
    fn block_end(&self, index: usize, limit: usize) -> (usize, usize, bool) {
        let block = self.blocks.get(index).copied().flatten().unwrap_or(Block { end: limit, closed: false });
        let end = block.end.clamp(index + 1, limit.max(index + 1));
        let closed = block.closed && block.end < limit;
        (end, if closed { end + 1 } else { end }, closed)
    }

    fn block(&mut self, mut index: usize, limit: usize, depth: usize) -> Vec<Piece> {
        let mut pieces = Vec::new();
        let mut skip = false;
        let mut hiding: Option<Token> = None;
        while index < limit {
            let Some(token) = self.tokens.get(index).copied() else {
                break;
            };
            match token.kind {
                TokenKind::End => index += 1,
                TokenKind::Slashdash => {
                    skip = true;
                    hiding = Some(token);
                    index += 1;
                }
                TokenKind::Close => {
                    self.complaints.push(Complaint::at(
                        self.span(token),
                        "a closing brace without an opening one",
                        "nothing is open here",
                    ));
                    index += 1;
                }
                TokenKind::Open => {
                    let (_, next, _) = self.block_end(index, limit);
                    if !skip {
                        self.complaints.push(
                            Complaint::at(
                                self.span(token),
                                "a brace that belongs to no statement",
                                "no name stands before this brace",
                            )
                            .help("an opening brace stands on the line of the statement that it belongs to"),
                        );
                    }
                    skip = false;
                    index = next;
                }
                TokenKind::Word | TokenKind::Text { .. } => {
                    let complaints_before = self.complaints.len();
                    let (piece, next) = self.piece(index, limit, depth, skip);
                    index = next.max(index + 1);
                    if skip {
                        self.complaints.truncate(complaints_before);
                        skip = false;
                    } else {
                        pieces.push(piece);
                    }
                }
            }
        }
        if let Some(slashdash) = hiding.filter(|_| skip) {
            self.hides_nothing(slashdash);
        }
        pieces
    }

    fn hides_nothing(&mut self, slashdash: Token) {
        self.complaints.push(
            Complaint::at(self.span(slashdash), "`/-` has nothing to leave out", "nothing follows it")
                .help("`/-` leaves out the statement, value or block behind it; `//` begins a comment"),
        );
    }

    fn piece(&mut self, first: usize, limit: usize, depth: usize, skip: bool) -> (Piece, usize) {
        let start = self.tokens.get(first).map_or(0, |token| token.start);
        let mut piece = Piece {
            head: Vec::new(),
            blanked: Vec::new(),
            children: Vec::new(),
            start,
            head_end: start,
            end: start,
            broken: false,
        };
        let mut index = first;
        while index < limit {
            let Some(token) = self.tokens.get(index).copied() else {
                break;
            };
            match token.kind {
                TokenKind::Word | TokenKind::Text { .. } => {
                    piece.head.push(token);
                    piece.head_end = token.end;
                    piece.end = token.end;
                    index += 1;
                }
                TokenKind::Slashdash => index = self.commented_out(index, limit, &mut piece),
                TokenKind::End | TokenKind::Close => break,
                TokenKind::Open => {
                    index = self.body(index, limit, depth, skip, &mut piece);
                    index = self.after_body(index, limit, &mut piece);
                    break;
                }
            }
        }
        (piece, index)
    }

    /// `/-` inside a head: hides a block, a property or an argument.
    fn commented_out(&mut self, slashdash: usize, limit: usize, piece: &mut Piece) -> usize {
        let from = self.tokens.get(slashdash).map_or(0, |token| token.start);
        let mut next = slashdash + 1;
        while next < limit && matches!(self.kind(next), Some(TokenKind::End | TokenKind::Slashdash)) {
            if self.kind(next) == Some(TokenKind::Slashdash)
                && let Some(token) = self.tokens.get(next).copied()
            {
                piece.broken = true;
                self.complaints.push(Complaint::at(
                    self.span(token),
                    "`/-` stands twice in a row",
                    "one leaves out one value or block",
                ));
            }
            next += 1;
        }
        if next < limit && self.kind(next) == Some(TokenKind::Open) {
            let (_, after, _) = self.block_end(next, limit);
            let until = self.tokens.get(after.saturating_sub(1)).map_or(from, |token| token.end);
            piece.blanked.push((from, until));
            return after;
        }
        let hides = next < limit && matches!(self.kind(next), Some(TokenKind::Word | TokenKind::Text { .. }));
        if !hides && let Some(token) = self.tokens.get(slashdash).copied() {
            piece.broken = true;
            self.hides_nothing(token);
        }
        self.within_property(slashdash, next, limit, piece);
        // The next value: its words stand without a blank between them, or around an equals sign.
        let mut until = self.tokens.get(slashdash).map_or(from, |token| token.end);
        let mut previous: Option<Token> = None;
        while next < limit
            && let Some(token) = self.tokens.get(next).copied()
            && matches!(token.kind, TokenKind::Word | TokenKind::Text { .. })
            && previous.is_none_or(|previous| {
                previous.end == token.start || self.text(previous).ends_with('=') || self.text(token).starts_with('=')
            })
        {
            until = token.end;
            previous = Some(token);
            next += 1;
        }
        piece.blanked.push((from, until));
        next
    }

    /// `key /-= value` and `key = /-value` hide half of a property, and what is left would mean something else.
    fn within_property(&mut self, slashdash: usize, next: usize, limit: usize, piece: &mut Piece) {
        let before = piece.head.last().is_some_and(|token| self.text(*token).ends_with('='));
        let after = next < limit && self.tokens.get(next).is_some_and(|token| self.text(*token).starts_with('='));
        if (before || after)
            && let Some(token) = self.tokens.get(slashdash).copied()
        {
            piece.broken = true;
            self.complaints.push(
                Complaint::at(self.span(token), "`/-` stands in the middle of a property", "leaves out half of it")
                    .help("put `/-` before the property's name"),
            );
        }
    }

    fn body(&mut self, open: usize, limit: usize, depth: usize, skip: bool, piece: &mut Piece) -> usize {
        let (end, next, closed) = self.block_end(open, limit);
        let brace = self.tokens.get(open).copied();
        if let Some(brace) = brace
            && !closed
        {
            piece.broken = true;
            self.complaints.push(
                Complaint::at(
                    self.span(brace),
                    "a block that begins here is never closed",
                    "no `}` belongs to this brace",
                )
                .help("close the block with `}` on a line of its own"),
            );
        }
        if depth >= DEPTH_LIMIT {
            piece.broken = true;
            if let Some(brace) = brace {
                self.complaints.push(Complaint::at(
                    self.span(brace),
                    format!("blocks are nested more than {DEPTH_LIMIT} deep"),
                    "what stands in this block is not read",
                ));
            }
        } else if !skip {
            piece.children = self.block(open + 1, end, depth + 1);
        }
        piece.end = self
            .tokens
            .get(next.saturating_sub(1))
            .filter(|token| token.kind == TokenKind::Close)
            .map_or_else(|| piece.children.last().map_or(piece.head_end, |last| last.end), |token| token.end)
            .max(piece.end);
        next
    }

    /// Nothing but the end of the statement may stand behind its closing brace.
    fn after_body(&mut self, mut index: usize, limit: usize, piece: &mut Piece) -> usize {
        let mut complained = false;
        while index < limit {
            let Some(token) = self.tokens.get(index).copied() else {
                break;
            };
            match token.kind {
                TokenKind::End | TokenKind::Close => break,
                TokenKind::Slashdash => {
                    let mut hidden = Piece {
                        head: Vec::new(),
                        blanked: Vec::new(),
                        children: Vec::new(),
                        start: 0,
                        head_end: 0,
                        end: 0,
                        broken: false,
                    };
                    index = self.commented_out(index, limit, &mut hidden);
                }
                // After a block that was never closed the next statement may follow at once.
                _ if token.indent.is_some() => break,
                _ => {
                    if !complained {
                        complained = true;
                        piece.broken = true;
                        self.complaints.push(
                            Complaint::at(
                                self.span(token),
                                "something stands behind the closing brace of a statement",
                                "not expected here",
                            )
                            .help("arguments and properties go before the opening brace; a new statement goes on a new line"),
                        );
                    }
                    index = match token.kind {
                        TokenKind::Open => self.block_end(index, limit).1,
                        _ => index + 1,
                    };
                }
            }
        }
        index
    }
}
