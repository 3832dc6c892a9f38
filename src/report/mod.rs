//! What an inspection says, written out: for people at a terminal, one line a finding, and for machines.
//!
//! Every function here is pure: the result depends on the report, the sources and the [`Presentation`] it is given.
//! Knows nothing of the command line, of terminals or of the environment.

mod caution;
mod compare_json;
mod compare_markdown;
mod compare_stream;
mod compare_text;
mod drawing;
mod excerpt;
mod facts_text;
mod json;
mod json_list;
mod json_spread;
mod lesson;
mod lines;
mod markdown;
mod outcome;
mod place;
mod presentation;
mod reference;
mod roll;
mod sarif;
mod streamed;
mod subjects;
mod summary;
mod text;
mod walk;
mod walk_json;

pub use caution::{CAUTION, design_needs_caution, facts_need_caution, report_needs_caution};
pub use compare_json::compare_schema;
pub use compare_stream::{CompareStyle, CompareWriting, Compared, ComparedPiece, comparison_as};
pub use facts_text::{facts_as_lines, facts_as_text};
pub use json::{facts_as_json, facts_schema, report_as_json, report_schema};
pub use lesson::{LessonSheet, Limit, Proofs, SourceNote, lesson_as_text, proofs_as_text};
pub use lines::report_as_lines;
pub use outcome::{DesignOutcome, Outcome};
pub use place::{Region, region, region_text};
pub use presentation::Presentation;
pub use reference::{DeratingSheet, Reference, ReferenceRule, reference_as_markdown};
pub use roll::{roll_as_json, roll_as_text, roll_schema};
pub use streamed::{Piece, Style, Writing, report_as};
pub use subjects::{nearest_subject, subjects_named};
pub use text::{complaints_as_text, report_as_text};
pub use walk::{LimitSource, WalkSheet, walk_as_text};
pub use walk_json::{walk_as_json, walk_schema};
