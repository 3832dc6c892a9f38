//! Renaming nets, parts, ports and stages in every file and every design that names them, and nothing else.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use crate::circuit::Circuit;
use crate::design::{Entity, Index, Occurrence, RESERVED_NETS, is_bare};
use crate::remedies::applied;

use super::answer::{Edit, Place};
use super::diagnostics::place;
use super::sheet::{Read, is_error};

/// A design of the project with its names.
pub(super) struct Named {
    pub(super) read: Read,
    pub(super) index: Index,
}

/// The name that would be renamed, or why it cannot be.
///
/// # Errors
/// A sentence for the user.
pub(super) fn renamable(found: &Occurrence) -> Result<(), String> {
    match &found.entity {
        Entity::Net { name, .. } if RESERVED_NETS.contains(&name.as_str()) => {
            Err(format!("`{name}` is a net that every design has"))
        }
        Entity::Include { .. } | Entity::Rule { .. } => {
            Err("only nets, parts, ports and stages are renamed".to_owned())
        }
        _ => Ok(()),
    }
}

/// The edits that give what is named at a place another name, in all designs that name it.
///
/// # Errors
/// A sentence for the user, where the new name cannot be or is taken.
pub(super) fn rename(designs: &[Named], entity: &Entity, at: &Place, new: &str) -> Result<BTreeSet<Edit>, String> {
    if !is_bare(new) || new.contains('.') {
        return Err(format!("`{new}` cannot be a name: a letter, then letters, digits, `-` and `_`"));
    }
    let mut places: BTreeSet<Place> = BTreeSet::from([at.clone()]);
    // A file may serve several designs: what one of them names, the next may name elsewhere.
    loop {
        let before = places.len();
        for Named { read, index } in designs {
            let mut entities: BTreeSet<&Entity> = BTreeSet::new();
            for found in &index.occurrences {
                if same_kind(&found.entity, entity) && places.contains(&place(&read.sources, found.span)) {
                    entities.insert(&found.entity);
                }
            }
            for entity in entities {
                if taken(index, entity, new) {
                    return Err(format!("`{new}` is taken in `{}`", read.path.display()));
                }
                places.extend(index.all(entity).map(|found| place(&read.sources, found.span)));
            }
        }
        if places.len() == before {
            break;
        }
    }
    Ok(places.into_iter().map(|place| Edit { place, text: new.to_owned() }).collect())
}

/// A name may be a net in one design and a part in the next that includes the file: both are the same word.
fn same_kind(one: &Entity, other: &Entity) -> bool {
    let kind = |entity: &Entity| match entity {
        Entity::Part { .. } | Entity::Net { .. } | Entity::Port { .. } => 0,
        Entity::Stage { .. } => 1,
        Entity::Include { .. } | Entity::Rule { .. } => 2,
    };
    kind(one) == kind(other)
}

fn taken(index: &Index, entity: &Entity, new: &str) -> bool {
    match entity {
        Entity::Part { scope, .. } | Entity::Net { scope, .. } => index.taken(scope, new),
        Entity::Port { stage, .. } => index.taken(&Some(stage.clone()), new),
        Entity::Stage { .. } => index.scopes.contains_key(&Some(new.to_owned())),
        Entity::Include { .. } | Entity::Rule { .. } => true,
    }
}

/// The texts of a design with the edits made.
pub(super) fn renamed(read: &Read, edits: &BTreeSet<Edit>) -> Option<BTreeMap<PathBuf, String>> {
    let own = read.sources.iter().filter(|(id, _)| *id >= read.file);
    own.map(|(_, source)| {
        let here = edits.iter().filter(|edit| edit.place.path == source.path);
        Some((
            source.path.clone(),
            applied(&source.text, here.map(|edit| (edit.place.start, edit.place.end, edit.text.as_str())))?,
        ))
    })
    .collect()
}

/// Whether two readings are the same circuit by other names.
pub(super) fn same_circuit(before: &Read, after: &Read) -> bool {
    let shape = |read: &Read| {
        let errors = read.reading.complaints.iter().filter(|complaint| is_error(complaint)).count();
        let design = read.reading.design.as_ref();
        let nets = design.map(|design| {
            let circuit = Circuit::of(design);
            circuit.nets.iter().map(|net| net.terminals.len()).collect::<Vec<_>>()
        });
        (errors, design.map(|design| design.parts.len()), nets)
    };
    shape(before) == shape(after)
}
