//! Reads heads that are plain: words, short numbers, strings without escapes, strings over several lines as they are.
//!
//! Nearly every head is, and the general parser takes a hundred times as long. What is in any way unusual is left to it,
//! and the tests hold both against each other.

use super::kdl_bridge::{Entry, Head};
use super::scan::{Token, TokenKind};
use super::statement::Scalar;

/// The most digits that a number keeps exactly.
const DIGITS: usize = 15;

/// Reads a head whose first byte stands at `base`; `None` where it is not plain.
pub(super) fn read_plain(text: &str, base: usize, tokens: &[Token]) -> Option<Head> {
    let (first, rest) = tokens.split_first()?;
    let name = word(written(text, first)?)?;
    let mut head = Head {
        name: (name.to_owned(), first.start - base, first.end - base),
        entries: Vec::with_capacity(rest.len()),
        annotation: None,
    };
    let mut end = first.end;
    let mut tokens = rest.iter();
    while let Some(token) = tokens.next() {
        let gap = text.get(end..token.start)?;
        if gap.is_empty() || !gap.bytes().all(|byte| matches!(byte, b' ' | b'\t')) {
            return None;
        }
        let here = written(text, token)?;
        let (key, value, start) = match (token.kind, here.split_once('=')) {
            (TokenKind::Word, Some((key, value))) => {
                let name = (word(key)?.to_owned(), token.start - base, token.start + key.len() - base);
                (Some(name), value, token.start + key.len() + 1)
            }
            _ => (None, here, token.start),
        };
        // `key=` and the string behind it are two tokens.
        let (value, until) = if key.is_some() && value.is_empty() {
            let string = tokens.next().filter(|next| next.start == token.end && next.kind != TokenKind::Word)?;
            (string_value(written(text, string)?)?, string.end)
        } else if token.kind == TokenKind::Word {
            (word_value(value)?, token.end)
        } else {
            (string_value(value)?, token.end)
        };
        head.entries.push(Entry { key, value: Some(value), start: start - base, end: until - base, annotation: None });
        end = until;
    }
    Some(head)
}

fn written<'a>(text: &'a str, token: &Token) -> Option<&'a str> {
    text.get(token.start..token.end)
}

/// A bare word that can be nothing else.
fn word(text: &str) -> Option<&str> {
    let mut bytes = text.bytes();
    let plain = bytes.next()?.is_ascii_alphabetic()
        && bytes.all(|byte| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.'))
        && !matches!(text, "true" | "false" | "null" | "inf" | "nan");
    plain.then_some(text)
}

fn word_value(text: &str) -> Option<Scalar> {
    match text {
        "#true" => return Some(Scalar::Flag(true)),
        "#false" => return Some(Scalar::Flag(false)),
        "#null" => return Some(Scalar::Null),
        _ => {}
    }
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let number = text.len() <= DIGITS
        && match text.split_once('.') {
            Some((whole, part)) => digits(whole) && digits(part),
            None => digits(text),
        };
    if number { text.parse().ok().map(Scalar::Number) } else { word(text).map(|word| Scalar::Text(word.to_owned())) }
}

fn string_value(text: &str) -> Option<Scalar> {
    let hashes = text.bytes().take_while(|byte| *byte == b'#').count();
    let (mark, after) = text.split_at_checked(hashes)?;
    let string = after.strip_suffix(mark)?;
    // Escapes, and characters that KDL forbids, are for the general parser.
    if (hashes == 0 && string.contains('\\')) || string.chars().any(|c| is_odd(c)) {
        return None;
    }
    match string.strip_prefix("\"\"\"") {
        Some(lines) => several_lines(lines.strip_suffix("\"\"\"")?),
        None => {
            let inside = string.strip_prefix('"')?.strip_suffix('"')?;
            let one_line = !inside.contains(['\n', '"']);
            one_line.then(|| Scalar::Text(inside.to_owned()))
        }
    }
}

fn is_odd(c: char) -> bool {
    (c.is_control() && !matches!(c, '\n' | '\t'))
        || matches!(c, '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
}

/// The lines between `"""` and `"""`, without the indentation of the last.
fn several_lines(text: &str) -> Option<Scalar> {
    let (body, prefix) = text.strip_prefix('\n')?.rsplit_once('\n').or(Some(("", "")))?;
    if text.matches('\n').count() < 2 || !is_blank_line(prefix) || body.contains("\"\"\"") {
        return None;
    }
    let mut value = String::with_capacity(body.len());
    for (index, line) in body.split('\n').enumerate() {
        if index > 0 {
            value.push('\n');
        }
        if !is_blank_line(line) {
            value.push_str(line.strip_prefix(prefix)?);
        }
    }
    Some(Scalar::Text(value))
}

fn is_blank_line(text: &str) -> bool {
    text.bytes().all(|byte| matches!(byte, b' ' | b'\t'))
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use proptest::test_runner::RngSeed;

    use super::super::kdl_bridge::read_head;
    use super::super::scan::scan;
    use super::*;

    fn told(head: &Head) -> String {
        let entries: Vec<String> = head
            .entries
            .iter()
            .map(|entry| {
                format!("{:?} {:?} {}..{} {:?}", entry.key, entry.value, entry.start, entry.end, entry.annotation)
            })
            .collect();
        format!("{:?} {entries:?} {:?}", head.name, head.annotation)
    }

    /// What is read plainly, and that the general parser reads the same.
    fn plainly(text: &str) -> Option<String> {
        let tokens = scan(text).tokens;
        let heads = tokens.iter().all(|token| matches!(token.kind, TokenKind::Word | TokenKind::Text { closed: true }));
        let base = tokens.first().filter(|_| heads)?.start;
        let plain = told(&read_plain(text, base, &tokens)?);
        let general = read_head(text.get(base..)?).map(|head| told(&head));
        assert_eq!(general.ok().as_deref(), Some(plain.as_str()), "{text:?}");
        Some(plain)
    }

    #[test]
    fn what_designs_and_rules_are_made_of_is_plain() {
        for text in [
            "wire chassis earth",
            "resistor R1 \"4k7\" from=V1a.plate to=out-left power=\"0.5W\" note=\"grid leak, 1 %\"",
            "model mu=108.72 x=1.2 kg1=871.71 rgi=2000",
            "source \"a data sheet\" from-memory=#true other=#null",
            "lesson #\"\"\"\n    One \\ line.\n\n      Two.\n    \"\"\"# at=\"x\"",
            "note \"\"\"\n\ta\n\tb \n\t\"\"\"",
            "note \"\" #\"raw \\\"#",
        ] {
            assert!(plainly(text).is_some(), "{text}");
        }
    }

    #[test]
    fn what_is_unusual_is_left_to_the_general_parser() {
        for text in [
            "wire true",
            "a 1e3",
            "a 1_000",
            "a 0x1f",
            "a -1",
            "a 12345678901234567890",
            "a \"b\\n\"",
            "a /* c */ b",
            "a (t)b",
            "a b= \"c\"",
            "a \"b\"=c",
            "a \"b\"c",
            "\"a\" b",
            "a \"\"\"b\"\"\"",
            "a \"\"\"\n b\n  \"\"\"",
            "a \"\"\"\n\"\"\"",
            "a é",
            "a \\\n b",
        ] {
            assert_eq!(plainly(text), None, "{text}");
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig {
            cases: 4_000,
            rng_seed: RngSeed::Fixed(6),
            failure_persistence: None,
            ..ProptestConfig::default()
        })]

        #[test]
        fn both_read_the_same(pieces in prop::collection::vec(prop::sample::select(vec![
            "a", "key=", "=", " ", "  ", "\t", "\"x\"", "\"\"", "\"é 漢\"", "1", "0.50", ".5", "1.", "007", "-", "#true", "#null", "null",
            "b-c.d", "_", "\"\"\"\n  x\n    y\n  \"\"\"", "\"\"\"\n x\n\n \t\n \"\"\"", "#\"\"\"\n  \\ \"z\"\n  \"\"\"#", "#\"\"\"\n\"\"\"#", "\"\"\"\n\n\"\"\"",
            "#\"r\"#", "##\"r\"#\"##", "\u{a0}", "\"\u{7f}\"", "\"\u{feff}\"", "\"\\\"", ".", "%", "\"\"\"\n a\r\n \"\"\"",
        ]), 0..8)) {
            plainly(&format!("n {}", pieces.concat()));
            plainly(&pieces.concat());
        }
    }
}
