//! The club's folder with one file changed in memory, inspected as the program would.

use std::path::{Path, PathBuf};

use coldcheck::catalogue::Catalogue;
use coldcheck::design::{ProjectFiles, Workshop, read_design, read_workshop};
use coldcheck::findings::Class;
use coldcheck::inspection::{Grounds, inspect};
use coldcheck::rules::{RuleBook, Shelves};
use coldcheck::source::{Sources, Span};
use jiff::civil::date;

const CLUB: &str = "examples/alder-street";

/// A finding with the line it points at.
#[derive(Clone, Debug)]
pub struct Place {
    /// The rule.
    pub rule: String,
    /// Its class.
    pub class: Class,
    /// The file, relative to the club's folder.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    /// The text of the line.
    pub text: String,
}

/// What came of an inspection.
#[derive(Clone, Debug)]
pub struct Inspected {
    /// The findings.
    pub places: Vec<Place>,
    /// What could not be read.
    pub complaints: Vec<String>,
}

/// The club's workshop.
pub struct Workbench {
    workshop: Workshop,
    shelves: Shelves,
}

struct Folder {
    changed: Option<(PathBuf, String)>,
}

impl ProjectFiles for Folder {
    fn root(&self) -> &Path {
        Path::new("")
    }
    fn read(&self, path: &Path) -> Result<String, String> {
        match &self.changed {
            Some((file, text)) if file == path => Ok(text.clone()),
            _ => on_disk(path),
        }
    }
}

fn on_disk(path: &Path) -> Result<String, String> {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).map_err(|error| error.to_string())
}

/// The text of a file of the club.
pub fn original(file: &str) -> String {
    on_disk(&Path::new(CLUB).join(file)).unwrap()
}

impl Workbench {
    /// Opens the workshop.
    pub fn open() -> Self {
        let mut sources = Sources::default();
        let settings = sources.add("coldcheck.kdl", original("coldcheck.kdl"));
        let (workshop, complaints) = read_workshop(&sources, settings);
        assert!(complaints.is_empty(), "{complaints:?}");
        let shelves = Shelves::filled_by(&|name| Catalogue::built_in().shelf(name).to_vec());
        Self { workshop, shelves }
    }

    /// Inspects a design, with a file of the folder changed.
    pub fn inspect(&self, design: &str, changed: Option<(&str, String)>) -> Inspected {
        let folder = Folder { changed: changed.map(|(file, text)| (Path::new(CLUB).join(file), text)) };
        let path = Path::new(CLUB).join(design).with_extension("kdl");
        let mut sources = Sources::default();
        let file = sources.add(&path, folder.read(&path).unwrap());
        let catalogue = Catalogue::built_in();
        let reading = read_design(&mut sources, file, &folder, catalogue, Some(&self.workshop));
        let grounds = Grounds {
            rules: RuleBook::built_in(),
            devices: catalogue,
            shelves: &self.shelves,
            today: date(2026, 11, 25),
        };
        let report = inspect(&path, reading, grounds).report;
        Inspected {
            places: report.findings.iter().map(|f| place(&sources, f.rule.clone(), f.class, f.span)).collect(),
            complaints: report.complaints.into_iter().map(|complaint| complaint.message).collect(),
        }
    }
}

fn place(sources: &Sources, rule: String, class: Class, span: Span) -> Place {
    let source = sources.get(span.file).unwrap();
    let (line, _) = source.line_column(span.start);
    let file = source.path.strip_prefix(CLUB).unwrap_or(&source.path).display().to_string();
    Place { rule, class, file, line, text: source.text.lines().nth(line - 1).unwrap_or_default().to_owned() }
}
