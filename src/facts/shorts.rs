//! Dead shorts, read from the connections alone: sources between whose ends nothing lies that could limit a current.
//!
//! Knows no voltages: it speaks where nothing can be solved.

use std::collections::{BTreeMap, VecDeque};

use crate::circuit::{Conduction, Link, NetId};
use crate::design::{DiodeKind, Kind, PartId, TerminalId};
use crate::source::Span;
use crate::units::Quantity;

use super::recorder::Recorder;
use super::study::Study;
use super::{SubjectId, SubjectKind, Value};

/// A resistor up to here across a source is as good as wire, Ω (common practice: a link).
const LINK_OHMS: f64 = 0.1;

/// A way along which nothing limits a current: where it is joined by mistake, and the parts on it.
struct Short {
    span: Span,
    by: String,
}

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        match &part.kind {
            Kind::BenchSupply(_) => {
                let subject = recorder.subject(SubjectKind::BenchSupply, &part.name, Some(id), part.name_span);
                let short = find(study, &terminal(id, "plus"), &terminal(id, "minus"), |_, _| false);
                tell(recorder, subject, short, part.name_span);
            }
            Kind::Transformer(transformer) => {
                for winding in &transformer.windings {
                    let name = &winding.name.value;
                    let Some(subject) = recorder.find(SubjectKind::Winding, &format!("{}.{name}", part.name)) else {
                        continue;
                    };
                    tell(recorder, subject, winding_short(study, id, name), winding.name.span);
                }
            }
            Kind::Inlet(_) => mains(recorder, id),
            Kind::Bridge(_) | Kind::Diode(_) | Kind::Tube(_) => rectifier(recorder, id),
            _ => {}
        }
    }
    let shorted = |id: &SubjectId| recorder.table.value(*id, "short-circuited", 0, None) == Some(&Value::Flag(true));
    let any = (0..recorder.table.subjects.len()).map(SubjectId).any(|id| shorted(&id));
    if let Some(subject) = recorder.find(SubjectKind::Design, "design") {
        recorder.flag(subject, "feeds-a-short", any, study.design.title.span);
    }
}

fn tell(recorder: &mut Recorder<'_>, subject: SubjectId, short: Option<Short>, sound: Span) {
    let span = short.as_ref().map_or(sound, |short| short.span);
    recorder.stated(subject, "short-circuited", Value::Flag(short.is_some()), span, "joined here");
    if let Some(short) = short {
        recorder.word(subject, "short-circuited-by", &short.by, span);
    }
}

fn terminal(part: PartId, name: &str) -> TerminalId {
    TerminalId { part, name: name.to_owned() }
}

/// Contacts and resistors that are as good as wire.
fn is_link(study: &Study<'_>, link: &Link) -> bool {
    match link.conduction {
        Conduction::Contact => true,
        Conduction::Resistive(ohms) => {
            ohms.base() <= LINK_OHMS && matches!(study.design.part(link.part).kind, Kind::Resistor(_))
        }
        _ => false,
    }
}

/// Whether a link lets current pass from a net with no more than the drop of a rectifier.
fn rectifies_from(study: &Study<'_>, link: &Link, net: NetId) -> bool {
    let plain = match &study.design.part(link.part).kind {
        Kind::Diode(diode) => matches!(diode.kind, DiodeKind::Plain(_)),
        _ => true,
    };
    link.conduction == Conduction::Rectifying && link.from_net == net && plain
}

/// The shortest way from one terminal to another along links, and what else `passes` from a net.
fn find(study: &Study<'_>, a: &TerminalId, b: &TerminalId, passes: impl Fn(&Link, NetId) -> bool) -> Option<Short> {
    let circuit = study.circuit;
    let (from, to) = (circuit.net_of(a.part, &a.name)?, circuit.net_of(b.part, &b.name)?);
    let mut came: BTreeMap<NetId, (NetId, &Link)> = BTreeMap::new();
    let mut waiting = VecDeque::from([from]);
    while let Some(net) = waiting.pop_front() {
        if net == to {
            break;
        }
        for link in circuit.links(net).filter(|link| is_link(study, link) || passes(link, net)) {
            let other = link.other(net);
            if other != from && other != net {
                came.entry(other).or_insert_with(|| {
                    waiting.push_back(other);
                    (net, link)
                });
            }
        }
    }
    let mut way = Vec::new();
    let mut net = to;
    while net != from {
        let (previous, link) = came.get(&net)?;
        way.push((*previous, *link));
        net = *previous;
    }
    way.reverse();
    Some(Short { span: place(study, (a, b), &way)?, by: named(study, &way) })
}

fn named(study: &Study<'_>, way: &[(NetId, &Link)]) -> String {
    let mut names: Vec<&str> = Vec::new();
    for (_, link) in way {
        let name = study.design.part(link.part).name.as_str();
        if !names.contains(&name) {
            names.push(name);
        }
    }
    if names.is_empty() { "wire".to_owned() } else { names.join(" and ") }
}

/// Where a way is joined by mistake: at a resistor that is a link; at the wire or the contact by which it arrives; where
/// rectifiers are on it, where ground or a rail closes it.
fn place(study: &Study<'_>, ends: (&TerminalId, &TerminalId), way: &[(NetId, &Link)]) -> Option<Span> {
    let circuit = study.circuit;
    let name = |link: &Link| study.design.part(link.part).name_span;
    let on_way = |wanted: fn(&Conduction) -> bool| way.iter().rev().map(|(_, l)| *l).find(|l| wanted(&l.conduction));
    if let Some(link) = on_way(|conduction| matches!(conduction, Conduction::Resistive(_))) {
        return Some(name(link));
    }
    // The terminals at which the way enters and leaves each net.
    let mut meetings = Vec::new();
    let mut left = ends.0.clone();
    for (net, link) in way {
        let forward = link.from_net == *net;
        let (near, far) = if forward { (&link.from, &link.to) } else { (&link.to, &link.from) };
        meetings.push((*net, left, terminal(link.part, near)));
        left = terminal(link.part, far);
    }
    let last = circuit.net_of(ends.1.part, &ends.1.name)?;
    meetings.push((last, left, ends.1.clone()));
    let rectifies = on_way(|conduction| *conduction == Conduction::Rectifying).is_some();
    let closed = meetings.iter().find(|(net, ..)| rectifies && study.roles.returns.contains(net));
    let (_, one, other) = closed.or(meetings.last())?;
    let wire = circuit.joining_wire(study.design, one, other);
    let contact = || on_way(|_| true).filter(|_| !rectifies).map(name);
    wire.or_else(contact).or_else(|| circuit.joined_at(other.part, &other.name))
}

/// A winding whose ends, or an end and its centre, are joined, by its own rectifiers one way at least.
fn winding_short(study: &Study<'_>, id: PartId, name: &str) -> Option<Short> {
    let end = |end: &str| terminal(id, &format!("{name}.{end}"));
    let pairs = [("start", "finish"), ("start", "centre"), ("centre", "finish")];
    let wired = pairs.iter().find_map(|(a, b)| find(study, &end(a), &end(b), |_, _| false));
    wired.or_else(|| {
        let mut ways = pairs.iter().flat_map(|(a, b)| [(a, b), (b, a)]);
        ways.find_map(|(a, b)| find(study, &end(a), &end(b), |link, net| rectifies_from(study, link, net)))
    })
}

/// A rectifier with a plate and its cathode joined; told of one that no longer rectifies for that too.
fn rectifier(recorder: &mut Recorder<'_>, id: PartId) {
    let study = recorder.study;
    let part = study.design.part(id);
    let mut ways = study.circuit.all_links().filter(|l| l.part == id && l.conduction == Conduction::Rectifying);
    let short = ways.find_map(|link| {
        let (plate, cathode) = (terminal(id, &link.from), terminal(id, &link.to));
        find(study, &plate, &cathode, |_, _| false)
    });
    let known = recorder.find(SubjectKind::Rectifier, &part.name);
    let made = !matches!(part.kind, Kind::Diode(_)) && short.is_some();
    if let Some(subject) = known {
        tell(recorder, subject, short, part.name_span);
    } else if made {
        let subject = recorder.subject(SubjectKind::Rectifier, &part.name, Some(id), part.name_span);
        tell(recorder, subject, short, part.name_span);
    }
}

/// Live against neutral and against what is earthed, whatever position switches are in.
fn mains(recorder: &mut Recorder<'_>, inlet: PartId) {
    let study = recorder.study;
    let Some(subject) = recorder.find(SubjectKind::Design, "design") else { return };
    let circuit = study.circuit;
    let live = terminal(inlet, "live");
    let opens = |link: &Link, _| link.conduction == Conduction::OpenContact;
    let earthed = ["earth", "chassis", "ground"].into_iter().filter_map(|name| circuit.named(name));
    let grounded = earthed.filter_map(|net| circuit.net(net).terminals.first().map(|(terminal, _)| terminal.clone()));
    let returns = [terminal(inlet, "neutral"), terminal(inlet, "earth")].into_iter().chain(grounded);
    let short = returns.filter(|end| *end != live).find_map(|end| find(study, &live, &end, opens));
    let sound = study.design.part(inlet).name_span;
    let span = short.as_ref().map_or(sound, |short| short.span);
    recorder.stated(subject, "mains-short-circuited", Value::Flag(short.is_some()), span, "joined here");
}
