//! Who is named where: every name of a design's texts with what it stands for.
//!
//! Works on statements and not on the typed design, so that a broken line costs its own names and no others.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use crate::catalogue::Catalogue;
use crate::source::{FileId, Scalar, Sources, Span, Spanned, Statement, parse};

use super::fields::inside_quotes;
use super::include::normal;
use super::ledger::Form;
use super::template::RESERVED_NETS;
use super::vocabulary::Vocabulary;

/// What a name stands for. A scope is the name of a stage, or none for the top level.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(crate) enum Entity {
    /// A part, or a fitted copy of a stage.
    Part { scope: Option<String>, name: String },
    /// A net; the reserved nets belong to the top level.
    Net { scope: Option<String>, name: String },
    /// A port of a stage.
    Port { stage: String, name: String },
    /// A stage.
    Stage { name: String },
    /// An included file.
    Include { path: PathBuf },
    /// A rule that is waived.
    Rule { name: String },
}

/// A name at a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Occurrence {
    /// The place of the name alone, without quotes.
    pub(crate) span: Span,
    /// The whole reference that it is part of.
    pub(crate) word: Span,
    /// What it stands for.
    pub(crate) entity: Entity,
    /// Whether it is named here first of all: a part's own statement, a stage, a port.
    pub(crate) defines: bool,
}

/// The names of one scope.
#[derive(Clone, Debug, Default)]
pub(crate) struct Names {
    /// Parts by name, with the keyword that makes each, and a tube's type.
    pub(crate) parts: BTreeMap<String, (String, Option<String>)>,
    /// Fitted copies by name, with the stage of each.
    pub(crate) copies: BTreeMap<String, String>,
    /// Ports, in order.
    pub(crate) ports: Vec<String>,
    /// Ports that somebody gives a whole part or section.
    pub(crate) whole_ports: BTreeSet<String>,
    /// Nets.
    pub(crate) nets: BTreeSet<String>,
}

/// All names of a design.
#[derive(Clone, Debug, Default)]
pub(crate) struct Index {
    /// In order of place.
    pub(crate) occurrences: Vec<Occurrence>,
    /// The scopes: the top level and the stages.
    pub(crate) scopes: BTreeMap<Option<String>, Names>,
    /// The scope that each file stands in.
    pub(crate) files: BTreeMap<FileId, Option<String>>,
}

/// Reads the names of a design whose texts are in `sources`, the included ones after the first.
pub(crate) fn index(sources: &Sources, root: FileId, vocabulary: &Vocabulary, catalogue: &Catalogue) -> Index {
    let mut builder =
        Builder { sources, root, vocabulary, catalogue, index: Index::default(), scoped: BTreeMap::new() };
    builder.gather(root, None);
    let scoped = std::mem::take(&mut builder.scoped);
    for (scope, statements) in &scoped {
        builder.names(scope, statements);
    }
    builder.whole_ports(&scoped);
    for (scope, statements) in &scoped {
        for statement in statements {
            builder.statement(scope, None, statement);
        }
    }
    let mut index = builder.index;
    index.occurrences.sort_by_key(|found| (found.span, found.entity.clone()));
    index.occurrences.dedup();
    index
}

struct Builder<'a> {
    sources: &'a Sources,
    root: FileId,
    vocabulary: &'a Vocabulary,
    catalogue: &'a Catalogue,
    index: Index,
    scoped: BTreeMap<Option<String>, Vec<Statement>>,
}

/// Whether a word may stand without quotes.
pub(crate) fn is_bare(word: &str) -> bool {
    word.chars().next().is_some_and(|c| c.is_alphabetic() || c == '_')
        && word.chars().all(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | '.'))
        && !matches!(word, "true" | "false" | "null" | "inf" | "nan")
}

/// The text of a value, with its place without quotes.
pub(crate) fn word(value: &Spanned<Scalar>) -> Option<Spanned<String>> {
    match &value.value {
        Scalar::Text(text) => Some(Spanned::new(text.clone(), inside_quotes(text, value.span))),
        _ => None,
    }
}

impl Builder<'_> {
    /// Sorts the statements of a file and of what it includes into their scopes.
    fn gather(&mut self, file: FileId, scope: Option<&String>) {
        if self.index.files.insert(file, scope.cloned()).is_some() {
            return;
        }
        let (statements, _) = parse(self.sources, file);
        self.scoped.entry(scope.cloned()).or_default();
        self.place(file, statements, scope);
    }

    fn place(&mut self, file: FileId, statements: Vec<Statement>, scope: Option<&String>) {
        for mut statement in statements {
            match statement.name.value.as_str() {
                "include" => self.include(file, &statement, scope),
                "stage" if scope.is_none() => {
                    let Some(name) = statement.argument(0).and_then(word) else { continue };
                    self.add(name.span, name.span, Entity::Stage { name: name.value.clone() }, true);
                    let children = std::mem::take(&mut statement.children);
                    let stage = Some(name.value);
                    self.scoped.entry(stage.clone()).or_default();
                    self.place(file, children, stage.as_ref());
                }
                _ => self.scoped.entry(scope.cloned()).or_default().push(statement),
            }
        }
    }

    fn include(&mut self, file: FileId, statement: &Statement, scope: Option<&String>) {
        let Some(written) = statement.argument(0).and_then(word) else { return };
        let folder = self.sources.path(file).parent().map(ToOwned::to_owned).unwrap_or_default();
        let Some(path) = normal(&folder.join(&written.value)) else { return };
        self.add(written.span, written.span, Entity::Include { path: path.clone() }, false);
        let found = self.sources.iter().find(|(id, source)| *id > self.root && source.path == path);
        if let Some((id, _)) = found {
            self.gather(id, scope);
        }
    }

    fn names(&mut self, scope: &Option<String>, statements: &[Statement]) {
        let names = self.index.scopes.entry(scope.clone()).or_default();
        for statement in statements {
            let keyword = statement.name.value.as_str();
            let argument = |index: usize| statement.argument(index).and_then(word).map(|word| word.value);
            match keyword {
                "fit" => {
                    if let (Some(stage), Some(name)) = (argument(0), argument(1)) {
                        names.copies.insert(name, stage);
                    }
                }
                "port" => names.ports.extend(statement.arguments.iter().filter_map(word).map(|word| word.value)),
                _ if Vocabulary::is_part(keyword) => {
                    if let Some(name) = argument(0) {
                        names.parts.insert(name, (keyword.to_owned(), argument(1)));
                    }
                }
                _ => {}
            }
        }
    }

    fn whole_ports(&mut self, scoped: &BTreeMap<Option<String>, Vec<Statement>>) {
        for (scope, statements) in scoped {
            for fit in statements.iter().filter(|statement| statement.name.value == "fit") {
                let Some(stage) = fit.argument(0).and_then(word) else { continue };
                for property in &fit.properties {
                    let whole = word(&property.value).is_some_and(|to| {
                        !to.value.contains('.') && self.part_of(scope, &to.value).is_some()
                            || self.index.scopes.get(scope).is_some_and(|names| names.whole_ports.contains(&to.value))
                    });
                    if let (true, Some(names)) = (whole, self.index.scopes.get_mut(&Some(stage.value.clone()))) {
                        names.whole_ports.insert(property.name.value.clone());
                    }
                }
            }
        }
    }

    fn add(&mut self, span: Span, word: Span, entity: Entity, defines: bool) {
        self.index.occurrences.push(Occurrence { span, word, entity, defines });
    }

    /// All names of a statement in a scope; `parent` is the part around it.
    fn statement(&mut self, scope: &Option<String>, parent: Option<&str>, statement: &Statement) {
        let keyword = statement.name.value.as_str();
        let arguments: Vec<Spanned<String>> = statement.arguments.iter().filter_map(word).collect();
        match keyword {
            "wire" | "reading" | "unused" if parent.is_none() => {
                let count = if keyword == "reading" { 1 } else { arguments.len() };
                arguments.iter().take(count).for_each(|word| self.reference(scope, word));
            }
            "waive" => {
                if let Some(rule) = arguments.first() {
                    self.add(rule.span, rule.span, Entity::Rule { name: rule.value.clone() }, false);
                }
            }
            "port" => {
                for port in &arguments {
                    let Some(stage) = scope.clone() else { continue };
                    self.add(port.span, port.span, Entity::Port { stage, name: port.value.clone() }, true);
                }
            }
            "fit" => self.fit(scope, statement, &arguments),
            _ if parent.is_none() && Vocabulary::is_part(keyword) => {
                if let Some(name) = arguments.first() {
                    let entity = Entity::Part { scope: scope.clone(), name: name.value.clone() };
                    self.add(name.span, name.span, entity, true);
                }
            }
            _ => {}
        }
        if let Some(words) = self.vocabulary.words(parent, keyword).filter(|_| keyword != "fit") {
            for property in &statement.properties {
                let name = property.name.value.as_str();
                let refers = words.properties.get(name) == Some(&Form::Reference)
                    || matches!((keyword, name), ("waive", "part") | ("output", "of"));
                if let (true, Some(to)) = (refers, word(&property.value)) {
                    self.reference(scope, &to);
                }
            }
        }
        for child in &statement.children {
            self.statement(scope, Some(keyword), child);
        }
    }

    fn fit(&mut self, scope: &Option<String>, statement: &Statement, arguments: &[Spanned<String>]) {
        let Some(stage) = arguments.first() else { return };
        self.add(stage.span, stage.span, Entity::Stage { name: stage.value.clone() }, false);
        if let Some(name) = arguments.get(1) {
            let entity = Entity::Part { scope: scope.clone(), name: name.value.clone() };
            self.add(name.span, name.span, entity, true);
        }
        for property in &statement.properties {
            let port = Entity::Port { stage: stage.value.clone(), name: property.name.value.clone() };
            self.add(property.name.span, property.name.span, port, false);
            if let Some(to) = word(&property.value) {
                self.reference(scope, &to);
            }
        }
    }

    /// The part that a name means in a scope: itself, or the tube that it is a section of.
    fn part_of(&self, scope: &Option<String>, name: &str) -> Option<String> {
        let names = self.index.scopes.get(scope)?;
        if names.parts.contains_key(name) || names.copies.contains_key(name) {
            return Some(name.to_owned());
        }
        // A suffix is a letter or two.
        name.char_indices().rev().take(2).find_map(|(index, _)| {
            let (base, suffix) = name.split_at_checked(index)?;
            let (keyword, device) = names.parts.get(base)?;
            let entry = self.catalogue.tube(device.as_deref()?)?;
            let section = keyword == "tube" && entry.sections.iter().any(|section| section.suffix == suffix);
            section.then(|| base.to_owned())
        })
    }

    /// Notes what a reference names: a port, a part, a copy and what lies in it, or a net.
    fn reference(&mut self, scope: &Option<String>, word: &Spanned<String>) {
        // A word with escapes does not lie in the text as it reads.
        if word.span.end - word.span.start == word.value.len() {
            self.pieces(scope, &word.value, word.span.start, word.span);
        }
    }

    fn pieces(&mut self, scope: &Option<String>, text: &str, start: usize, word: Span) {
        let (first, rest) = match text.split_once('.') {
            Some((first, rest)) => (first, Some(rest)),
            None => (text, None),
        };
        let span = |length: usize| Span::new(word.file, start, start + length);
        let Some(names) = self.index.scopes.get(scope) else { return };
        if let (Some(stage), true) = (scope, names.ports.iter().any(|port| port == first)) {
            self.add(span(first.len()), word, Entity::Port { stage: stage.clone(), name: first.to_owned() }, false);
            return;
        }
        if RESERVED_NETS.contains(&text) {
            self.add(span(text.len()), word, Entity::Net { scope: None, name: text.to_owned() }, false);
            return;
        }
        let found = self.part_of(scope, first).map(|part| (scope.clone(), part));
        // From inside a stage the parts of the top level are seen by their terminals.
        let found = match (found, rest) {
            (None, Some(_)) => self.part_of(&None, first).map(|part| (None, part)),
            (found, _) => found,
        };
        if let Some((owner, part)) = found {
            let stage = self.index.scopes.get(&owner).and_then(|names| names.copies.get(&part)).cloned();
            self.add(span(part.len()), word, Entity::Part { scope: owner, name: part }, false);
            if let (Some(stage), Some(rest)) = (stage, rest) {
                self.pieces(&Some(stage), rest, start + first.len() + 1, word);
            }
            return;
        }
        if rest.is_none() {
            if let Some(names) = self.index.scopes.get_mut(scope) {
                names.nets.insert(first.to_owned());
            }
            self.add(span(first.len()), word, Entity::Net { scope: scope.clone(), name: first.to_owned() }, false);
        }
    }
}

impl Index {
    /// The name at a byte of a file; at the border of two names, the one that ends there.
    pub(crate) fn at(&self, file: FileId, offset: usize) -> Option<&Occurrence> {
        let here =
            |found: &&Occurrence| found.span.file == file && found.span.start <= offset && offset <= found.span.end;
        self.occurrences.iter().find(here)
    }

    /// The reference at a byte of a file, whichever of its names is there.
    pub(crate) fn word_at(&self, file: FileId, offset: usize) -> Option<&Occurrence> {
        let here =
            |found: &&Occurrence| found.word.file == file && found.word.start <= offset && offset <= found.word.end;
        self.at(file, offset).or_else(|| self.occurrences.iter().find(here))
    }

    /// Everywhere that something is named, in order.
    pub(crate) fn all<'a>(&'a self, entity: &'a Entity) -> impl Iterator<Item = &'a Occurrence> {
        self.occurrences.iter().filter(move |found| found.entity == *entity)
    }

    /// Where something comes from: its own statement, or for a net the first place that names it.
    pub(crate) fn origin(&self, entity: &Entity) -> Option<&Occurrence> {
        let here = |found: &&Occurrence| found.entity == *entity;
        let mut all = self.occurrences.iter().filter(here);
        let first = all.next()?;
        Some(if first.defines { first } else { all.find(|found| found.defines).unwrap_or(first) })
    }

    /// Whether a name is taken in a scope.
    pub(crate) fn taken(&self, scope: &Option<String>, name: &str) -> bool {
        RESERVED_NETS.contains(&name)
            || self.scopes.get(scope).is_some_and(|names| {
                names.parts.contains_key(name)
                    || names.copies.contains_key(name)
                    || names.nets.contains(name)
                    || names.ports.iter().any(|port| port == name)
            })
    }

    /// The first name of this letter that no part of the scope has: `R12`. Sections of tubes are kept clear of.
    pub(crate) fn free(&self, scope: &Option<String>, letter: &str) -> String {
        let numbers = 1..=self.occurrences.len() + 1;
        numbers.map(|number| format!("{letter}{number}")).find(|name| !self.taken(scope, name)).unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_that_kdl_would_not_read_is_not_bare() {
        assert!(is_bare("V1a.plate") && is_bare("in-left"));
        assert!(!is_bare("12AX7") && !is_bare("grid/leak-present") && !is_bare("true") && !is_bare(""));
    }
}
