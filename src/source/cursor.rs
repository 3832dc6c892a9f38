//! Where a cursor stands in a text that is being written: the statements around it and the words before it.
//!
//! Looks at the text before the cursor only, so what is not yet written does not disturb.

use super::scan::{TokenKind, scan};

/// Where a cursor stands.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cursor {
    /// The words of each statement around it, outermost first.
    pub around: Vec<Vec<String>>,
    /// The complete words of its own statement before it, quotes and all.
    pub words: Vec<String>,
    /// The word being written, up to the cursor; empty between words.
    pub partial: String,
    /// The byte where that word begins.
    pub start: usize,
}

/// The place of a byte offset; nothing inside a comment.
#[must_use]
pub fn cursor(text: &str, offset: usize) -> Option<Cursor> {
    let mut offset = offset.min(text.len());
    while !text.is_char_boundary(offset) {
        offset -= 1;
    }
    let before = text.get(..offset)?;
    let scanned = scan(before);
    if !scanned.open_comments.is_empty() {
        return None;
    }
    let mut found = Cursor { start: offset, ..Cursor::default() };
    let mut last_end = 0;
    for token in &scanned.tokens {
        let written = before.get(token.start..token.end)?;
        match token.kind {
            TokenKind::Word | TokenKind::Text { .. } => match found.words.last_mut() {
                Some(word) if last_end == token.start => word.push_str(written),
                _ => {
                    found.words.push(written.to_owned());
                    found.start = token.start;
                }
            },
            TokenKind::Open => found.around.push(std::mem::take(&mut found.words)),
            TokenKind::Close => {
                found.around.pop();
                found.words.clear();
            }
            TokenKind::End => found.words.clear(),
            TokenKind::Slashdash => {}
        }
        last_end = token.end;
    }
    if before.get(last_end..)?.contains("//") {
        return None;
    }
    let unfinished = scanned.tokens.last().is_some_and(|token| {
        token.end == offset && matches!(token.kind, TokenKind::Word | TokenKind::Text { closed: false })
    });
    if unfinished {
        found.partial = found.words.pop()?;
    } else {
        found.start = offset;
    }
    Some(found)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Option<Cursor> {
        let offset = text.find('|').unwrap();
        cursor(&text.replace('|', ""), offset)
    }

    #[test]
    fn the_words_before_the_cursor_are_those_of_its_statement() {
        let found = at("wire a b\nresistor R1 \"47k\" from=V1a.pl| to=b").unwrap();
        assert_eq!(found.words, ["resistor", "R1", "\"47k\""]);
        assert_eq!(found.partial, "from=V1a.pl");
        assert_eq!(found.start, 27);
        assert_eq!(at("resistor R1 |").unwrap().partial, "");
    }

    #[test]
    fn a_string_being_written_is_one_word_with_its_name() {
        let found = at("resistor R1 \"47k\" power=\"0.|\nwire a b").unwrap();
        assert_eq!(found.partial, "power=\"0.");
        assert_eq!(found.words.len(), 3);
    }

    #[test]
    fn the_statements_around_are_known() {
        let found = at("stage line {\n port in\n tube V1 \"6SN7\" { heater fr|").unwrap();
        assert_eq!(found.around, [vec!["stage", "line"], vec!["tube", "V1", "\"6SN7\""]]);
        assert_eq!(at("stage line { port in; }\nwi|").unwrap().around.len(), 0);
    }

    #[test]
    fn a_comment_holds_no_statement() {
        assert_eq!(at("wire a b // and |"), None);
        assert_eq!(at("/* wire |"), None);
        assert!(at("wire \"a//b\" |").is_some());
    }
}
