//! Tables of facts made by hand.

use coldcheck::facts::{
    Fact, FactTable, Lineup, Origin, Sample, State, Subject, SubjectId, SubjectKind, Value, find_definition,
};
use coldcheck::rules::RuleBook;
use coldcheck::source::{Complaint, FileId, Sources, Span};

/// A place in the design.
pub fn place(start: usize) -> Span {
    Span::new(FileId(0), start, start + 3)
}

/// Adds a subject that is named at a place.
pub fn subject(table: &mut FactTable, kind: SubjectKind, name: &str, start: usize) -> SubjectId {
    table.add_subject(Subject { kind, name: name.to_owned(), part: Some(name.to_owned()), span: place(start) })
}

/// A sample of a quantity.
pub fn sample(lineup: usize, state: Option<State>, value: f64) -> Sample {
    Sample { state, lineup, empty_socket: None, value: Value::Quantity(value) }
}

/// Records a fact that comes from a place.
pub fn record(table: &mut FactTable, subject: SubjectId, name: &str, start: usize, samples: Vec<Sample>) {
    let definition = find_definition(name).unwrap_or_else(|| panic!("no fact {name}"));
    let fact = Fact {
        samples,
        worst: 0,
        estimated: false,
        assumptions: Vec::new(),
        origins: vec![Origin { span: place(start), text: name.to_owned() }],
    };
    table.record(subject, definition, fact);
}

/// Records a quantity that no state changes.
pub fn stated(table: &mut FactTable, subject: SubjectId, name: &str, start: usize, value: f64) {
    record(table, subject, name, start, vec![sample(0, None, value)]);
}

/// Records a yes or no that no state changes.
pub fn flagged(table: &mut FactTable, subject: SubjectId, name: &str, value: bool) {
    let mut one = sample(0, None, 0.0);
    one.value = Value::Flag(value);
    record(table, subject, name, 900, vec![one]);
}

/// A line-up with one tube in V1.
pub fn lineup(tube: &str) -> Lineup {
    Lineup::from([("V1".to_owned(), tube.to_owned()), ("V2".to_owned(), "EZ80".to_owned())])
}

/// A workshop's book of one file, which must read without a complaint.
pub fn book(text: &str) -> RuleBook {
    let (book, complaints, _) = read(text);
    assert!(complaints.is_empty(), "{complaints:#?}");
    book
}

/// A workshop's book of one file with its complaints.
pub fn read(text: &str) -> (RuleBook, Vec<Complaint>, Sources) {
    let mut sources = Sources::default();
    let file = sources.add("own.kdl", text);
    let mut book = RuleBook::default();
    let complaints = book.read(&sources, file);
    (book, complaints, sources)
}

/// Complaints drawn as line, marked text, message and help, one each.
pub fn drawn(complaints: &[Complaint], sources: &Sources) -> String {
    let mut lines = Vec::new();
    for complaint in complaints {
        let (place, marked) = complaint.span.map_or((String::new(), ""), |span| {
            let (line, column) = sources.get(span.file).map_or((0, 0), |file| file.line_column(span.start));
            (format!("{line}:{column}"), sources.text(span))
        });
        let marked = marked.lines().next().unwrap_or("");
        let help = complaint.help.as_deref().unwrap_or("-");
        lines.push(format!(
            "{place} `{marked}`\n    {}\n    under it: {}\n    help: {help}",
            complaint.message, complaint.label
        ));
    }
    lines.join("\n")
}
