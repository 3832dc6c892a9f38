//! Reads one statement field by field, remembers what was asked for, and complains of what nobody asked for.

use std::cell::Cell;

use crate::source::{Complaint, Property, Scalar, Span, Spanned, Statement};
use crate::units::Quantity;

use super::ledger::{Form, Ledger};
use super::suggest::{any_of, did_you_mean, nearest_name};
use super::values::{Bounds, Refusable, quantity};

/// A statement being read. Every property asked for is one that the statement may have.
pub(super) struct Fields<'a> {
    pub(super) statement: &'a Statement,
    arguments_wanted: usize,
    known: Vec<&'static str>,
    complaints: &'a Ledger,
    missing_told: Cell<bool>,
}

impl<'a> Fields<'a> {
    pub(super) fn new(statement: &'a Statement, complaints: &'a Ledger) -> Self {
        Self { statement, arguments_wanted: 0, known: Vec::new(), complaints, missing_told: Cell::new(false) }
    }

    pub(super) fn complain(&self, complaint: Complaint) {
        self.complaints.borrow_mut().push(complaint);
    }

    /// Keeps the value, or the complaint about it.
    pub(super) fn keep<T>(&self, result: Refusable<T>) -> Option<T> {
        result.map_err(|complaint| self.complain(*complaint)).ok()
    }

    /// Says that something is missing, unless the statement is known to be broken.
    pub(super) fn missing(&self, what: &str, example: &str) {
        // What else is missing shows in the example.
        if self.statement.broken || self.missing_told.replace(true) {
            return;
        }
        let name = &self.statement.name;
        self.complain(
            Complaint::at(name.span, format!("`{}` needs {what}", name.value), "incomplete")
                .help(format!("write it as `{example}`")),
        );
    }

    /// The next positional value, with a complaint where it is missing.
    pub(super) fn argument(&mut self, what: &str, example: &str) -> Option<&'a Spanned<Scalar>> {
        let argument = self.statement.argument(self.arguments_wanted);
        self.arguments_wanted += 1;
        if argument.is_none() {
            self.missing(what, example);
        }
        argument
    }

    /// The next positional value where there is one.
    pub(super) fn optional_argument(&mut self) -> Option<&'a Spanned<Scalar>> {
        let argument = self.statement.argument(self.arguments_wanted);
        self.arguments_wanted += 1;
        argument
    }

    /// All further positional values.
    pub(super) fn rest(&mut self) -> &'a [Spanned<Scalar>] {
        let from = self.arguments_wanted.min(self.statement.arguments.len());
        self.arguments_wanted = usize::MAX;
        self.statement.arguments.get(from..).unwrap_or(&[])
    }

    /// The next positional value as a name: a part, a stage, a winding.
    pub(super) fn name(&mut self, what: &str, example: &str) -> Option<Spanned<String>> {
        let argument = self.argument(what, example)?;
        let name = self.word(argument)?;
        self.good_name(name)
    }

    /// Refuses a name that could not be referred to.
    pub(super) fn good_name(&self, name: Spanned<String>) -> Option<Spanned<String>> {
        let bad = name.value.chars().find(|c| c.is_whitespace() || c.is_control() || matches!(c, '.' | '=' | '"'));
        if name.value.is_empty() || bad.is_some() {
            self.complain(
                Complaint::at(
                    name.span,
                    format!("`{}` cannot be a name", name.value),
                    match bad {
                        Some('.') => "a dot stands between a part and its terminal",
                        Some(_) => "a name is one word",
                        None => "the name is empty",
                    },
                )
                .help("names are letters, digits, `-` and `_`"),
            );
            return None;
        }
        Some(name)
    }

    /// A value as a word; the span leaves out the quotes.
    pub(super) fn word(&self, value: &Spanned<Scalar>) -> Option<Spanned<String>> {
        match &value.value {
            Scalar::Text(text) => Some(Spanned::new(text.clone(), inside_quotes(text, value.span))),
            Scalar::Number(number) => {
                let text = number.to_string();
                let help = format!("write `\"{text}\"`");
                self.complain(Complaint::at(value.span, "a word is wanted here", "this is a number").help(help));
                None
            }
            Scalar::Flag(_) | Scalar::Null => {
                self.complain(Complaint::at(value.span, "a word is wanted here", "this is no word"));
                None
            }
        }
    }

    /// A device's type as a word; a type that is all digits may stand without quotes.
    pub(super) fn type_word(&self, value: &Spanned<Scalar>) -> Option<Spanned<String>> {
        match &value.value {
            Scalar::Number(number) => Some(Spanned::new(number.to_string(), value.span)),
            _ => self.word(value),
        }
    }

    /// A property of the statement, where it is given.
    pub(super) fn property(&mut self, name: &'static str) -> Option<&'a Property> {
        self.known.push(name);
        self.complaints.note(self.statement, name, || Form::Other);
        self.statement.property(name)
    }

    /// A property as free text or a word.
    pub(super) fn text(&mut self, name: &'static str) -> Option<Spanned<String>> {
        let property = self.property(name)?;
        match &property.value.value {
            Scalar::Number(number) => Some(Spanned::new(number.to_string(), property.value.span)),
            _ => self.word(&property.value),
        }
    }

    /// A property as one of some words.
    pub(super) fn one_of(&mut self, name: &'static str, words: &[&str]) -> Option<Spanned<String>> {
        let property = self.property(name);
        self.complaints.note(self.statement, name, || Form::OneOf(words.iter().map(|&word| word.to_owned()).collect()));
        let property = property?;
        let word = self.word(&property.value)?;
        if words.contains(&word.value.as_str()) {
            return Some(word);
        }
        let mut complaint = Complaint::at(
            word.span,
            format!("`{name}` cannot be `{}`", word.value),
            format!("{} is wanted", any_of(words)),
        );
        if let Some(near) = nearest_name(&word.value, words.iter().copied()) {
            complaint = complaint.help(format!("did you mean `{near}`?"));
        }
        self.complain(complaint);
        None
    }

    /// A property as a quantity.
    pub(super) fn quantity<Q: Quantity>(&mut self, name: &'static str, bounds: Bounds) -> Option<Spanned<Q>> {
        let property = self.property(name);
        self.complaints.note(self.statement, name, || Form::Quantity(Q::DIMENSION));
        self.keep(quantity(&property?.value, bounds))
    }

    /// The next positional value as a quantity.
    pub(super) fn quantity_argument<Q: Quantity>(
        &mut self,
        what: &str,
        example: &str,
        bounds: Bounds,
    ) -> Option<Spanned<Q>> {
        let argument = self.argument(what, example)?;
        self.keep(quantity(argument, bounds))
    }

    /// A property as a reference: a net or a terminal, not yet resolved.
    pub(super) fn reference(&mut self, name: &'static str) -> Option<Spanned<String>> {
        let property = self.property(name);
        self.complaints.note(self.statement, name, || Form::Reference);
        self.reference_of(&property?.value)
    }

    /// A value as a reference.
    pub(super) fn reference_of(&self, value: &Spanned<Scalar>) -> Option<Spanned<String>> {
        let Scalar::Text(text) = &value.value else {
            self.complain(Complaint::at(value.span, "a net or a terminal is wanted here", "this is no name"));
            return None;
        };
        let good = !text.is_empty()
            && text.split('.').all(|piece| !piece.is_empty())
            && !text.chars().any(|c| c.is_whitespace() || c.is_control() || matches!(c, '"' | '='));
        if !good {
            self.complain(
                Complaint::at(value.span, format!("`{text}` cannot name a net or a terminal"), "not a reference")
                    .help("a net is one word, such as `bplus`; a terminal is `PART.TERMINAL`, such as `R1.from`"),
            );
            return None;
        }
        Some(Spanned::new(text.clone(), inside_quotes(text, value.span)))
    }

    /// Complains of arguments, properties and children that nobody asked for.
    pub(super) fn finish(self, children: &[&str]) {
        self.complaints.note_children(self.statement, children);
        let name = &self.statement.name.value;
        if let Some(surplus) = self.statement.argument(self.arguments_wanted) {
            self.complain(
                Complaint::at(surplus.span, format!("`{name}` takes no further value"), "not expected here").help(
                    match self.known.first() {
                        Some(key) => {
                            format!("what has a name is written `name=value`, such as `{key}=…`")
                        }
                        None => "leave it out".to_owned(),
                    },
                ),
            );
        }
        for property in &self.statement.properties {
            if self.known.contains(&property.name.value.as_str()) {
                continue;
            }
            let mut complaint = Complaint::at(
                property.name.span,
                format!("`{name}` has no property `{}`", property.name.value),
                "not known here",
            );
            if let Some(help) = did_you_mean(&property.name.value, self.known.iter().copied()) {
                complaint = complaint.help(help);
            } else if !self.known.is_empty() {
                complaint = complaint.help(format!("known here: {}", any_of(&self.known)));
            }
            self.complain(complaint);
        }
        for child in &self.statement.children {
            if children.contains(&child.name.value.as_str()) {
                continue;
            }
            let mut complaint = Complaint::at(
                child.name.span,
                format!("`{}` does not belong inside `{name}`", child.name.value),
                "not known here",
            );
            if let Some(help) = did_you_mean(&child.name.value, children.iter().copied()) {
                complaint = complaint.help(help);
            }
            self.complain(complaint);
        }
    }
}

/// The span without the quotes, where the text was written in plain quotes.
pub(crate) fn inside_quotes(text: &str, span: Span) -> Span {
    if span.end - span.start == text.len() + 2 { Span::new(span.file, span.start + 1, span.end - 1) } else { span }
}
