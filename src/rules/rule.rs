//! A rule as read: names resolved, dimensions checked.

use crate::facts::{FactDefinition, SubjectKind};
use crate::findings::Class;
use crate::source::{Complaint, Scalar, Span, Spanned};
use crate::units::{Dimension, parse_value};

use super::expression::Expression;
use super::template::Template;

/// A rule.
#[derive(Clone, Debug)]
pub struct Rule {
    /// `topic/defect`; for ever.
    pub name: String,
    /// The consequence, where nothing raises it.
    pub class: Class,
    /// How it is judged.
    pub verdict: Verdict,
    /// What to do about it, in order of preference.
    pub remedies: Vec<Advice>,
    /// Why it matters, how the figure is had, how to measure it. Lines without indentation.
    pub lesson: String,
    /// Where its figures come from.
    pub sources: Vec<RuleSource>,
    /// Designs that keep it and designs that break it.
    pub examples: Vec<Example>,
    /// The demand as written, for the lesson; the words of who finds it otherwise.
    pub demand_text: String,
    /// The rule's name in its file.
    pub span: Span,
}

/// How a rule is judged.
#[derive(Clone, Debug)]
pub enum Verdict {
    /// By its demand on facts.
    Demand(Box<Check>),
    /// By the program itself, which speaks in the rule's name: who finds it, in words.
    FoundBy(String),
}

/// What is judged by a demand.
#[derive(Clone, Debug)]
pub struct Check {
    /// The kinds of subject.
    pub about: Vec<SubjectKind>,
    /// Where it applies; everywhere without one.
    pub when: Option<Expression>,
    /// The figures that a workshop may adjust.
    pub limits: Vec<Limit>,
    /// What must hold.
    pub demand: Demand,
    /// The message.
    pub say: Template,
    /// The labels; the first is where the finding points.
    pub marks: Vec<Mark>,
    /// What makes it more serious, as written.
    pub raises: Vec<Raise>,
}

/// What must hold.
pub type Demand = Expression;

/// A figure that a workshop may adjust.
#[derive(Clone, Debug, PartialEq)]
pub struct Limit {
    /// Its name.
    pub name: String,
    /// Its value in base SI units.
    pub value: f64,
    /// Its dimension.
    pub dimension: Dimension,
    /// What it is.
    pub meaning: String,
    /// The derating set that gave its value, where one did.
    pub derated: Option<Derated>,
}

/// What a derating set says of a limit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Derated {
    /// The set.
    pub by: String,
    /// The clauses that the value comes from.
    pub sources: Vec<RuleSource>,
}

impl Limit {
    /// A value for this limit as written in a workshop file or a derating set.
    ///
    /// # Errors
    /// A complaint at a value that is no number, or of another dimension.
    pub fn read(&self, value: &Spanned<Scalar>) -> Result<f64, Box<Complaint>> {
        let number = match &value.value {
            Scalar::Number(number) if number.is_finite() => Ok(*number),
            Scalar::Text(text) => parse_value(text, self.dimension).map_err(|error| error.to_string()),
            _ => Err(format!("`{}` is {}", self.name, self.dimension.with_article())),
        };
        number.map_err(|message| Box::new(Complaint::at(value.span, message, "here")))
    }
}

/// A label: under the place that a fact came from.
#[derive(Clone, Debug)]
pub struct Mark {
    /// The fact.
    pub fact: &'static FactDefinition,
    /// Whether it is had from the design instead of the subject.
    pub of_design: bool,
    /// What to write.
    pub text: Template,
}

/// What to do about a broken rule.
#[derive(Clone, Debug)]
pub struct Advice {
    /// In a sentence.
    pub text: Template,
    /// What to do instead where it names a rating that no shelf carries.
    pub otherwise: Option<Template>,
}

impl Advice {
    /// The sentences as written.
    #[must_use]
    pub fn written(&self) -> String {
        match &self.otherwise {
            Some(otherwise) => {
                format!("{} (where no shelf carries that: {})", self.text.written(), otherwise.written())
            }
            None => self.text.written().to_owned(),
        }
    }
}

/// What makes a broken rule more serious.
#[derive(Clone, Debug)]
pub struct Raise {
    /// The class it then has.
    pub class: Class,
    /// When.
    pub when: Expression,
    /// The message it then has, where it differs.
    pub say: Option<Template>,
}

/// Where a figure comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RuleSource {
    /// The document, or `common practice`.
    pub document: String,
    /// Clause, table or what was taken from it.
    pub clause: Option<String>,
    /// Whether it was recalled and not checked against a page.
    pub from_memory: bool,
}

/// A design fragment that proves the rule.
#[derive(Clone, Debug, PartialEq)]
pub struct Example {
    /// Whether the rule holds in it.
    pub holds: bool,
    /// The fragment.
    pub design: String,
    /// For one that breaks it: the fact whose place the finding points at.
    pub at: Option<String>,
    /// Where it stands in the rule file.
    pub span: Span,
}

impl Rule {
    /// The check, where the rule is judged by a demand.
    #[must_use]
    pub fn check(&self) -> Option<&Check> {
        match &self.verdict {
            Verdict::Demand(check) => Some(check),
            Verdict::FoundBy(_) => None,
        }
    }

    /// What it lacks to prove itself: an example that holds, one that breaks it. What the program finds by itself has none.
    #[must_use]
    pub fn unproved(&self) -> Option<&'static str> {
        self.check()?;
        let any = |holds: bool| self.examples.iter().any(|example| example.holds == holds);
        match (any(true), any(false)) {
            (true, true) => None,
            (false, false) => Some("example"),
            (true, false) => Some("example that breaks it"),
            (false, true) => Some("example that holds"),
        }
    }

    /// The topic: what stands before the slash.
    #[must_use]
    pub fn topic(&self) -> &str {
        self.name.split('/').next().unwrap_or(&self.name)
    }

    /// The first sentence of the lesson, on one line.
    #[must_use]
    pub fn summary(&self) -> String {
        let flat = self.lesson.split_whitespace().collect::<Vec<_>>().join(" ");
        match flat.find(". ") {
            Some(end) => flat.get(..=end).unwrap_or(&flat).to_owned(),
            None => flat,
        }
    }
}
