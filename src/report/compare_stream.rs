//! A comparison written design by design, in every format, as a report is.

use crate::findings::{Comparison, DesignReport, Turn};
use crate::source::{Complaint, Sources};

use super::caution::{CAUTION, design_needs_caution};
use super::compare_json::{compare_list, compared_as_json};
use super::compare_markdown::{ComparedChapter, ComparedDigest};
use super::compare_text::compared_as_text;
use super::json_list::LongList;
use super::presentation::{Presentation, plural};

/// Two revisions of one design. A side that is missing is a design that is new or removed.
#[derive(Clone, Copy, Debug)]
pub struct Compared<'a> {
    /// The path of the newer revision, or of the older where that is gone.
    pub path: &'a str,
    /// The older report with its sources.
    pub old: Option<(&'a DesignReport, &'a Sources)>,
    /// The newer report with its sources.
    pub new: Option<(&'a DesignReport, &'a Sources)>,
    /// What has changed.
    pub comparison: &'a Comparison,
    /// Whether a change of this design fails the gate.
    pub fails: bool,
}

impl Compared<'_> {
    /// The sources that a change's finding points into.
    pub(super) fn sources(&self, turn: Turn) -> Option<&Sources> {
        let side = if matches!(turn, Turn::Cleared | Turn::Unjudged) { self.old } else { self.new };
        side.map(|(_, sources)| sources)
    }

    /// What is to be said of the design as a whole, where one side is missing.
    pub(super) fn standing(&self) -> Option<&'static str> {
        match (self.old, self.new) {
            (None, Some(_)) => Some("a new design"),
            (Some(_), None) => Some("removed"),
            _ => None,
        }
    }

    /// The revisions as the designs call them, where they do: `revision B → C`.
    pub(super) fn revisions(&self) -> Option<String> {
        let revision = |side: Option<(&DesignReport, &Sources)>| side.and_then(|(report, _)| report.revision.clone());
        match (revision(self.old), revision(self.new)) {
            (Some(old), Some(new)) if old != new => Some(format!("revision {old} → {new}")),
            (Some(only), None) | (_, Some(only)) => Some(format!("revision {only}")),
            (None, None) => None,
        }
    }

    /// Whether there is nothing to tell.
    pub(super) fn is_silent(&self) -> bool {
        let read = |(report, _): &(&DesignReport, &Sources)| report.complaints.is_empty();
        self.comparison.is_empty() && self.standing().is_none() && self.new.as_ref().is_none_or(read)
    }

    fn dangerous(&self) -> bool {
        [self.old, self.new].into_iter().flatten().any(|(report, _)| design_needs_caution(report))
    }
}

/// How a comparison is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CompareStyle {
    /// For people at a terminal.
    Text(Presentation),
    /// One JSON document.
    Json,
    /// A summary for a pull request.
    Markdown,
}

/// One design's comparison, rendered.
#[derive(Clone, Debug)]
pub struct ComparedPiece {
    text: String,
    chapter: Option<ComparedChapter>,
    silent: bool,
    dangerous: bool,
}

/// A comparison on its way, design by design.
pub struct CompareWriting<'a> {
    style: CompareStyle,
    complaints: &'a [Complaint],
    sources: &'a Sources,
    list: LongList,
    digest: ComparedDigest,
    designs: usize,
    silent: usize,
    dangerous: bool,
}

impl<'a> CompareWriting<'a> {
    /// Begins a comparison; `threshold` is the share by which a fact must move to be told of. `complaints` are those of
    /// no design, and point into `sources`.
    #[must_use]
    pub fn new(style: CompareStyle, threshold: f64, complaints: &'a [Complaint], sources: &'a Sources) -> Self {
        let list = compare_list(threshold, complaints, sources);
        Self {
            style,
            complaints,
            sources,
            list,
            digest: ComparedDigest::default(),
            designs: 0,
            silent: 0,
            dangerous: false,
        }
    }

    /// What stands before every design.
    #[must_use]
    pub fn opening(&self) -> String {
        if self.style == CompareStyle::Json { self.list.opening().to_owned() } else { String::new() }
    }

    /// Renders a design; in any order and on any thread.
    #[must_use]
    pub fn piece(&self, compared: Compared<'_>) -> ComparedPiece {
        let (text, chapter) = match self.style {
            CompareStyle::Text(presentation) => (compared_as_text(compared, presentation), None),
            CompareStyle::Json => (compared_as_json(compared), None),
            CompareStyle::Markdown => (String::new(), Some(ComparedChapter::of(compared))),
        };
        let silent = compared.is_silent();
        ComparedPiece { text, chapter, silent, dangerous: !silent && compared.dangerous() }
    }

    /// Takes the next design in order of path, and gives what can be printed now.
    #[must_use]
    pub fn add(&mut self, piece: ComparedPiece) -> String {
        let first = self.designs == 0;
        self.designs += 1;
        self.silent += usize::from(piece.silent);
        self.dangerous |= piece.dangerous;
        if let Some(chapter) = piece.chapter {
            self.digest.add(chapter);
        }
        match self.style {
            CompareStyle::Json => format!("{}{}", LongList::before_piece(first), piece.text),
            CompareStyle::Text(_) | CompareStyle::Markdown => piece.text,
        }
    }

    /// What stands after every design.
    #[must_use]
    pub fn closing(&self) -> String {
        match self.style {
            CompareStyle::Json => self.list.closing(self.designs == 0),
            CompareStyle::Markdown => self.digest.written(self.complaints, self.sources, self.dangerous),
            CompareStyle::Text(presentation) => {
                let mut output = String::new();
                if !presentation.quiet {
                    let compared = plural(self.designs, "design", "designs");
                    output = format!(
                        "{} {compared} compared, {} without a change worth telling\n",
                        self.designs, self.silent
                    );
                }
                if self.dangerous {
                    output.push_str(&format!("{}\n", presentation.warning(&presentation.wrap(CAUTION, 2))));
                }
                output
            }
        }
    }
}

/// A whole comparison in a style.
#[must_use]
pub fn comparison_as(
    style: CompareStyle,
    designs: &[Compared<'_>],
    threshold: f64,
    complaints: &[Complaint],
    sources: &Sources,
) -> String {
    let mut writing = CompareWriting::new(style, threshold, complaints, sources);
    let mut output = writing.opening();
    for design in designs {
        let piece = writing.piece(*design);
        output.push_str(&writing.add(piece));
    }
    output + &writing.closing()
}
