//! What stands between two tokens: comments, and the `\` that joins two lines.

use crate::source::scan::is_newline;

/// One thing between tokens. Line ends are tokens, and blanks are not kept.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Trivia<'a> {
    /// `// …`, without trailing blanks.
    LineComment(&'a str),
    /// `/* … */`
    BlockComment(&'a str),
    /// `\`, with the comments between it and the line's end.
    Joint(Vec<&'a str>),
}

/// Reads a gap between two tokens.
pub(super) fn trivia(gap: &str) -> Vec<Trivia<'_>> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(rest) = gap.get(at..).filter(|rest| !rest.is_empty()) {
        if let Some((comment, length)) = comment(rest) {
            found.push(comment);
            at += length;
        } else if rest.starts_with('\\') {
            let (comments, length) = joint(rest);
            found.push(Trivia::Joint(comments));
            at += length;
        } else {
            at += rest.chars().next().map_or(1, char::len_utf8);
        }
    }
    found
}

/// A comment that begins here, and its length.
fn comment(text: &str) -> Option<(Trivia<'_>, usize)> {
    if text.starts_with("//") {
        let length = text.find(is_newline).unwrap_or(text.len());
        return Some((Trivia::LineComment(text.get(..length)?.trim_end()), length));
    }
    if !text.starts_with("/*") {
        return None;
    }
    let mut depth = 0usize;
    let mut at = 0;
    let bytes = text.as_bytes();
    while at < bytes.len() {
        match (bytes.get(at), bytes.get(at + 1)) {
            (Some(b'/'), Some(b'*')) => {
                depth += 1;
                at += 2;
            }
            (Some(b'*'), Some(b'/')) => {
                depth = depth.saturating_sub(1);
                at += 2;
                if depth == 0 {
                    break;
                }
            }
            _ => at += 1,
        }
    }
    Some((Trivia::BlockComment(text.get(..at)?), at))
}

/// The comments behind a `\` up to the line's end, and the length of it all.
fn joint(text: &str) -> (Vec<&str>, usize) {
    let mut comments = Vec::new();
    let mut at = 1;
    while let Some(rest) = text.get(at..) {
        let Some(first) = rest.chars().next() else { break };
        if is_newline(first) {
            at += if rest.starts_with("\r\n") { 2 } else { first.len_utf8() };
            break;
        }
        match comment(rest) {
            Some((Trivia::LineComment(found) | Trivia::BlockComment(found), length)) => {
                comments.push(found);
                at += length;
            }
            _ => at += first.len_utf8(),
        }
    }
    (comments, at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_and_joints_are_found_and_blanks_are_not() {
        assert_eq!(
            trivia("  /* a /* b */ c */ \\ // d \n\t\\ /* e */\n  // f  "),
            [
                Trivia::BlockComment("/* a /* b */ c */"),
                Trivia::Joint(vec!["// d"]),
                Trivia::Joint(vec!["/* e */"]),
                Trivia::LineComment("// f"),
            ]
        );
    }
}
