//! Rules: data in `rules/*.kdl`, read, checked for dimension, and judged against the facts of a design.
//!
//! Knows facts and their dimensions; knows nothing of terminals, physics or output.

mod book;
mod derating;
mod expression;
mod found;
mod judge;
mod margins;
mod pieces;
mod prove;
mod quoted;
mod read;
mod rule;
mod samples;
mod shelves;
mod template;
mod walk;

pub use book::RuleBook;
pub use derating::{DeratingSet, Setting};
pub use expression::{Edge, Expression, ExpressionError, FactUse, Gap, Scope, Step, Traced, Vocabulary};
pub use judge::{Judgement, judge};
pub use margins::{MarginKey, Margins, margins};
pub use prove::{Inspected, ProofFailure, ProofReport, prove};
pub use rule::{Advice, Check, Demand, Derated, Example, Limit, Mark, Raise, Rule, RuleSource, Verdict};
pub use shelves::Shelves;
pub use template::Template;
pub use walk::{Appraisal, Figure, LimitUsed, Standing, Turning, Walk, appraise, walk};
