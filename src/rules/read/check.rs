//! What a rule judges: subjects, limits, demand, and the sentences that quote them.

use crate::facts::{SubjectKind, find_definition};
use crate::source::{Complaint, Scalar, Spanned, Statement};
use crate::units::Dimension;

use super::super::expression::{Expression, ExpressionError, Vocabulary, read_number};
use super::super::pieces::{listed, nearest};
use super::super::quoted::Quoted;
use super::super::rule::{Advice, Check, Limit, Mark, Raise};
use super::super::template::Template;
use super::Reader;

pub(super) fn read_check(statement: &Statement, reader: &mut Reader<'_>) -> Option<(Check, String, Vec<Advice>)> {
    let about = read_about(statement, reader)?;
    let mut vocabulary = Vocabulary::about(about.clone());
    let limits = read_limits(statement, &mut vocabulary, reader);
    read_lets(statement, &mut vocabulary, reader);
    let when = reader.single(statement, "when").map(|child| read_flag(child, 0, &vocabulary, reader));
    let demand_child = reader.required(statement, "demand");
    let demand = demand_child.and_then(|child| read_flag(child, 0, &vocabulary, reader));
    let demand_text = match demand_child.and_then(|child| child.argument(0)) {
        Some(Spanned { value: Scalar::Text(text), .. }) => text.clone(),
        _ => String::new(),
    };
    let say = reader.required(statement, "say").and_then(|child| read_template(child, 0, &vocabulary, reader));
    let marks = read_marks(statement, &vocabulary, reader);
    let raises = read_raises(statement, &vocabulary, reader);
    let remedies = read_remedies(statement, &vocabulary, reader);
    let when = match when {
        Some(read) => Some(read?),
        None => None,
    };
    let check = Check { about, when, limits, demand: demand?, say: say?, marks, raises };
    Some((check, demand_text, remedies))
}

/// The remedies of a rule that the program itself speaks for: no facts can be quoted.
pub(super) fn plain_remedies(statement: &Statement, reader: &mut Reader<'_>) -> Vec<Advice> {
    read_remedies(statement, &Vocabulary::default(), reader)
}

fn read_about(statement: &Statement, reader: &mut Reader<'_>) -> Option<Vec<SubjectKind>> {
    let child = reader.required(statement, "about")?;
    let mut kinds = Vec::new();
    for value in &child.arguments {
        let word = match &value.value {
            Scalar::Text(word) => word.as_str(),
            _ => "",
        };
        match SubjectKind::ALL.into_iter().find(|kind| kind.word() == word) {
            Some(kind) => kinds.push(kind),
            None => {
                let words = || SubjectKind::ALL.iter().map(|kind| kind.word());
                let complaint = Complaint::at(value.span, format!("`{word}` is no kind of subject"), "not known");
                let help = nearest(word, words()).map_or_else(
                    || format!("a rule is about {}", listed(words(), "or")),
                    |near| format!("did you mean `{near}`?"),
                );
                reader.complain(complaint.help(help));
            }
        }
    }
    if child.arguments.is_empty() {
        reader.complain(Complaint::at(child.name.span, "`about` names no kind of subject", "here"));
    }
    (!kinds.is_empty()).then_some(kinds)
}

fn read_limits(statement: &Statement, vocabulary: &mut Vocabulary, reader: &mut Reader<'_>) -> Vec<Limit> {
    let mut limits: Vec<Limit> = Vec::new();
    for child in statement.children.iter().filter(|c| c.name.value == "limit") {
        let Some(name) = reader.argument(child, 0, "the limit's name") else {
            continue;
        };
        if !new_name(&name, vocabulary, reader) {
            continue;
        }
        let Some((value, dimension)) = read_limit_value(child, reader) else {
            continue;
        };
        let meaning =
            reader.argument(child, 2, "a line that says what it is").map(|quoted| quoted.text).unwrap_or_default();
        vocabulary.limits.push((name.text.clone(), dimension));
        limits.push(Limit { name: name.text, value, dimension, meaning, derated: None });
    }
    limits
}

fn read_limit_value(child: &Statement, reader: &mut Reader<'_>) -> Option<(f64, Dimension)> {
    let value = child.argument(1);
    let read = match value.map(|v| &v.value) {
        Some(Scalar::Number(number)) => Ok((*number, Dimension::NONE)),
        Some(Scalar::Text(text)) => read_number(text),
        _ => Err("a limit wants a number, or a quoted number with a unit".to_owned()),
    };
    match read {
        Ok(read) => Some(read),
        Err(message) => {
            let span = value.map_or(child.name.span, |v| v.span);
            reader.complain(Complaint::at(span, message, "here"));
            None
        }
    }
}

/// A limit or a `let` must not hide a fact or another of them.
fn new_name(name: &Quoted, vocabulary: &Vocabulary, reader: &mut Reader<'_>) -> bool {
    let taken = find_definition(&name.text).is_some()
        || matches!(name.text.as_str(), "state" | "subject" | "name" | "and" | "or" | "not")
        || vocabulary.limits.iter().any(|(known, _)| *known == name.text)
        || vocabulary.lets.iter().any(|(known, _)| *known == name.text);
    if taken {
        reader.complain(Complaint::at(
            name.span,
            format!("`{}` means something already", name.text),
            "choose another name",
        ));
    }
    !taken
}

fn read_lets(statement: &Statement, vocabulary: &mut Vocabulary, reader: &mut Reader<'_>) {
    for child in statement.children.iter().filter(|c| c.name.value == "let") {
        let Some(name) = reader.argument(child, 0, "a name") else {
            continue;
        };
        if !new_name(&name, vocabulary, reader) {
            continue;
        }
        let Some(text) = reader.argument(child, 1, "an expression") else {
            continue;
        };
        match Expression::read(&text.text, vocabulary) {
            Ok(expression) => vocabulary.lets.push((name.text, expression.term().clone())),
            Err(error) => reader.complain(text.complain(error)),
        }
    }
}

fn read_with<T>(
    child: &Statement,
    index: usize,
    wanted: &str,
    reader: &mut Reader<'_>,
    read: impl FnOnce(&str) -> Result<T, ExpressionError>,
) -> Option<T> {
    let quoted = reader.argument(child, index, wanted)?;
    match read(&quoted.text) {
        Ok(read) => Some(read),
        Err(error) => {
            reader.complain(quoted.complain(error));
            None
        }
    }
}

fn read_flag(child: &Statement, index: usize, vocabulary: &Vocabulary, reader: &mut Reader<'_>) -> Option<Expression> {
    read_with(child, index, "an expression", reader, |text| Expression::read_flag(text, vocabulary))
}

fn read_template(
    child: &Statement,
    index: usize,
    vocabulary: &Vocabulary,
    reader: &mut Reader<'_>,
) -> Option<Template> {
    read_with(child, index, "a sentence", reader, |text| Template::read(text, vocabulary))
}

fn read_remedies(statement: &Statement, vocabulary: &Vocabulary, reader: &mut Reader<'_>) -> Vec<Advice> {
    let mut remedies = Vec::new();
    for child in statement.children.iter().filter(|child| child.name.value == "remedy") {
        let Some(text) = read_template(child, 0, vocabulary, reader) else { continue };
        let otherwise = child.argument(1).and_then(|_| read_template(child, 1, vocabulary, reader));
        remedies.push(Advice { text, otherwise });
    }
    remedies
}

fn read_marks(statement: &Statement, vocabulary: &Vocabulary, reader: &mut Reader<'_>) -> Vec<Mark> {
    let mut marks = Vec::new();
    for child in statement.children.iter().filter(|c| c.name.value == "mark") {
        let Some(fact) = reader.argument(child, 0, "the name of a fact") else {
            continue;
        };
        let text = read_template(child, 1, vocabulary, reader);
        match vocabulary.find_fact(&fact.text) {
            Ok(found) => {
                marks.extend(text.map(|text| Mark { fact: found.definition, of_design: found.of_design, text }))
            }
            Err((message, help)) => {
                reader.complain(Complaint::at(fact.span, message, "not known here").help(help));
            }
        }
    }
    if !statement.children.iter().any(|c| c.name.value == "mark") {
        reader.required(statement, "mark");
    }
    marks
}

fn read_raises(statement: &Statement, vocabulary: &Vocabulary, reader: &mut Reader<'_>) -> Vec<Raise> {
    let mut raises = Vec::new();
    for child in statement.children.iter().filter(|c| c.name.value == "raise") {
        let class = match child.argument(0) {
            Some(value) => reader.class(value),
            None => {
                reader.argument(child, 0, "a class");
                continue;
            }
        };
        let when = read_flag(child, 1, vocabulary, reader);
        let say_child = reader.single(child, "say");
        let say = say_child.and_then(|say| read_template(say, 0, vocabulary, reader));
        if let (Some(class), Some(when)) = (class, when) {
            raises.push(Raise { class, when, say });
        }
    }
    raises
}
