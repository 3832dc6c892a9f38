//! The table of mistakes as read.

use std::path::Path;

use coldcheck::findings::Class;
use coldcheck::source::{Scalar, Sources, Statement, parse};

/// One mistake.
#[derive(Clone, Debug)]
pub struct Row {
    /// What somebody did.
    pub title: String,
    /// What kind of mistake it is.
    pub kind: String,
    /// The design, without its ending.
    pub design: String,
    /// The file that is edited, relative to the club's folder.
    pub file: String,
    /// Each text with what takes its place.
    pub edits: Vec<(String, String)>,
    /// What must come of it.
    pub expected: Expected,
}

/// What must come of a mistake.
#[derive(Clone, Debug)]
pub enum Expected {
    /// This finding.
    Found {
        /// The rule.
        rule: String,
        /// Its class.
        class: Class,
        /// What the line that it points at must contain; an edited line without it.
        at: Option<String>,
    },
    /// Nothing, for this reason.
    Missed(String),
}

/// Reads the table.
pub fn read() -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/mistakes/matrix.kdl");
    let mut sources = Sources::default();
    let file = sources.add("matrix.kdl", std::fs::read_to_string(path).unwrap());
    let (statements, complaints) = parse(&sources, file);
    assert!(complaints.is_empty(), "{complaints:?}");
    statements.iter().map(row).collect()
}

fn row(statement: &Statement) -> Row {
    assert_eq!(statement.name.value, "mistake");
    let design = named(statement, "design").unwrap();
    let expected = statement.children.iter().find_map(|child| match child.name.value.as_str() {
        "expect" => Some(Expected::Found {
            rule: text(child, 0),
            class: named(child, "class").unwrap().parse().unwrap(),
            at: named(child, "at"),
        }),
        "missed" => Some(Expected::Missed(named(child, "because").unwrap())),
        _ => None,
    });
    let edits = statement.children.iter().filter(|child| child.name.value == "edit");
    Row {
        title: text(statement, 0),
        kind: named(statement, "kind").unwrap(),
        file: named(statement, "file").unwrap_or_else(|| format!("{design}.kdl")),
        design,
        edits: edits.map(|edit| (text(edit, 0), text(edit, 1))).collect(),
        expected: expected.unwrap(),
    }
}

fn text(statement: &Statement, index: usize) -> String {
    match &statement.argument(index).unwrap().value {
        Scalar::Text(text) => text.clone(),
        other => panic!("{other:?} is no text"),
    }
}

fn named(statement: &Statement, name: &str) -> Option<String> {
    match &statement.property(name)?.value.value {
        Scalar::Text(text) => Some(text.clone()),
        other => panic!("{other:?} is no text"),
    }
}
