//! Text to tokens.

use crate::units::{Dimension, parse_value};

use super::ExpressionError;
use super::syntax::Operator;

#[derive(Clone, Debug, PartialEq)]
pub(super) struct Token {
    pub(super) what: TokenKind,
    pub(super) start: usize,
    pub(super) end: usize,
}

#[derive(Clone, Debug, PartialEq)]
pub(super) enum TokenKind {
    Number(f64, Dimension),
    Name(String),
    Word(String),
    Flag(bool),
    Operator(Operator),
    Not,
    Open,
    Close,
    Comma,
}

const MEASURED: [Dimension; 10] = [
    Dimension::VOLTAGE,
    Dimension::CURRENT,
    Dimension::RESISTANCE,
    Dimension::CONDUCTANCE,
    Dimension::CAPACITANCE,
    Dimension::INDUCTANCE,
    Dimension::POWER,
    Dimension::ENERGY,
    Dimension::TIME,
    Dimension::FREQUENCY,
];

/// Reads a number with its unit; a number without one is a plain number, and a bare prefix is refused because it says
/// nothing of what is measured.
pub(in crate::rules) fn read_number(text: &str) -> Result<(f64, Dimension), String> {
    if let Ok(value) = parse_value(text, Dimension::NONE) {
        return Ok((value, Dimension::NONE));
    }
    let mut readings =
        MEASURED.iter().filter_map(|dimension| parse_value(text, *dimension).ok().map(|v| (v, *dimension)));
    match (readings.next(), readings.next()) {
        (Some(reading), None) => Ok(reading),
        (Some(_), Some(_)) => Err(format!("`{text}` needs a unit: write `{text}ohm`, `{text}V`…")),
        (None, _) => Err(format!("`{text}` is no number with a unit known here")),
    }
}

pub(super) fn lex(text: &str) -> Result<Vec<Token>, ExpressionError> {
    let mut tokens = Vec::new();
    let mut at = 0;
    while let Some(first) = text.get(at..).and_then(|rest| rest.chars().next()) {
        if first.is_whitespace() {
            at += first.len_utf8();
            continue;
        }
        let token = next_token(text, at, first)?;
        at = token.end;
        tokens.push(token);
    }
    Ok(tokens)
}

fn next_token(text: &str, at: usize, first: char) -> Result<Token, ExpressionError> {
    let rest = text.get(at..).unwrap_or("");
    let token = |what, length: usize| Token { what, start: at, end: at + length };
    if first.is_ascii_digit() || (first == '.' && rest[1..].starts_with(|c: char| c.is_ascii_digit())) {
        let length = number_length(rest);
        let number = &rest[..length];
        return match read_number(number) {
            Ok((value, dimension)) => Ok(token(TokenKind::Number(value, dimension), length)),
            Err(message) => Err(ExpressionError::new(at, at + length, message, "here")),
        };
    }
    if first.is_ascii_alphabetic() {
        let length = name_length(rest);
        let name = &rest[..length];
        let what = match name {
            "and" => TokenKind::Operator(Operator::And),
            "or" => TokenKind::Operator(Operator::Or),
            "not" => TokenKind::Not,
            "true" => TokenKind::Flag(true),
            "false" => TokenKind::Flag(false),
            _ => TokenKind::Name(name.to_owned()),
        };
        return Ok(token(what, length));
    }
    if first == '\'' {
        return match rest[1..].find('\'') {
            Some(close) => {
                let word = rest[1..=close].to_owned();
                Ok(token(TokenKind::Word(word), close + 2))
            }
            None => Err(ExpressionError::new(at, text.len(), "a word that is not closed", "the closing ' is missing")),
        };
    }
    sign(rest).map(|(what, length)| token(what, length)).ok_or_else(|| unknown_sign(rest, at, first))
}

fn sign(rest: &str) -> Option<(TokenKind, usize)> {
    const SIGNS: [(&str, TokenKind); 13] = [
        ("<=", TokenKind::Operator(Operator::LessOrEqual)),
        (">=", TokenKind::Operator(Operator::GreaterOrEqual)),
        ("==", TokenKind::Operator(Operator::Equal)),
        ("!=", TokenKind::Operator(Operator::Unequal)),
        ("<", TokenKind::Operator(Operator::Less)),
        (">", TokenKind::Operator(Operator::Greater)),
        ("+", TokenKind::Operator(Operator::Add)),
        ("-", TokenKind::Operator(Operator::Subtract)),
        ("*", TokenKind::Operator(Operator::Multiply)),
        ("/", TokenKind::Operator(Operator::Divide)),
        ("(", TokenKind::Open),
        (")", TokenKind::Close),
        (",", TokenKind::Comma),
    ];
    SIGNS.into_iter().find(|(sign, _)| rest.starts_with(sign)).map(|(sign, what)| (what, sign.len()))
}

fn unknown_sign(rest: &str, at: usize, first: char) -> ExpressionError {
    let (length, help) = if rest.starts_with("&&") {
        (2, Some("write `and`"))
    } else if rest.starts_with("||") {
        (2, Some("write `or`"))
    } else {
        let help = match first {
            '=' => Some("compare with `==`"),
            '!' => Some("write `not`"),
            '"' => Some("write words in single quotes: 'film'"),
            _ => None,
        };
        (first.len_utf8(), help)
    };
    let sign = rest.get(..length).unwrap_or("");
    let error =
        ExpressionError::new(at, at + length, format!("`{sign}` means nothing in an expression"), "not understood");
    match help {
        Some(help) => error.help(help),
        None => error,
    }
}

fn number_length(rest: &str) -> usize {
    let mut before = ' ';
    let mut plain = true;
    for (index, c) in rest.char_indices() {
        let exponent_sign = matches!(c, '+' | '-')
            && matches!(before, 'e' | 'E')
            && plain
            && rest[index + 1..].starts_with(|c: char| c.is_ascii_digit());
        let part = c.is_alphanumeric() || matches!(c, '.' | '%' | 'Ω' | 'µ' | 'μ') || exponent_sign;
        if !part {
            return index;
        }
        plain &= c.is_ascii_digit() || matches!(c, '.' | 'e' | 'E');
        before = c;
    }
    rest.len()
}

fn name_length(rest: &str) -> usize {
    let mut characters = rest.char_indices().peekable();
    while let Some((index, c)) = characters.next() {
        let joined = c == '-' && characters.peek().is_some_and(|(_, next)| next.is_ascii_alphanumeric());
        if !(c.is_ascii_alphanumeric() || joined) {
            return index;
        }
    }
    rest.len()
}
