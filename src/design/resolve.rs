//! What a word means where it stands: a port, a reserved net, a part's terminal, a net of its own scope.
//!
//! References are resolved after all parts are known, so their order in the file does not matter.

use std::cell::RefCell;
use std::collections::HashSet;

use crate::source::{Complaint, Span, Spanned};

use super::suggest::{any_of, nearest, nearest_name};
use super::template::RESERVED_NETS;
use super::unfold::Unfolded;
use super::{Kind, PartId, Reference, TerminalId, explain};

/// After so many, complaints come without a suggestion: looking for one costs time.
const SUGGESTION_LIMIT: usize = 100;
/// How many ports may pass a connection on to each other.
const CHAIN_LIMIT: usize = 64;

/// What a word names.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Target {
    /// A net or a terminal.
    One(Reference),
    /// A part as a whole.
    Part(PartId),
    /// A section of a tube.
    Section(PartId, String),
    /// Something that could not be read; there is a complaint already.
    Lost,
}

#[derive(Clone)]
enum Bound {
    Open,
    InProgress,
    Done(Target),
}

/// Resolves words in the scope of each copy.
pub(super) struct Resolver<'a> {
    unfolded: &'a Unfolded<'a>,
    bound: RefCell<Vec<Vec<Bound>>>,
    told: RefCell<HashSet<(Span, String)>>,
    complaints: &'a RefCell<Vec<Complaint>>,
}

impl<'a> Resolver<'a> {
    pub(super) fn new(unfolded: &'a Unfolded<'a>, complaints: &'a RefCell<Vec<Complaint>>) -> Self {
        let bound = unfolded.copies.iter().map(|copy| vec![Bound::Open; copy.scope.ports.len()]).collect();
        Self { unfolded, bound: RefCell::new(bound), told: RefCell::new(HashSet::new()), complaints }
    }

    pub(super) fn complain(&self, complaint: Complaint) {
        // Parts are missing then, and it was said why.
        if self.unfolded.stopped {
            return;
        }
        let fresh = complaint.span.is_none_or(|span| self.told.borrow_mut().insert((span, complaint.message.clone())));
        if fresh {
            self.complaints.borrow_mut().push(complaint);
        }
    }

    fn may_suggest(&self) -> bool {
        self.told.borrow().len() < SUGGESTION_LIMIT
    }

    /// The net or terminal that a word names in a copy; nothing where a complaint was made.
    pub(super) fn reference(&self, copy: usize, word: &Spanned<String>) -> Option<Spanned<Reference>> {
        let target = self.target(copy, word, false, 0)?;
        let part = match target {
            Target::One(reference) => return Some(Spanned::new(reference, word.span)),
            Target::Lost => return None,
            Target::Part(part) | Target::Section(part, _) => part,
        };
        self.complain(explain::whole_part(self.unfolded, part, &target, word));
        None
    }

    /// What a word names in a copy; `whole` where a part of the top level may be meant as a whole.
    fn target(&self, copy: usize, word: &Spanned<String>, whole: bool, chain: usize) -> Option<Target> {
        let here = self.unfolded.copies.get(copy)?;
        let pieces: Vec<&str> = word.value.split('.').collect();
        let first = pieces.first().copied().unwrap_or("");
        if let Some(port) = here.scope.ports.iter().position(|port| port.value == first) {
            let target = self.port(copy, port, word.span, chain);
            let rest = pieces.get(1..).unwrap_or(&[]).join(".");
            if rest.is_empty() {
                return Some(target);
            }
            return match target {
                Target::Part(part) => self.terminal(part, "", &rest, word),
                Target::Section(part, suffix) => self.terminal(part, &suffix, &rest, word),
                Target::Lost => Some(Target::Lost),
                Target::One(_) => {
                    self.complain(
                        Complaint::at(
                            word.span,
                            format!("the port `{first}` is given a net, which has no terminals"),
                            format!("`{rest}` is a terminal of what?"),
                        )
                        .help(format!("give the port a whole part or a tube section, such as `{first}=V1a`")),
                    );
                    None
                }
            };
        }
        if RESERVED_NETS.contains(&word.value.as_str()) {
            return Some(Target::One(Reference::Net(word.value.clone())));
        }
        let prefixes = if here.prefix.is_empty() { vec![""] } else { vec![here.prefix.as_str(), ""] };
        for prefix in &prefixes {
            let own = *prefix == here.prefix;
            if let Some(found) = self.in_parts(prefix, &pieces, word, own || whole) {
                return found;
            }
        }
        if pieces.len() == 1 {
            let net = format!("{}{first}", here.prefix);
            return Some(Target::One(Reference::Net(net)));
        }
        for prefix in &prefixes {
            if let Some(found) = self.in_copies(prefix, &pieces, word, chain) {
                return found;
            }
        }
        let suggest = self.may_suggest();
        self.complain(explain::unknown(self.unfolded, copy, word, first, suggest));
        None
    }

    /// A part or section whose name is the beginning of the word. `Some(None)` where a complaint was made.
    fn in_parts(&self, prefix: &str, pieces: &[&str], word: &Spanned<String>, whole: bool) -> Option<Option<Target>> {
        for taken in (1..=pieces.len()).rev() {
            let complete = taken == pieces.len();
            if complete && taken == 1 && !whole {
                continue;
            }
            let (name, rest) = pieces.split_at(taken);
            let name = format!("{prefix}{}", name.join("."));
            let rest = rest.join(".");
            if let Some(part) = self.unfolded.part_names.get(&name).copied() {
                return Some(if complete { Some(Target::Part(part)) } else { self.terminal(part, "", &rest, word) });
            }
            if let Some((part, suffix)) = self.section(&name) {
                return Some(if complete {
                    Some(Target::Section(part, suffix))
                } else {
                    self.terminal(part, &suffix, &rest, word)
                });
            }
            if self.is_lost(&name) {
                return Some(Some(Target::Lost));
            }
        }
        None
    }

    fn section(&self, name: &str) -> Option<(PartId, String)> {
        // A suffix is a letter or two; a longer search would find no more.
        name.char_indices().rev().take(2).find_map(|(index, _)| {
            let (base, suffix) = name.split_at_checked(index)?;
            let part = self.unfolded.part_names.get(base).copied()?;
            match self.unfolded.parts.get(part.0).map(|part| &part.kind) {
                Some(Kind::Tube(tube)) if tube.sections.iter().any(|section| section.suffix == suffix) => {
                    Some((part, suffix.to_owned()))
                }
                _ => None,
            }
        })
    }

    /// Whether a full name is that of a part that could not be read, or a section of such a tube.
    fn is_lost(&self, name: &str) -> bool {
        if self.unfolded.lost_copies.contains(name) {
            return true;
        }
        let (copy, last) = match name.rsplit_once('.') {
            Some((copy, last)) => match self.unfolded.copy_names.get(copy) {
                Some(copy) => (*copy, last),
                None => return false,
            },
            None => (0, name),
        };
        let Some(copy) = self.unfolded.copies.get(copy) else {
            return false;
        };
        let lost = &copy.scope.lost;
        let mut without = last.chars();
        without.next_back();
        lost.contains(last) || (!without.as_str().is_empty() && lost.contains(without.as_str()))
    }

    /// A net or port of a fitted copy, seen from outside: `left.volume`.
    fn in_copies(&self, prefix: &str, pieces: &[&str], word: &Spanned<String>, chain: usize) -> Option<Option<Target>> {
        for taken in (1..pieces.len()).rev() {
            let (name, rest) = pieces.split_at(taken);
            let full = format!("{prefix}{}", name.join("."));
            let Some(index) = self.unfolded.copy_names.get(&full).copied() else {
                continue;
            };
            let copy = self.unfolded.copies.get(index)?;
            let net = rest.first().copied().unwrap_or("");
            if rest.len() == 1
                && let Some(port) = copy.scope.ports.iter().position(|port| port.value == net)
            {
                return Some(Some(self.port(index, port, word.span, chain)));
            }
            if rest.len() == 1 && copy.scope.nets.contains(net) {
                return Some(Some(Target::One(Reference::Net(format!("{full}.{net}")))));
            }
            let known = copy
                .scope
                .names
                .keys()
                .chain(&copy.scope.nets)
                .map(String::as_str)
                .chain(copy.scope.ports.iter().map(|port| port.value.as_str()));
            let complaint = Complaint::at(
                word.span,
                format!("`{}` has no part, port or net called `{net}`", name.join(".")),
                "not known",
            );
            let near = self.may_suggest().then(|| nearest_sorted(net, known)).flatten();
            self.complain(match near {
                Some(near) => complaint.help(format!("did you mean `{}.{near}`?", name.join("."))),
                None => complaint,
            });
            return Some(None);
        }
        None
    }

    /// What a port of a copy is joined to.
    fn port(&self, copy: usize, port: usize, asked_at: Span, chain: usize) -> Target {
        let state = self.bound.borrow().get(copy).and_then(|ports| ports.get(port)).cloned();
        match state {
            Some(Bound::Done(target)) => return target,
            Some(Bound::Open) if chain < CHAIN_LIMIT => {}
            None => return Target::Lost,
            Some(Bound::Open | Bound::InProgress) => {
                self.complain(
                    Complaint::at(
                        asked_at,
                        "these ports are joined to nothing but each other",
                        "no net is named here or further on",
                    )
                    .help("name a net in one of the `fit` statements"),
                );
                return Target::Lost;
            }
        }
        self.set(copy, port, Bound::InProgress);
        let target = self.bind(copy, port, chain).unwrap_or(Target::Lost);
        self.set(copy, port, Bound::Done(target.clone()));
        target
    }

    fn set(&self, copy: usize, port: usize, state: Bound) {
        if let Some(slot) = self.bound.borrow_mut().get_mut(copy).and_then(|ports| ports.get_mut(port)) {
            *slot = state;
        }
    }

    fn bind(&self, copy: usize, port: usize, chain: usize) -> Option<Target> {
        let here = self.unfolded.copies.get(copy)?;
        let (parent, fit) = here.fitted?;
        let port = here.scope.ports.get(port)?;
        if let Some((_, to)) = fit.ports.iter().find(|(name, _)| name.value == port.value) {
            return self.target(parent, to, true, chain + 1);
        }
        if !fit.broken {
            self.complain(
                Complaint::at(
                    fit.name.span,
                    format!("the port `{}` of the stage `{}` is joined to nothing", port.value, fit.stage.value),
                    format!("`{}=…` is missing", port.value),
                )
                .also(port.span, "the port is named here"),
            );
        }
        None
    }

    /// Resolves every port of every copy, and complains of ports that no stage has.
    pub(super) fn bind_all(&self) {
        for (index, copy) in self.unfolded.copies.iter().enumerate() {
            let Some((_, fit)) = copy.fitted else {
                continue;
            };
            for port in 0..copy.scope.ports.len() {
                self.port(index, port, fit.span, 0);
            }
            for (name, _) in &fit.ports {
                if copy.scope.ports.iter().any(|port| port.value == name.value) {
                    continue;
                }
                let known: Vec<&str> = copy.scope.ports.iter().map(|port| port.value.as_str()).collect();
                let complaint = Complaint::at(
                    name.span,
                    format!("the stage `{}` has no port `{}`", fit.stage.value, name.value),
                    "not a port of it",
                );
                self.complain(match nearest(&name.value, known.iter().copied()) {
                    Some(near) => complaint.help(format!("did you mean `{near}`?")),
                    None if known.is_empty() => complaint.help("it has no ports at all"),
                    None => complaint.help(format!("its ports: {}", any_of(&known))),
                });
            }
        }
    }

    fn terminal(&self, id: PartId, suffix: &str, rest: &str, word: &Spanned<String>) -> Option<Target> {
        let part = self.unfolded.parts.get(id.0)?;
        let has = |name: &str| part.terminals.iter().any(|terminal| terminal == name);
        let within = if suffix.is_empty() { rest.to_owned() } else { format!("{suffix}.{rest}") };
        // The heater belongs to the whole tube, whichever section it is asked of.
        let name = if has(&within) {
            within
        } else if rest.starts_with("heater.") && has(rest) {
            rest.to_owned()
        } else {
            self.complain(explain::no_terminal(self.unfolded, id, suffix, rest, word));
            return None;
        };
        Some(Target::One(Reference::Terminal(TerminalId { part: id, name })))
    }

    /// The full name of what a waiver or a reading speaks of: a part, a section, a winding, a terminal or a net.
    pub(super) fn subject(&self, copy: usize, word: &Spanned<String>, nets: &HashSet<String>) -> Option<String> {
        let here = self.unfolded.copies.get(copy)?;
        for prefix in [here.prefix.as_str(), ""] {
            let full = format!("{prefix}{}", word.value);
            if nets.contains(&full) || self.unfolded.copy_names.contains_key(&full) {
                return Some(full);
            }
            let pieces: Vec<&str> = full.split('.').collect();
            for taken in (1..=pieces.len()).rev() {
                let (name, rest) = pieces.split_at(taken);
                let (name, rest) = (name.join("."), rest.join("."));
                let found = match self.unfolded.part_names.get(&name) {
                    Some(part) => Some((*part, String::new())),
                    None => self.section(&name),
                };
                let Some((part, suffix)) = found else {
                    continue;
                };
                let within = [suffix.as_str(), rest.as_str()]
                    .iter()
                    .filter(|piece| !piece.is_empty())
                    .copied()
                    .collect::<Vec<_>>()
                    .join(".");
                let group = format!("{within}.");
                let known = within.is_empty()
                    || self.unfolded.parts.get(part.0).is_some_and(|part| {
                        part.terminals.iter().any(|terminal| *terminal == within || terminal.starts_with(&group))
                    });
                if known {
                    return Some(full);
                }
            }
        }
        None
    }
}

/// The nearest of candidates whose order is that of a hash map: sorted first, so that the answer is always the same.
fn nearest_sorted<'a>(written: &str, candidates: impl Iterator<Item = &'a str>) -> Option<&'a str> {
    let mut sorted: Vec<&str> = candidates.collect();
    sorted.sort_unstable();
    nearest_name(written, sorted)
}
