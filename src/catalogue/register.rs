//! Entries found by any of their names. Knows nothing of files or electronics.

use std::collections::BTreeMap;

use super::names::key;
use super::{DiodeEntry, LedEntry, TransistorEntry, TubeEntry};

/// What has a name and other spellings of it.
pub(super) trait Named {
    fn name(&self) -> &str;
    fn aliases(&self) -> &[String];
}

macro_rules! named {
    ($($entry:ty: $name:ident;)*) => {$(
        impl Named for $entry {
            fn name(&self) -> &str { &self.$name }
            fn aliases(&self) -> &[String] { &self.aliases }
        }
    )*};
}

named! {
    TubeEntry: name;
    DiodeEntry: name;
    LedEntry: colour;
    TransistorEntry: name;
}

/// Entries in the order in which they came, found by name or alias in any spelling.
#[derive(Clone, Debug)]
pub(super) struct Register<T> {
    entries: Vec<T>,
    places: BTreeMap<String, usize>,
    // As written, for messages: a name that a later entry took over is no longer among them.
    spellings: BTreeMap<String, String>,
}

impl<T> Default for Register<T> {
    fn default() -> Self {
        Self { entries: Vec::new(), places: BTreeMap::new(), spellings: BTreeMap::new() }
    }
}

impl<T: Named> Register<T> {
    pub(super) fn get(&self, name: &str) -> Option<&T> {
        let place = self.places.get(&key(name))?;
        self.entries.get(*place)
    }

    pub(super) fn entries(&self) -> &[T] {
        &self.entries
    }

    /// Every name and alias, in the order of their keys.
    pub(super) fn names(&self) -> Vec<&str> {
        self.spellings.values().map(String::as_str).collect()
    }

    /// Adds an entry; one of the same name is replaced, and names that another entry had go over to this one.
    pub(super) fn put(&mut self, entry: T) {
        let own = key(entry.name());
        let same = self
            .places
            .get(&own)
            .copied()
            .filter(|place| self.entries.get(*place).is_some_and(|old| key(old.name()) == own));
        let place = same.unwrap_or(self.entries.len());
        self.places.retain(|_, at| *at != place);
        let places = &self.places;
        self.spellings.retain(|name, _| places.contains_key(name));
        for name in std::iter::once(entry.name()).chain(entry.aliases().iter().map(String::as_str)) {
            self.places.insert(key(name), place);
            self.spellings.entry(key(name)).or_insert_with(|| name.to_owned());
        }
        match self.entries.get_mut(place) {
            Some(old) => *old = entry,
            None => self.entries.push(entry),
        }
    }
}
