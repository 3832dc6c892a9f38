//! Spans are a file and a byte range; lines and columns exist only in outputs, through the converter here.

use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A file of one run, in the order in which they were read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct FileId(pub u32);

/// A byte range of a file; `start <= end`, both on character boundaries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Span {
    /// The file.
    pub file: FileId,
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

impl Span {
    /// A span of a file.
    #[must_use]
    pub const fn new(file: FileId, start: usize, end: usize) -> Self {
        Self { file, start, end }
    }
}

/// A value and where it was written.
#[derive(Clone, Debug, PartialEq)]
pub struct Spanned<T> {
    /// The value.
    pub value: T,
    /// Where it was written.
    pub span: Span,
}

impl<T> Spanned<T> {
    /// A value with its span.
    pub const fn new(value: T, span: Span) -> Self {
        Self { value, span }
    }

    /// The same span with another value.
    pub fn map<U>(self, f: impl FnOnce(T) -> U) -> Spanned<U> {
        Spanned { value: f(self.value), span: self.span }
    }
}

/// A text file of the run with its path as it shall be shown.
#[derive(Clone, Debug)]
pub struct SourceFile {
    /// The path as the user gave it, or relative to what they gave.
    pub path: PathBuf,
    /// The whole text.
    pub text: String,
    line_starts: Vec<usize>,
}

impl SourceFile {
    /// Takes a text and finds its line starts (LF, CRLF or CR end a line).
    #[must_use]
    pub fn new(path: PathBuf, text: String) -> Self {
        let mut line_starts = vec![0];
        let bytes = text.as_bytes();
        for (index, byte) in bytes.iter().enumerate() {
            if *byte == b'\n' || (*byte == b'\r' && bytes.get(index + 1) != Some(&b'\n')) {
                line_starts.push(index + 1);
            }
        }
        Self { path, text, line_starts }
    }

    /// Line and column of a byte offset, both from 1; columns count characters (code points).
    #[must_use]
    pub fn line_column(&self, offset: usize) -> (usize, usize) {
        let offset = self.clamp(offset);
        let line = self.line_starts.partition_point(|start| *start <= offset).max(1);
        let start = self.line_starts.get(line - 1).copied().unwrap_or(0);
        let column = self.text.get(start..offset).map_or(0, |text| text.chars().filter(|c| *c != '\u{feff}').count());
        (line, column + 1)
    }

    /// The text of a byte range, clamped to the file and to character boundaries.
    #[must_use]
    pub fn slice(&self, start: usize, end: usize) -> &str {
        let start = self.clamp(start);
        let end = self.clamp(end).max(start);
        self.text.get(start..end).unwrap_or("")
    }

    fn clamp(&self, offset: usize) -> usize {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        offset
    }
}

/// All files of one run. A copy shares the texts.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<Arc<SourceFile>>,
}

impl Sources {
    /// Adds a file and gives its identity.
    pub fn add(&mut self, path: impl Into<PathBuf>, text: impl Into<String>) -> FileId {
        let id = FileId(u32::try_from(self.files.len()).unwrap_or(u32::MAX));
        self.files.push(Arc::new(SourceFile::new(path.into(), text.into())));
        id
    }

    /// The file of an identity, where it belongs to this run.
    #[must_use]
    pub fn get(&self, id: FileId) -> Option<&SourceFile> {
        self.files.get(id.0 as usize).map(AsRef::as_ref)
    }

    /// The path of a file as it shall be shown.
    #[must_use]
    pub fn path(&self, id: FileId) -> &Path {
        self.get(id).map_or_else(|| Path::new(""), |file| file.path.as_path())
    }

    /// The text that a span covers.
    #[must_use]
    pub fn text(&self, span: Span) -> &str {
        self.get(span.file).map_or("", |file| file.slice(span.start, span.end))
    }

    /// All files with their identities.
    pub fn iter(&self) -> impl Iterator<Item = (FileId, &SourceFile)> {
        self.files.iter().enumerate().map(|(i, f)| (FileId(u32::try_from(i).unwrap_or(u32::MAX)), f.as_ref()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_and_columns_count_from_one_and_count_characters() {
        let file = SourceFile::new("x".into(), "\u{feff}é漢\r\n\tb🙂c\rd\n".into());
        let at = |needle: &str| file.line_column(file.text.find(needle).unwrap());
        assert_eq!(at("é"), (1, 1));
        assert_eq!(at("漢"), (1, 2));
        assert_eq!(at("b"), (2, 2));
        assert_eq!(at("c"), (2, 4));
        assert_eq!(at("d"), (3, 1));
        assert_eq!(file.line_column(file.text.len()), (4, 1));
        assert_eq!(file.line_column(10_000), (4, 1));
        assert_eq!(SourceFile::new("x".into(), String::new()).line_column(0), (1, 1));
    }
}
