//! Other tubes in the sockets of a design: each in turn, beside the one that is drawn. Pure, as the inspection is.

use std::path::Path;

use crate::catalogue::{Section, SectionKind, TubeEntry, TubeModelChanges};
use crate::design::{Design, DesignReading, Kind, PartId, Tube};
use crate::facts::{FactTable, State, SubjectId, SubjectKind, Value, find_definition};
use crate::findings::Finding;
use crate::inspection::{Grounds, Inspection, inspect};

/// What is put side by side of a section.
const SECTION_FACTS: [&str; 9] = [
    "plate-voltage",
    "plate-current",
    "bias",
    "plate-dissipation",
    "screen-current",
    "transconductance",
    "plate-resistance",
    "stage-gain",
    "headroom",
];

/// Sockets whose tubes rest within this share of each other hold copies.
const ALIKE: f64 = 0.01;
/// The same of the halves of a push-pull pair, whose bias controls and drive may differ a little.
const ALIKE_IN_A_PAIR: f64 = 0.2;

/// What is put side by side of an output.
const OUTPUT_FACTS: [&str; 9] =
    ["gain", "source-impedance", "low-corner", "high-corner", "headroom", "load-power", "distortion", "hum", "noise"];

/// The sockets of a design, each with the tubes that may sit in it.
#[derive(Clone, Debug, Default)]
pub struct Roll {
    /// The sockets that were asked for.
    pub sockets: Vec<SocketRoll>,
}

/// One socket.
#[derive(Clone, Debug)]
pub struct SocketRoll {
    /// The tube's name in the design.
    pub socket: String,
    /// The other sockets whose tubes are changed with it: the other half of a push-pull pair, which nobody builds with two
    /// types, and the same place in another channel.
    pub together: Vec<String>,
    /// Whether the others are the catalogue's proposals, the design naming no alternates here.
    pub proposed: bool,
    /// The tube as drawn, then the others.
    pub columns: Vec<Column>,
    /// The figures of each subject, one value a column.
    pub rows: Vec<Row>,
}

/// One tube in a socket.
#[derive(Clone, Debug)]
pub struct Column {
    /// Its canonical name.
    pub tube: String,
    /// Whether its pins and its heater suit the socket as it is wired.
    pub fits: bool,
    /// Where nothing else differs: pins, with the electrode, that it needs and that the socket, wired for the tube as drawn, leaves open.
    pub open_pins: Vec<(String, String)>,
    /// Findings that it adds to those of the design as drawn.
    pub added: Vec<Finding>,
    /// Findings of the design as drawn that it clears.
    pub cleared: Vec<Finding>,
    /// Conditions that could not be solved with it.
    pub unsolved: usize,
}

impl SocketRoll {
    /// All sockets whose tubes are changed.
    pub fn sockets(&self) -> impl Iterator<Item = &str> {
        std::iter::once(&self.socket).chain(&self.together).map(String::as_str)
    }
}

/// A fact in `running` with each tube.
#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// A section of the tube, or an output.
    pub subject: String,
    /// The fact.
    pub fact: &'static str,
    /// One value a column, base SI units; none where there is no such fact.
    pub values: Vec<Option<f64>>,
}

/// Rolls the tubes of every socket with a signal tube, or of the one that is named. `None` where no tube has that name.
///
/// Where a design names no alternates, those of the catalogue are taken that have the same sections, the same pins and a
/// heater for the voltage that is wired. Sockets that a builder changes together are rolled together.
#[must_use]
pub fn roll(path: &Path, design: &Design, socket: Option<&str>, grounds: Grounds<'_>) -> Option<Roll> {
    let mut plain = design.clone();
    for part in &mut plain.parts {
        if let Kind::Tube(tube) = &mut part.kind {
            tube.alternates.clear();
        }
    }
    let drawn = look(path, plain.clone(), grounds);
    let mut roll = Roll::default();
    let mut done: Vec<PartId> = Vec::new();
    for (id, part) in design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        let signal = tube.sections.iter().any(|section| !matches!(section.kind, SectionKind::Rectifier { .. }));
        if done.contains(&id) || !signal && socket.is_none() {
            continue;
        }
        let group = changed_together(design, id, drawn.facts.as_ref());
        let wanted = socket.is_none_or(|name| group.iter().any(|id| design.part(*id).name == name));
        done.extend(&group);
        if wanted {
            roll.sockets.push(socket_roll(path, &plain, (&group, tube), &drawn, grounds));
        }
    }
    (socket.is_none() || !roll.sockets.is_empty()).then_some(roll)
}

/// The socket and those that are changed with it: of the same type with the same alternates, and at rest in the same
/// place, be it the other half of a pair on one core or the same stage in another channel.
fn changed_together(design: &Design, id: PartId, facts: Option<&FactTable>) -> Vec<PartId> {
    let Kind::Tube(tube) = &design.part(id).kind else { return vec![id] };
    let mut group = vec![id];
    let Some(facts) = facts else { return group };
    let own = standing(facts, &design.part(id).name);
    let named = |tube: &Tube| tube.alternates.iter().map(|name| name.value.clone()).collect::<Vec<_>>();
    for (other, part) in design.ids() {
        let Kind::Tube(copy) = &part.kind else { continue };
        let same = other != id && copy.canonical == tube.canonical && named(copy) == named(tube);
        if same && !own.is_empty() && alike(&own, &standing(facts, &part.name)) {
            group.push(other);
        }
    }
    group.sort();
    group
}

/// Whether it works in a pair, and plate voltage, plate current and bias, of each section of a tube.
fn standing(facts: &FactTable, tube: &str) -> Vec<(bool, [f64; 3])> {
    let sections = facts.subjects.iter().enumerate();
    let sections = sections.filter(|(_, one)| one.kind == SubjectKind::Tube && one.part.as_deref() == Some(tube));
    sections
        .map(|(place, _)| {
            let value = |fact: &str| facts.value(SubjectId(place), fact, 0, Some(State::Running));
            let number = |fact: &str| value(fact).and_then(Value::number).unwrap_or(0.0);
            let paired = value("works-paired") == Some(&Value::Flag(true));
            (paired, ["plate-voltage", "plate-current", "bias"].map(number))
        })
        .collect()
}

fn alike(one: &[(bool, [f64; 3])], other: &[(bool, [f64; 3])]) -> bool {
    let near = |share: f64| move |(a, b): (&f64, &f64)| (a - b).abs() <= share * a.abs().max(b.abs());
    one.len() == other.len()
        && one.iter().zip(other).all(|((paired, a), (other, b))| {
            let share = if *paired { ALIKE_IN_A_PAIR } else { ALIKE };
            paired == other && a.iter().zip(b).all(near(share))
        })
}

fn look(path: &Path, design: Design, grounds: Grounds<'_>) -> Inspection {
    inspect(path, DesignReading { design: Some(design), ..DesignReading::default() }, grounds)
}

fn socket_roll(
    path: &Path,
    plain: &Design,
    (group, tube): (&[PartId], &Tube),
    drawn: &Inspection,
    grounds: Grounds<'_>,
) -> SocketRoll {
    let names: Vec<String> = group.iter().map(|id| plain.part(*id).name.clone()).collect();
    let proposed = tube.alternates.is_empty();
    let others: Vec<&TubeEntry> = if proposed {
        proposals(tube, grounds)
    } else {
        tube.alternates.iter().filter_map(|name| grounds.devices.tube(&name.value)).collect()
    };
    let own = Column {
        tube: tube.canonical.clone(),
        fits: true,
        open_pins: Vec::new(),
        added: Vec::new(),
        cleared: Vec::new(),
        unsolved: drawn.facts.as_ref().map_or(0, |facts| facts.unsolved.len()),
    };
    let mut columns = vec![own];
    let mut tables = vec![drawn.facts.clone().unwrap_or_default()];
    for entry in others {
        let mut design = plain.clone();
        for id in group {
            if let Some(part) = design.parts.get_mut(id.0)
                && let Kind::Tube(own) = &part.kind
            {
                part.kind = Kind::Tube(fitted(own, entry));
            }
        }
        let found = look(path, design, grounds);
        let facts = found.facts.unwrap_or_default();
        columns.push(Column {
            tube: entry.name.clone(),
            fits: fits(tube, entry, grounds),
            open_pins: open_pins(tube, entry, grounds),
            added: beyond(&found.report.findings, &drawn.report.findings),
            cleared: beyond(&drawn.report.findings, &found.report.findings),
            unsolved: facts.unsolved.len(),
        });
        tables.push(facts);
    }
    let rows = rows(&names, &tables);
    let mut names = names.into_iter();
    let socket = names.next().unwrap_or_default();
    SocketRoll { socket, together: names.collect(), proposed, rows, columns }
}

/// The tube of the design with another plugged in; what the design says of its model goes with the tube that is drawn.
fn fitted(tube: &Tube, entry: &TubeEntry) -> Tube {
    Tube {
        canonical: entry.name.clone(),
        sections: entry.sections.clone(),
        heating: entry.heating,
        heaters: entry.heaters.clone(),
        alternates: Vec::new(),
        changes: TubeModelChanges::default(),
        ..tube.clone()
    }
}

fn fits(tube: &Tube, entry: &TubeEntry, grounds: Grounds<'_>) -> bool {
    let (Some(drawn), Some(heater)) = (grounds.devices.tube(&tube.canonical), &tube.heater) else { return false };
    let wired = heater.voltage.value;
    let heats = entry.heaters.iter().any(|other| (other.voltage.0 / wired.0 - 1.0).abs() <= 0.15);
    heats && entry.fits_socket_of(drawn, wired)
}

fn open_pins(tube: &Tube, entry: &TubeEntry, grounds: Grounds<'_>) -> Vec<(String, String)> {
    let (Some(drawn), Some(heater)) = (grounds.devices.tube(&tube.canonical), &tube.heater) else { return Vec::new() };
    entry.open_pins_in(drawn, heater.voltage.value)
}

fn proposals<'d>(tube: &Tube, grounds: Grounds<'d>) -> Vec<&'d TubeEntry> {
    let mut found: Vec<&TubeEntry> = Vec::new();
    for name in grounds.devices.tube_names() {
        let Some(entry) = grounds.devices.tube(name) else { continue };
        let kinds = |sections: &[Section]| -> Vec<_> {
            sections.iter().map(|section| (section.suffix.clone(), section.kind)).collect()
        };
        let new = entry.name != tube.canonical && !found.iter().any(|known| known.name == entry.name);
        if new && kinds(&entry.sections) == kinds(&tube.sections) && fits(tube, entry, grounds) {
            found.push(entry);
        }
    }
    found.sort_by(|a, b| a.name.cmp(&b.name));
    found
}

/// The findings of one list whose rule, subject and class are not in the other.
fn beyond(these: &[Finding], those: &[Finding]) -> Vec<Finding> {
    let same = |a: &Finding, b: &Finding| a.rule == b.rule && a.part == b.part && a.class == b.class;
    these.iter().filter(|one| !those.iter().any(|other| same(one, other))).cloned().collect()
}

fn rows(sockets: &[String], tables: &[FactTable]) -> Vec<Row> {
    let Some(first) = tables.first() else { return Vec::new() };
    let mut found = Vec::new();
    for subject in &first.subjects {
        let facts: &[&'static str] = match subject.kind {
            SubjectKind::Tube if subject.part.as_ref().is_some_and(|part| sockets.contains(part)) => &SECTION_FACTS,
            SubjectKind::Output => &OUTPUT_FACTS,
            _ => continue,
        };
        for fact in facts.iter().filter(|fact| find_definition(fact).is_some()) {
            let value = |table: &FactTable| {
                let mut named = table.named(&subject.name);
                let id = named.find(|id| table.subject(*id).is_some_and(|other| other.kind == subject.kind))?;
                table.value(id, fact, 0, Some(State::Running))?.number()
            };
            let values: Vec<Option<f64>> = tables.iter().map(value).collect();
            if values.iter().any(Option::is_some) {
                found.push(Row { subject: subject.name.clone(), fact, values });
            }
        }
    }
    found
}
