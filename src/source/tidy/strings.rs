//! A string over several lines, moved with its statement: KDL takes the indentation of its last line from every line.

use crate::source::scan::{is_blank, is_newline};

/// The same string with its lines indented by `indent` spaces. As written where that could change what it says.
pub(super) fn indented(string: &str, indent: usize) -> String {
    move_lines(string, indent).unwrap_or_else(|| string.to_owned())
}

fn move_lines(string: &str, indent: usize) -> Option<String> {
    // A backslash can join lines, and what it joins has no indentation of its own.
    let raw = string.starts_with('#');
    if !raw && string.contains('\\') {
        return None;
    }
    let mut lines = lines(string);
    let last = lines.pop()?;
    let prefix: String = last.chars().take_while(|c| is_blank(*c)).collect();
    let close = last.get(prefix.len()..)?;
    let (first, body) = lines.split_first()?;
    if !close.starts_with("\"\"\"") || !first.trim_start_matches('#').trim_end_matches(is_newline).ends_with("\"\"\"") {
        return None;
    }
    let mut moved = (*first).to_owned();
    for line in body {
        let content = line.trim_end_matches(is_newline);
        let end = line.get(content.len()..)?;
        if !content.chars().all(is_blank) {
            moved.push_str(&" ".repeat(indent));
            moved.push_str(content.strip_prefix(prefix.as_str())?);
        }
        moved.push_str(end);
    }
    moved.push_str(&" ".repeat(indent));
    moved.push_str(close);
    Some(moved)
}

/// The lines of a text, each with its line end.
fn lines(text: &str) -> Vec<&str> {
    let mut lines = Vec::new();
    let mut rest = text;
    while let Some(at) = rest.find(is_newline) {
        let tail = rest.get(at..).unwrap_or("");
        let length = if tail.starts_with("\r\n") { 2 } else { tail.chars().next().map_or(1, char::len_utf8) };
        let (line, after) = rest.split_at(at + length);
        lines.push(line);
        rest = after;
    }
    lines.push(rest);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lines_move_together_and_blank_ones_lose_their_blanks() {
        let string = "#\"\"\"\n  a\n   \n    b\n  \"\"\"#";
        assert_eq!(indented(string, 4), "#\"\"\"\n    a\n\n      b\n    \"\"\"#");
        assert_eq!(indented(&indented(string, 4), 2), "#\"\"\"\n  a\n\n    b\n  \"\"\"#");
    }

    #[test]
    fn what_a_move_could_change_stays() {
        for string in ["\"\"\"\n  a \\\n  b\n  \"\"\"", "\"a \\\n  b\"", "\"\"\"\n  a\n b\n  \"\"\""] {
            assert_eq!(indented(string, 8), string);
        }
    }
}
