//! A finding on the bench: the statement that it is about, and how edits are laid into a text.

use crate::design::{Design, Index, is_bare, word};
use crate::facts::{FactTable, SubjectId, SubjectKind};
use crate::findings::{DesignReport, Edit, Finding};
use crate::rules::Shelves;
use crate::source::{FileId, Sources, Span, Statement, parse};

use super::Candidate;

/// A design as it was inspected.
#[derive(Clone, Copy)]
pub(crate) struct Drawn<'a> {
    /// Its texts.
    pub(crate) sources: &'a Sources,
    /// The typed design.
    pub(crate) design: Option<&'a Design>,
    /// Its facts.
    pub(crate) facts: Option<&'a FactTable>,
    /// What was found.
    pub(crate) report: &'a DesignReport,
    /// The names in it.
    pub(crate) index: &'a Index,
    /// What values are chosen from.
    pub(crate) shelves: &'a Shelves,
}

pub(super) struct Bench<'a> {
    pub(super) finding: &'a Finding,
    pub(super) drawn: Drawn<'a>,
    /// The statements of the file that the finding points at.
    pub(super) statements: Vec<Statement>,
}

/// The statements around a span, outermost first.
pub(super) fn around(statements: &[Statement], span: Span) -> Vec<&Statement> {
    let mut found = Vec::new();
    let mut here = statements;
    while let Some(statement) = here.iter().find(|one| one.span.start <= span.start && span.end <= one.span.end) {
        found.push(statement);
        here = &statement.children;
    }
    found
}

/// A reference as it is written.
pub(super) fn quoted(reference: &str) -> String {
    if is_bare(reference) { reference.to_owned() } else { format!("\"{reference}\"") }
}

impl<'a> Bench<'a> {
    pub(super) fn new(finding: &'a Finding, drawn: Drawn<'a>) -> Self {
        let (statements, _) = parse(drawn.sources, finding.span.file);
        Self { finding, drawn, statements }
    }

    pub(super) fn text(&self, file: FileId) -> &'a str {
        self.drawn.sources.get(file).map_or("", |source| source.text.as_str())
    }

    pub(super) fn replace(span: Span, text: impl Into<String>) -> Edit {
        Edit { span, text: text.into() }
    }

    pub(super) fn insert(file: FileId, at: usize, text: impl Into<String>) -> Edit {
        Self::replace(Span::new(file, at, at), text)
    }

    /// A candidate of the first advice.
    pub(super) fn one(title: impl Into<String>, value: &str, edits: Vec<Edit>) -> Candidate {
        let value = (!value.is_empty()).then(|| value.to_owned());
        Candidate { title: title.into(), edits, remedy: 0, value, advice: None }
    }

    /// The statement of the part that the finding is about, with the scope that it stands in.
    pub(super) fn part_statement(&self) -> Option<(Statement, Option<String>)> {
        let (facts, design) = (self.drawn.facts?, self.drawn.design?);
        let subject = facts.named(&self.finding.part).find_map(|id| facts.subject(id)?.part.clone());
        let full = subject.unwrap_or_else(|| self.finding.part.clone());
        let part = design.part(design.find(&full)?);
        let (statements, _) = parse(self.drawn.sources, part.span.file);
        let chain = around(&statements, part.name_span);
        let position = chain.iter().position(|statement| statement.span == part.span)?;
        let stage = position
            .checked_sub(1)
            .and_then(|outer| chain.get(outer))
            .and_then(|outer| outer.argument(0))
            .and_then(word);
        let files = &self.drawn.index.files;
        let scope = stage.map(|name| name.value).or_else(|| files.get(&part.span.file).cloned().flatten());
        chain.get(position).filter(|statement| !statement.broken).map(|statement| ((*statement).clone(), scope))
    }

    /// Properties of a statement given a value, whether they stand there or not.
    pub(super) fn set(&self, statement: &Statement, properties: &[(&str, &str)]) -> Vec<Edit> {
        let after = statement.properties.last().map_or(statement.name.span.end, |last| last.value.span.end);
        let mut new = String::new();
        let mut edits = Vec::new();
        for (name, value) in properties {
            match statement.property(name) {
                Some(property) => edits.push(Self::replace(property.value.span, *value)),
                None => new.push_str(&format!(" {name}={value}")),
            }
        }
        if !new.is_empty() {
            edits.push(Self::insert(statement.span.file, after, new));
        }
        edits
    }

    /// A fact of the finding's subject, of a kind, in the design as drawn.
    pub(super) fn of_part(&self, kind: SubjectKind, fact: &str) -> Option<f64> {
        let facts = self.drawn.facts?;
        let mut named = facts.named(&self.finding.part);
        let id = named.find(|id| facts.subject(*id).is_some_and(|subject| subject.kind == kind))?;
        facts.fact(id, fact)?.worst_sample()?.value.number()
    }

    /// A fact of the whole design.
    pub(super) fn of_design(&self, fact: &str) -> Option<f64> {
        let facts = self.drawn.facts?;
        let place = facts.subjects.iter().position(|subject| subject.kind == SubjectKind::Design)?;
        facts.fact(SubjectId(place), fact)?.worst_sample()?.value.number()
    }

    /// Lines put behind a statement, indented as it is.
    pub(super) fn lines_behind(&self, statement: &Statement, lines: &[String]) -> Edit {
        let text = self.text(statement.span.file);
        let before = text.get(..statement.span.start).unwrap_or("");
        let line = before.rsplit(['\n', '\r']).next().unwrap_or("");
        let indent: String = line.chars().take_while(|c| c.is_whitespace() && *c != '\u{feff}').collect();
        let rest = text.get(statement.span.end..).unwrap_or("");
        let rest_of_line = rest.split(['\n', '\r']).next().unwrap_or("");
        let free = rest_of_line.trim().is_empty() || rest_of_line.trim_start().starts_with("//");
        let at = statement.span.end + if free { rest_of_line.len() } else { 0 };
        let inserted: String = lines.iter().map(|line| format!("\n{indent}{line}")).collect();
        Self::insert(statement.span.file, at, inserted)
    }
}
