//! Reads a design: gathers its files, reads its statements, unfolds its stages, resolves its references.

use std::cell::RefCell;
use std::collections::HashSet;

use crate::catalogue::Devices;
use crate::source::{Complaint, FileId, Sources, Span, Spanned, Statement, parse};

use super::include::{ProjectFiles, gather};
use super::ledger::Ledger;
use super::reader::{Top, read_top};
use super::resolve::Resolver;
use super::template::{Context, Scope, WaiverTemplate};
use super::unfold::{Unfolded, unfold};
use super::workshop::Workshop;
use super::{Connection, Design, Kind, Mains, PartId, Reading, Reference, TerminalId, Waiver, Wire};

/// What came of reading a file as a design.
#[derive(Clone, Debug, Default)]
pub struct DesignReading {
    /// The design, as far as it could be read; none of a fragment or an empty file.
    pub design: Option<Design>,
    /// What could not be read, in order of place.
    pub complaints: Vec<Complaint>,
    /// Set where the file has no `design` statement: what to say when it was named directly.
    pub fragment: Option<Complaint>,
}

/// Reads a file as a design, with everything that it includes.
///
/// Mains that the design does not state are the workshop's. As many complaints as can be are made in one run,
/// and what can be read is read: a part that could not be read is left out, and references to it are passed over.
pub fn read_design(
    sources: &mut Sources,
    root: FileId,
    files: &dyn ProjectFiles,
    devices: &dyn Devices,
    workshop: Option<&Workshop>,
) -> DesignReading {
    let mut complaints = Vec::new();
    let statements = gather(sources, root, files, &mut complaints);
    let start = Span::new(root, 0, 0);
    if statements.is_empty() {
        if complaints.is_empty() {
            complaints.push(
                Complaint::at(start, "this file is empty", "a design begins with `design`")
                    .help("begin with `design \"Title\"`"),
            );
        }
        return DesignReading { design: None, complaints, fragment: None };
    }
    let cell = Ledger::new(complaints);
    let mains = workshop.and_then(|workshop| workshop.mains.clone());
    let top = read(&statements, devices, &cell);
    let fragment = top.title.is_none().then(|| {
        Complaint::at(start, "this file has no `design` statement", "a fragment begins here")
            .help("begin with `design \"Title\"`, or name the design that includes this file")
    });
    // A fragment may speak of parts that only its design has, so its references are not judged.
    let design = top.title.clone().map(|title| assemble(root, title, &top, mains, &cell));
    DesignReading { design, complaints: in_order(cell.into_complaints()), fragment }
}

/// Reads a fragment as a design of its own, for the examples of rules: no includes, no mains unless stated.
///
/// A `design` statement is allowed and gives the title; else the title is `example`.
pub fn read_fragment(sources: &Sources, file: FileId, devices: &dyn Devices) -> DesignReading {
    let (statements, complaints) = parse(sources, file);
    let cell = Ledger::new(complaints);
    for statement in statements.iter().filter(|statement| statement.name.value == "include") {
        cell.borrow_mut().push(Complaint::at(statement.name.span, "an example includes no other file", "not read"));
    }
    let top = read(&statements, devices, &cell);
    let title = top.title.clone().unwrap_or_else(|| Spanned::new("example".to_owned(), Span::new(file, 0, 0)));
    let design = assemble(file, title, &top, None, &cell);
    DesignReading { design: Some(design), complaints: in_order(cell.into_complaints()), fragment: None }
}

fn read(statements: &[Statement], devices: &dyn Devices, complaints: &Ledger) -> Top {
    let context = Context { devices, complaints };
    read_top(statements, &context)
}

fn in_order(mut complaints: Vec<Complaint>) -> Vec<Complaint> {
    complaints.sort_by(|a, b| {
        let key = |complaint: &Complaint| complaint.span.map(|span| (span.file, span.start, span.end));
        key(a).cmp(&key(b)).then_with(|| a.message.cmp(&b.message))
    });
    complaints.dedup();
    complaints
}

fn assemble(
    file: FileId,
    title: Spanned<String>,
    top: &Top,
    workshop_mains: Option<Mains>,
    complaints: &RefCell<Vec<Complaint>>,
) -> Design {
    let unfolded = unfold(&top.scope, &top.stages, complaints);
    let resolver = Resolver::new(&unfolded, complaints);
    resolver.bind_all();
    let mut design = Design {
        file,
        title,
        revision: top.revision.clone(),
        author: top.author.clone(),
        notes: top.notes.clone(),
        mains: top.mains.clone().or(workshop_mains),
        band: top.band.clone(),
        parts: Vec::new(),
        wires: Vec::new(),
        readings: Vec::new(),
        waivers: Vec::new(),
    };
    let connections: Vec<Vec<Connection>> = unfolded
        .made
        .iter()
        .map(|made| {
            made.template
                .body
                .joins
                .iter()
                .filter_map(|join| {
                    Some(Connection { terminal: join.terminal.clone(), to: resolver.reference(made.copy, &join.to)? })
                })
                .collect()
        })
        .collect();
    for (index, copy) in unfolded.copies.iter().enumerate() {
        join_up(&mut design, index, copy.scope, &resolver);
    }
    let nets = nets(&design, &connections);
    waivers(&mut design, &unfolded, &resolver, &nets);
    inputs_heard(&unfolded, &resolver);
    unfitted(file, top, &resolver);
    design.parts = unfolded.parts.clone();
    for (part, connections) in design.parts.iter_mut().zip(connections) {
        part.connections = connections;
    }
    mark_centre_taps(&mut design);
    design
}

fn join_up(design: &mut Design, copy: usize, scope: &Scope, resolver: &Resolver<'_>) {
    for wire in &scope.wires {
        let ends: Vec<_> = wire.ends.iter().filter_map(|end| resolver.reference(copy, end)).collect();
        if ends.len() >= 2 {
            design.wires.push(Wire { ends, span: wire.span });
        }
    }
    for reading in &scope.readings {
        if let Some(at) = resolver.reference(copy, &reading.at) {
            design.readings.push(Reading {
                at,
                voltage: reading.voltage.clone(),
                by: reading.by.clone(),
                tolerance: reading.tolerance,
                span: reading.span,
            });
        }
    }
}

/// All nets that a part or a wire joins.
fn nets(design: &Design, connections: &[Vec<Connection>]) -> HashSet<String> {
    let joined = connections.iter().flatten().map(|join| &join.to.value);
    let wired = design.wires.iter().flat_map(|wire| wire.ends.iter().map(|end| &end.value));
    joined
        .chain(wired)
        .filter_map(|reference| match reference {
            Reference::Net(net) => Some(net.clone()),
            Reference::Terminal(_) => None,
        })
        .collect()
}

fn waivers(design: &mut Design, unfolded: &Unfolded<'_>, resolver: &Resolver<'_>, nets: &HashSet<String>) {
    let waiver = |template: &WaiverTemplate, part: Option<Spanned<String>>| Waiver {
        rule: template.rule.clone(),
        part,
        because: template.because.clone(),
        until: template.until.clone(),
        span: template.span,
    };
    for (part, made) in unfolded.parts.iter().zip(&unfolded.made) {
        for template in &made.template.waivers {
            let name = Spanned::new(part.name.clone(), part.name_span);
            design.waivers.push(waiver(template, Some(name)));
        }
    }
    for (index, copy) in unfolded.copies.iter().enumerate() {
        for template in &copy.scope.waivers {
            let Some(word) = &template.subject else {
                design.waivers.push(waiver(template, None));
                continue;
            };
            match resolver.subject(index, word, nets) {
                Some(full) => {
                    let subject = Spanned::new(full, word.span);
                    design.waivers.push(waiver(template, Some(subject)));
                }
                None if copy.scope.lost.contains(&word.value) => {}
                None => resolver.complain(Complaint::at(
                    word.span,
                    format!("there is no part or net called `{}`", word.value),
                    "nothing to waive for",
                )),
            }
        }
    }
}

/// `of=` of an output must name an input.
fn inputs_heard(unfolded: &Unfolded<'_>, resolver: &Resolver<'_>) {
    for (part, made) in unfolded.parts.iter().zip(&unfolded.made) {
        let Kind::Output(output) = &part.kind else {
            continue;
        };
        let Some(of) = output.of.as_ref().filter(|of| !of.value.is_empty()) else {
            continue;
        };
        let prefix = unfolded.copies.get(made.copy).map_or("", |copy| copy.prefix.as_str());
        let heard = [prefix, ""].iter().any(|prefix| {
            unfolded
                .part_names
                .get(&format!("{prefix}{}", of.value))
                .and_then(|id| unfolded.parts.get(id.0))
                .is_some_and(|part| matches!(part.kind, Kind::Input(_)))
        });
        if !heard {
            resolver.complain(Complaint::at(
                of.span,
                format!("there is no input called `{}`", of.value),
                "`of` names an input of this design",
            ));
        }
    }
}

/// A stage of the design's own file that nobody fits is worth saying; an included library may hold more than is used.
fn unfitted(file: FileId, top: &Top, resolver: &Resolver<'_>) {
    let fitted: HashSet<&str> = std::iter::once(&top.scope)
        .chain(top.stages.values().map(|stage| &stage.scope))
        .flat_map(|scope| scope.fits.iter().map(|fit| fit.stage.value.as_str()))
        .collect();
    for stage in top.stages.values() {
        let own = stage.name.span.file == file;
        if own && !fitted.contains(stage.name.value.as_str()) {
            resolver.complain(
                Complaint::at(
                    stage.name.span,
                    format!("the stage `{}` is fitted nowhere", stage.name.value),
                    "its parts are in no circuit",
                )
                .warning(),
            );
        }
    }
}

/// An output transformer whose centre is joined from elsewhere is centre-tapped too; a winding whose centre is joined to
/// nothing is one winding from end to end, as the wire in it is.
fn mark_centre_taps(design: &mut Design) {
    let own = design.ids().flat_map(|(id, part)| {
        let name = |join: &Connection| TerminalId { part: id, name: join.terminal.clone() };
        part.connections.iter().map(name).collect::<Vec<_>>()
    });
    let spoken_of = design
        .parts
        .iter()
        .flat_map(|part| part.connections.iter().map(|join| &join.to.value))
        .chain(design.wires.iter().flat_map(|wire| wire.ends.iter().map(|end| &end.value)));
    let elsewhere = spoken_of.filter_map(|reference| match reference {
        Reference::Terminal(terminal) => Some(terminal.clone()),
        Reference::Net(_) => None,
    });
    let joined: HashSet<TerminalId> = own.chain(elsewhere).filter(|at| at.name.ends_with(".centre")).collect();
    for (index, part) in design.parts.iter_mut().enumerate() {
        let id = PartId(index);
        let centre = |name: &str| joined.contains(&TerminalId { part: id, name: format!("{name}.centre") });
        match &mut part.kind {
            Kind::OutputTransformer(transformer) => transformer.centre_tapped |= centre("primary"),
            Kind::Transformer(transformer) => {
                for winding in std::iter::once(&mut transformer.primary).chain(&mut transformer.windings) {
                    winding.halves = winding.halves.filter(|_| centre(&winding.name.value));
                }
            }
            _ => {}
        }
    }
}
