//! How a text shall look. Whoever asks the terminal fills this in; nobody below does.

use std::borrow::Cow;

use crate::findings::Class;

/// Width, colour and character set of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Presentation {
    /// Columns to wrap at.
    pub width: usize,
    /// Whether to colour with ANSI sequences.
    pub colour: bool,
    /// Whether to draw with Unicode; with plain ASCII otherwise.
    pub unicode: bool,
    /// Leave out headings and summaries.
    pub quiet: bool,
}

impl Presentation {
    /// What a file or a pipe gets: a hundred columns, no colour, Unicode.
    pub const PLAIN: Self = Self { width: 100, colour: false, unicode: true, quiet: false };

    /// Bold, where colour is wanted.
    pub(super) fn strong<'a>(&self, text: &'a str) -> Cow<'a, str> {
        self.paint("1", text)
    }

    /// A class's word in its colour.
    pub(super) fn class(&self, class: Class) -> Cow<'static, str> {
        let code = match class {
            Class::Hazard => "31",
            Class::Overstress => "1;35",
            Class::Malfunction => "33",
            Class::Refinement => "36",
        };
        self.paint(code, class.word())
    }

    /// The caution's colour.
    pub(super) fn warning<'a>(&self, text: &'a str) -> Cow<'a, str> {
        self.paint("1;33", text)
    }

    fn paint<'a>(&self, code: &str, text: &'a str) -> Cow<'a, str> {
        if self.colour { Cow::Owned(format!("\u{1b}[{code}m{text}\u{1b}[0m")) } else { Cow::Borrowed(text) }
    }

    /// Wraps a paragraph; every line but the first starts with `indent` blanks, and words are never broken.
    pub(super) fn wrap(&self, text: &str, indent: usize) -> String {
        let mut lines: Vec<String> = Vec::new();
        let mut line = String::new();
        let mut used = 0;
        for word in &words(text) {
            let length = word.chars().count();
            if used > 0 && used + 1 + length > self.width {
                lines.push(std::mem::take(&mut line));
                line.push_str(&" ".repeat(indent));
                line.push_str(word);
                used = indent + length;
            } else {
                if used > 0 {
                    line.push(' ');
                    used += 1;
                }
                line.push_str(word);
                used += length;
            }
        }
        lines.push(line);
        lines.join("\n")
    }

    /// Wraps a paragraph with `indent` blanks before every line.
    pub(super) fn paragraph(&self, text: &str, indent: usize) -> String {
        let inner = Self { width: self.width.saturating_sub(indent), ..*self };
        let blanks = " ".repeat(indent);
        inner.wrap(text, 0).lines().map(|line| format!("{blanks}{line}")).collect::<Vec<_>>().join("\n")
    }
}

/// The words of a text; a number stays with its unit.
fn words(text: &str) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        let bare = word.trim_end_matches([',', ';', ':', '.', ')']);
        let unit = bare.trim_start_matches(['G', 'M', 'k', 'm', 'µ', 'n', 'p', 'f']);
        let is_unit = matches!(unit, "V" | "A" | "W" | "Ω" | "F" | "H" | "S" | "J" | "s" | "Hz" | "dB") || bare == "%";
        let is_number = |before: &&mut String| before.trim_start_matches('(').parse::<f64>().is_ok();
        match found.last_mut().filter(|before| is_unit && is_number(before)) {
            Some(before) => {
                before.push(' ');
                before.push_str(word);
            }
            None => found.push(word.to_owned()),
        }
    }
    found
}

/// Words that come from a file, made harmless for a terminal: one line, no control characters, no marks that turn the
/// direction of reading around.
pub(super) fn one_line(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            c if c.is_control() => ' ',
            c if turns_direction(c) => '\u{fffd}',
            c => c,
        })
        .collect()
}

/// The form of a word that goes with a count.
pub(super) fn plural(count: usize, one: &'static str, many: &'static str) -> &'static str {
    if count == 1 { one } else { many }
}

/// Bidirectional controls of Unicode (UAX #9, 2.7): they can make a line read other than it is.
pub(super) fn turns_direction(c: char) -> bool {
    matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{200e}' | '\u{200f}')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paragraphs_wrap_between_words_and_never_within() {
        let narrow = Presentation { width: 12, ..Presentation::PLAIN };
        assert_eq!(narrow.wrap("one two three four", 2), "one two\n  three four");
        assert_eq!(narrow.paragraph("a-word-longer-than-the-width", 2), "  a-word-longer-than-the-width");
        assert_eq!(narrow.wrap("", 0), "");
    }

    #[test]
    fn what_a_file_says_cannot_steer_the_terminal() {
        assert_eq!(one_line("C1\u{1b}[2J\nx\u{202e}y"), "C1 [2J x\u{fffd}y");
    }
}
