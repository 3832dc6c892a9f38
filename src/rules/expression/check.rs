//! Names resolved and dimensions checked, so that volts are never compared with watts.

use crate::facts::{FACTS, FactDefinition, SubjectKind, ValueKind, find_definition};
use crate::units::Dimension;

use super::super::pieces::{listed, nearest};
use super::ExpressionError;
use super::functions::{CALLABLE, Function};
use super::syntax::{Node, NodeKind, Operator};
use super::term::{FactUse, Term, TermKind};

/// What an expression may name.
#[derive(Clone, Debug, Default)]
pub struct Vocabulary {
    /// The kinds of subject that the rule is about; every fact used must exist for all of them, or for the design.
    pub subjects: Vec<SubjectKind>,
    /// The rule's limits with their dimensions.
    pub limits: Vec<(String, Dimension)>,
    /// The rule's own names for expressions.
    pub(in crate::rules) lets: Vec<(String, Term)>,
}

impl Vocabulary {
    /// What a rule about these subjects may name before it has limits.
    #[must_use]
    pub fn about(subjects: Vec<SubjectKind>) -> Self {
        Self { subjects, ..Self::default() }
    }

    fn use_of(&self, definition: &'static FactDefinition) -> Option<FactUse> {
        let all = !self.subjects.is_empty() && self.subjects.iter().all(|kind| definition.subjects.contains(kind));
        let of_design = definition.subjects.contains(&SubjectKind::Design);
        (all || of_design).then_some(FactUse { definition, of_design: !all })
    }

    /// The fact of a name, where this vocabulary has it; else a sentence and what to do about it.
    pub(in crate::rules) fn find_fact(&self, name: &str) -> Result<FactUse, (String, String)> {
        let subjects = listed(self.subjects.iter().map(|kind| kind.word()), "and");
        if let Some(definition) = find_definition(name) {
            return self.use_of(definition).ok_or_else(|| {
                let owners = listed(definition.subjects.iter().map(|kind| kind.word()), "or");
                (format!("`{name}` is no fact of {subjects}"), format!("it is a fact of {owners}"))
            });
        }
        let names = FACTS
            .iter()
            .filter(|definition| self.use_of(definition).is_some())
            .map(|definition| definition.name)
            .chain(self.limits.iter().map(|(name, _)| name.as_str()))
            .chain(self.lets.iter().map(|(name, _)| name.as_str()));
        let help = nearest(name, names).map(|near| format!("did you mean `{near}`?")).unwrap_or_else(|| {
            if name.contains('-') {
                "a minus between two values needs a space on each side".to_owned()
            } else {
                "a word, such as a kind, is written in single quotes".to_owned()
            }
        });
        Err((format!("`{name}` is no fact, limit or name of this rule"), help))
    }
}

/// A kind of value in words.
pub(super) fn describe(kind: ValueKind) -> String {
    match kind {
        ValueKind::Quantity(dimension) => dimension.with_article(),
        ValueKind::Flag => "a yes or no".to_owned(),
        ValueKind::Word => "a word".to_owned(),
    }
}

pub(super) fn check(node: &Node, vocabulary: &Vocabulary) -> Result<Term, ExpressionError> {
    let term = |what, kind| Ok(Term { what, kind });
    match &node.what {
        NodeKind::Number(value, dimension) => term(TermKind::Number(*value), ValueKind::Quantity(*dimension)),
        NodeKind::Word(word) => term(TermKind::Word(word.clone()), ValueKind::Word),
        NodeKind::Flag(flag) => term(TermKind::Flag(*flag), ValueKind::Flag),
        NodeKind::Name(name) => check_name(name, node, vocabulary),
        NodeKind::Negate(inner) => {
            let inner_term = check(inner, vocabulary)?;
            quantity(&inner_term, inner, "a minus")?;
            let kind = inner_term.kind;
            term(TermKind::Negate(Box::new(inner_term)), kind)
        }
        NodeKind::Not(inner) => {
            let inner_term = check(inner, vocabulary)?;
            flag(&inner_term, inner, "`not`")?;
            term(TermKind::Not(Box::new(inner_term)), ValueKind::Flag)
        }
        NodeKind::Binary(operator, left, right) => {
            let left_term = check(left, vocabulary)?;
            let right_term = check(right, vocabulary)?;
            let kind = binary_kind(*operator, (left, &left_term), (right, &right_term), node)?;
            let what = TermKind::Binary(*operator, Box::new(left_term), Box::new(right_term));
            term(what, kind)
        }
        NodeKind::Call(name, arguments) => check_call(name, arguments, node, vocabulary),
    }
}

fn check_name(name: &str, node: &Node, vocabulary: &Vocabulary) -> Result<Term, ExpressionError> {
    if let Some((_, term)) = vocabulary.lets.iter().find(|(known, _)| known == name) {
        return Ok(term.clone());
    }
    if let Some((_, dimension)) = vocabulary.limits.iter().find(|(known, _)| known == name) {
        return Ok(Term { what: TermKind::Limit(name.to_owned()), kind: ValueKind::Quantity(*dimension) });
    }
    let own_word = match name {
        "state" => Some(TermKind::State),
        "subject" => Some(TermKind::SubjectKind),
        _ => None,
    };
    if let Some(what) = own_word {
        return Ok(Term { what, kind: ValueKind::Word });
    }
    let fact = fact_at(name, node, vocabulary)?;
    Ok(Term { what: TermKind::Fact(fact), kind: fact.definition.value })
}

fn fact_at(name: &str, node: &Node, vocabulary: &Vocabulary) -> Result<FactUse, ExpressionError> {
    vocabulary
        .find_fact(name)
        .map_err(|(message, help)| ExpressionError::new(node.start, node.end, message, "not known here").help(help))
}

fn quantity(term: &Term, node: &Node, taker: &str) -> Result<Dimension, ExpressionError> {
    match term.kind {
        ValueKind::Quantity(dimension) => Ok(dimension),
        other => Err(ExpressionError::new(
            node.start,
            node.end,
            format!("{taker} works on numbers, and this is {}", describe(other)),
            describe(other),
        )),
    }
}

fn flag(term: &Term, node: &Node, taker: &str) -> Result<(), ExpressionError> {
    if term.kind == ValueKind::Flag {
        return Ok(());
    }
    Err(ExpressionError::new(
        node.start,
        node.end,
        format!("{taker} works on yes or no, and this is {}", describe(term.kind)),
        describe(term.kind),
    ))
}

fn binary_kind(
    operator: Operator,
    (left_node, left): (&Node, &Term),
    (right_node, right): (&Node, &Term),
    node: &Node,
) -> Result<ValueKind, ExpressionError> {
    let taker = format!("`{}`", operator.sign());
    match operator {
        Operator::And | Operator::Or => {
            flag(left, left_node, &taker)?;
            flag(right, right_node, &taker)?;
            Ok(ValueKind::Flag)
        }
        Operator::Multiply | Operator::Divide => {
            let a = quantity(left, left_node, &taker)?;
            let b = quantity(right, right_node, &taker)?;
            Ok(ValueKind::Quantity(if operator == Operator::Multiply { a * b } else { a / b }))
        }
        Operator::Equal | Operator::Unequal => {
            same(left, right, node, &taker)?;
            Ok(ValueKind::Flag)
        }
        Operator::Add | Operator::Subtract => {
            quantity(left, left_node, &taker)?;
            quantity(right, right_node, &taker)?;
            same(left, right, node, &taker)?;
            Ok(left.kind)
        }
        _ => {
            quantity(left, left_node, &taker)?;
            quantity(right, right_node, &taker)?;
            same(left, right, node, &taker)?;
            Ok(ValueKind::Flag)
        }
    }
}

fn same(left: &Term, right: &Term, node: &Node, taker: &str) -> Result<(), ExpressionError> {
    if left.kind == right.kind {
        return Ok(());
    }
    let (a, b) = (describe(left.kind), describe(right.kind));
    Err(ExpressionError::new(
        node.start,
        node.end,
        format!("{taker} needs both sides alike, and {a} stands beside {b}"),
        format!("{a} and {b}"),
    ))
}

fn check_call(name: &str, arguments: &[Node], node: &Node, vocabulary: &Vocabulary) -> Result<Term, ExpressionError> {
    match name {
        "known" => return check_known(arguments, node, vocabulary),
        "shelf" => return check_shelf(arguments, node, vocabulary),
        _ => {}
    }
    let Some(function) = Function::named(name) else {
        let error =
            ExpressionError::new(node.start, node.start + name.len(), format!("`{name}` is no function"), "not known");
        return Err(match nearest(name, CALLABLE.into_iter()) {
            Some(near) => error.help(format!("did you mean `{near}`?")),
            None => error.help(format!("the functions are {}", CALLABLE.join(", "))),
        });
    };
    if !function.takes(arguments.len()) {
        return Err(wrong_count(node, name, function.wants()));
    }
    let terms: Vec<Term> = arguments.iter().map(|argument| check(argument, vocabulary)).collect::<Result<_, _>>()?;
    let kind = call_kind(function, arguments, &terms, node)?;
    Ok(Term { what: TermKind::Call(function, terms), kind })
}

fn wrong_count(node: &Node, name: &str, wants: &str) -> ExpressionError {
    ExpressionError::new(node.start, node.end, format!("`{name}` takes {wants}"), format!("takes {wants}"))
}

fn call_kind(function: Function, nodes: &[Node], terms: &[Term], whole: &Node) -> Result<ValueKind, ExpressionError> {
    let taker = format!("`{}`", function.name());
    match (function, nodes, terms) {
        (Function::Pick, [condition_node, _, _], [condition, yes, no]) => {
            flag(condition, condition_node, &taker)?;
            same(yes, no, whole, &taker)?;
            Ok(yes.kind)
        }
        (Function::Sqrt, [node], [term]) => {
            let dimension = quantity(term, node, &taker)?;
            dimension.square_root().map(ValueKind::Quantity).ok_or_else(|| {
                ExpressionError::new(
                    node.start,
                    node.end,
                    format!("{} has no square root that means anything", describe(term.kind)),
                    describe(term.kind),
                )
            })
        }
        (Function::Ln, [node], [term]) => {
            let dimension = quantity(term, node, &taker)?;
            (dimension == Dimension::NONE).then_some(term.kind).ok_or_else(|| {
                ExpressionError::new(
                    node.start,
                    node.end,
                    format!("{} has no logarithm; divide it by another", describe(term.kind)),
                    describe(term.kind),
                )
            })
        }
        _ => {
            for (node, term) in nodes.iter().zip(terms) {
                quantity(term, node, &taker)?;
            }
            for pair in terms.windows(2) {
                if let [a, b] = pair {
                    same(a, b, whole, &taker)?;
                }
            }
            terms.first().map(|term| term.kind).ok_or_else(|| wrong_count(whole, function.name(), function.wants()))
        }
    }
}

fn named_fact(node: &Node, taker: &str, vocabulary: &Vocabulary) -> Result<FactUse, ExpressionError> {
    match &node.what {
        NodeKind::Name(name) => fact_at(name, node, vocabulary),
        _ => Err(ExpressionError::new(
            node.start,
            node.end,
            format!("`{taker}` asks about a fact"),
            "the name of a fact is wanted here",
        )),
    }
}

fn check_known(arguments: &[Node], node: &Node, vocabulary: &Vocabulary) -> Result<Term, ExpressionError> {
    let [argument] = arguments else {
        return Err(wrong_count(node, "known", "the name of one fact"));
    };
    Ok(Term { what: TermKind::Known(named_fact(argument, "known", vocabulary)?), kind: ValueKind::Flag })
}

fn check_shelf(arguments: &[Node], node: &Node, vocabulary: &Vocabulary) -> Result<Term, ExpressionError> {
    let [name, needed] = arguments else {
        return Err(wrong_count(node, "shelf", "the name of a rating and what is needed"));
    };
    let fact = named_fact(name, "shelf", vocabulary)?;
    let term = check(needed, vocabulary)?;
    let dimension = quantity(&term, needed, "`shelf`")?;
    if fact.definition.value != ValueKind::Quantity(dimension) {
        return Err(ExpressionError::new(
            node.start,
            node.end,
            format!(
                "the shelf of `{}` holds {}, and {} is asked of it",
                fact.definition.name,
                describe(fact.definition.value),
                describe(term.kind)
            ),
            "unlike things",
        ));
    }
    Ok(Term { kind: term.kind, what: TermKind::Shelf(fact, vocabulary.subjects.clone(), Box::new(term)) })
}
