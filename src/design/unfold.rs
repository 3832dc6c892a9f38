//! Makes the copies of stages: every part gets its full name, every copy remembers who fitted it.
//!
//! Resolves nothing; stops at 16 levels and at 100,000 parts.

use std::cell::RefCell;
use std::collections::{HashMap, HashSet};

use indexmap::IndexMap;

use crate::source::{Complaint, Span};

use super::suggest::did_you_mean;
use super::template::{FitTemplate, PartTemplate, Scope, Stage};
use super::{Part, PartId};

/// The deepest nesting of fitted stages.
pub(super) const LEVEL_LIMIT: usize = 16;
/// The most parts and copies of one design.
pub(super) const PART_LIMIT: usize = 100_000;

/// The top level, or one copy of a stage.
pub(super) struct Copy<'a> {
    /// What stands before the names of its parts: empty, or `left.`.
    pub(super) prefix: String,
    pub(super) scope: &'a Scope,
    /// The copy whose scope holds the `fit` statement, and that statement.
    pub(super) fitted: Option<(usize, &'a FitTemplate)>,
    /// All `fit` statements, outermost first.
    pub(super) copied_by: Vec<Span>,
    /// The stage that it is a copy of.
    stage: Option<&'a str>,
}

/// A part with the copy that it belongs to and what it was made from.
pub(super) struct Made<'a> {
    pub(super) copy: usize,
    pub(super) template: &'a PartTemplate,
}

/// All copies and parts of a design.
#[derive(Default)]
pub(super) struct Unfolded<'a> {
    pub(super) copies: Vec<Copy<'a>>,
    pub(super) parts: Vec<Part>,
    pub(super) made: Vec<Made<'a>>,
    pub(super) part_names: HashMap<String, PartId>,
    /// Copies by their full name, without the dot behind it.
    pub(super) copy_names: HashMap<String, usize>,
    /// Copies that could not be made: references into them are passed over in silence.
    pub(super) lost_copies: HashSet<String>,
    /// Whether the limit of parts was reached, so that parts are missing.
    pub(super) stopped: bool,
}

/// Unfolds the top level.
pub(super) fn unfold<'a>(
    top: &'a Scope,
    stages: &'a IndexMap<String, Stage>,
    complaints: &RefCell<Vec<Complaint>>,
) -> Unfolded<'a> {
    let mut unfolded = Unfolded::default();
    unfolded.copies.push(Copy { prefix: String::new(), scope: top, fitted: None, copied_by: Vec::new(), stage: None });
    unfolded.fill(0, 0, stages, complaints);
    unfolded
}

impl<'a> Unfolded<'a> {
    fn fill(
        &mut self,
        index: usize,
        level: usize,
        stages: &'a IndexMap<String, Stage>,
        complaints: &RefCell<Vec<Complaint>>,
    ) {
        let Some(copy) = self.copies.get(index) else {
            return;
        };
        let scope = copy.scope;
        let prefix = copy.prefix.clone();
        let copied_by = copy.copied_by.clone();
        for template in &scope.parts {
            if self.too_many(template.name.span, complaints) {
                return;
            }
            let name = format!("{prefix}{}", template.name.value);
            self.part_names.insert(name.clone(), PartId(self.parts.len()));
            self.parts.push(Part {
                name,
                name_span: template.name.span,
                span: template.span,
                copied_by: copied_by.clone(),
                kind: template.body.kind.clone(),
                terminals: template.body.terminals.clone(),
                connections: Vec::new(),
                note: template.note.clone(),
                maker: template.maker.clone(),
                series: template.series.clone(),
            });
            self.made.push(Made { copy: index, template });
        }
        for fit in &scope.fits {
            if self.stopped || self.too_many(fit.name.span, complaints) {
                return;
            }
            let full = format!("{prefix}{}", fit.name.value);
            let Some(stage) = stages.get(&fit.stage.value) else {
                self.lost_copies.insert(full);
                let complaint = Complaint::at(
                    fit.stage.span,
                    format!("there is no stage called `{}`", fit.stage.value),
                    "not known",
                );
                let known = stages.keys().map(String::as_str);
                once(
                    complaints,
                    match did_you_mean(&fit.stage.value, known) {
                        Some(help) => complaint.help(help),
                        None => complaint.help("a stage is declared as `stage NAME { port …; parts … }`"),
                    },
                );
                continue;
            };
            if self.within(index, &stage.name.value) {
                self.lost_copies.insert(full);
                once(
                    complaints,
                    Complaint::at(
                        fit.stage.span,
                        format!("the stage `{}` would contain itself", stage.name.value),
                        "fitted inside itself here",
                    )
                    .also(stage.name.span, "the stage begins here"),
                );
                continue;
            }
            if level + 1 > LEVEL_LIMIT {
                self.lost_copies.insert(full);
                once(
                    complaints,
                    Complaint::at(
                        fit.span,
                        format!("stages are fitted more than {LEVEL_LIMIT} levels deep"),
                        "this copy is left out",
                    ),
                );
                continue;
            }
            let next = self.copies.len();
            self.copy_names.insert(full.clone(), next);
            let mut chain = copied_by.clone();
            chain.push(fit.span);
            self.copies.push(Copy {
                prefix: format!("{full}."),
                scope: &stage.scope,
                fitted: Some((index, fit)),
                copied_by: chain,
                stage: Some(&stage.name.value),
            });
            self.fill(next, level + 1, stages, complaints);
        }
    }

    /// Whether a copy is one of a stage, or lies inside one.
    fn within(&self, mut index: usize, stage: &str) -> bool {
        while let Some(copy) = self.copies.get(index) {
            if copy.stage == Some(stage) {
                return true;
            }
            match copy.fitted {
                Some((parent, _)) => index = parent,
                None => return false,
            }
        }
        false
    }

    fn too_many(&mut self, span: Span, complaints: &RefCell<Vec<Complaint>>) -> bool {
        if self.parts.len() + self.copies.len() < PART_LIMIT {
            return false;
        }
        if !self.stopped {
            self.stopped = true;
            once(
                complaints,
                Complaint::at(
                    span,
                    "this design has more than 100,000 parts once its stages are unfolded",
                    "unfolding stops here",
                ),
            );
        }
        true
    }
}

/// Makes a complaint unless the same was made at the same place: a stage is fitted many times and told of once.
fn once(complaints: &RefCell<Vec<Complaint>>, complaint: Complaint) {
    let mut complaints = complaints.borrow_mut();
    if !complaints.contains(&complaint) {
        complaints.push(complaint);
    }
}
