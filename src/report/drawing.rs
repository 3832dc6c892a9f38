//! One diagnostic drawn on its source through miette's graphical handler. The only file that names miette's handler.
//!
//! A finding and a complaint both become a [`Drawing`]. Labels of several files are drawn file by file.

use std::collections::HashMap;
use std::fmt;
use std::ops::Range;

use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme, LabeledSpan, SourceCode};

use crate::findings::Class;
use crate::source::{FileId, Sources, Span};

use super::excerpt::Excerpt;
use super::presentation::{Presentation, one_line};

/// The word that opens a diagnostic, which also gives its colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Opening {
    /// A finding of a class.
    Finding(Class),
    /// Something that could not be read.
    Complaint,
    /// Something that was read and is worth saying.
    Remark,
}

/// A place to draw.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mark<'a> {
    /// The place.
    pub(super) span: Span,
    /// The words beside it.
    pub(super) text: &'a str,
}

/// One diagnostic.
#[derive(Clone, Debug)]
pub(super) struct Drawing<'a> {
    /// The word that opens it.
    pub(super) opening: Opening,
    /// The rule's name.
    pub(super) code: Option<&'a str>,
    /// One line.
    pub(super) message: &'a str,
    /// The places; the first is the main one.
    pub(super) marks: Vec<Mark<'a>>,
    /// What to do about it.
    pub(super) help: Option<&'a str>,
}

/// Files prepared for drawing, each once in a run.
pub(super) struct Painter<'a> {
    sources: &'a Sources,
    presentation: Presentation,
    excerpts: HashMap<FileId, Excerpt>,
}

impl<'a> Painter<'a> {
    /// A painter of these sources.
    pub(super) fn new(sources: &'a Sources, presentation: Presentation) -> Self {
        Self { sources, presentation, excerpts: HashMap::new() }
    }

    /// Draws one diagnostic, without a blank line after it.
    pub(super) fn draw(&mut self, drawing: &Drawing<'_>) -> String {
        let files = files_in_order(&drawing.marks);
        for file in &files {
            if let Some(source) = self.sources.get(*file) {
                self.excerpts.entry(*file).or_insert_with(|| Excerpt::new(source));
            }
        }
        let main = drawing.marks.first().map(|mark| mark.span);
        let count = files.len().max(1);
        let mut output = String::new();
        for index in 0..count {
            let excerpt = files.get(index).and_then(|file| self.excerpts.get(file));
            let labels = match (files.get(index), excerpt) {
                (Some(file), Some(excerpt)) => labels_of(&drawing.marks, *file, main, excerpt),
                _ => Vec::new(),
            };
            let piece = Piece {
                code: drawing.code.filter(|_| index == 0).map(one_line),
                message: if index == 0 { one_line(drawing.message) } else { "it also rests on this file".to_owned() },
                help: drawing.help.filter(|_| index + 1 == count).map(one_line),
                excerpt,
                labels,
            };
            let opening = (index == 0).then_some(drawing.opening);
            self.render(&piece, opening, &mut output);
        }
        tidy(&output)
    }

    fn render(&self, piece: &Piece<'_>, opening: Option<Opening>, output: &mut String) {
        let handler = GraphicalReportHandler::new_themed(theme(self.presentation, opening))
            .with_width(self.presentation.width)
            .with_links(false)
            .with_context_lines(1)
            .with_break_words(false)
            .without_cause_chain()
            .without_syntax_highlighting();
        let before = output.len();
        if handler.render_report(output, piece).is_err() {
            // A drawing that fails must not cost the words.
            output.truncate(before);
            output.push_str(&piece.message);
            output.push('\n');
        }
    }
}

fn theme(presentation: Presentation, opening: Option<Opening>) -> GraphicalTheme {
    let mut theme = match (presentation.unicode, presentation.colour) {
        (true, true) => GraphicalTheme::unicode(),
        (true, false) => GraphicalTheme::unicode_nocolor(),
        (false, true) => GraphicalTheme::ascii(),
        (false, false) => GraphicalTheme::none(),
    };
    let styles = theme.styles.clone();
    let marker = styles.highlights.first().copied();
    let (word, style) = match opening {
        Some(Opening::Finding(class)) => (
            class.word(),
            match class {
                Class::Hazard => styles.error,
                Class::Overstress => marker.unwrap_or(styles.error),
                Class::Malfunction => styles.warning,
                Class::Refinement => styles.advice,
            },
        ),
        Some(Opening::Complaint) => ("not read", styles.error),
        Some(Opening::Remark) => ("remark", styles.advice),
        None => ("and", styles.advice),
    };
    theme.characters.error = format!("{word}:");
    theme.styles.error = style;
    theme
}

fn files_in_order(marks: &[Mark<'_>]) -> Vec<FileId> {
    let mut files = Vec::new();
    for mark in marks {
        if !files.contains(&mark.span.file) {
            files.push(mark.span.file);
        }
    }
    files
}

/// The labels of one file, made disjoint: the handler would move an overlapping label to a place that is not meant.
fn labels_of(marks: &[Mark<'_>], file: FileId, main: Option<Span>, excerpt: &Excerpt) -> Vec<LabeledSpan> {
    struct Placed {
        range: Range<usize>,
        text: String,
        main: bool,
    }
    let mut placed: Vec<Placed> = marks
        .iter()
        .filter(|mark| mark.span.file == file)
        .map(|mark| Placed {
            range: excerpt.on_one_line(mark.span.start, mark.span.end),
            text: one_line(mark.text),
            main: Some(mark.span) == main,
        })
        .collect();
    placed.sort_by_key(|label| (label.range.start, label.range.end));
    let mut apart: Vec<Placed> = Vec::new();
    for label in placed {
        if let Some(last) = apart.last_mut() {
            if last.range.start == label.range.start {
                // Two labels that begin together become one, at the main one's range and with its words first.
                let (mut first, mut second) = (std::mem::take(&mut last.text), label.text);
                if label.main {
                    last.range = label.range;
                    last.main = true;
                    std::mem::swap(&mut first, &mut second);
                }
                let said = !first.is_empty() && !second.is_empty();
                last.text = format!("{first}{}{second}", if said { "; " } else { "" });
                continue;
            }
            if last.range.end > label.range.start {
                last.range = excerpt.left_of(&last.range, label.range.start);
            }
        }
        apart.push(label);
    }
    apart
        .into_iter()
        .map(|label| {
            let text = Some(label.text).filter(|text| !text.is_empty());
            if label.main {
                LabeledSpan::new_primary_with_span(text, label.range)
            } else {
                LabeledSpan::new_with_span(text, label.range)
            }
        })
        .collect()
}

// The handler ends some lines with blanks.
fn tidy(text: &str) -> String {
    let mut tidy = String::with_capacity(text.len());
    for line in text.lines() {
        tidy.push_str(line.trim_end());
        tidy.push('\n');
    }
    tidy
}

/// What the handler sees: the part of a diagnostic that lies in one file.
struct Piece<'a> {
    code: Option<String>,
    message: String,
    help: Option<String>,
    excerpt: Option<&'a Excerpt>,
    labels: Vec<LabeledSpan>,
}

impl fmt::Display for Piece<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl fmt::Debug for Piece<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.message)
    }
}

impl std::error::Error for Piece<'_> {}

impl Diagnostic for Piece<'_> {
    fn code<'b>(&'b self) -> Option<Box<dyn fmt::Display + 'b>> {
        let code = self.code.as_deref()?;
        Some(Box::new(code))
    }

    fn help<'b>(&'b self) -> Option<Box<dyn fmt::Display + 'b>> {
        let help = self.help.as_deref()?;
        Some(Box::new(help))
    }

    fn source_code(&self) -> Option<&dyn SourceCode> {
        self.excerpt.map(|excerpt| excerpt as &dyn SourceCode)
    }

    fn labels(&self) -> Option<Box<dyn Iterator<Item = LabeledSpan> + '_>> {
        Some(Box::new(self.labels.iter().cloned()))
    }
}
