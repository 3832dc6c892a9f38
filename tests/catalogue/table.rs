//! A small reader of the tables of `tests/published/fit`: commas, quotes, a heading line.

use std::collections::BTreeMap;

pub type Row = BTreeMap<String, String>;

pub fn rows(text: &str) -> Vec<Row> {
    let mut lines = text.lines().map(cells);
    let heading = lines.next().unwrap_or_default();
    lines.map(|line| heading.iter().cloned().zip(line).collect()).collect()
}

pub fn number(row: &Row, column: &str) -> Option<f64> {
    row.get(column)?.parse().ok()
}

fn cells(line: &str) -> Vec<String> {
    let mut cells = vec![String::new()];
    let mut quoted = false;
    for c in line.chars() {
        match c {
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(String::new()),
            c => cells.last_mut().unwrap().push(c),
        }
    }
    cells
}
