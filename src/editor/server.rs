//! The state of the editor: open texts, the designs that they belong to, and the answers to what a client asks.
//!
//! One thread: texts change first, then every design that was touched is inspected once, then questions are answered.

use std::cell::OnceCell;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::sync::Arc;

use crate::design::{Entity, Index, Vocabulary, index, vocabulary, word};
use crate::facts::Memory;
use crate::source::{FileId, parse_text};

use super::actions::actions;
use super::answer::{Action, Edit, Hint, Item, Notice, Place, Suggestion, Token};
use super::buffers::{Buffer, Buffers, Overlay};
use super::completion::{Stock, complete};
use super::diagnostics::{notices, place};
use super::hints::hints;
use super::hover::{found_at, hover};
use super::outline::outline;
use super::rename::{Named, renamable, rename, renamed, same_circuit};
use super::sheet::{Read, Sheet, judge, read};
use super::surroundings::{Bench, Surroundings};
use super::tokens::tokens;

/// The name of the workshop file.
const WORKSHOP_FILE: &str = "coldcheck.kdl";
/// So many designs of a project are searched for one that includes a fragment, or for names to change.
const DESIGN_LIMIT: usize = 200;

/// What designs are judged against, with what may be written in them.
#[derive(Clone)]
struct Ground {
    bench: Rc<Bench>,
    vocabulary: Rc<Vocabulary>,
}

struct Desk {
    sheet: Sheet,
    vocabulary: Rc<Vocabulary>,
    index: OnceCell<Index>,
}

impl Desk {
    fn index(&self) -> &Index {
        let sheet = &self.sheet;
        self.index.get_or_init(|| index(&sheet.sources, sheet.file, &self.vocabulary, &sheet.bench.catalogue))
    }
}

/// The editor's state.
pub(super) struct Editor<'a> {
    surroundings: &'a dyn Surroundings,
    buffers: Buffers,
    desks: BTreeMap<PathBuf, Desk>,
    touched: BTreeSet<PathBuf>,
    grounds: HashMap<PathBuf, Ground>,
    /// The saved designs that include a fragment, as far as they were searched for.
    includers: HashMap<PathBuf, Vec<PathBuf>>,
}

impl<'a> Editor<'a> {
    pub(super) fn new(surroundings: &'a dyn Surroundings) -> Self {
        Self {
            surroundings,
            buffers: Buffers::default(),
            desks: BTreeMap::new(),
            touched: BTreeSet::new(),
            grounds: HashMap::new(),
            includers: HashMap::new(),
        }
    }

    /// The open texts.
    pub(super) fn buffers(&self) -> &Buffers {
        &self.buffers
    }

    /// A text as the client last told it, or as it is saved.
    pub(super) fn text(&self, path: &Path) -> Option<String> {
        if let Some(buffer) = self.buffers.get(path) {
            return Some(buffer.text.clone());
        }
        let read = self.desks.values().find_map(|desk| {
            let file = desk.sheet.file_of(path)?;
            desk.sheet.sources.get(file).map(|source| source.text.clone())
        });
        read.or_else(|| self.surroundings.read(path.parent()?, path).ok())
    }

    /// Whether a text was part of an inspection before.
    pub(super) fn knows(&self, path: &Path) -> bool {
        self.desks.values().any(|desk| desk.sheet.holds(path))
    }

    /// Takes a text that was opened or changed.
    pub(super) fn put(&mut self, path: PathBuf, buffer: Buffer) {
        self.touch(&path);
        self.buffers.put(path, buffer);
    }

    /// Lets go of a text: what is saved counts again.
    pub(super) fn close(&mut self, path: &Path) {
        self.buffers.close(path);
        self.touch(path);
    }

    /// Takes note that a file was saved or changed on the disk.
    pub(super) fn saved(&mut self, path: &Path) {
        let plain = self.desks.values().any(|desk| desk.sheet.holds(path));
        if plain && self.buffers.get(path).is_some() {
            // Its text is the one that was inspected.
            return;
        }
        self.grounds.clear();
        self.includers.clear();
        self.touched.extend(self.desks.keys().cloned());
        self.touched.extend(self.buffers.paths().cloned());
    }

    fn touch(&mut self, path: &Path) {
        self.touched.insert(path.to_owned());
        let holding = self.desks.iter().filter(|(_, desk)| desk.sheet.holds(path)).map(|(root, _)| root.clone());
        self.touched.extend(holding);
    }

    fn ground(&mut self, design: &Path) -> Ground {
        if let Some(ground) = self.grounds.get(design) {
            return ground.clone();
        }
        let bench = Rc::new(self.surroundings.bench(design));
        let vocabulary = Rc::new(vocabulary(&bench.catalogue));
        let ground = Ground { bench, vocabulary };
        self.grounds.insert(design.to_owned(), ground.clone());
        ground
    }

    fn read(&self, path: &Path, bench: &Bench, tried: &BTreeMap<PathBuf, String>) -> Option<Read> {
        let files = Overlay { root: &bench.root, buffers: &self.buffers, surroundings: self.surroundings, tried };
        let text = crate::design::ProjectFiles::read(&files, path).ok()?;
        Some(read(path, text, &files, bench))
    }

    /// The designs that an open text belongs to.
    fn roots(&mut self, path: &Path) -> Vec<PathBuf> {
        let Some(buffer) = self.buffers.get(path) else { return Vec::new() };
        let (statements, _) = parse_text(FileId(0), &buffer.text);
        let is = |keyword: &str| statements.iter().any(|statement| statement.name.value == keyword);
        if path.file_name().is_some_and(|name| name == WORKSHOP_FILE) || is("rule") {
            return Vec::new();
        }
        if is("design") {
            return vec![path.to_owned()];
        }
        let Ground { bench, .. } = self.ground(path);
        if bench.owns(path) {
            return Vec::new();
        }
        let including = match self.includers.get(path) {
            Some(known) => known.clone(),
            None => {
                let found = self.including(path, &bench);
                self.includers.insert(path.to_owned(), found.clone());
                found
            }
        };
        let open = self.desks.iter().filter(|(_, desk)| desk.sheet.holds(path)).map(|(root, _)| root.clone());
        let mut roots: Vec<PathBuf> = including.into_iter().chain(open).filter(|root| root != path).collect();
        if roots.is_empty() {
            roots.push(path.to_owned());
        }
        roots
    }

    fn including(&self, path: &Path, bench: &Bench) -> Vec<PathBuf> {
        let none = BTreeMap::new();
        let designs = self.surroundings.designs(&bench.root).into_iter().take(DESIGN_LIMIT);
        designs
            .filter(|design| {
                let read = self.read(design, bench, &none);
                read.is_some_and(|read| read.sources.iter().any(|(id, source)| id > read.file && source.path == path))
            })
            .collect()
    }

    /// Inspects what was touched; gives whether anything was.
    pub(super) fn refresh(&mut self) -> bool {
        if self.touched.is_empty() {
            return false;
        }
        let touched = std::mem::take(&mut self.touched);
        let open: Vec<PathBuf> = self.buffers.paths().cloned().collect();
        let mut wanted = BTreeSet::new();
        let mut due = touched.clone();
        for path in &open {
            let roots = self.roots(path);
            if touched.contains(path) {
                due.extend(roots.iter().cloned());
            }
            wanted.extend(roots);
        }
        self.desks.retain(|root, _| wanted.contains(root));
        for root in wanted {
            if due.contains(&root) || !self.desks.contains_key(&root) {
                self.inspect(&root);
            }
        }
        true
    }

    fn inspect(&mut self, root: &Path) {
        let Ground { bench, vocabulary } = self.ground(root);
        let Some(read) = self.read(root, &bench, &BTreeMap::new()) else {
            self.desks.remove(root);
            return;
        };
        let before = self.desks.get(root).map(|desk| &desk.sheet);
        let memory = match before {
            Some(before) => Memory::keeping_after(Arc::clone(&before.memory)),
            None => Memory::keeping(),
        };
        let sheet = judge(read, bench, self.surroundings.today(), before, memory);
        self.desks.insert(root.to_owned(), Desk { sheet, vocabulary, index: OnceCell::new() });
    }

    /// All notices, by file. Every open text has an entry.
    pub(super) fn notices(&mut self) -> BTreeMap<PathBuf, Vec<Notice>> {
        let mut by_path: BTreeMap<PathBuf, Vec<Notice>> = BTreeMap::new();
        for path in self.buffers.paths() {
            by_path.entry(path.clone()).or_default();
        }
        for notice in self.desks.values().flat_map(|desk| notices(&desk.sheet)) {
            let here = by_path.entry(notice.place.path.clone()).or_default();
            // Two designs may say the same of a file that both include.
            if !here.contains(&notice) {
                here.push(notice);
            }
        }
        by_path
    }

    /// The design that a file is looked at in: its own, or the first that includes it.
    fn desk(&self, path: &Path) -> Option<(&Desk, FileId)> {
        let own = self.desks.get(path);
        let desk = own.or_else(|| self.desks.values().find(|desk| desk.sheet.holds(path)))?;
        let file = desk.sheet.file_of(path)?;
        let current = self
            .buffers
            .get(path)
            .is_none_or(|buffer| desk.sheet.sources.get(file).is_some_and(|source| source.text == buffer.text));
        current.then_some((desk, file))
    }

    pub(super) fn hints(&self, path: &Path) -> Vec<Hint> {
        self.desk(path).map(|(desk, file)| hints(&desk.sheet, desk.index(), file)).unwrap_or_default()
    }

    pub(super) fn hover(&mut self, path: &Path, offset: usize) -> Option<(String, Place)> {
        if let Some((desk, file)) = self.desk(path) {
            let known = hover(&desk.sheet, desk.index(), file, offset);
            let found = found_at(&desk.sheet, file, offset);
            let span = known.as_ref().map(|(_, span)| *span).or(found.as_ref().map(|(_, span)| *span));
            let texts: Vec<String> = [found, known].into_iter().flatten().map(|(text, _)| text).collect();
            if let Some(span) = span {
                return Some((texts.join("\n\n---\n\n"), place(&desk.sheet.sources, span)));
            }
        }
        self.rule_hover(path, offset)
    }

    /// The lesson of a rule named in a workshop file.
    fn rule_hover(&mut self, path: &Path, offset: usize) -> Option<(String, Place)> {
        let text = self.buffers.get(path)?.text.clone();
        let Ground { bench, .. } = self.ground(path);
        let (statements, _) = parse_text(FileId(0), &text);
        let named = statements.iter().filter(|one| matches!(one.name.value.as_str(), "adjust" | "quiet" | "waive"));
        let word = named
            .filter_map(|one| word(one.argument(0)?))
            .find(|word| word.span.start <= offset && offset <= word.span.end)?;
        let lesson = super::hover::lesson(bench.rules.rule(&word.value)?);
        Some((lesson, Place { path: path.to_owned(), start: word.span.start, end: word.span.end }))
    }

    /// Suggestions. The text is that of the buffer, the names are those of the last inspection: no need to wait for one.
    pub(super) fn complete(&mut self, path: &Path, offset: usize) -> Vec<Suggestion> {
        let Some(text) = self.buffers.get(path).map(|buffer| buffer.text.clone()) else { return Vec::new() };
        let workshop = path.file_name().is_some_and(|name| name == WORKSHOP_FILE);
        let Ground { bench, vocabulary } = self.ground(path);
        let own = self.desks.get(path);
        let desk = own.or_else(|| self.desks.values().find(|desk| desk.sheet.holds(path)));
        let none = Index::default();
        let index = desk.map_or(&none, Desk::index);
        let scope =
            desk.and_then(|desk| desk.sheet.file_of(path).and_then(|file| index.files.get(&file).cloned())).flatten();
        let shelf = |name: &str| {
            let stocked = bench.workshop.as_ref().and_then(|workshop| workshop.shelf(name));
            stocked.unwrap_or_else(|| bench.catalogue.shelf(name)).to_vec()
        };
        let stock = Stock {
            vocabulary: &vocabulary,
            catalogue: &bench.catalogue,
            rules: &bench.rules,
            index,
            design: desk.and_then(|desk| desk.sheet.design.as_ref()),
            shelf: &shelf,
        };
        complete(&text, offset, workshop, &scope, stock)
    }

    pub(super) fn actions(&self, path: &Path, stretch: (usize, usize)) -> Vec<Action> {
        let Some((desk, file)) = self.desk(path) else { return Vec::new() };
        let sheet = &desk.sheet;
        let trial = |tried: BTreeMap<PathBuf, String>| {
            let read = self.read(&sheet.path, &sheet.bench, &tried)?;
            let memory = Memory::of(Arc::clone(&sheet.memory));
            Some(judge(read, Rc::clone(&sheet.bench), self.surroundings.today(), None, memory))
        };
        actions(sheet, desk.index(), file, stretch, &trial)
    }

    pub(super) fn definition(&self, path: &Path, offset: usize) -> Option<Place> {
        let (desk, file) = self.desk(path)?;
        let found = desk.index().word_at(file, offset)?;
        match &found.entity {
            Entity::Include { path } => Some(Place { path: path.clone(), start: 0, end: 0 }),
            Entity::Rule { name } => {
                let rule = desk.sheet.bench.rules.rule(name)?;
                let place = place(&desk.sheet.bench.sources, rule.span);
                (!place.path.as_os_str().is_empty()).then_some(place)
            }
            entity => Some(place(&desk.sheet.sources, desk.index().origin(entity)?.span)),
        }
    }

    pub(super) fn references(&self, path: &Path, offset: usize, with_origin: bool) -> Vec<Place> {
        let Some((desk, file)) = self.desk(path) else { return Vec::new() };
        let Some(found) = desk.index().at(file, offset) else { return Vec::new() };
        let all = desk.index().all(&found.entity).filter(|found| with_origin || !found.defines);
        all.map(|found| place(&desk.sheet.sources, found.span)).collect()
    }

    /// The name that would be renamed, with its place.
    ///
    /// # Errors
    /// A sentence for the user.
    pub(super) fn renamable(&self, path: &Path, offset: usize) -> Result<(Place, Entity), String> {
        let nothing = || "there is nothing here that has a name".to_owned();
        let (desk, file) = self.desk(path).ok_or_else(nothing)?;
        let found = desk.index().at(file, offset).ok_or_else(nothing)?;
        renamable(found)?;
        Ok((place(&desk.sheet.sources, found.span), found.entity.clone()))
    }

    /// The edits of a renaming, in all designs of the project that it touches.
    ///
    /// # Errors
    /// A sentence for the user.
    pub(super) fn rename(&mut self, path: &Path, offset: usize, new: &str) -> Result<BTreeSet<Edit>, String> {
        let (at, entity) = self.renamable(path, offset)?;
        let Ground { bench, .. } = self.ground(path);
        let mut roots: BTreeSet<PathBuf> =
            self.surroundings.designs(&bench.root).into_iter().take(DESIGN_LIMIT).collect();
        roots.extend(self.desks.keys().cloned());
        let mut designs = Vec::new();
        let none = BTreeMap::new();
        for root in roots {
            let Ground { bench, vocabulary } = self.ground(&root);
            let Some(read) = self.read(&root, &bench, &none) else { continue };
            let index = index(&read.sources, read.file, &vocabulary, &bench.catalogue);
            designs.push((Named { read, index }, bench));
        }
        let (named, benches): (Vec<Named>, Vec<Rc<Bench>>) = designs.into_iter().unzip();
        let edits = rename(&named, &entity, &at, new)?;
        for (Named { read, .. }, bench) in named.iter().zip(&benches) {
            let Some(tried) = renamed(read, &edits) else { return Err("the edits overlap".to_owned()) };
            let after = self.read(&read.path, bench, &tried);
            if !after.is_some_and(|after| same_circuit(read, &after)) {
                return Err(format!("`{new}` would mean something else in `{}`", read.path.display()));
            }
        }
        Ok(edits)
    }

    pub(super) fn outline(&self, path: &Path) -> Vec<Item> {
        self.buffers.get(path).map(|buffer| outline(&buffer.text)).unwrap_or_default()
    }

    pub(super) fn tokens(&mut self, path: &Path) -> Vec<Token> {
        let Some(text) = self.buffers.get(path).map(|buffer| buffer.text.clone()) else { return Vec::new() };
        let Ground { vocabulary, .. } = self.ground(path);
        let desk = self.desk(path);
        tokens(&text, &vocabulary, desk.map(|(desk, file)| (desk.index(), file)))
    }
}
