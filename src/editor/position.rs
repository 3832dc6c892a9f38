//! Byte offsets to lines and characters as the client counts them, and back.

/// How the client counts the characters of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Encoding {
    /// Bytes.
    Utf8,
    /// UTF-16 code units: what every client understands.
    Utf16,
    /// Code points.
    Utf32,
}

/// A text with its line starts.
pub(super) struct Lines<'a> {
    text: &'a str,
    starts: Vec<usize>,
    encoding: Encoding,
}

impl<'a> Lines<'a> {
    /// Finds the lines of a text; LF, CRLF and CR end one.
    pub(super) fn of(text: &'a str, encoding: Encoding) -> Self {
        let bytes = text.as_bytes();
        let ends = bytes
            .iter()
            .enumerate()
            .filter(|(index, byte)| **byte == b'\n' || (**byte == b'\r' && bytes.get(index + 1) != Some(&b'\n')));
        let starts = std::iter::once(0).chain(ends.map(|(index, _)| index + 1)).collect();
        Self { text, starts, encoding }
    }

    /// Line and character of a byte offset, both from 0; an offset past the end is that of the end.
    pub(super) fn position(&self, offset: usize) -> (u32, u32) {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let line = self.starts.partition_point(|start| *start <= offset).saturating_sub(1);
        let start = self.starts.get(line).copied().unwrap_or(0);
        let before = self.text.get(start..offset).unwrap_or("");
        (short(line), short(self.length(before)))
    }

    /// The byte offset of a line and character; a character past the end of its line is that of its end.
    pub(super) fn offset(&self, line: u32, character: u32) -> usize {
        let Some(start) = self.starts.get(line as usize).copied() else { return self.text.len() };
        let end = self.starts.get(line as usize + 1).copied().unwrap_or(self.text.len());
        let content = self.text.get(start..end).unwrap_or("").trim_end_matches(['\n', '\r']);
        let mut counted = 0;
        for (index, c) in content.char_indices() {
            if counted >= character as usize {
                return start + index;
            }
            counted += self.width(c);
        }
        start + content.len()
    }

    /// How many characters a text has.
    pub(super) fn length(&self, text: &str) -> usize {
        text.chars().map(|c| self.width(c)).sum()
    }

    fn width(&self, c: char) -> usize {
        match self.encoding {
            Encoding::Utf8 => c.len_utf8(),
            Encoding::Utf16 => c.len_utf16(),
            Encoding::Utf32 => 1,
        }
    }
}

fn short(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEXT: &str = "\u{feff}é漢\r\n\tb🙂c\rd\n";

    #[test]
    fn characters_are_counted_as_the_client_counts_them() {
        let at = |needle: &str, encoding| Lines::of(TEXT, encoding).position(TEXT.find(needle).unwrap());
        assert_eq!([Encoding::Utf8, Encoding::Utf16, Encoding::Utf32].map(|e| at("c", e)), [(1, 6), (1, 4), (1, 3)]);
        assert_eq!([Encoding::Utf8, Encoding::Utf16, Encoding::Utf32].map(|e| at("漢", e)), [(0, 5), (0, 2), (0, 2)]);
        assert_eq!(at("d", Encoding::Utf16), (2, 0));
        assert_eq!(Lines::of(TEXT, Encoding::Utf8).position(999), (3, 0));
        assert_eq!(Lines::of("", Encoding::Utf8).position(0), (0, 0));
    }

    #[test]
    fn there_and_back_is_the_same_place() {
        for encoding in [Encoding::Utf8, Encoding::Utf16, Encoding::Utf32] {
            let lines = Lines::of(TEXT, encoding);
            // The end of a CRLF line has no place of its own between its two bytes.
            for (offset, _) in TEXT
                .char_indices()
                .filter(|(offset, _)| !TEXT[..*offset].ends_with('\r') || TEXT.as_bytes()[*offset] != b'\n')
            {
                let (line, character) = lines.position(offset);
                assert_eq!(lines.offset(line, character), offset, "{encoding:?}");
            }
        }
    }

    #[test]
    fn places_outside_the_text_are_brought_inside() {
        let lines = Lines::of("ab\ncd", Encoding::Utf16);
        assert_eq!(lines.offset(0, 99), 2);
        assert_eq!(lines.offset(9, 0), 5);
    }
}
