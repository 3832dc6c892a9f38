//! Evaluation. What is not known stays unknown; `and` and `or` give an answer where one side settles it.

use crate::facts::{State, SubjectKind, Value};

use super::super::shelves::Shelves;
use super::functions::Function;
use super::syntax::Operator;
use super::term::{Expression, FactUse, Term, TermKind, children};

/// Why an expression has no value here.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Gap {
    /// The subject has no such fact.
    Absent(&'static str),
    /// The fact should exist and could not be computed.
    Failed(&'static str, String),
    /// The fact is known, but not in this state or line-up.
    OtherState(&'static str),
    /// The arithmetic has no answer (nothing divided by nothing).
    NoAnswer,
}

impl Gap {
    /// The reason in a sentence.
    #[must_use]
    pub fn reason(&self) -> String {
        match self {
            Self::Absent(fact) => format!("no {} is known", fact.replace('-', " ")),
            Self::Failed(_, reason) => reason.clone(),
            Self::OtherState(fact) => {
                format!("{} is not known in the same state and line-up as the rest", fact.replace('-', " "))
            }
            Self::NoAnswer => "the arithmetic has no answer here".to_owned(),
        }
    }
}

/// What an expression is evaluated against: one subject in one state and line-up.
pub trait Scope {
    /// The value of a fact.
    ///
    /// # Errors
    /// Why it is not known.
    fn fact(&self, fact: &FactUse) -> Result<Value, Gap>;
    /// The value of a limit, in base SI units.
    fn limit(&self, name: &str) -> Option<f64>;
    /// The state, where there is one.
    fn state(&self) -> Option<State>;
    /// The kind of the subject.
    fn subject(&self) -> Option<SubjectKind>;
    /// What is on the shelf.
    fn shelves(&self) -> &Shelves;
}

impl Expression {
    /// The value in a scope.
    ///
    /// # Errors
    /// The first fact that is missing.
    pub fn evaluate(&self, scope: &dyn Scope) -> Result<Value, Gap> {
        evaluate(&self.term, scope)
    }

    /// The answer in a scope, for an expression that was read as yes or no.
    ///
    /// # Errors
    /// The first fact that is missing.
    pub fn holds(&self, scope: &dyn Scope) -> Result<bool, Gap> {
        truth(&self.term, scope)
    }

    /// Whether it asks for a rating that no shelf carries.
    #[must_use]
    pub fn is_off_shelf(&self, scope: &dyn Scope) -> bool {
        off_shelf(&self.term, scope)
    }

    /// By how much a demand is broken: 0 where it holds or where it is no comparison, more the worse; grows with the
    /// ratio of the two sides.
    #[must_use]
    pub fn excess(&self, scope: &dyn Scope) -> f64 {
        excess(&self.term, scope)
    }

    /// How far a demand that holds is from not holding: the distance of the two sides as a share of the larger. None
    /// where it is no comparison.
    #[must_use]
    pub fn margin(&self, scope: &dyn Scope) -> Option<f64> {
        margin(&self.term, scope)
    }
}

pub(super) fn truth(term: &Term, scope: &dyn Scope) -> Result<bool, Gap> {
    match evaluate(term, scope)? {
        Value::Flag(flag) => Ok(flag),
        Value::Quantity(_) | Value::Word(_) => Err(Gap::NoAnswer),
    }
}

pub(super) fn number(term: &Term, scope: &dyn Scope) -> Result<f64, Gap> {
    evaluate(term, scope)?.number().ok_or(Gap::NoAnswer)
}

fn settled(value: f64) -> Result<Value, Gap> {
    if value.is_nan() { Err(Gap::NoAnswer) } else { Ok(Value::Quantity(value)) }
}

pub(super) fn evaluate(term: &Term, scope: &dyn Scope) -> Result<Value, Gap> {
    match &term.what {
        TermKind::Number(value) => Ok(Value::Quantity(*value)),
        TermKind::Word(word) => Ok(Value::Word(word.clone())),
        TermKind::Flag(flag) => Ok(Value::Flag(*flag)),
        TermKind::Fact(fact) => match scope.fact(fact)? {
            Value::Quantity(value) => settled(value),
            other => Ok(other),
        },
        TermKind::Limit(name) => settled(scope.limit(name).ok_or(Gap::NoAnswer)?),
        TermKind::State => {
            scope.state().map(|state| Value::Word(state.name().to_owned())).ok_or(Gap::OtherState("state"))
        }
        TermKind::SubjectKind => scope.subject().map(|kind| Value::Word(kind.word().to_owned())).ok_or(Gap::NoAnswer),
        TermKind::Negate(inner) => settled(-number(inner, scope)?),
        TermKind::Not(inner) => Ok(Value::Flag(!truth(inner, scope)?)),
        TermKind::Known(fact) => match scope.fact(fact) {
            Ok(_) => Ok(Value::Flag(true)),
            Err(Gap::Absent(_)) => Ok(Value::Flag(false)),
            Err(gap) => Err(gap),
        },
        TermKind::Shelf(fact, kinds, needed) => {
            let needed = number(needed, scope)?;
            settled(scope.shelves().at_or_above(kinds, fact.definition.name, needed))
        }
        TermKind::Binary(operator, left, right) => binary(*operator, left, right, scope),
        TermKind::Call(function, arguments) => call(*function, arguments, scope),
    }
}

fn binary(operator: Operator, left: &Term, right: &Term, scope: &dyn Scope) -> Result<Value, Gap> {
    match operator {
        Operator::And => settle(false, truth(left, scope), || truth(right, scope)),
        Operator::Or => settle(true, truth(left, scope), || truth(right, scope)),
        Operator::Equal | Operator::Unequal => {
            let alike = evaluate(left, scope)? == evaluate(right, scope)?;
            Ok(Value::Flag(alike == (operator == Operator::Equal)))
        }
        _ => {
            let (a, b) = (number(left, scope)?, number(right, scope)?);
            match operator {
                Operator::Add => settled(a + b),
                Operator::Subtract => settled(a - b),
                Operator::Multiply => settled(a * b),
                Operator::Divide => settled(a / b),
                Operator::Less => Ok(Value::Flag(a < b)),
                Operator::LessOrEqual => Ok(Value::Flag(a <= b)),
                Operator::Greater => Ok(Value::Flag(a > b)),
                _ => Ok(Value::Flag(a >= b)),
            }
        }
    }
}

/// `and` is settled by a no, `or` by a yes, on either side, whatever is unknown on the other.
fn settle(by: bool, left: Result<bool, Gap>, right: impl FnOnce() -> Result<bool, Gap>) -> Result<Value, Gap> {
    if left == Ok(by) {
        return Ok(Value::Flag(by));
    }
    let right = right();
    if right == Ok(by) {
        return Ok(Value::Flag(by));
    }
    left?;
    right?;
    Ok(Value::Flag(!by))
}

fn call(function: Function, arguments: &[Term], scope: &dyn Scope) -> Result<Value, Gap> {
    match (function, arguments) {
        (Function::Pick, [condition, yes, no]) => evaluate(if truth(condition, scope)? { yes } else { no }, scope),
        (Function::Abs, [term]) => settled(number(term, scope)?.abs()),
        (Function::Sqrt, [term]) => settled(number(term, scope)?.sqrt()),
        (Function::Ln, [term]) => settled(number(term, scope)?.ln()),
        (Function::Min | Function::Max, [first, rest @ ..]) => {
            let mut best = number(first, scope)?;
            for term in rest {
                let value = number(term, scope)?;
                best = if function == Function::Min { best.min(value) } else { best.max(value) };
            }
            settled(best)
        }
        _ => Err(Gap::NoAnswer),
    }
}

fn off_shelf(term: &Term, scope: &dyn Scope) -> bool {
    let here = match &term.what {
        TermKind::Shelf(fact, kinds, needed) => {
            number(needed, scope).is_ok_and(|needed| !scope.shelves().carries(kinds, fact.definition.name, needed))
        }
        _ => false,
    };
    here || children(term).into_iter().any(|child| off_shelf(child, scope))
}

fn excess(term: &Term, scope: &dyn Scope) -> f64 {
    let TermKind::Binary(operator, left, right) = &term.what else {
        return 0.0;
    };
    let over = |large: &Term, small: &Term| match (number(large, scope), number(small, scope)) {
        (Ok(a), Ok(b)) => relative_excess(a, b),
        _ => 0.0,
    };
    match operator {
        Operator::Less | Operator::LessOrEqual => over(left, right),
        Operator::Greater | Operator::GreaterOrEqual => over(right, left),
        Operator::And => excess(left, scope).max(excess(right, scope)),
        Operator::Or => excess(left, scope).min(excess(right, scope)),
        _ => 0.0,
    }
}

fn margin(term: &Term, scope: &dyn Scope) -> Option<f64> {
    let TermKind::Binary(operator, left, right) = &term.what else { return None };
    let under = |small: &Term, large: &Term| {
        let (a, b) = (number(small, scope).ok()?, number(large, scope).ok()?);
        if a.is_infinite() || b.is_infinite() {
            return Some(f64::INFINITY);
        }
        let scale = a.abs().max(b.abs());
        Some(if scale > 0.0 { (b - a) / scale } else { 0.0 })
    };
    let of = |side: &Term| margin(side, scope);
    match operator {
        Operator::Less | Operator::LessOrEqual => under(left, right),
        Operator::Greater | Operator::GreaterOrEqual => under(right, left),
        Operator::And => [of(left), of(right)].into_iter().flatten().reduce(f64::min),
        Operator::Or => [of(left), of(right)].into_iter().flatten().reduce(f64::max),
        _ => None,
    }
}

/// Grows with `a` over `b` where both are positive, and stays in order across zero.
fn relative_excess(a: f64, b: f64) -> f64 {
    if a <= b {
        return 0.0;
    }
    if a.is_infinite() || b.is_infinite() {
        return f64::INFINITY;
    }
    let scale = a.abs().max(b.abs());
    if scale > 0.0 { (a - b) / scale } else { 0.0 }
}
