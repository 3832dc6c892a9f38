//! A report written design by design, in every format: what is printed may be let go, so that memory does not grow
//! with the number of designs.

use serde_json::Value;

use crate::source::{Complaint, Sources};

use super::caution::design_needs_caution;
use super::json::{design_as_json, report_list};
use super::json_list::LongList;
use super::lesson::LessonSheet;
use super::lines::{design_as_lines, general_lines};
use super::markdown::{Chapter, Digest};
use super::outcome::{DesignOutcome, Outcome};
use super::presentation::Presentation;
use super::sarif::{complaint_notifications, design_notifications, results, sarif_list};
use super::text::{caution_as_text, design_as_text};

/// How a report is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Style {
    /// For people at a terminal. Complaints are not in it: they are for another stream.
    Text(Presentation),
    /// One line a finding.
    Lines,
    /// One JSON document.
    Json,
    /// One SARIF 2.1.0 document.
    Sarif,
    /// A summary for a pull request.
    Markdown,
}

/// One design, rendered.
#[derive(Clone, Debug)]
pub struct Piece {
    /// Its entries in the document: one of a text, as many as there are results in SARIF.
    entries: Vec<String>,
    notifications: Vec<Value>,
    chapter: Option<Chapter>,
    dangerous: bool,
}

/// A report on its way.
pub struct Writing<'a> {
    style: Style,
    rules: &'a [LessonSheet],
    complaints: &'a [Complaint],
    sources: &'a Sources,
    /// The frame of a JSON document; none of other styles.
    list: Option<LongList>,
    empty: bool,
    dangerous: bool,
    notifications: Vec<Value>,
    digest: Digest,
}

impl<'a> Writing<'a> {
    /// Begins a report. `rules` are those that are judged by; `complaints` are those of no design, and point into
    /// `sources`.
    #[must_use]
    pub fn new(style: Style, rules: &'a [LessonSheet], complaints: &'a [Complaint], sources: &'a Sources) -> Self {
        let list = match style {
            Style::Json => Some(report_list(complaints, sources)),
            Style::Sarif => Some(sarif_list(rules, &[])),
            Style::Text(_) | Style::Lines | Style::Markdown => None,
        };
        let notifications = match style {
            Style::Sarif => complaint_notifications(complaints, None, sources),
            _ => Vec::new(),
        };
        let digest = Digest::default();
        Self { style, rules, complaints, sources, list, empty: true, dangerous: false, notifications, digest }
    }

    /// What stands before every design.
    #[must_use]
    pub fn opening(&self) -> String {
        match (&self.list, self.style) {
            (Some(list), _) => list.opening().to_owned(),
            (None, Style::Lines) => general_lines(self.complaints, self.sources),
            (None, _) => String::new(),
        }
    }

    /// Renders a design; designs may be rendered in any order and on any thread.
    #[must_use]
    pub fn piece(&self, design: DesignOutcome<'_>) -> Piece {
        let mut piece = Piece {
            entries: Vec::new(),
            notifications: Vec::new(),
            chapter: None,
            dangerous: design_needs_caution(design.report),
        };
        match self.style {
            Style::Text(presentation) => piece.entries.push(design_as_text(design, presentation)),
            Style::Lines => piece.entries.push(design_as_lines(design)),
            Style::Json => piece.entries.push(design_as_json(design)),
            Style::Sarif => {
                piece.entries = results(design, self.rules);
                piece.notifications = design_notifications(design);
            }
            Style::Markdown => piece.chapter = Some(Chapter::of(design)),
        }
        piece
    }

    /// Takes the next design in order of path, and gives what can be printed now.
    #[must_use]
    pub fn add(&mut self, piece: Piece) -> String {
        let mut output = String::new();
        for entry in piece.entries {
            if self.list.is_some() {
                output.push_str(LongList::before_piece(self.empty));
            }
            self.empty = false;
            output.push_str(&entry);
        }
        self.dangerous |= piece.dangerous;
        self.notifications.extend(piece.notifications);
        if let Some(chapter) = piece.chapter {
            self.digest.add(chapter);
        }
        output
    }

    /// What stands after every design.
    #[must_use]
    pub fn closing(&self) -> String {
        match self.style {
            Style::Text(presentation) if self.dangerous => caution_as_text(presentation),
            Style::Text(_) | Style::Lines => String::new(),
            Style::Json => self.list.as_ref().map(|list| list.closing(self.empty)).unwrap_or_default(),
            Style::Sarif => sarif_list(self.rules, &self.notifications).closing(self.empty),
            Style::Markdown => self.digest.written(self.complaints, self.sources, self.dangerous),
        }
    }

    /// Whether the caution is due for what was added.
    #[must_use]
    pub fn is_dangerous(&self) -> bool {
        self.dangerous
    }
}

/// A whole report in a style.
#[must_use]
pub fn report_as(style: Style, outcome: Outcome<'_>, rules: &[LessonSheet]) -> String {
    let mut writing = Writing::new(style, rules, outcome.complaints, outcome.sources);
    let mut output = writing.opening();
    for design in outcome.designs {
        let piece = writing.piece(*design);
        output.push_str(&writing.add(piece));
    }
    output + &writing.closing()
}
