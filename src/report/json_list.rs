//! A JSON document with one long list in it, written piece by piece: a run over ten thousand designs never stands in
//! memory whole.

use serde::Serialize;

/// What stands before and after the pieces of the list.
#[derive(Clone, Debug)]
pub(super) struct LongList {
    opening: String,
    closing: String,
    indent: usize,
}

impl LongList {
    /// Takes a document whose list of this name is empty; its pieces are indented by `indent` blanks.
    pub(super) fn around(document: &impl Serialize, name: &str, indent: usize) -> Self {
        let text = written(document);
        // In a string the quotes would be escaped, so this is the list and nothing else.
        let (opening, closing) = text.split_once(&format!("\"{name}\": []")).unwrap_or((&text, ""));
        Self { opening: format!("{opening}\"{name}\": ["), closing: closing.to_owned(), indent }
    }

    /// What stands before the first piece.
    pub(super) fn opening(&self) -> &str {
        &self.opening
    }

    /// What stands between what was written and the next piece.
    pub(super) fn before_piece(first: bool) -> &'static str {
        if first { "\n" } else { ",\n" }
    }

    /// What stands after the last piece.
    pub(super) fn closing(&self, empty: bool) -> String {
        let end = if empty { String::new() } else { format!("\n{}", " ".repeat(self.indent.saturating_sub(2))) };
        format!("{end}]{}", self.closing)
    }

    /// The whole document.
    pub(super) fn whole(&self, pieces: impl Iterator<Item = String>) -> String {
        let mut output = self.opening.clone();
        let mut first = true;
        for piece in pieces {
            output.push_str(Self::before_piece(first));
            output.push_str(&piece);
            first = false;
        }
        output + &self.closing(first)
    }
}

/// A document as text that ends in a line break.
// The documents hold only strings, finite numbers and maps with string keys, which cannot fail to be written.
pub(super) fn written(document: &impl Serialize) -> String {
    serde_json::to_string_pretty(document).map_or_else(|error| error.to_string(), |text| text + "\n")
}

/// A value as it stands in a list, every line behind so many blanks.
pub(super) fn indented(value: &impl Serialize, indent: usize) -> String {
    let blanks = " ".repeat(indent);
    // A line break in a string is written as an escape, so every line here is a line of the layout.
    written(value).trim_end().lines().map(|line| format!("{blanks}{line}")).collect::<Vec<_>>().join("\n")
}
