//! What a design is made of, apart from the kinds of parts.

use crate::source::{FileId, Span, Spanned};
use crate::units::{Hertz, Ratio, Volts};

use super::Kind;

/// A part's place in [`Design::parts`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct PartId(pub usize);

/// A terminal of a part, by its place in [`Part::connections`]-independent naming.
///
/// `name` is the terminal within the part: `from`, `plus`, `ht.centre`, `heater.from`; for a tube with several
/// sections the section's suffix comes first: `a.plate`, `t.grid`. It is shown by [`Design::terminal_label`].
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct TerminalId {
    /// The part.
    pub part: PartId,
    /// The terminal within the part.
    pub name: String,
}

/// What a connection names.
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Reference {
    /// A net by its full name (a stage's own net carries the stage's name: `left.volume`).
    Net(String),
    /// A terminal of a part.
    Terminal(TerminalId),
}

/// One terminal of a part joined to what it names.
#[derive(Clone, Debug, PartialEq)]
pub struct Connection {
    /// The terminal within the part (see [`TerminalId::name`]).
    pub terminal: String,
    /// What it is joined to; the span is that of the reference as written.
    pub to: Spanned<Reference>,
}

/// A part of the design, unfolded.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// The full name: `C10`, `left.R3`.
    pub name: String,
    /// The name as written.
    pub name_span: Span,
    /// The whole statement.
    pub span: Span,
    /// The `fit` statements that made this copy, outermost first; empty for a part at the top level.
    pub copied_by: Vec<Span>,
    /// What it is.
    pub kind: Kind,
    /// Every terminal that it has, joined or not, in the order of its kind (see [`TerminalId::name`]).
    pub terminals: Vec<String>,
    /// The terminals that its own statement joins. A tube's electrodes are joined by other parts, its heater here.
    pub connections: Vec<Connection>,
    /// Free text of the designer.
    pub note: Option<String>,
    /// Free text for the parts list.
    pub maker: Option<String>,
    /// Free text for the parts list.
    pub series: Option<String>,
}

/// `wire REF REF…`.
#[derive(Clone, Debug, PartialEq)]
pub struct Wire {
    /// The ends, two or more.
    pub ends: Vec<Spanned<Reference>>,
    /// The whole statement.
    pub span: Span,
}

/// The mains as stated by the design or the workshop file.
#[derive(Clone, Debug, PartialEq)]
pub struct Mains {
    /// Nominal rms voltage.
    pub voltage: Spanned<Volts>,
    /// Frequency.
    pub frequency: Spanned<Hertz>,
    /// Share up and down, 0.1 for 10 %.
    pub tolerance: Ratio,
    /// The whole statement.
    pub span: Span,
}

/// The band that the design promises.
#[derive(Clone, Debug, PartialEq)]
pub struct Band {
    /// Low limit.
    pub from: Hertz,
    /// High limit.
    pub to: Hertz,
    /// The statement, where the design has one.
    pub span: Option<Span>,
}

/// A voltage that somebody printed or measured.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Where.
    pub at: Spanned<Reference>,
    /// What it said.
    pub voltage: Spanned<Volts>,
    /// `schematic` or `meter`, where stated.
    pub by: Option<String>,
    /// Share, 0.2 for 20 %, where stated.
    pub tolerance: Option<Ratio>,
    /// The whole statement.
    pub span: Span,
}

/// A finding that the designer accepts, with the reason.
#[derive(Clone, Debug, PartialEq)]
pub struct Waiver {
    /// The rule waived.
    pub rule: Spanned<String>,
    /// The part (full name) or other subject it is waived for; the whole design where absent.
    pub part: Option<Spanned<String>>,
    /// Why.
    pub because: String,
    /// The last day on which it holds.
    pub until: Option<Spanned<jiff::civil::Date>>,
    /// The whole statement.
    pub span: Span,
}

/// A design, typed and unfolded.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    /// The file with the `design` statement.
    pub file: FileId,
    /// Its title; the span is that of the title as written (of the file's start for a fragment).
    pub title: Spanned<String>,
    /// Its revision.
    pub revision: Option<String>,
    /// Its author.
    pub author: Option<String>,
    /// `note` children.
    pub notes: Vec<String>,
    /// The mains, own or from the workshop file.
    pub mains: Option<Mains>,
    /// The band that the design promises.
    pub band: Band,
    /// All parts, in order of unfolding.
    pub parts: Vec<Part>,
    /// All wires.
    pub wires: Vec<Wire>,
    /// Stated voltages.
    pub readings: Vec<Reading>,
    /// Waivers, of parts and of the design.
    pub waivers: Vec<Waiver>,
}

impl Design {
    /// The part of an identity. Identities of this design are always valid.
    #[must_use]
    pub fn part(&self, id: PartId) -> &Part {
        &self.parts[id.0]
    }

    /// The part of a full name.
    #[must_use]
    pub fn find(&self, name: &str) -> Option<PartId> {
        self.parts.iter().position(|part| part.name == name).map(PartId)
    }

    /// All parts with their identities.
    pub fn ids(&self) -> impl Iterator<Item = (PartId, &Part)> {
        self.parts.iter().enumerate().map(|(index, part)| (PartId(index), part))
    }

    /// A terminal as a builder writes it: `C10.plus`, `T1.ht.centre`, `V1a.plate`, `V2.cathode`.
    #[must_use]
    pub fn terminal_label(&self, terminal: &TerminalId) -> String {
        self.part(terminal.part).terminal_label(&terminal.name)
    }
}

impl Part {
    /// A terminal of this part as a builder writes it: `C10.plus`, `V1a.plate`.
    #[must_use]
    pub fn terminal_label(&self, terminal: &str) -> String {
        if let Kind::Tube(tube) = &self.kind
            && let Some((suffix, electrode)) = terminal.split_once('.')
            && tube.sections.iter().any(|section| section.suffix == suffix)
        {
            return format!("{}{suffix}.{electrode}", self.name);
        }
        format!("{}.{terminal}", self.name)
    }
}
