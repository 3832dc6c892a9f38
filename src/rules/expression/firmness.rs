//! How firmly a yes or no stands: what the solution of a neighbouring design is judged by, without judging it again.

use super::evaluate::{Gap, Scope, number, truth};
use super::syntax::Operator;
use super::term::{Expression, Term, TermKind};

impl Expression {
    /// How firmly the answer stands: above zero for a yes, below for a no, and the nearer to zero the less it takes to
    /// turn it. Of a comparison it is the logarithm of the ratio of its sides, or their difference where a side is zero
    /// or the signs differ; what is no comparison is infinitely firm.
    ///
    /// # Errors
    /// As [`Expression::holds`].
    pub fn firmness(&self, scope: &dyn Scope) -> Result<f64, Gap> {
        firmness(&self.term, scope)
    }
}

fn firmness(term: &Term, scope: &dyn Scope) -> Result<f64, Gap> {
    match &term.what {
        TermKind::Not(inner) => firmness(inner, scope).map(|firm| -firm),
        TermKind::Binary(Operator::And, left, right) => {
            weaker(firmness(left, scope), firmness(right, scope), |firm| firm)
        }
        TermKind::Binary(Operator::Or, left, right) => {
            weaker(firmness(left, scope), firmness(right, scope), |firm| -firm)
        }
        TermKind::Binary(operator @ (Operator::Less | Operator::LessOrEqual), left, right) => {
            Ok(distance(number(right, scope)?, number(left, scope)?, *operator == Operator::LessOrEqual))
        }
        TermKind::Binary(operator @ (Operator::Greater | Operator::GreaterOrEqual), left, right) => {
            Ok(distance(number(left, scope)?, number(right, scope)?, *operator == Operator::GreaterOrEqual))
        }
        _ => truth(term, scope).map(|yes| if yes { f64::INFINITY } else { f64::NEG_INFINITY }),
    }
}

/// The side that decides: the weaker of both seen through `as_and`, or the one that settles it alone.
fn weaker(left: Result<f64, Gap>, right: Result<f64, Gap>, as_and: impl Fn(f64) -> f64) -> Result<f64, Gap> {
    match (left, right) {
        (Ok(left), Ok(right)) => Ok(as_and(as_and(left).min(as_and(right)))),
        (Ok(known), Err(gap)) | (Err(gap), Ok(known)) => {
            if as_and(known) < 0.0 {
                Ok(known)
            } else {
                Err(gap)
            }
        }
        (Err(gap), Err(_)) => Err(gap),
    }
}

/// How far the first is above the second; of equals, just above where equals are a yes, and just below where not.
fn distance(larger: f64, smaller: f64, equals: bool) -> f64 {
    if larger == smaller {
        return if equals { f64::MIN_POSITIVE } else { -f64::MIN_POSITIVE };
    }
    if larger > 0.0 && smaller > 0.0 {
        (larger / smaller).ln()
    } else if larger < 0.0 && smaller < 0.0 {
        (smaller / larger).ln()
    } else {
        larger - smaller
    }
}
