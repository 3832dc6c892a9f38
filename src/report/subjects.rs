//! Which subjects a name given by a person means.

use crate::facts::{FactTable, SubjectId};

/// The subjects that a name covers: the subject itself (`V1a`), everything of a part (`C10`, `T1`), and everything of
/// one copy of a stage (`left`). In order of the source.
#[must_use]
pub fn subjects_named(table: &FactTable, name: &str) -> Vec<SubjectId> {
    let within = format!("{name}.");
    table
        .subjects
        .iter()
        .enumerate()
        .filter(|(_, subject)| {
            let part = subject.part.as_deref();
            subject.name == name
                || part == Some(name)
                || subject.name.starts_with(&within)
                || part.is_some_and(|part| part.starts_with(&within))
        })
        .map(|(index, _)| SubjectId(index))
        .collect()
}

/// The name nearest to one that covers nothing, for "did you mean".
#[must_use]
pub fn nearest_subject<'a>(table: &'a FactTable, name: &str) -> Option<&'a str> {
    let names = || table.subjects.iter().map(|subject| subject.name.as_str());
    // A part of a stage is known by the name of its copy too.
    let within = format!(".{name}");
    if let Some(copy) = names().find(|known| known.ends_with(&within)) {
        return Some(copy);
    }
    names()
        .map(|known| (strsim::jaro_winkler(&known.to_lowercase(), &name.to_lowercase()), known))
        .filter(|(likeness, _)| *likeness > 0.75)
        .max_by(|(a, _), (b, _)| a.total_cmp(b))
        .map(|(_, known)| known)
}
