//! Figures beside the text: voltages where nets and tube terminals are first named, heat against rating, time to 50 V,
//! gain.

use std::collections::{BTreeMap, HashMap, HashSet};

use crate::circuit::Circuit;
use crate::design::{Connection, Design, Entity, Index, Kind, Part, RESERVED_NETS, Reference, TerminalId};
use crate::facts::{FactTable, Sample, State, SubjectId, SubjectKind, Value};
use crate::report::{CAUTION, facts_need_caution};
use crate::source::{FileId, Span};
use crate::units::{Dimension, format_quantity, format_ratio};

use super::answer::Hint;
use super::sheet::{Sheet, Standing};

/// The hints of one file of a design.
pub(super) fn hints(sheet: &Sheet, index: &Index, file: FileId) -> Vec<Hint> {
    let (Some(design), Some(facts)) = (&sheet.design, &sheet.facts) else { return Vec::new() };
    let subjects = Subjects::of(facts);
    let mut hints = voltages(design, index, file, sheet, facts, &subjects);
    hints.extend(parts(sheet, design, file, facts, &subjects));
    hints.sort_by_key(|hint| hint.offset);
    let caution = facts_need_caution(facts);
    for hint in &mut hints {
        match sheet.standing {
            Standing::Current => {}
            Standing::Stale => {
                hint.text.push_str(" (before)");
                hint.more.push_str("\n\nOf the last text that could be read whole: a statement is broken now.");
            }
            Standing::Partial => {
                hint.text.push_str(" (in part)");
                hint.more.push_str("\n\nWithout the statements that could not be read.");
            }
        }
        if caution {
            hint.more.push_str("\n\n");
            hint.more.push_str(CAUTION);
        }
    }
    hints
}

/// Subjects by kind and name: a net and a part may share a name.
struct Subjects<'a>(HashMap<(SubjectKind, &'a str), SubjectId>);

impl<'a> Subjects<'a> {
    fn of(facts: &'a FactTable) -> Self {
        let known = facts.subjects.iter().enumerate();
        Self(known.map(|(index, subject)| ((subject.kind, subject.name.as_str()), SubjectId(index))).collect())
    }

    fn get(&self, kind: SubjectKind, name: &str) -> Option<SubjectId> {
        self.0.get(&(kind, name)).copied()
    }
}

/// A net as a reference names it: its name, and the terminal that the reference joins to it.
type Joined = (Option<String>, Option<String>);

/// What each reference of the design joins; one of a stage stands for one net in each copy.
fn joined(design: &Design) -> BTreeMap<Span, Vec<Joined>> {
    let circuit = Circuit::of(design);
    let net_of =
        |terminal: &TerminalId| circuit.net_of(terminal.part, &terminal.name).map(|id| circuit.net(id).name.clone());
    let mut found: BTreeMap<Span, Vec<Joined>> = BTreeMap::new();
    for (id, part) in design.ids() {
        for Connection { terminal, to } in &part.connections {
            let net = net_of(&TerminalId { part: id, name: terminal.clone() });
            found.entry(to.span).or_default().push((net, Some(part.terminal_label(terminal))));
        }
    }
    for end in design.wires.iter().flat_map(|wire| &wire.ends) {
        let joined = match &end.value {
            Reference::Terminal(terminal) => (net_of(terminal), Some(design.terminal_label(terminal))),
            Reference::Net(net) => (circuit.named(net).map(|id| circuit.net(id).name.clone()), None),
        };
        found.entry(end.span).or_default().push(joined);
    }
    found
}

/// The voltage at rest of each net that a reference of this file names, where it is first named.
fn voltages(
    design: &Design,
    index: &Index,
    file: FileId,
    sheet: &Sheet,
    facts: &FactTable,
    subjects: &Subjects<'_>,
) -> Vec<Hint> {
    let found = joined(design);
    let mut seen = HashSet::new();
    let mut hints = Vec::new();
    for occurrence in index.occurrences.iter().filter(|found| found.span.file == file) {
        let Some(joined) = found.get(&occurrence.word) else { continue };
        let reserved = matches!(&occurrence.entity, Entity::Net { name, .. } if RESERVED_NETS.contains(&name.as_str()));
        // What names one net or terminal begins with the same name and ends alike.
        let tail = sheet.sources.text(Span { start: occurrence.span.end, ..occurrence.word });
        if reserved || !seen.insert((&occurrence.entity, tail)) {
            continue;
        }
        let subject = |(net, terminal): &Joined| {
            let net = net.as_ref().and_then(|name| subjects.get(SubjectKind::Net, name));
            net.or_else(|| subjects.get(SubjectKind::Terminal, terminal.as_ref()?))
        };
        let known: Vec<SubjectId> = joined.iter().filter_map(subject).collect();
        let Some(text) = voltage(facts, &known) else { continue };
        let more = known.first().map_or_else(String::new, |subject| by_state(facts, *subject));
        hints.push(Hint { offset: occurrence.word.end, text, more });
    }
    hints
}

/// The voltage at rest of a net, or of the nets that copies of a stage have in its place.
///
/// A mean alone must not stand beside a net that swings: the mean of a transformer's lead is nothing, and it kills.
fn voltage(facts: &FactTable, nets: &[SubjectId]) -> Option<String> {
    let values: Vec<f64> = nets.iter().filter_map(|net| at_rest(facts, *net, "voltage")).collect();
    let (low, high) = range(&values)?;
    let swing = nets.iter().filter_map(|net| at_rest(facts, *net, "ripple")).fold(0.0, f64::max);
    let shown = |value: f64| format_quantity(round(value), Dimension::VOLTAGE);
    let mean = if round(low) == round(high) { shown(low) } else { format!("{} … {}", shown(low), shown(high)) };
    let size = low.abs().max(high.abs());
    Some(if swing > 2.0 * size.max(0.05) {
        format!("alternating, {} peak to peak", shown(swing))
    } else if swing > 0.05 * size.max(1.0) {
        format!("{mean}, swings by {}", shown(swing))
    } else {
        mean
    })
}

fn range(values: &[f64]) -> Option<(f64, f64)> {
    let low = values.iter().copied().min_by(f64::total_cmp)?;
    let high = values.iter().copied().max_by(f64::total_cmp)?;
    Some((low, high))
}

/// Three digits: a fourth would claim what no tube keeps.
fn round(value: f64) -> f64 {
    if value.abs() < 1e-3 {
        return 0.0;
    }
    let scale = 10f64.powf(2.0 - value.abs().log10().floor());
    (value * scale).round() / scale
}

/// The value with nominal mains, warm, for the design as drawn.
fn at_rest(facts: &FactTable, subject: SubjectId, fact: &str) -> Option<f64> {
    facts.value(subject, fact, 0, Some(State::Running)).and_then(Value::number)
}

/// The mean voltage in each state of the design as drawn.
fn by_state(facts: &FactTable, subject: SubjectId) -> String {
    let Some(fact) = facts.fact(subject, "voltage") else { return String::new() };
    let mut lines: Vec<String> = Vec::new();
    for sample in fact.samples.iter().filter(|sample| sample.lineup == 0) {
        let (Some(state), Some(value)) = (sample.state, sample.value.number()) else { continue };
        let pulled = sample.empty_socket.as_ref().map_or_else(String::new, |socket| format!(", {socket} pulled"));
        lines.push(format!("{}{pulled}: {}", state.name(), format_quantity(value, Dimension::VOLTAGE)));
    }
    if fact.estimated {
        lines.push("rests on an estimate".to_owned());
    }
    lines.join("\n")
}

/// Heat, discharge and gain, one hint at the end of each part's line.
fn parts(sheet: &Sheet, design: &Design, file: FileId, facts: &FactTable, subjects: &Subjects<'_>) -> Vec<Hint> {
    let mut by_place: BTreeMap<(usize, usize), Vec<&Part>> = BTreeMap::new();
    for part in design.parts.iter().filter(|part| part.span.file == file) {
        by_place.entry((part.span.start, part.span.end)).or_default().push(part);
    }
    let text = sheet.sources.get(file).map_or("", |source| source.text.as_str());
    let mut hints = Vec::new();
    for ((start, end), copies) in by_place {
        let shown = copies.iter().filter_map(|part| figure(part, facts, subjects)).max_by(|a, b| a.0.total_cmp(&b.0));
        let Some((_, shown, more)) = shown else { continue };
        let line = text.get(start..end).and_then(|statement| statement.find(['\n', '\r']));
        hints.push(Hint { offset: line.map_or(end, |line| start + line), text: shown, more });
    }
    hints
}

/// What is shown at a part, and by how much it is worth showing before that of another copy.
fn figure(part: &Part, facts: &FactTable, subjects: &Subjects<'_>) -> Option<(f64, String, String)> {
    let fact = |kind, name| {
        let fact = facts.fact(subjects.get(kind, &part.name)?, name)?;
        let sample = fact.worst_sample()?;
        Some((sample.value.number()?, sample.clone(), fact.estimated))
    };
    match &part.kind {
        Kind::Resistor(_) => {
            let (heat, sample, estimated) = fact(SubjectKind::Resistor, "dissipation")?;
            let heat_shown = format_quantity(round(heat), Dimension::POWER);
            let text = match fact(SubjectKind::Resistor, "rated-power") {
                Some((rated, ..)) => format!("{heat_shown} of {}", format_quantity(rated, Dimension::POWER)),
                None => format!("{heat_shown}, no rating"),
            };
            Some((heat, text, told("heat", &sample, estimated)))
        }
        Kind::Capacitor(_) => {
            let subject = subjects.get(SubjectKind::Capacitor, &part.name)?;
            let role = facts.value(subject, "role", 0, None);
            let reservoir = matches!(role, Some(Value::Word(word)) if word == "reservoir" || word == "decoupling");
            let (time, sample, estimated) = fact(SubjectKind::Capacitor, "discharge-time").filter(|_| reservoir)?;
            let text = if time.is_infinite() {
                "never below 50 V".to_owned()
            } else {
                format!("{} to 50 V", format_quantity(round(time), Dimension::TIME))
            };
            Some((time, text, told("time to 50 V", &sample, estimated)))
        }
        Kind::Output(_) => {
            let subject = subjects.get(SubjectKind::Output, &part.name)?;
            let gain = at_rest(facts, subject, "gain")?;
            let decibels = 20.0 * gain.abs().log10();
            let text = format!("gain {}, {} dB", format_ratio(round(gain)), format_ratio(round(decibels)));
            Some((gain, text, "gain at 1 kHz".to_owned()))
        }
        _ => None,
    }
}

fn told(what: &str, sample: &Sample, estimated: bool) -> String {
    let state = sample.state.map_or_else(String::new, |state| format!(" in {}", state.name()));
    format!("{what}{state}{}", if estimated { ", rests on an estimate" } else { "" })
}
