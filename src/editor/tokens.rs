//! What each word of a text means, for colouring.

use crate::design::{Entity, Form, Index, RESERVED_NETS, Vocabulary};
use crate::source::{FileId, Scalar, Span, Statement, parse_text};

use super::answer::Token;

/// The kinds of words, by the names that the protocol gives them.
pub(super) const KINDS: [&str; 8] =
    ["keyword", "property", "variable", "class", "enumMember", "number", "string", "parameter"];

const KEYWORD: u32 = 0;
const PROPERTY: u32 = 1;
const NET: u32 = 2;
const PART: u32 = 3;
const WORD: u32 = 4;
const NUMBER: u32 = 5;
const STRING: u32 = 6;
const PORT: u32 = 7;

/// The words of a text in order, none over another; `file` is its identity in the index.
pub(super) fn tokens(text: &str, vocabulary: &Vocabulary, index: Option<(&Index, FileId)>) -> Vec<Token> {
    let (statements, _) = parse_text(FileId(0), text);
    let mut found = Vec::new();
    for statement in &statements {
        words(statement, None, vocabulary, &mut found);
    }
    let named = index.into_iter().flat_map(|(index, file)| {
        index.occurrences.iter().filter(move |found| found.span.file == file).map(|found| {
            let kind = match &found.entity {
                Entity::Net { name, .. } if RESERVED_NETS.contains(&name.as_str()) => KEYWORD,
                Entity::Net { .. } => NET,
                Entity::Port { .. } => PORT,
                Entity::Part { .. } | Entity::Stage { .. } => PART,
                Entity::Include { .. } | Entity::Rule { .. } => STRING,
            };
            (found.span, kind)
        })
    });
    // The index knows best what a name is; around it the word keeps its own colour.
    for (span, kind) in named {
        let Some(at) = found.iter().position(|token| token.start <= span.start && span.end <= token.end) else {
            continue;
        };
        let around = found.remove(at);
        found.insert(at, Token { start: span.start, end: span.end, kind });
        let before = Token { end: span.start, ..around };
        let after = Token { start: span.end, ..around };
        found.extend([before, after].into_iter().filter(|token| token.start < token.end));
    }
    found.sort();
    let mut last = 0;
    found.retain(|token| {
        let keep = token.start >= last
            && token.start < token.end
            && !text.get(token.start..token.end).unwrap_or("\n").contains(['\n', '\r']);
        if keep {
            last = token.end;
        }
        keep
    });
    found
}

fn words(statement: &Statement, parent: Option<&str>, vocabulary: &Vocabulary, found: &mut Vec<Token>) {
    let keyword = statement.name.value.as_str();
    let mut put = |span: Span, kind: u32| found.push(Token { start: span.start, end: span.end, kind });
    put(statement.name.span, KEYWORD);
    for argument in &statement.arguments {
        put(argument.span, kind_of(&argument.value));
    }
    let known = vocabulary.words(parent, keyword);
    for property in &statement.properties {
        put(property.name.span, PROPERTY);
        let form = known.and_then(|words| words.properties.get(property.name.value.as_str()));
        put(
            property.value.span,
            if matches!(form, Some(Form::OneOf(_))) { WORD } else { kind_of(&property.value.value) },
        );
    }
    for child in &statement.children {
        words(child, Some(keyword), vocabulary, found);
    }
}

fn kind_of(value: &Scalar) -> u32 {
    match value {
        Scalar::Text(text) if text.starts_with(|c: char| c.is_ascii_digit()) => NUMBER,
        Scalar::Number(_) => NUMBER,
        Scalar::Flag(_) | Scalar::Null => WORD,
        Scalar::Text(_) => STRING,
    }
}
