//! The sentences of a rule: literal text with expressions in braces.

use crate::facts::{Value, ValueKind, fact_shown, read_in_unit};
use crate::units::{Dimension, format_ratio};

use super::expression::{Expression, ExpressionError, FactUse, Scope, Vocabulary, shown};

/// A sentence with holes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Template {
    parts: Vec<Part>,
    written: String,
}

#[derive(Clone, Debug, PartialEq)]
enum Part {
    Literal(String),
    SubjectName,
    Value(Expression),
    Percent(Expression),
    State(FactUse),
    Lineup(FactUse),
}

/// What a template needs besides values.
pub(super) trait Speaker: Scope {
    /// The subject's name.
    fn name(&self) -> &str;
    /// The state that a fact is quoted in, in words.
    fn state_of(&self, fact: &FactUse) -> String;
    /// The tubes that a fact is quoted for, in words.
    fn lineup_of(&self, fact: &FactUse) -> String;
}

impl Template {
    /// The sentence as written, with its holes.
    #[must_use]
    pub fn written(&self) -> &str {
        &self.written
    }

    /// Reads a sentence.
    ///
    /// # Errors
    /// The first hole that cannot be read, with its place in the text.
    pub fn read(text: &str, vocabulary: &Vocabulary) -> Result<Self, ExpressionError> {
        let mut parts = Vec::new();
        let mut literal = String::new();
        let mut at = 0;
        while let Some(rest) = text.get(at..).filter(|rest| !rest.is_empty()) {
            let Some(brace) = rest.find(['{', '}']) else {
                literal.push_str(rest);
                break;
            };
            literal.push_str(&rest[..brace]);
            let open = at + brace;
            let tail = &rest[brace..];
            if tail.starts_with("{{") || tail.starts_with("}}") {
                literal.push_str(&tail[..1]);
                at = open + 2;
                continue;
            }
            let close = tail.starts_with('{').then(|| tail.find('}')).flatten();
            let Some(close) = close else {
                return Err(ExpressionError {
                    start: open,
                    end: open + 1,
                    message: "a brace without its partner".to_owned(),
                    label: "alone".to_owned(),
                    help: Some("write `{{` or `}}` for a brace that is meant to be seen".to_owned()),
                });
            };
            if !literal.is_empty() {
                parts.push(Part::Literal(std::mem::take(&mut literal)));
            }
            let hole = read_hole(&tail[1..close], vocabulary);
            parts.push(hole.map_err(|error| error.shifted(open + 1))?);
            at = open + close + 1;
        }
        if !literal.is_empty() {
            parts.push(Part::Literal(literal));
        }
        Ok(Self { parts, written: text.to_owned() })
    }

    /// The facts that it quotes.
    #[must_use]
    pub fn facts(&self) -> Vec<FactUse> {
        self.parts
            .iter()
            .flat_map(|part| match part {
                Part::Literal(_) | Part::SubjectName => Vec::new(),
                Part::Value(expression) | Part::Percent(expression) => expression.facts(),
                Part::State(fact) | Part::Lineup(fact) => vec![*fact],
            })
            .collect()
    }

    /// The sentence on one line; what is not known is said to be unknown.
    pub(super) fn fill(&self, speaker: &dyn Speaker) -> String {
        let mut sentence = String::new();
        for part in &self.parts {
            match part {
                Part::Literal(text) => sentence.push_str(text),
                Part::SubjectName => sentence.push_str(speaker.name()),
                Part::Value(expression) => {
                    sentence.push_str(&match expression.evaluate(speaker) {
                        Ok(value) => show(&value, expression),
                        Err(_) => "unknown".to_owned(),
                    });
                }
                Part::Percent(expression) => {
                    let value = expression.evaluate(speaker).ok().and_then(|v| v.number());
                    sentence.push_str(&value.map_or_else(|| "unknown".to_owned(), show_percent));
                }
                Part::State(fact) => sentence.push_str(&speaker.state_of(fact)),
                Part::Lineup(fact) => sentence.push_str(&speaker.lineup_of(fact)),
            }
        }
        sentence.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// Whether it names a rating that no shelf carries.
    pub(super) fn is_off_shelf(&self, speaker: &dyn Speaker) -> bool {
        self.parts.iter().any(|part| match part {
            Part::Value(expression) | Part::Percent(expression) => expression.is_off_shelf(speaker),
            Part::Literal(_) | Part::SubjectName | Part::State(_) | Part::Lineup(_) => false,
        })
    }

    /// The sentence where it has no holes but the subject's name.
    pub(super) fn fill_plainly(&self, name: &str) -> String {
        self.parts
            .iter()
            .map(|part| match part {
                Part::Literal(text) => text.as_str(),
                Part::SubjectName => name,
                _ => "unknown",
            })
            .collect()
    }
}

fn read_hole(text: &str, vocabulary: &Vocabulary) -> Result<Part, ExpressionError> {
    let inner = text.trim();
    let lead = text.len() - text.trim_start().len();
    if inner == "name" {
        return Ok(Part::SubjectName);
    }
    for (ending, make) in [(".state", Part::State as fn(FactUse) -> Part), (".lineup", Part::Lineup)] {
        if let Some(name) = inner.strip_suffix(ending) {
            return vocabulary.find_fact(name).map(make).map_err(|(message, help)| ExpressionError {
                start: lead,
                end: lead + name.len(),
                message,
                label: "not known here".to_owned(),
                help: Some(help),
            });
        }
    }
    if let Some(ratio) = inner.strip_prefix("percent(").and_then(|rest| rest.strip_suffix(')')) {
        let shift = lead + "percent(".len();
        let expression = Expression::read(ratio, vocabulary).map_err(|e| e.shifted(shift))?;
        if expression.kind() != ValueKind::Quantity(Dimension::NONE) {
            return Err(ExpressionError {
                start: shift,
                end: shift + ratio.len(),
                message: "`percent` shows a plain number, and this is none".to_owned(),
                label: "not a ratio".to_owned(),
                help: None,
            });
        }
        return Ok(Part::Percent(expression));
    }
    Expression::read(inner, vocabulary).map(Part::Value).map_err(|error| error.shifted(lead))
}

/// A fact by itself in the unit in which it is read; another ratio with the decimals that it can bear.
fn show(value: &Value, expression: &Expression) -> String {
    let kind = expression.kind();
    let named = expression.only_fact().map(|fact| fact.definition.name).filter(|name| read_in_unit(name));
    match (value, named) {
        (Value::Quantity(number), Some(name)) => fact_shown(name, *number),
        (Value::Quantity(number), None) if kind == ValueKind::Quantity(Dimension::NONE) => show_ratio(*number),
        _ => shown(value, kind),
    }
}

/// Two decimals are what a ratio near one can bear.
fn show_ratio(value: f64) -> String {
    if (0.1..100.0).contains(&value.abs()) {
        format_ratio((value * 100.0).round() / 100.0)
    } else {
        format_ratio(value)
    }
}

fn show_percent(value: f64) -> String {
    let percent = value * 100.0;
    let rounded = if percent.abs() < 10.0 { (percent * 10.0).round() / 10.0 } else { percent.round() };
    format!("{rounded} %")
}
