//! What came of each mistake, and how many of each kind are found.

use std::collections::BTreeMap;
use std::fmt;

use rayon::prelude::*;

use super::matrix::{Expected, Row};
use super::workbench::{Inspected, Place, Workbench, original};

/// How a row came out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// Found, in its class, at its line.
    Right,
    /// Found in its class, at another line.
    Misplaced(String),
    /// Found in another class.
    Misjudged(String),
    /// Not found, though it should be.
    Unfound(String),
    /// Not found, as the row says.
    Missed,
    /// Found at the edited line, though the row says that it is missed.
    Unexpected(String),
    /// The row itself is wrong.
    Broken(String),
}

/// A row with how it came out.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The row.
    pub row: Row,
    /// How it came out.
    pub verdict: Verdict,
}

impl Outcome {
    /// What is wrong with it, where something is.
    pub fn complaint(&self) -> Option<String> {
        let reason = match &self.verdict {
            Verdict::Right | Verdict::Missed => return None,
            Verdict::Misplaced(found) => format!("points at another line: {found}"),
            Verdict::Misjudged(found) => format!("is of another class: {found}"),
            Verdict::Unfound(found) => format!("is not found; instead: {found}"),
            Verdict::Unexpected(found) => format!("is found after all: {found}"),
            Verdict::Broken(reason) => format!("cannot be tried: {reason}"),
        };
        Some(format!("{} ({}): {:?} {reason}", self.row.title, self.row.design, self.row.expected))
    }
}

/// Tries all rows.
pub fn all(rows: &[Row]) -> Vec<Outcome> {
    let bench = Workbench::open();
    rows.par_iter().map(|row| Outcome { row: row.clone(), verdict: verdict(&bench, row) }).collect()
}

fn verdict(bench: &Workbench, row: &Row) -> Verdict {
    let (text, edited) = match edit(row) {
        Ok(done) => done,
        Err(reason) => return Verdict::Broken(reason),
    };
    let inspected = bench.inspect(&row.design, Some((&row.file, text)));
    if !inspected.complaints.is_empty() {
        return Verdict::Broken(inspected.complaints.join("; "));
    }
    let on_edited = |place: &&Place| place.file == row.file && edited.contains(&place.line);
    match &row.expected {
        Expected::Missed(_) => match inspected.places.iter().find(on_edited) {
            Some(found) => Verdict::Unexpected(told(found)),
            None => Verdict::Missed,
        },
        Expected::Found { rule, class, at } => {
            let own: Vec<&Place> = inspected.places.iter().filter(|place| place.rule == *rule).collect();
            let classed: Vec<&Place> = own.iter().copied().filter(|place| place.class == *class).collect();
            let right = |place: &&&Place| match at {
                Some(at) => place.text.contains(at),
                None => on_edited(place),
            };
            match (own.first(), classed.first(), classed.iter().find(right)) {
                (_, _, Some(_)) => Verdict::Right,
                (_, Some(found), None) => Verdict::Misplaced(told(found)),
                (Some(found), None, None) => Verdict::Misjudged(told(found)),
                (None, ..) => Verdict::Unfound(summary(&inspected)),
            }
        }
    }
}

/// The text with the mistake in it, and the lines that it changed.
fn edit(row: &Row) -> Result<(String, Vec<usize>), String> {
    let mut text = original(&row.file);
    let mut edited = Vec::new();
    for (find, replace) in &row.edits {
        let start = text.find(find.as_str()).ok_or_else(|| format!("`{find}` is not in {}", row.file))?;
        text.replace_range(start..start + find.len(), replace);
        let first = text[..start].matches('\n').count() + 1;
        edited.extend(first..=first + replace.trim_end().matches('\n').count());
    }
    Ok((text, edited))
}

fn told(place: &Place) -> String {
    format!("{} {} at {}:{} `{}`", place.class.word(), place.rule, place.file, place.line, place.text.trim())
}

fn summary(inspected: &Inspected) -> String {
    let told: Vec<String> = inspected.places.iter().take(4).map(told).collect();
    if told.is_empty() { "nothing".to_owned() } else { told.join(", ") }
}

/// The totals of a kind of mistake.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Totals {
    /// The kind, or `all`.
    pub kind: String,
    /// How many were tried.
    pub tried: usize,
    /// How many were found.
    pub found: usize,
    /// How many of these in the right class.
    pub right_class: usize,
    /// How many of these at the right line.
    pub right_line: usize,
}

impl fmt::Display for Totals {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { kind, tried, found, right_class, right_line } = self;
        write!(
            f,
            "{kind}: {tried} tried, {found} found, {right_class} in the right class, {right_line} at the right line"
        )
    }
}

/// The totals of each kind, and of all.
pub fn kinds(outcomes: &[Outcome]) -> Vec<Totals> {
    let mut kinds: BTreeMap<&str, Totals> = BTreeMap::new();
    let mut all = Totals { kind: "all".to_owned(), ..Totals::default() };
    for outcome in outcomes {
        let own = kinds.entry(&outcome.row.kind).or_default();
        own.kind.clone_from(&outcome.row.kind);
        for totals in [own, &mut all] {
            totals.tried += 1;
            let (found, class, line) = match outcome.verdict {
                Verdict::Right => (1, 1, 1),
                Verdict::Misplaced(_) => (1, 1, 0),
                Verdict::Misjudged(_) => (1, 0, 0),
                _ => (0, 0, 0),
            };
            totals.found += found;
            totals.right_class += class;
            totals.right_line += line;
        }
    }
    kinds.into_values().chain([all]).collect()
}
