//! An expression worked out step by step, for people who want to follow it with a pencil.

use crate::facts::{Value, ValueKind, fact_shown};
use crate::units::{Dimension, format_quantity, format_ratio};

use super::evaluate::{Gap, Scope};
use super::functions::Function;
use super::syntax::Operator;
use super::term::{Expression, FactUse, Term, TermKind};

/// One thing worked out of what stands before it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// The formula, in names.
    pub formula: String,
    /// The same in numbers; empty where the formula is a single question.
    pub numbers: String,
    /// What comes out, or why nothing does.
    pub result: Result<String, String>,
    /// The answer, where it is yes or no.
    pub holds: Option<bool>,
}

/// The way to the value of an expression.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Traced {
    /// What is worked out, in order.
    pub steps: Vec<Step>,
    /// The facts that are looked at on the way, each once.
    pub facts: Vec<FactUse>,
    /// The limits, each once.
    pub limits: Vec<String>,
}

/// A value as steps show it.
pub(in crate::rules) fn shown(value: &Value, kind: ValueKind) -> String {
    match (value, kind) {
        (Value::Quantity(number), ValueKind::Quantity(Dimension::NONE)) => format_ratio(*number),
        (Value::Quantity(number), ValueKind::Quantity(dimension)) => format_quantity(*number, dimension),
        (Value::Quantity(number), _) => format_ratio(*number),
        (Value::Flag(flag), _) => if *flag { "yes" } else { "no" }.to_owned(),
        (Value::Word(word), _) => word.clone(),
    }
}

impl Expression {
    /// The way to its value in a scope.
    #[must_use]
    pub fn traced(&self, scope: &dyn Scope) -> Traced {
        let mut tracer = Tracer { scope, traced: Traced::default() };
        let whole = tracer.trace(&self.term);
        if tracer.traced.steps.is_empty() {
            // A single name is an answer by itself.
            tracer.push(&whole.formula, String::new(), &whole.value, self.term.kind);
        }
        tracer.traced
    }
}

struct Tracer<'a> {
    scope: &'a dyn Scope,
    traced: Traced,
}

/// A part of an expression after it was worked out: how to write it in names, and what it is worth.
struct Piece {
    formula: String,
    binds: u8,
    value: Result<Value, Gap>,
    kind: ValueKind,
    /// The fact, where it is nothing else.
    fact: Option<&'static str>,
}

impl Piece {
    fn number(&self) -> String {
        match (&self.value, self.fact) {
            (Ok(Value::Quantity(number)), Some(name)) => fact_shown(name, *number),
            (Ok(value), _) => shown(value, self.kind),
            (Err(_), _) => "unknown".to_owned(),
        }
    }

    fn within(&self, binds: u8) -> String {
        if self.binds < binds { format!("({})", self.formula) } else { self.formula.clone() }
    }
}

const LOOSEST: u8 = 0;
const TIGHTEST: u8 = 6;

fn binding(operator: Operator) -> u8 {
    match operator {
        Operator::Or => 1,
        Operator::And => 2,
        operator if operator.compares() => 3,
        Operator::Add | Operator::Subtract => 4,
        _ => 5,
    }
}

impl Tracer<'_> {
    fn push(&mut self, formula: &str, numbers: String, value: &Result<Value, Gap>, kind: ValueKind) {
        let step = Step {
            formula: formula.to_owned(),
            numbers,
            result: value.as_ref().map(|value| shown(value, kind)).map_err(Gap::reason),
            holds: match value {
                Ok(Value::Flag(flag)) => Some(*flag),
                _ => None,
            },
        };
        if !self.traced.steps.contains(&step) {
            self.traced.steps.push(step);
        }
    }

    fn look_at(&mut self, fact: FactUse) {
        if !self.traced.facts.contains(&fact) {
            self.traced.facts.push(fact);
        }
    }

    fn worth(&self, term: &Term) -> Result<Value, Gap> {
        super::evaluate::evaluate(term, self.scope)
    }

    fn leaf(&self, term: &Term, formula: impl Into<String>) -> Piece {
        let fact = match &term.what {
            TermKind::Fact(fact) => Some(fact.definition.name),
            _ => None,
        };
        Piece { formula: formula.into(), binds: TIGHTEST, value: self.worth(term), kind: term.kind, fact }
    }

    fn trace(&mut self, term: &Term) -> Piece {
        match &term.what {
            TermKind::Number(value) => self.leaf(term, shown(&Value::Quantity(*value), term.kind)),
            TermKind::Word(word) => self.leaf(term, format!("'{word}'")),
            TermKind::Flag(flag) => self.leaf(term, if *flag { "true" } else { "false" }),
            TermKind::Fact(fact) => {
                self.look_at(*fact);
                let piece = self.leaf(term, fact.definition.name);
                // A yes or no decides by itself; a quantity waits for what it is held against.
                if term.kind == ValueKind::Flag {
                    self.push(&piece.formula, String::new(), &piece.value, term.kind);
                }
                piece
            }
            TermKind::Limit(name) => {
                if !self.traced.limits.contains(name) {
                    self.traced.limits.push(name.clone());
                }
                self.leaf(term, name.clone())
            }
            TermKind::State => self.leaf(term, "state"),
            TermKind::SubjectKind => self.leaf(term, "subject"),
            TermKind::Known(fact) => {
                self.look_at(*fact);
                let piece = self.leaf(term, format!("known({})", fact.definition.name));
                self.push(&piece.formula, String::new(), &piece.value, term.kind);
                piece
            }
            TermKind::Negate(inner) => {
                let inner = self.trace(inner);
                Piece { formula: format!("-{}", inner.within(TIGHTEST)), ..self.leaf(term, "") }
            }
            TermKind::Not(inner) => {
                let inner = self.trace(inner);
                self.composed(term, format!("not {}", inner.within(TIGHTEST)), String::new(), LOOSEST)
            }
            TermKind::Shelf(fact, _, needed) => {
                let needed = self.trace(needed);
                let formula = format!("shelf({}, {})", fact.definition.name, needed.formula);
                let numbers = format!("the next on the shelf from {}", needed.number());
                self.composed(term, formula, numbers, TIGHTEST)
            }
            TermKind::Binary(operator, left, right) => self.binary(term, *operator, left, right),
            TermKind::Call(function, arguments) => self.call(term, *function, arguments),
        }
    }

    fn composed(&mut self, term: &Term, formula: String, numbers: String, binds: u8) -> Piece {
        let value = self.worth(term);
        self.push(&formula, numbers, &value, term.kind);
        Piece { formula, binds, value, kind: term.kind, fact: None }
    }

    fn binary(&mut self, term: &Term, operator: Operator, left: &Term, right: &Term) -> Piece {
        let binds = binding(operator);
        let first = self.trace(left);
        // Where one side settles the answer the other is not looked at.
        let settled = match operator {
            Operator::And => first.value == Ok(Value::Flag(false)),
            Operator::Or => first.value == Ok(Value::Flag(true)),
            _ => false,
        };
        if settled {
            return Piece { value: self.worth(term), ..first };
        }
        let second = self.trace(right);
        if operator == Operator::And && first.value == Ok(Value::Flag(true))
            || operator == Operator::Or && first.value == Ok(Value::Flag(false))
        {
            // The other side is the answer.
            return Piece { value: self.worth(term), ..second };
        }
        let sign = operator.sign();
        // What is subtracted or divided by needs its brackets where a sum or product does not.
        let tighter = binds + u8::from(matches!(operator, Operator::Subtract | Operator::Divide));
        let formula = format!("{} {sign} {}", first.within(binds), second.within(tighter));
        let numbers = format!("{} {sign} {}", first.number(), second.number());
        self.composed(term, formula, numbers, binds)
    }

    fn call(&mut self, term: &Term, function: Function, arguments: &[Term]) -> Piece {
        if let (Function::Pick, [condition, yes, no]) = (function, arguments) {
            let asked = self.trace(condition);
            return match asked.value {
                Ok(Value::Flag(flag)) => self.trace(if flag { yes } else { no }),
                _ => Piece { formula: format!("pick({}, …)", asked.formula), ..self.leaf(term, "") },
            };
        }
        let pieces: Vec<Piece> = arguments.iter().map(|argument| self.trace(argument)).collect();
        let list = |of: &dyn Fn(&Piece) -> String| pieces.iter().map(of).collect::<Vec<_>>().join(", ");
        let formula = format!("{}({})", function.name(), list(&|piece| piece.formula.clone()));
        let numbers = format!("{}({})", function.name(), list(&Piece::number));
        self.composed(term, formula, numbers, TIGHTEST)
    }
}
