//! What a fact would have to be for a comparison to come out the other way, everything else as it is.

use crate::facts::{State, SubjectKind, Value};

use super::super::shelves::Shelves;
use super::evaluate::{Gap, Scope, number, truth};
use super::functions::Function;
use super::syntax::Operator;
use super::term::{Expression, FactUse, Term, TermKind, collect};

/// The edge at which a comparison turns.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Edge {
    /// The fact that is thought of as another.
    pub fact: FactUse,
    /// Where the comparison turns, in base SI units.
    pub value: f64,
    /// Whether the comparison holds above it; else it holds below.
    pub above: bool,
}

impl Expression {
    /// The edges of the comparisons that decide it in a scope: those that do not hold where it does not, else all. Only
    /// of facts that stand once in their comparison, and only where the comparison was seen to turn there.
    #[must_use]
    pub fn edges(&self, scope: &dyn Scope) -> Vec<Edge> {
        let mut found = Vec::new();
        let holds = truth(&self.term, scope) == Ok(true);
        for comparison in deciding(&self.term, scope) {
            if truth(comparison, scope) == Ok(holds) {
                edges_of(comparison, scope, &mut found);
            }
        }
        found
    }
}

/// The comparisons of quantities that a demand is made of.
fn deciding<'t>(term: &'t Term, scope: &dyn Scope) -> Vec<&'t Term> {
    match &term.what {
        TermKind::Binary(Operator::And | Operator::Or, left, right) => {
            let mut both = deciding(left, scope);
            both.extend(deciding(right, scope));
            both
        }
        TermKind::Call(Function::Pick, arguments) => {
            picked(arguments, scope).map_or(Vec::new(), |one| deciding(one, scope))
        }
        TermKind::Binary(Operator::Less | Operator::LessOrEqual | Operator::Greater | Operator::GreaterOrEqual, ..) => {
            vec![term]
        }
        _ => Vec::new(),
    }
}

fn picked<'t>(arguments: &'t [Term], scope: &dyn Scope) -> Option<&'t Term> {
    let [condition, yes, no] = arguments else { return None };
    truth(condition, scope).ok().map(|holds| if holds { yes } else { no })
}

fn edges_of(comparison: &Term, scope: &dyn Scope, found: &mut Vec<Edge>) {
    let TermKind::Binary(_, left, right) = &comparison.what else { return };
    let (Ok(left_value), Ok(right_value)) = (number(left, scope), number(right, scope)) else { return };
    let mut facts = Vec::new();
    collect(comparison, &mut facts);
    for fact in facts {
        let here = |term: &Term| count(term, &fact, scope);
        let value = match (here(left), here(right)) {
            (1, 0) => isolated(left, right_value, &fact, scope),
            (0, 1) => isolated(right, left_value, &fact, scope),
            _ => None,
        };
        let Some(value) = value.filter(|value| value.is_finite()) else { continue };
        let is_now = scope.fact(&fact).ok().and_then(|value| value.number()).unwrap_or(0.0);
        // No part has less than nothing of what it has something of.
        if is_now > 0.0 && value <= 0.0 {
            continue;
        }
        let step = 1e-6 * value.abs().max(1e-30);
        let holds = |value: f64| truth(comparison, &Instead { scope, fact, value }) == Ok(true);
        let (below, above) = (holds(value - step), holds(value + step));
        if below != above {
            found.push(Edge { fact, value, above });
        }
    }
}

/// How often a fact is looked at.
fn count(term: &Term, fact: &FactUse, scope: &dyn Scope) -> usize {
    let sum = |terms: &[&Term]| terms.iter().map(|term| count(term, fact, scope)).sum();
    match &term.what {
        TermKind::Fact(known) => usize::from(known == fact),
        TermKind::Negate(inner) | TermKind::Not(inner) | TermKind::Shelf(_, _, inner) => count(inner, fact, scope),
        TermKind::Binary(_, left, right) => sum(&[left, right]),
        TermKind::Call(Function::Pick, arguments) => {
            let condition: usize = arguments.first().map_or(0, |condition| 2 * count(condition, fact, scope));
            condition + picked(arguments, scope).map_or(0, |one| count(one, fact, scope))
        }
        TermKind::Call(_, arguments) => sum(&arguments.iter().collect::<Vec<_>>()),
        _ => 0,
    }
}

/// What a fact must be for a term to have a value; the fact stands once in it.
fn isolated(term: &Term, target: f64, fact: &FactUse, scope: &dyn Scope) -> Option<f64> {
    let on = |inner: &Term, target: f64| isolated(inner, target, fact, scope);
    match &term.what {
        TermKind::Fact(known) => (known == fact).then_some(target),
        TermKind::Negate(inner) => on(inner, -target),
        TermKind::Binary(operator, left, right) if count(left, fact, scope) == 1 => {
            let other = number(right, scope).ok()?;
            match operator {
                Operator::Add => on(left, target - other),
                Operator::Subtract => on(left, target + other),
                Operator::Multiply => on(left, target / other),
                Operator::Divide => on(left, target * other),
                _ => None,
            }
        }
        TermKind::Binary(operator, left, right) => {
            let other = number(left, scope).ok()?;
            match operator {
                Operator::Add => on(right, target - other),
                Operator::Subtract => on(right, other - target),
                Operator::Multiply => on(right, target / other),
                Operator::Divide => on(right, other / target),
                _ => None,
            }
        }
        TermKind::Call(Function::Pick, arguments) => on(picked(arguments, scope)?, target),
        TermKind::Call(Function::Abs, arguments) => {
            let inner = arguments.first()?;
            on(inner, if number(inner, scope).ok()? < 0.0 { -target } else { target })
        }
        TermKind::Call(Function::Sqrt, arguments) => on(arguments.first()?, target * target),
        TermKind::Call(Function::Ln, arguments) => on(arguments.first()?, target.exp()),
        TermKind::Call(Function::Min | Function::Max, arguments) => {
            on(arguments.iter().find(|argument| count(argument, fact, scope) == 1)?, target)
        }
        _ => None,
    }
}

/// A scope with one fact thought of as another.
struct Instead<'a> {
    scope: &'a dyn Scope,
    fact: FactUse,
    value: f64,
}

impl Scope for Instead<'_> {
    fn fact(&self, fact: &FactUse) -> Result<Value, Gap> {
        if *fact == self.fact { Ok(Value::Quantity(self.value)) } else { self.scope.fact(fact) }
    }

    fn limit(&self, name: &str) -> Option<f64> {
        self.scope.limit(name)
    }

    fn state(&self) -> Option<State> {
        self.scope.state()
    }

    fn subject(&self) -> Option<SubjectKind> {
        self.scope.subject()
    }

    fn shelves(&self) -> &Shelves {
        self.scope.shelves()
    }
}
