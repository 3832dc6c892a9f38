//! Tube substitution side by side: a column a tube.

use std::path::Path;

use serde::Serialize;

use crate::facts::{ValueKind, fact_shown, find_definition};
use crate::findings::Finding;
use crate::source::Sources;
use crate::substitution::{Column, Roll, Row, SocketRoll};
use crate::units::Dimension;

use super::caution::CAUTION;
use super::json::{FindingEntry, finding_entry, schema};
use super::json_list::written;
use super::presentation::{Presentation, one_line};

const VERSION: u32 = 1;
/// Columns narrower than this read badly.
const LEAST_WIDTH: usize = 9;

/// A table for each socket, the tube as drawn first; under it what each other tube would add.
#[must_use]
pub fn roll_as_text(name: &str, roll: &Roll, presentation: Presentation) -> String {
    let mut output = format!("{}\n\n", presentation.strong(&one_line(name)));
    for socket in &roll.sockets {
        output.push_str(&socket_text(socket, presentation));
        output.push('\n');
    }
    if !presentation.quiet {
        let note = "Values in running, part tolerances and the spread between tubes of one type not counted. The findings \
                    of each column are those of all states.";
        output.push_str(&presentation.wrap(note, 2));
        output.push_str("\n\n");
    }
    output.push_str(&presentation.warning(&presentation.wrap(CAUTION, 2)));
    output.push('\n');
    output
}

fn socket_text(socket: &SocketRoll, presentation: Presentation) -> String {
    let drawn = socket.columns.first().map_or("", |column| column.tube.as_str());
    let whence = if socket.columns.len() < 2 {
        "no other tube of the catalogue has its sections, its pins and its heater"
    } else if socket.proposed {
        "no alternates stated: those of the catalogue with the same pins and heater"
    } else {
        "with its stated alternates"
    };
    let sockets = joined(&socket.sockets().collect::<Vec<_>>());
    let together = if socket.together.is_empty() { "" } else { ", changed together" };
    let heading = format!("{} {drawn}{together}, {whence}", presentation.strong(&sockets));
    let mut output = format!("{}\n", presentation.wrap(&heading, 2));
    output.push_str(&table(socket, presentation.width));
    for column in socket.columns.iter().skip(1) {
        output.push_str(&remarks(column, drawn, presentation));
    }
    output
}

/// The figures, as many tubes beside each other as the width holds; the tube as drawn leads each block of them.
fn table(socket: &SocketRoll, width: usize) -> String {
    let rows = rows_told(&socket.rows);
    let cell = |row: &Row, place: usize| match row.values.get(place).copied().flatten() {
        Some(value) if value.is_finite() => fact_shown(row.fact, value),
        Some(_) => "none".to_owned(),
        None => "-".to_owned(),
    };
    let first = rows.iter().map(|(_, row)| row.fact.chars().count() + 2).max().unwrap_or(0);
    let column = |(place, column): (usize, &Column)| {
        let cells = rows.iter().map(|(_, row)| cell(row, place).chars().count());
        (place, cells.chain([column.tube.chars().count(), LEAST_WIDTH]).max().unwrap_or(0))
    };
    let columns: Vec<(usize, usize)> = socket.columns.iter().enumerate().map(column).collect();
    let Some((drawn, others)) = columns.split_first() else { return String::new() };
    let taken = |columns: &[(usize, usize)]| 2 + first + columns.iter().map(|(_, width)| width + 2).sum::<usize>();
    let mut blocks = vec![vec![*drawn]];
    for other in others {
        match blocks.last_mut() {
            Some(block) if block.len() < 2 || taken(block) + other.1 + 2 <= width => block.push(*other),
            _ => blocks.push(vec![*drawn, *other]),
        }
    }
    let mut output = String::new();
    for (number, block) in blocks.iter().enumerate() {
        if number > 0 {
            output.push('\n');
        }
        let line = |label: &str, text: &dyn Fn(usize) -> String| {
            let cells: String = block.iter().map(|(place, width)| format!("  {:>width$}", text(*place))).collect();
            format!("{}\n", format!("  {label:first$}{cells}").trim_end())
        };
        let tube = |place: usize| socket.columns.get(place).map(|column| column.tube.clone()).unwrap_or_default();
        output.push_str(&line("", &tube));
        let mut before = "";
        for (subject, row) in &rows {
            if before != subject {
                output.push_str(&format!("  {subject}\n"));
            }
            before = subject;
            output.push_str(&line(&format!("  {}", row.fact), &|place| cell(row, place)));
        }
    }
    output
}

/// The rows, those of copies that are alike in every figure told once: `V1a and V1b`.
fn rows_told(rows: &[Row]) -> Vec<(String, &Row)> {
    let mut blocks: Vec<(Vec<&str>, Vec<&Row>)> = Vec::new();
    for row in rows {
        match blocks.last_mut() {
            Some((subjects, block)) if subjects.first() == Some(&row.subject.as_str()) => block.push(row),
            _ => blocks.push((vec![&row.subject], vec![row])),
        }
    }
    let cells = |block: &[&Row]| -> Vec<(&str, Vec<Option<String>>)> {
        let shown = |row: &Row| row.values.iter().map(|value| value.map(|value| fact_shown(row.fact, value))).collect();
        block.iter().map(|row| (row.fact, shown(row))).collect()
    };
    let mut told: Vec<(Vec<&str>, Vec<&Row>)> = Vec::new();
    for (subjects, block) in blocks {
        match told.iter_mut().find(|(_, known)| cells(known) == cells(&block)) {
            Some((copies, _)) => copies.extend(subjects),
            None => told.push((subjects, block)),
        }
    }
    let mut lines = Vec::new();
    for (subjects, block) in told {
        let name = joined(&subjects);
        lines.extend(block.into_iter().map(|row| (name.clone(), row)));
    }
    lines
}

/// `V3, V4 and V5`.
fn joined<S: AsRef<str>>(names: &[S]) -> String {
    match names {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [most @ .., last] => {
            let most: Vec<&str> = most.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", most.join(", "), last.as_ref())
        }
    }
}

/// Findings that differ in nothing but the part, each once with all their parts.
fn alike(findings: &[Finding]) -> Vec<(Vec<&str>, &Finding)> {
    let mut found: Vec<(Vec<&str>, &Finding)> = Vec::new();
    let without = |finding: &Finding| (finding.class, finding.rule.clone(), finding.message.replace(&finding.part, ""));
    for finding in findings {
        match found.iter_mut().find(|(_, known)| without(known) == without(finding)) {
            Some((parts, _)) => parts.push(&finding.part),
            None => found.push((vec![&finding.part], finding)),
        }
    }
    found
}

fn remarks(column: &Column, drawn: &str, presentation: Presentation) -> String {
    let mut output = String::new();
    let mut say = |text: &str| {
        let inner = Presentation { width: presentation.width.saturating_sub(2), ..presentation };
        for line in inner.wrap(&one_line(text), 4).lines() {
            output.push_str(&format!("  {line}\n"));
        }
    };
    if !column.fits {
        say(&format!("{} does not go into this socket as it is wired: its pins or its heater differ", column.tube));
    }
    for (pin, electrode) in &column.open_pins {
        let joined = if electrode == "suppressor" { "join it to the cathode" } else { "wire it" };
        say(&format!(
            "{} has its {electrode} at pin {pin}, where {drawn} has nothing: {joined} at the socket before it goes in",
            column.tube
        ));
    }
    if column.unsolved > 0 {
        say(&format!("{}: {} conditions could not be solved", column.tube, column.unsolved));
    }
    let told =
        |finding: &Finding| format!("{} {} {}: {}", finding.class.word(), finding.rule, finding.part, finding.message);
    for (parts, finding) in alike(&column.added) {
        let others = if parts.len() > 1 {
            format!(" (the same of {})", joined(parts.get(1..).unwrap_or_default()))
        } else {
            String::new()
        };
        say(&format!("{} adds {}{others}", column.tube, told(finding)));
    }
    for finding in &column.cleared {
        say(&format!("{} clears {} {} {}", column.tube, finding.class.word(), finding.rule, finding.part));
    }
    if column.fits && column.added.is_empty() && column.unsolved == 0 {
        say(&format!("{} adds no finding", column.tube));
    }
    output
}

fn dimension(fact: &str) -> Dimension {
    match find_definition(fact).map(|definition| definition.value) {
        Some(ValueKind::Quantity(dimension)) => dimension,
        _ => Dimension::NONE,
    }
}

/// What `roll --as json` prints.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(title = "coldcheck roll")]
struct RollDocument {
    /// Version of this shape.
    version: u32,
    path: String,
    name: String,
    sockets: Vec<SocketEntry>,
}

#[derive(Serialize, schemars::JsonSchema)]
struct SocketEntry {
    socket: String,
    /// The other sockets whose tubes are changed with it: the other half of a push-pull pair, the same place in another channel.
    together: Vec<String>,
    /// Whether the catalogue proposed the others, the design naming no alternates.
    proposed: bool,
    /// The tube as drawn first.
    tubes: Vec<TubeEntry>,
    /// Facts in `running`, one value a tube, in base SI units.
    facts: Vec<RowEntry>,
}

#[derive(Serialize, schemars::JsonSchema)]
struct TubeEntry {
    tube: String,
    /// Whether its pins and its heater suit the socket as it is wired.
    fits: bool,
    /// Electrodes that it has at pins where the tube as drawn has nothing: wire them before it goes in.
    open_pins: Vec<PinEntry>,
    /// Findings that it adds to those of the tube as drawn.
    added: Vec<FindingEntry>,
    /// Findings of the tube as drawn that it clears.
    cleared: Vec<FindingEntry>,
    /// Conditions that could not be solved with it.
    unsolved: usize,
}

#[derive(Serialize, schemars::JsonSchema)]
struct PinEntry {
    pin: String,
    electrode: String,
}

#[derive(Serialize, schemars::JsonSchema)]
struct RowEntry {
    subject: String,
    fact: &'static str,
    unit: String,
    /// Null where there is no such value or no number expresses it.
    values: Vec<Option<f64>>,
}

/// The same as one JSON document, ending in a line break.
#[must_use]
pub fn roll_as_json(path: &Path, name: &str, roll: &Roll, sources: &Sources) -> String {
    let entries = |findings: &[Finding]| findings.iter().map(|finding| finding_entry(finding, sources)).collect();
    let sockets = roll.sockets.iter().map(|socket| SocketEntry {
        socket: socket.socket.clone(),
        together: socket.together.clone(),
        proposed: socket.proposed,
        tubes: socket
            .columns
            .iter()
            .map(|column| TubeEntry {
                tube: column.tube.clone(),
                fits: column.fits,
                open_pins: column
                    .open_pins
                    .iter()
                    .map(|(pin, electrode)| PinEntry { pin: pin.clone(), electrode: electrode.clone() })
                    .collect(),
                added: entries(&column.added),
                cleared: entries(&column.cleared),
                unsolved: column.unsolved,
            })
            .collect(),
        facts: socket
            .rows
            .iter()
            .map(|row| RowEntry {
                subject: row.subject.clone(),
                fact: row.fact,
                unit: dimension(row.fact).unit().unwrap_or("").to_owned(),
                values: row.values.iter().map(|value| value.and_then(super::json::six_digits)).collect(),
            })
            .collect(),
    });
    written(&RollDocument {
        version: VERSION,
        path: path.display().to_string(),
        name: name.to_owned(),
        sockets: sockets.collect(),
    })
}

/// The JSON Schema of [`roll_as_json`].
#[must_use]
pub fn roll_schema() -> String {
    schema::<RollDocument>()
}
