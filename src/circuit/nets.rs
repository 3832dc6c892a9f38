//! References and wires merged into nets, by union and find.

use std::collections::HashMap;

use crate::design::{Design, Kind, PartId, Reference, TerminalId};
use crate::source::Span;

/// A net's place in [`super::Circuit::nets`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NetId(pub usize);

/// Everything that wire and names join.
#[derive(Clone, Debug, PartialEq)]
pub struct Net {
    /// The name shown: `ground` before other reserved names, then the first name given, then its first terminal.
    pub name: String,
    /// All names given to it, with how often each is used and where first.
    pub names: Vec<(String, usize, Span)>,
    /// The terminals that meet here, with the reference that joins each.
    pub terminals: Vec<(TerminalId, Span)>,
    /// Where it is first spoken of.
    pub span: Span,
}

pub(super) struct Merged {
    pub nets: Vec<Net>,
    pub by_terminal: HashMap<TerminalId, NetId>,
    pub by_name: HashMap<String, NetId>,
    /// For each wire of the design: whether it joins something that was not joined before.
    pub wire_joins: Vec<bool>,
}

const RESERVED: [&str; 3] = ["ground", "earth", "chassis"];

struct Sets {
    parent: Vec<usize>,
}

impl Sets {
    fn add(&mut self) -> usize {
        self.parent.push(self.parent.len());
        self.parent.len() - 1
    }

    fn root(&mut self, mut item: usize) -> usize {
        while self.parent[item] != item {
            self.parent[item] = self.parent[self.parent[item]];
            item = self.parent[item];
        }
        item
    }

    /// Joins two sets; whether they were apart. The smaller number stays root, so that order is that of the source.
    fn join(&mut self, a: usize, b: usize) -> bool {
        let (a, b) = (self.root(a), self.root(b));
        if a == b {
            return false;
        }
        self.parent[a.max(b)] = a.min(b);
        true
    }
}

struct Builder {
    sets: Sets,
    names: HashMap<String, usize>,
    terminals: HashMap<TerminalId, usize>,
    /// In order of first mention: the set item, and what it is.
    mentions: Vec<(usize, Mention)>,
}

enum Mention {
    Name(String, Span),
    Terminal(TerminalId, Span),
}

impl Builder {
    fn name(&mut self, name: &str, span: Span) -> usize {
        let item = match self.names.get(name) {
            Some(item) => *item,
            None => {
                let item = self.sets.add();
                self.names.insert(name.to_owned(), item);
                item
            }
        };
        self.mentions.push((item, Mention::Name(name.to_owned(), span)));
        item
    }

    fn terminal(&mut self, terminal: &TerminalId, span: Span) -> usize {
        if let Some(item) = self.terminals.get(terminal) {
            return *item;
        }
        let item = self.sets.add();
        self.terminals.insert(terminal.clone(), item);
        self.mentions.push((item, Mention::Terminal(terminal.clone(), span)));
        item
    }

    fn reference(&mut self, reference: &Reference, span: Span) -> usize {
        match reference {
            Reference::Net(name) => self.name(name, span),
            Reference::Terminal(terminal) => self.terminal(terminal, span),
        }
    }
}

pub(super) fn merge(design: &Design) -> Merged {
    let (builder, wire_joins) = joined(design, None);
    collect(builder, wire_joins)
}

/// Whether two terminals are one net without a wire of the design.
pub(super) fn joined_without(design: &Design, wire: usize, a: &TerminalId, b: &TerminalId) -> bool {
    let (mut builder, _) = joined(design, Some(wire));
    let roots = [a, b].map(|terminal| {
        let item = builder.terminals.get(terminal).copied();
        item.map(|item| builder.sets.root(item))
    });
    roots[0].is_some() && roots[0] == roots[1]
}

fn joined(design: &Design, without: Option<usize>) -> (Builder, Vec<bool>) {
    let mut builder = Builder {
        sets: Sets { parent: Vec::new() },
        names: HashMap::new(),
        terminals: HashMap::new(),
        mentions: Vec::new(),
    };
    for (id, part) in design.ids() {
        for connection in &part.connections {
            let own = TerminalId { part: id, name: connection.terminal.clone() };
            let a = builder.terminal(&own, connection.to.span);
            let b = builder.reference(&connection.to.value, connection.to.span);
            builder.sets.join(a, b);
        }
        ground_unused(&mut builder, id, &part.kind);
        if let Kind::Tube(tube) = &part.kind
            && (tube.directly_heated() || tube.joined_cathode())
            && tube.heater.is_some()
        {
            // The middle of a filament is a place of the circuit even where nothing is joined to it, and so is a cathode
            // that its heater leads out.
            builder.terminal(&TerminalId { part: id, name: "cathode".to_owned() }, part.name_span);
        }
    }
    let wire_joins = design
        .wires
        .iter()
        .enumerate()
        .filter(|(place, _)| Some(*place) != without)
        .map(|(_, wire)| {
            let ends: Vec<usize> = wire.ends.iter().map(|end| builder.reference(&end.value, end.span)).collect();
            let mut joins = false;
            for pair in ends.windows(2) {
                joins |= builder.sets.join(pair[0], pair[1]);
            }
            joins
        })
        .collect();
    (builder, wire_joins)
}

/// The electrodes of a section that is left out on purpose are taken to be grounded, unless they are joined elsewhere.
fn ground_unused(builder: &mut Builder, id: PartId, kind: &Kind) {
    let Kind::Tube(tube) = kind else { return };
    for unused in &tube.unused {
        for section in tube.sections.iter().filter(|section| section.suffix == unused.value) {
            for electrode in section.kind.electrodes() {
                let name = super::graph::electrode_name(&section.suffix, electrode);
                let a = builder.terminal(&TerminalId { part: id, name }, unused.span);
                let b = builder.name("ground", unused.span);
                builder.sets.join(a, b);
            }
        }
    }
}

fn collect(mut builder: Builder, wire_joins: Vec<bool>) -> Merged {
    let mut place: HashMap<usize, NetId> = HashMap::new();
    let mut nets: Vec<Net> = Vec::new();
    let mentions = std::mem::take(&mut builder.mentions);
    for (item, mention) in mentions {
        let root = builder.sets.root(item);
        let span = match &mention {
            Mention::Name(_, span) | Mention::Terminal(_, span) => *span,
        };
        let id = *place.entry(root).or_insert_with(|| {
            nets.push(Net { name: String::new(), names: Vec::new(), terminals: Vec::new(), span });
            NetId(nets.len() - 1)
        });
        let net = &mut nets[id.0];
        match mention {
            Mention::Name(name, span) => match net.names.iter_mut().find(|(known, ..)| *known == name) {
                Some((_, uses, _)) => *uses += 1,
                None => net.names.push((name, 1, span)),
            },
            Mention::Terminal(terminal, span) => net.terminals.push((terminal, span)),
        }
    }
    let by_terminal = nets
        .iter()
        .enumerate()
        .flat_map(|(i, net)| net.terminals.iter().map(move |(terminal, _)| (terminal.clone(), NetId(i))))
        .collect();
    let by_name = nets
        .iter()
        .enumerate()
        .flat_map(|(i, net)| net.names.iter().map(move |(name, ..)| (name.clone(), NetId(i))))
        .collect();
    Merged { nets, by_terminal, by_name, wire_joins }
}

pub(super) fn choose_names(nets: &mut [Net], design: &Design) {
    for net in nets {
        let reserved = RESERVED.into_iter().find(|name| net.names.iter().any(|(known, ..)| known == name));
        net.name = reserved
            .map(str::to_owned)
            .or_else(|| net.names.first().map(|(name, ..)| name.clone()))
            .or_else(|| {
                // A builder finds a net by the electrode on it sooner than by the resistor.
                let electrode = |t: &TerminalId| matches!(design.part(t.part).kind, Kind::Tube(_));
                let named = net.terminals.iter().find(|(terminal, _)| electrode(terminal)).or(net.terminals.first());
                named.map(|(terminal, _)| design.terminal_label(terminal))
            })
            .unwrap_or_default();
    }
}
