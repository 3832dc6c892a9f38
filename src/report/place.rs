//! The one converter from spans to lines and columns, for every output.

use serde::Serialize;

use crate::source::{Sources, Span};

/// A span as people and machines outside count it: lines and columns from 1, columns in characters, the end exclusive.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, schemars::JsonSchema)]
pub struct Region {
    /// The path of the file as it is shown.
    pub file: String,
    /// Line of the first character, from 1.
    pub line: usize,
    /// Column of the first character, from 1, in characters.
    pub column: usize,
    /// Line of the place just past the last character.
    pub end_line: usize,
    /// Column of the place just past the last character.
    pub end_column: usize,
}

/// The region of a span; what lies past the end of the file is taken back to the end.
#[must_use]
pub fn region(sources: &Sources, span: Span) -> Region {
    let file = sources.path(span.file).display().to_string();
    let at = |offset| sources.get(span.file).map_or((1, 1), |source| source.line_column(offset));
    let (line, column) = at(span.start);
    let (end_line, end_column) = at(span.end.max(span.start));
    Region { file, line, column, end_line, end_column }
}

/// The beginning of a region as `path:line:column`.
#[must_use]
pub fn region_text(sources: &Sources, span: Span) -> String {
    let region = region(sources, span);
    format!("{}:{}:{}", region.file, region.line, region.column)
}
