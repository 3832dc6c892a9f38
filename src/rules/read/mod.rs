//! Rule files to rules: every child of a rule, checked, with a complaint at each thing that is wrong.

mod check;
mod prose;

pub(super) use prose::read_source;

use std::str::FromStr;

use crate::findings::Class;
use crate::source::{Complaint, Scalar, Sources, Span, Spanned, Statement};

use super::pieces::nearest;
use super::quoted::Quoted;
use super::rule::{Rule, Verdict};

const CHILDREN: [&str; 14] = [
    "about", "when", "limit", "let", "demand", "found-by", "say", "mark", "remedy", "raise", "lesson", "source",
    "example", "note",
];

/// Whether a rule must prove itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Strictness {
    /// Of the built-in set: lesson, source and both examples are wanted.
    BuiltIn,
    /// A workshop's own: they are not.
    Workshop,
}

/// Collects complaints while a rule is read.
pub(super) struct Reader<'a> {
    pub(super) sources: &'a Sources,
    pub(super) complaints: Vec<Complaint>,
}

/// Reads the rules of a file. A rule with anything wrong in it is left out.
pub(super) fn read_rules(
    statements: &[Statement],
    sources: &Sources,
    strictness: Strictness,
) -> (Vec<Rule>, Vec<Complaint>) {
    let mut rules = Vec::new();
    let mut reader = Reader { sources, complaints: Vec::new() };
    for statement in statements {
        if statement.name.value != "rule" {
            let name = &statement.name;
            reader.complain(
                Complaint::at(name.span, format!("`{}` has no place in a rule file", name.value), "not a rule")
                    .help("a rule file holds `rule \"topic/defect\" class=… { … }` and nothing else"),
            );
            continue;
        }
        let before = reader.complaints.len();
        let rule = read_rule(statement, &mut reader, strictness);
        if let Some(rule) = rule
            && reader.complaints.len() == before
        {
            rules.push(rule);
        }
    }
    (rules, reader.complaints)
}

fn read_rule(statement: &Statement, reader: &mut Reader<'_>, strictness: Strictness) -> Option<Rule> {
    let name = reader.argument(statement, 0, "the rule's name, `topic/defect`")?;
    check_name(&name, reader);
    let class = read_class(statement, reader);
    for child in &statement.children {
        let word = &child.name.value;
        if !CHILDREN.contains(&word.as_str()) {
            let complaint = Complaint::at(child.name.span, format!("`{word}` is nothing that a rule has"), "not known");
            let help = nearest(word, CHILDREN.into_iter()).map_or_else(
                || format!("a rule has {}", CHILDREN.join(", ")),
                |near| format!("did you mean `{near}`?"),
            );
            reader.complain(complaint.help(help));
        }
    }
    reader.only_properties(statement, &["class"]);
    let found_by = reader.single(statement, "found-by");
    let (verdict, demand_text, remedies) = match found_by {
        Some(found_by) => {
            let words = reader.argument(found_by, 0, "who finds it, in words")?;
            let remedies = check::plain_remedies(statement, reader);
            (Verdict::FoundBy(words.text.clone()), words.text, remedies)
        }
        None => {
            let (check, text, remedies) = check::read_check(statement, reader)?;
            (Verdict::Demand(Box::new(check)), text, remedies)
        }
    };
    let prose = prose::read_prose(statement, reader);
    if strictness == Strictness::BuiltIn {
        prose::must_prove_itself(&prose, &verdict, name.span, reader);
    }
    Some(Rule {
        name: name.text,
        class: class?,
        verdict,
        remedies,
        lesson: prose.lesson,
        sources: prose.sources,
        examples: prose.examples,
        demand_text,
        span: name.span,
    })
}

fn check_name(name: &Quoted, reader: &mut Reader<'_>) {
    let kebab =
        |part: &str| !part.is_empty() && part.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
    if !matches!(name.text.split_once('/'), Some((topic, defect)) if kebab(topic) && kebab(defect)) {
        reader.complain(
            Complaint::at(name.span, format!("`{}` is no name for a rule", name.text), "here")
                .help("a rule is named `topic/defect`, in small letters and hyphens"),
        );
    }
}

fn read_class(statement: &Statement, reader: &mut Reader<'_>) -> Option<Class> {
    let Some(property) = statement.property("class") else {
        reader.complain(
            Complaint::at(statement.name.span, "the rule has no class", "`class=` is missing")
                .help("the classes are hazard, overstress, malfunction, refinement"),
        );
        return None;
    };
    reader.class(&property.value)
}

impl Reader<'_> {
    pub(super) fn complain(&mut self, complaint: Complaint) {
        self.complaints.push(complaint);
    }

    /// A class word.
    pub(super) fn class(&mut self, value: &Spanned<Scalar>) -> Option<Class> {
        let word = match &value.value {
            Scalar::Text(word) => word.as_str(),
            _ => "",
        };
        match Class::from_str(word) {
            Ok(class) => Some(class),
            Err(message) => {
                self.complain(Complaint::at(value.span, message, "not a class"));
                None
            }
        }
    }

    /// The text at a position of a statement's arguments; a complaint where there is none.
    pub(super) fn argument(&mut self, statement: &Statement, index: usize, wanted: &str) -> Option<Quoted> {
        let text = statement.argument(index).and_then(|value| Quoted::new(value, self.sources));
        if text.is_none() {
            let span = statement.argument(index).map_or(statement.name.span, |value| value.span);
            self.complain(Complaint::at(span, format!("`{}` wants {wanted}", statement.name.value), "missing"));
        }
        text
    }

    /// The child of a name that may stand once.
    pub(super) fn single<'s>(&mut self, parent: &'s Statement, name: &str) -> Option<&'s Statement> {
        let mut found = parent.children.iter().filter(|c| c.name.value == name);
        let first = found.next();
        for again in found {
            self.complain(Complaint::at(
                again.name.span,
                format!("`{name}` stands twice in one rule"),
                "the second one",
            ));
        }
        first
    }

    /// The child of a name that must stand once.
    pub(super) fn required<'s>(&mut self, parent: &'s Statement, name: &str) -> Option<&'s Statement> {
        let found = self.single(parent, name);
        if found.is_none() {
            self.complain(Complaint::at(
                rule_place(parent),
                format!("the rule has no `{name}`"),
                format!("`{name}` is missing"),
            ));
        }
        found
    }

    /// Complains of every property that is not among the known.
    pub(super) fn only_properties(&mut self, statement: &Statement, known: &[&str]) {
        for property in &statement.properties {
            let name = &property.name.value;
            if !known.contains(&name.as_str()) {
                let complaint = Complaint::at(
                    property.name.span,
                    format!("`{}` has no `{name}=`", statement.name.value),
                    "not known",
                );
                self.complain(match nearest(name, known.iter().copied()) {
                    Some(near) => complaint.help(format!("did you mean `{near}=`?")),
                    None => complaint,
                });
            }
        }
    }
}

fn rule_place(statement: &Statement) -> Span {
    statement.argument(0).map_or(statement.name.span, |value| value.span)
}
