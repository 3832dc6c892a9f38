//! A file prepared for drawing: byte for byte as long as the original, with nothing in it that could steer a terminal,
//! and one blank at its end, so that a label at the very end of the file has something to point at.

use std::ops::Range;

use miette::{MietteError, MietteSpanContents, SourceCode, SourceSpan, SpanContents};

use crate::source::SourceFile;

use super::presentation::turns_direction;

/// A file prepared for drawing.
pub(super) struct Excerpt {
    path: String,
    text: String,
    line_starts: Vec<usize>,
    length: usize,
}

impl Excerpt {
    /// Prepares a file.
    pub(super) fn new(file: &SourceFile) -> Self {
        let mut text = String::with_capacity(file.text.len() + 1);
        let mut line_starts = vec![0];
        let mut characters = file.text.chars().peekable();
        while let Some(c) = characters.next() {
            match c {
                '\n' => text.push('\n'),
                // A lone carriage return ends a line here as everywhere else in the program.
                '\r' if characters.peek() != Some(&'\n') => text.push('\n'),
                '\r' | '\t' => text.push(c),
                // Stand-ins of one, two and three bytes, so that no offset moves.
                c if c.is_control() && c.len_utf8() == 1 => text.push('?'),
                c if c.is_control() => text.push('¿'),
                c if turns_direction(c) => text.push('\u{fffd}'),
                c => text.push(c),
            }
            if text.ends_with('\n') {
                line_starts.push(text.len());
            }
        }
        let length = text.len();
        text.push(' ');
        Self { path: file.path.display().to_string(), text, line_starts, length }
    }

    /// A byte range brought within the file and onto one line (the first it touches), on character boundaries.
    pub(super) fn on_one_line(&self, start: usize, end: usize) -> Range<usize> {
        let start = self.boundary(start.min(self.length));
        let line_end = self.line_end(self.line_of(start));
        let end = self.boundary(end.min(self.length)).clamp(start, line_end.max(start));
        let kept = self.text.get(start..end).map_or(0, |text| text.trim_end().len());
        start..start + kept
    }

    /// The part of a range that is left of a place, without trailing blanks.
    pub(super) fn left_of(&self, range: &Range<usize>, place: usize) -> Range<usize> {
        self.on_one_line(range.start, place.min(range.end))
    }

    fn boundary(&self, mut offset: usize) -> usize {
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        offset
    }

    fn line_of(&self, offset: usize) -> usize {
        self.line_starts.partition_point(|start| *start <= offset).saturating_sub(1)
    }

    fn start_of(&self, line: usize) -> usize {
        self.line_starts.get(line).copied().unwrap_or(self.text.len())
    }

    // Without the characters that end the line.
    fn line_end(&self, line: usize) -> usize {
        let start = self.start_of(line);
        let end = self.start_of(line + 1).min(self.length);
        start + self.text.get(start..end).map_or(0, |text| text.trim_end_matches(['\n', '\r']).len())
    }
}

impl SourceCode for Excerpt {
    fn read_span<'a>(
        &'a self,
        span: &SourceSpan,
        context_lines_before: usize,
        context_lines_after: usize,
    ) -> Result<Box<dyn SpanContents<'a> + 'a>, MietteError> {
        let end = span.offset() + span.len();
        let first = self.line_of(span.offset());
        let last = self.line_of(end);
        // The blank at the end makes a line of its own after a last line break; it is drawn only for a label on it.
        let final_line = if self.start_of(self.line_starts.len() - 1) == self.length && end < self.length {
            self.line_starts.len().saturating_sub(2)
        } else {
            self.line_starts.len() - 1
        };
        let drawn_first = first.saturating_sub(context_lines_before);
        let drawn_last = (last + context_lines_after).min(final_line.max(last));
        let from = self.start_of(drawn_first);
        let to = self.start_of(drawn_last + 1);
        let data = self.text.get(from..to).ok_or(MietteError::OutOfBounds)?;
        let column = if context_lines_before == 0 {
            self.text
                .get(self.start_of(first)..span.offset())
                .ok_or(MietteError::OutOfBounds)?
                .chars()
                .filter(|c| *c != '\u{feff}')
                .count()
        } else {
            0
        };
        Ok(Box::new(MietteSpanContents::new_named(
            self.path.clone(),
            data.as_bytes(),
            (from, to - from).into(),
            drawn_first,
            column,
            drawn_last - drawn_first + 1,
        )))
    }
}
