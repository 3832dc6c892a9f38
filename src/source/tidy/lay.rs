//! Writes grouped lines out: indentation, blanks, columns.

use super::group::{Item, Line, Part, PartKind};
use super::strings::indented;
use crate::source::scan::{is_blank, is_newline};

/// Spaces for each block.
const INDENT: usize = 4;
/// A block that does not fit into a line of so many characters is spread over several.
const WIDTH: usize = 120;
/// Arguments that differ more in length, or hold prose, stand in no column.
const RAGGED: usize = 8;

/// Lays items out as a whole text; lines end with a line feed.
pub(super) fn lay(items: &[Item<'_>]) -> String {
    let mut out = String::new();
    write_items(&mut out, items, 0);
    out
}

fn write_items(out: &mut String, items: &[Item<'_>], depth: usize) {
    let mut rest = items;
    while let Some(first) = rest.first() {
        let run = run_length(rest, depth);
        let (now, later) = rest.split_at(run.max(1));
        match first {
            Item::Blank => {}
            Item::Comment(comments) => {
                out.push_str(&" ".repeat(depth * INDENT));
                out.push_str(&comments.join(" "));
            }
            Item::Statement(_) => {
                let lines: Vec<&Line<'_>> = now.iter().filter_map(statement).collect();
                let columns = columns(&lines);
                let one_line = run > 1;
                let written: Vec<String> = lines
                    .into_iter()
                    .map(|line| {
                        let width = if one_line { usize::MAX } else { WIDTH };
                        let text = written(line, depth, &columns, width);
                        format!("{}{text}", " ".repeat(depth * INDENT))
                    })
                    .collect();
                out.push_str(&written.join("\n"));
            }
        }
        out.push('\n');
        rest = later;
    }
}

fn statement<'i, 'a>(item: &'i Item<'a>) -> Option<&'i Line<'a>> {
    match item {
        Item::Statement(line) => Some(line),
        _ => None,
    }
}

/// How many of the first items are statements to be laid out in columns: neighbours, of one name, each on one line,
/// with properties and the same number of arguments before them.
fn run_length(items: &[Item<'_>], depth: usize) -> usize {
    let mut shape: Option<(String, usize)> = None;
    items
        .iter()
        .take_while(|item| {
            let Some(line) = statement(item) else { return false };
            let Some(cells) = cells(line) else { return false };
            let spread = |part: &Part<'_>| matches!(part.kind, PartKind::Block { one_line: false, .. });
            if line.parts.iter().any(spread) || written(line, depth, &[], WIDTH).contains(is_newline) {
                return false;
            }
            let this = (cells.first().cloned().unwrap_or_default(), cells.len());
            match &shape {
                None => {
                    shape = Some(this);
                    true
                }
                Some(shape) => *shape == this,
            }
        })
        .count()
}

/// Name and arguments of a statement whose first property follows them at once; none where it has no such form.
fn cells(line: &Line<'_>) -> Option<Vec<String>> {
    let mut cells: Vec<String> = Vec::new();
    for part in &line.parts {
        let text = match part.kind {
            PartKind::Word(word) if word.contains('=') => {
                // A string that names a property is not an argument.
                if part.glued {
                    cells.pop();
                }
                return (cells.len() > 1).then_some(cells);
            }
            PartKind::Word(text) | PartKind::Text(text) => text,
            PartKind::Slashdash if cells.is_empty() => "/-",
            _ => return None,
        };
        match cells.last_mut() {
            Some(last) if part.glued => last.push_str(text),
            _ => cells.push(text.to_owned()),
        }
    }
    None
}

/// The widths of the columns that lines of one shape share, from the first; a ragged column is none, and ends them.
fn columns(lines: &[&Line<'_>]) -> Vec<usize> {
    if lines.len() < 2 {
        return Vec::new();
    }
    let rows: Vec<Vec<String>> = lines.iter().filter_map(|line| cells(line)).collect();
    let count = rows.first().map_or(0, Vec::len);
    let width = |column: usize| {
        let cells = || rows.iter().filter_map(|row| row.get(column));
        let lengths = || cells().map(|cell| cell.chars().count());
        let (least, most) = (lengths().min()?, lengths().max()?);
        // Prose is no value to be compared with the one above.
        let prose = cells().any(|cell| cell.contains(is_blank));
        (most - least <= RAGGED && !prose).then_some(most)
    };
    (0..count).map_while(width).collect()
}

/// A statement without its indentation.
fn written(line: &Line<'_>, depth: usize, columns: &[usize], width: usize) -> String {
    let mut out = String::new();
    let mut cell = 0;
    let mut cell_start = 0;
    let mut fresh = true;
    for part in &line.parts {
        if !fresh && !part.glued {
            if let Some(column) = columns.get(cell) {
                let length = out.get(cell_start..).map_or(0, |text| text.chars().count());
                out.push_str(&" ".repeat(column.saturating_sub(length)));
            }
            out.push(' ');
            cell += 1;
            cell_start = out.len();
        }
        fresh = false;
        match &part.kind {
            PartKind::Word(text) => out.push_str(text),
            PartKind::Text(text) if text.contains(is_newline) => {
                out.push_str(&indented(text, (depth + 1) * INDENT));
            }
            PartKind::Text(text) | PartKind::Comment(text) => out.push_str(text),
            PartKind::Slashdash => out.push_str("/-"),
            PartKind::Joint(comments) => {
                out.push('\\');
                comments.iter().for_each(|comment| out.extend([" ", *comment]));
                out.push('\n');
                out.push_str(&" ".repeat((depth + 1) * INDENT));
                fresh = true;
            }
            PartKind::Block { opening, items, one_line } => {
                let room = width.saturating_sub(depth * INDENT + last_line(&out));
                match on_one_line(opening, items).filter(|text| *one_line && text.chars().count() <= room) {
                    Some(text) => out.push_str(&text),
                    None => spread(&mut out, opening, items, depth),
                }
            }
        }
    }
    if let Some(comment) = line.comment {
        out.extend([if fresh { "" } else { "  " }, comment]);
    }
    out
}

/// How many characters stand on the last line.
fn last_line(text: &str) -> usize {
    text.chars().rev().take_while(|c| !is_newline(*c)).count()
}

fn spread(out: &mut String, opening: &[&str], items: &[Item<'_>], depth: usize) {
    out.push('{');
    opening.iter().for_each(|comment| out.extend([" ", *comment]));
    if items.is_empty() && opening.iter().all(|comment| !comment.starts_with("//")) {
        out.push_str(if opening.is_empty() { "}" } else { " }" });
        return;
    }
    out.push('\n');
    write_items(out, items, depth + 1);
    out.push_str(&" ".repeat(depth * INDENT));
    out.push('}');
}

/// `{ a; b; }`; none where a line comment stands in it.
fn on_one_line(opening: &[&str], items: &[Item<'_>]) -> Option<String> {
    if items.is_empty() && opening.is_empty() {
        return Some("{}".to_owned());
    }
    let mut out = "{ ".to_owned();
    opening.iter().for_each(|comment| out.extend([*comment, " "]));
    for item in items {
        match item {
            Item::Blank => {}
            Item::Comment(comments) => out.push_str(&comments.join(" ")),
            Item::Statement(line) if line.comment.is_some() => return None,
            Item::Statement(line) => {
                out.push_str(&written(line, 0, &[], usize::MAX));
                out.push(';');
            }
        }
        out.push(' ');
    }
    out.push('}');
    Some(out)
}
