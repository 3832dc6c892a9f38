//! The facts of a design for people: a small table for each subject, and one line a fact.

use std::collections::BTreeMap;

use crate::facts::{Entry, Fact, FactTable, State, SubjectId, Value, fact_shown_fully};
use crate::source::Sources;
use crate::spread::Bands;

use super::caution::{CAUTION, facts_need_caution};
use super::place::{region, region_text};
use super::presentation::{Presentation, one_line};

/// A table for each subject: fact, worst value with its state and line-up, the value in running, where it came from. A value with
/// `~` before it rests on an estimate, which the lines below the table name.
#[must_use]
pub fn facts_as_text(
    table: &FactTable,
    subjects: Option<&[SubjectId]>,
    sources: &Sources,
    bands: Option<&Bands>,
    presentation: Presentation,
) -> String {
    let mut by_subject: BTreeMap<SubjectId, Vec<(&'static str, &Entry)>> = BTreeMap::new();
    for (id, name, entry) in table.iter() {
        if subjects.is_none_or(|wanted| wanted.contains(&id)) {
            by_subject.entry(id).or_default().push((name, entry));
        }
    }
    let mut output = String::new();
    for (id, facts) in by_subject {
        let Some(subject) = table.subject(id) else {
            continue;
        };
        output.push_str(&format!(
            "{} ({}, {})\n",
            presentation.strong(&one_line(&subject.name)),
            subject.kind.word(),
            region_text(sources, subject.span)
        ));
        let home = region(sources, subject.span).file;
        let rows: Vec<[String; 5]> =
            facts.iter().map(|(name, entry)| row(table, (id, name), entry, sources, (&home, bands))).collect();
        output.push_str(&aligned(&rows));
        for assumption in assumptions(&facts) {
            output.push_str(&presentation.paragraph(&format!("~ {}", one_line(assumption)), 2));
            output.push('\n');
        }
        output.push('\n');
    }
    for condition in &table.unsolved {
        let text = format!(
            "not solved: {}: {}",
            circumstances(table, Some(condition.state), condition.empty_socket.as_deref(), condition.lineup),
            one_line(&condition.reason)
        );
        output.push_str(&presentation.wrap(&text, 2));
        output.push('\n');
    }
    if !table.unsolved.is_empty() {
        output.push('\n');
    }
    if let Some(bands) = bands {
        for line in spread_told(bands) {
            output.push_str(&presentation.paragraph(&line, 2));
            output.push('\n');
        }
        output.push('\n');
    }
    if facts_need_caution(table) {
        output.push_str(&presentation.warning(&presentation.wrap(CAUTION, 2)));
        output.push('\n');
    }
    output
}

/// One line a fact: `path:line:column: subject fact value circumstances`; then one a condition that was not solved.
#[must_use]
pub fn facts_as_lines(
    table: &FactTable,
    subjects: Option<&[SubjectId]>,
    sources: &Sources,
    bands: Option<&Bands>,
) -> String {
    let mut output = String::new();
    for (id, name, entry) in table.iter() {
        let Some(subject) = table.subject(id) else {
            continue;
        };
        if subjects.is_some_and(|wanted| !wanted.contains(&id)) {
            continue;
        }
        let [fact, value, circumstances, ..] = row(table, (id, name), entry, sources, ("", bands));
        let line = format!("{}: {} {fact} {value} {circumstances}", region_text(sources, subject.span), subject.name);
        output.push_str(one_line(&line).trim_end());
        output.push('\n');
    }
    for condition in &table.unsolved {
        let place = condition.span.map(|span| format!("{}: ", region_text(sources, span))).unwrap_or_default();
        let (state, empty) = (Some(condition.state), condition.empty_socket.as_deref());
        let when = circumstances(table, state, empty, condition.lineup);
        let line = format!("{place}not-solved {when}: {}", condition.reason);
        output.push_str(&one_line(&line));
        output.push('\n');
    }
    for line in bands.map(spread_told).unwrap_or_default() {
        output.push_str(&one_line(&format!("spread: {line}")));
        output.push('\n');
    }
    output
}

/// What the brackets mean, what was varied, and what had no solution.
fn spread_told(bands: &Bands) -> Vec<String> {
    let mut lines = vec![
        "In brackets: lowest and highest that the tolerances of the parts give, in the worst corners and in all builds."
            .to_owned(),
        bands.summary.told(),
    ];
    lines.extend(bands.unsolved.iter().map(|reason| format!("not solved within the tolerances: {reason}")));
    if !bands.summary.assumptions.is_empty() {
        lines.push(format!("Assumed where nothing is stated: {}.", bands.summary.assumptions.join("; ")));
    }
    lines
}

/// Fact, worst value with its band, its circumstances, the value in `running` of the design as drawn where that is another, places.
fn row(
    table: &FactTable,
    (id, name): (SubjectId, &'static str),
    entry: &Entry,
    sources: &Sources,
    (home, bands): (&str, Option<&Bands>),
) -> [String; 5] {
    let unknown = |why: String| [name.to_owned(), "not known".to_owned(), why, String::new(), String::new()];
    match entry {
        Entry::Failed { reason } => unknown(one_line(reason)),
        Entry::Known(fact) => {
            let Some(worst) = fact.worst_sample() else { return unknown(String::new()) };
            let running = fact.samples.iter().find(|s| s.lineup == 0 && s.state == Some(State::Running));
            let other =
                running.map(|sample| shown(name, &sample.value)).filter(|text| *text != shown(name, &worst.value));
            let band = bands.and_then(|bands| bands.of(id, name, worst)).map(|band| {
                let quantity = |value| shown(name, &Value::Quantity(value));
                format!(" ({} … {})", quantity(band.low), quantity(band.high))
            });
            let mark = if fact.estimated { "~ " } else { "" };
            [
                name.to_owned(),
                format!("{mark}{}{}", shown(name, &worst.value), band.unwrap_or_default()),
                circumstances(table, worst.state, worst.empty_socket.as_deref(), worst.lineup),
                other.map(|text| format!("({text} running)")).unwrap_or_default(),
                origins(fact, sources, home),
            ]
        }
    }
}

fn shown(name: &str, value: &Value) -> String {
    match value {
        Value::Quantity(number) => fact_shown_fully(name, *number),
        Value::Flag(true) => "yes".to_owned(),
        Value::Flag(false) => "no".to_owned(),
        Value::Word(word) => one_line(word),
    }
}

/// State, empty socket and the tubes that are not as drawn.
fn circumstances(table: &FactTable, state: Option<State>, empty_socket: Option<&str>, lineup: usize) -> String {
    let mut text = state.map(|state| state.name().to_owned()).unwrap_or_default();
    if let Some(socket) = empty_socket {
        text.push(' ');
        text.push_str(socket);
    }
    if let (Some(drawn), Some(fitted)) = (table.lineups.first(), table.lineups.get(lineup)) {
        let changed: Vec<String> = fitted
            .iter()
            .filter(|(socket, tube)| drawn.get(*socket) != Some(*tube))
            .map(|(socket, tube)| format!("{socket} = {tube}"))
            .collect();
        if !changed.is_empty() {
            text.push_str(" with ");
            text.push_str(&changed.join(", "));
        }
    }
    text.trim_start().to_owned()
}

/// `path:line`, each place once; the path only where it changes from that of the subject.
fn origins(fact: &Fact, sources: &Sources, home: &str) -> String {
    let mut text = String::new();
    let mut places: Vec<(String, usize)> = Vec::new();
    for origin in &fact.origins {
        let place = region(sources, origin.span);
        let place = (place.file, place.line);
        if places.contains(&place) {
            continue;
        }
        let same_file = places.last().map_or(home, |(file, _)| file.as_str()) == place.0;
        if !text.is_empty() {
            text.push_str(", ");
        }
        if !same_file {
            text.push_str(&place.0);
        }
        text.push_str(&format!(":{}", place.1));
        places.push(place);
    }
    text
}

fn assumptions<'a>(facts: &[(&'static str, &'a Entry)]) -> Vec<&'a str> {
    let mut all: Vec<&str> = Vec::new();
    for (_, entry) in facts {
        if let Entry::Known(fact) = entry {
            for assumption in &fact.assumptions {
                if !all.contains(&assumption.as_str()) {
                    all.push(assumption);
                }
            }
        }
    }
    all
}

fn aligned(rows: &[[String; 5]]) -> String {
    let width = |column: usize| {
        rows.iter()
            .filter_map(|row| row.get(column))
            .map(|cell| cell.chars().count())
            // A sentence in a cell must not push the columns after it off the page.
            .filter(|length| *length <= 40)
            .max()
            .unwrap_or(0)
    };
    let [first, second, third, fourth] = [width(0), width(1), width(2), width(3)];
    let mut output = String::new();
    for [fact, value, circumstances, running, origin] in rows {
        let line = format!("  {fact:first$}  {value:second$}  {circumstances:third$}  {running:fourth$}  {origin}");
        output.push_str(line.trim_end());
        output.push('\n');
    }
    output
}
