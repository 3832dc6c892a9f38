//! Puts included files in their place, inside the project folder and each once.
//!
//! Reads files only through [`ProjectFiles`]; paths are handled as text, never asked of a disk.

use std::collections::HashMap;
use std::path::{Component, Path, PathBuf};

use crate::source::{Complaint, FileId, Scalar, Sources, Span, Statement, parse};

use super::fields::inside_quotes;

/// The files of a project as the core may read them.
pub trait ProjectFiles {
    /// The folder outside which nothing is included; an empty path means the folder that all paths are relative to.
    fn root(&self) -> &Path;
    /// The text of a file.
    ///
    /// # Errors
    /// Why it could not be read, as half a sentence: `there is no such file`.
    fn read(&self, path: &Path) -> Result<String, String>;
}

/// Includes may follow each other this deep.
const INCLUDE_LIMIT: usize = 32;
/// A design may be spread over so many files.
const FILE_LIMIT: usize = 1_000;

/// The statements of a file with all includes in their place.
pub(super) fn gather(
    sources: &mut Sources,
    root: FileId,
    files: &dyn ProjectFiles,
    complaints: &mut Vec<Complaint>,
) -> Vec<Statement> {
    let (statements, found) = parse(sources, root);
    complaints.extend(found);
    let path = normal(sources.path(root)).unwrap_or_default();
    let mut gatherer =
        Gatherer { sources, files, complaints, open: vec![(path.clone(), None)], done: HashMap::from([(path, None)]) };
    gatherer.place(statements, false)
}

struct Gatherer<'a> {
    sources: &'a mut Sources,
    files: &'a dyn ProjectFiles,
    complaints: &'a mut Vec<Complaint>,
    /// The files being read, outermost first, with the `include` that led to each.
    open: Vec<(PathBuf, Option<Span>)>,
    /// The files read, with the `include` that led to each.
    done: HashMap<PathBuf, Option<Span>>,
}

impl Gatherer<'_> {
    fn place(&mut self, statements: Vec<Statement>, in_stage: bool) -> Vec<Statement> {
        let mut placed = Vec::new();
        for mut statement in statements {
            match statement.name.value.as_str() {
                "include" => placed.extend(self.include(&statement, in_stage)),
                "stage" if !in_stage => {
                    let children = std::mem::take(&mut statement.children);
                    statement.children = self.place(children, true);
                    placed.push(statement);
                }
                _ => placed.push(statement),
            }
        }
        placed
    }

    fn refuse(&mut self, complaint: Complaint) -> Vec<Statement> {
        self.complaints.push(complaint);
        Vec::new()
    }

    fn include(&mut self, statement: &Statement, in_stage: bool) -> Vec<Statement> {
        let Some(argument) = statement.argument(0) else {
            if statement.broken {
                return Vec::new();
            }
            return self.refuse(
                Complaint::at(statement.name.span, "`include` needs a path", "the path is missing")
                    .help("write it as `include \"supplies/choke-input.kdl\"`"),
            );
        };
        let surplus = statement
            .argument(1)
            .map(|value| value.span)
            .or(statement.properties.first().map(|property| property.name.span))
            .or(statement.children.first().map(|child| child.name.span));
        if let Some(span) = surplus {
            self.complaints.push(Complaint::at(span, "`include` takes one path and nothing else", "not expected here"));
        }
        let Scalar::Text(written) = &argument.value else {
            return self.refuse(Complaint::at(argument.span, "a path is wanted here", "this is no path"));
        };
        let span = inside_quotes(written, argument.span);
        let path = match self.allowed(written, statement.span.file) {
            Ok(path) => path,
            Err((message, label)) => return self.refuse(Complaint::at(span, message, label)),
        };
        if let Some(position) = self.open.iter().position(|(open, _)| *open == path) {
            let mut complaint =
                Complaint::at(span, format!("`{written}` would include itself"), "this closes the circle");
            for (_, led) in self.open.iter().skip(position + 1) {
                if let Some(led) = led {
                    complaint = complaint.also(*led, "by way of this");
                }
            }
            return self.refuse(complaint);
        }
        if let Some(first) = self.done.get(&path).copied() {
            if !in_stage {
                return Vec::new();
            }
            let complaint =
                Complaint::at(span, format!("`{written}` is included already"), "a file is included once in a design")
                    .help("put what is shared in a stage, and `fit` it as often as it is needed");
            return self.refuse(match first {
                Some(first) => complaint.also(first, "first included here"),
                None => complaint,
            });
        }
        if self.open.len() >= INCLUDE_LIMIT || self.done.len() >= FILE_LIMIT {
            return self.refuse(Complaint::at(
                span,
                format!("includes go deeper than {INCLUDE_LIMIT} files or a design has more than {FILE_LIMIT}"),
                "this file is left out",
            ));
        }
        let text = match self.files.read(&path) {
            Ok(text) => text,
            Err(reason) => {
                return self.refuse(Complaint::at(
                    span,
                    format!("`{written}` cannot be read: {reason}"),
                    format!("looked for at {}", shown(&path)),
                ));
            }
        };
        let file = self.sources.add(path.clone(), text);
        let (statements, found) = parse(self.sources, file);
        self.complaints.extend(found);
        self.done.insert(path.clone(), Some(span));
        self.open.push((path, Some(span)));
        let placed = self.place(statements, in_stage);
        self.open.pop();
        placed
    }

    /// The path of a file to include, or why it is refused.
    fn allowed(&self, written: &str, from: FileId) -> Result<PathBuf, (String, String)> {
        let outside = || {
            (
                format!("`{written}` lies outside the project folder"),
                "only files of the project are included".to_owned(),
            )
        };
        let drive = written.as_bytes().get(1).is_some_and(|byte| *byte == b':');
        if written.is_empty() || written.contains(['\\', '\0']) || drive {
            return Err((
                format!("`{written}` is not a path that can be included"),
                "a path is relative, with `/` between its folders".to_owned(),
            ));
        }
        if Path::new(written).has_root() {
            return Err((
                format!("`{written}` is an absolute path"),
                "a path is relative to the file that names it".to_owned(),
            ));
        }
        let folder = self.sources.path(from).parent().unwrap_or(Path::new(""));
        let path = normal(&folder.join(written)).ok_or_else(outside)?;
        let root = normal(self.files.root()).unwrap_or_default();
        let climbs = |path: &Path| path.components().take_while(|component| *component == Component::ParentDir).count();
        if !path.starts_with(&root) || climbs(&path) > climbs(&root) {
            return Err(outside());
        }
        Ok(path)
    }
}

fn shown(path: &Path) -> String {
    path.to_string_lossy().replace('\\', "/")
}

/// The path without `.` and with `..` taken back, by its text alone; nothing where it climbs above the file system's root.
pub(crate) fn normal(path: &Path) -> Option<PathBuf> {
    let mut parts: Vec<Component<'_>> = Vec::new();
    for component in path.components() {
        match component {
            Component::CurDir => {}
            Component::ParentDir => match parts.last() {
                Some(Component::Normal(_)) => {
                    parts.pop();
                }
                Some(Component::RootDir | Component::Prefix(_)) => return None,
                _ => parts.push(component),
            },
            other => parts.push(other),
        }
    }
    Some(parts.into_iter().collect())
}
