//! What the editor answers, in the house's own words: paths and byte offsets. Made into messages by `protocol`.

use std::path::PathBuf;

/// A stretch of a file.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Place {
    pub(super) path: PathBuf,
    pub(super) start: usize,
    pub(super) end: usize,
}

/// A stretch of a file and what shall stand there instead.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Edit {
    pub(super) place: Place,
    pub(super) text: String,
}

/// How serious a notice is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Weight {
    Error,
    Warning,
    Information,
    Hint,
}

/// Something said of a place: a finding or a complaint.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Notice {
    pub(super) place: Place,
    pub(super) weight: Weight,
    /// The rule's name; none of a complaint.
    pub(super) rule: Option<String>,
    pub(super) message: String,
    /// Further places, with what to say of each.
    pub(super) related: Vec<(Place, String)>,
    /// Where the rule is written, where that is a file of the workshop.
    pub(super) written: Option<PathBuf>,
    /// The part, the state, the remedy and the first sentence of the lesson.
    pub(super) data: Vec<(&'static str, String)>,
}

/// Words shown beside the text.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Hint {
    pub(super) offset: usize,
    pub(super) text: String,
    pub(super) more: String,
}

/// What a suggestion is, for the picture that a client puts before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sort {
    Statement,
    Property,
    Net,
    Terminal,
    Word,
    Device,
    Value,
    Rule,
    Name,
}

/// A word that may be written at the cursor.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Suggestion {
    pub(super) label: String,
    pub(super) sort: Sort,
    pub(super) detail: String,
    /// What is written, in place of these bytes.
    pub(super) text: String,
    pub(super) start: usize,
    pub(super) end: usize,
}

/// An edit that clears a finding.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Action {
    pub(super) title: String,
    pub(super) notice: Notice,
    pub(super) edits: Vec<Edit>,
    pub(super) preferred: bool,
}

/// A statement in the outline of a file.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Item {
    pub(super) name: String,
    pub(super) detail: String,
    pub(super) kind: ItemKind,
    pub(super) whole: (usize, usize),
    pub(super) named: (usize, usize),
    pub(super) children: Vec<Item>,
}

/// What stands in an outline.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ItemKind {
    Design,
    Part,
    Stage,
    Copy,
    Include,
    Winding,
}

/// A word with its meaning; the kinds are those of [`super::tokens::KINDS`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Token {
    pub(super) start: usize,
    pub(super) end: usize,
    pub(super) kind: u32,
}
