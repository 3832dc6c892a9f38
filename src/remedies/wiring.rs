//! Wires taken out, nets given a path to ground, sections and tubes that are not used.

use crate::design::word;
use crate::facts::SubjectKind;
use crate::source::{Scalar, Spanned, parse};
use crate::units::{Dimension, as_written, parse_value};

use super::Candidate;
use super::bench::{Bench, around, quoted};
use super::scale::scale;

impl Bench<'_> {
    /// A resistor from a net that floats to ground.
    pub(super) fn path_to_ground(&self) -> Vec<Candidate> {
        let net = &self.finding.part;
        let chain = around(&self.statements, self.finding.span);
        let Some(statement) = chain.first().filter(|outer| outer.name.value != "stage") else { return Vec::new() };
        let name = self.drawn.index.free(&None, "R");
        ["1M", "470k", "220k"]
            .iter()
            .map(|value| {
                let line = format!(
                    "resistor {name} \"{value}\" from={} to=ground power=\"0.5W\" kind=metal-film",
                    quoted(net)
                );
                let edits = vec![self.lines_behind(statement, &[line])];
                Self::one(format!("join {net} to ground through {value}"), value, edits)
            })
            .collect()
    }

    /// The wire that says again what others have said, taken out with its line where it has one to itself.
    pub(super) fn wire_out(&self) -> Vec<Candidate> {
        let Some(wire) = around(&self.statements, self.finding.span).pop() else { return Vec::new() };
        if wire.name.value != "wire" {
            return Vec::new();
        }
        let said = self.drawn.sources.text(wire.span);
        vec![Self::one(format!("take out `{said}`"), "", vec![Self::replace(wire.span, "")])]
    }

    /// A section left out on purpose, which ties its electrodes to ground.
    pub(super) fn left_unused(&self) -> Vec<Candidate> {
        let Some((statement, None)) = self.part_statement() else { return Vec::new() };
        let section = &self.finding.part;
        let line = format!("unused {section}");
        vec![Self::one(format!("add `{line}`"), "", vec![self.lines_behind(&statement, &[line])])]
    }

    /// The type that does not go into the socket, taken out of its alternates.
    pub(super) fn alternate_out(&self) -> Vec<Candidate> {
        let Some((statement, _)) = self.part_statement() else { return Vec::new() };
        let Some(alternates) = statement.children.iter().find(|child| child.name.value == "alternates") else {
            return Vec::new();
        };
        let fits_not = |name: &str| self.finding.lineup.values().any(|tube| tube == name);
        let out = |value: &&Spanned<Scalar>| word(value).is_some_and(|word| fits_not(&word.value));
        let Some(value) = alternates.arguments.iter().find(out) else { return Vec::new() };
        let whole = alternates.arguments.len() == 1;
        let span = if whole { alternates.span } else { value.span };
        let name = word(value).map(|word| word.value).unwrap_or_default();
        vec![Self::one(format!("take {name} out of the alternates"), "", vec![Self::replace(span, "")])]
    }

    /// A lower value for one of the resistors that are above what the grid may return through.
    pub(super) fn leak_lowered(&self) -> Vec<Candidate> {
        let (Some(facts), Some(design)) = (self.drawn.facts, self.drawn.design) else { return Vec::new() };
        let limit = self.finding.facts.iter().find(|fact| fact.name == "grid-leak-limit");
        let Some(limit) = limit.and_then(|limit| limit.value.number()) else { return Vec::new() };
        let mut found = Vec::new();
        for subject in facts.subjects.iter().filter(|subject| subject.kind == SubjectKind::Resistor) {
            let Some(part) = design.find(&subject.name).map(|id| design.part(id)) else { continue };
            let (statements, _) = parse(self.drawn.sources, part.span.file);
            let Some(value) = around(&statements, part.name_span).pop().and_then(|one| one.argument(1)) else {
                continue;
            };
            let Some(old) = word(value) else { continue };
            let standing = parse_value(&old.value, Dimension::RESISTANCE).ok();
            if standing.is_none_or(|standing| standing <= limit) {
                continue;
            }
            let shelf = (SubjectKind::Resistor, "resistance");
            found.extend(scale(self.drawn.shelves, shelf, limit, standing).into_iter().map(|ohms| {
                let written = as_written(ohms, Dimension::RESISTANCE);
                let title = format!("change `{}` of {} to `{written}`", old.value, subject.name);
                Self::one(title, &written, vec![Self::replace(value.span, format!("\"{written}\""))])
            }));
        }
        found
    }
}
