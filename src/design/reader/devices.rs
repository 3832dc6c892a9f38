//! Tubes, junction devices and transistors: what the catalogue knows by name.

use crate::catalogue::{DiodeModelChanges, SectionKind, TransistorFamily, TubeEntry};
use crate::source::{Complaint, Span, Spanned, Statement};

use super::tube_model::{model_key, tube_changes};
use super::{children, joins, owned};
use crate::design::fields::Fields;
use crate::design::suggest::{any_of, nearest_type};
use crate::design::template::{Body, Context, Join};
use crate::design::values::{Bounds, CURRENT, HEATER_VOLTAGE, POWER};
use crate::design::{Bridge, Diode, DiodeKind, Heater, Kind, Transistor, Tube};

fn unknown_type<'a>(word: &Spanned<String>, what: &str, known: impl IntoIterator<Item = &'a str>) -> Complaint {
    let complaint = Complaint::at(word.span, format!("the catalogue has no {what} `{}`", word.value), "not known");
    match nearest_type(&word.value, known) {
        Some(near) => complaint.help(format!("did you mean `{near}`?")),
        None => complaint.help("a workshop can add devices of its own in its catalogue folder"),
    }
}

fn plain_type(fields: &mut Fields<'_>, context: &Context<'_>, what: &str, example: &str) -> Option<Spanned<String>> {
    let argument = fields.argument("its type", example)?;
    let word = fields.type_word(argument)?;
    match context.devices.diode(&word.value) {
        Some(entry) => Some(Spanned::new(entry.name.clone(), word.span)),
        None => {
            fields.complain(unknown_type(&word, what, context.devices.diode_names()));
            None
        }
    }
}

pub(super) fn diode(fields: &mut Fields<'_>, context: &Context<'_>) -> Option<Body> {
    let device = plain_type(fields, context, "diode", "diode D1 \"1N4007\"");
    junction(fields, context, device.map(DiodeKind::Plain))
}

pub(super) fn zener(fields: &mut Fields<'_>, context: &Context<'_>) -> Option<Body> {
    let voltage = fields.quantity_argument("its voltage", "zener D1 \"12V\"", Bounds::positive(1e3));
    junction(fields, context, voltage.map(DiodeKind::Zener))
}

pub(super) fn led(fields: &mut Fields<'_>, context: &Context<'_>) -> Option<Body> {
    let word = fields.argument("its colour", "led D1 red").and_then(|argument| fields.word(argument));
    let colour = word.and_then(|word| match context.devices.led(&word.value) {
        Some(entry) => Some(Spanned::new(entry.colour.clone(), word.span)),
        None => {
            fields.complain(unknown_type(&word, "LED", context.devices.led_names()));
            None
        }
    });
    junction(fields, context, colour.map(DiodeKind::Led))
}

fn junction(fields: &mut Fields<'_>, context: &Context<'_>, kind: Option<DiodeKind>) -> Option<Body> {
    let joins = joins(fields, &["anode", "cathode"]);
    let power = fields.quantity("power", POWER);
    let current = fields.quantity("current", CURRENT);
    let changes = diode_changes(fields, context);
    Some(Body {
        kind: Kind::Diode(Diode { kind: kind?, power, current, changes }),
        terminals: owned(&["anode", "cathode"]),
        joins,
    })
}

pub(super) fn bridge(fields: &mut Fields<'_>, context: &Context<'_>) -> Option<Body> {
    let device = plain_type(fields, context, "diode", "bridge D1 \"1N4007\"");
    let joins = joins(fields, &["ac1", "ac2", "plus", "minus"]);
    let changes = diode_changes(fields, context);
    Some(Body {
        kind: Kind::Bridge(Bridge { device: device?, changes }),
        terminals: owned(&["ac1", "ac2", "plus", "minus"]),
        joins,
    })
}

pub(super) fn transistor(keyword: &str, fields: &mut Fields<'_>, context: &Context<'_>) -> Option<Body> {
    let written =
        fields.argument("its type", &format!("{keyword} Q1 TYPE")).and_then(|argument| fields.type_word(argument));
    let (family, terminals) = match keyword {
        "mosfet" => (TransistorFamily::Mosfet, ["drain", "gate", "source"]),
        "jfet" => (TransistorFamily::JunctionFet, ["drain", "gate", "source"]),
        _ => (TransistorFamily::Bipolar, ["collector", "base", "emitter"]),
    };
    let device = written.and_then(|word| match context.devices.transistor(family, &word.value) {
        Some(entry) => Some(Spanned::new(entry.name.clone(), word.span)),
        None => {
            fields.complain(unknown_type(&word, keyword, context.devices.transistor_names(family)));
            None
        }
    });
    let joins = joins(fields, &terminals);
    Some(Body { kind: Kind::Transistor(Transistor { family, device: device? }), terminals: owned(&terminals), joins })
}

fn diode_changes(fields: &Fields<'_>, context: &Context<'_>) -> DiodeModelChanges {
    let mut changes = DiodeModelChanges::default();
    for child in children(fields.statement, "model") {
        let mut model = Fields::new(child, context.complaints);
        for key in ["is", "n", "rs"] {
            changes.keys.extend(model_key(&mut model, key));
        }
        model.finish(&[]);
    }
    changes
}

pub(super) fn tube(fields: &mut Fields<'_>, context: &Context<'_>) -> Option<Body> {
    let device = fields.argument("its type", "tube V1 \"12AX7\"").and_then(|argument| fields.type_word(argument));
    let entry = device.as_ref().and_then(|word| {
        let entry = context.devices.tube(&word.value);
        if entry.is_none() {
            fields.complain(unknown_type(word, "tube", context.devices.tube_names()));
        }
        entry
    });
    let mut joined = Vec::new();
    let mut heater: Option<Heater> = None;
    let mut first: Option<Span> = None;
    for child in children(fields.statement, "heater") {
        match first {
            Some(first) => fields.complain(
                Complaint::at(child.name.span, "a tube has one heater", "a second heater")
                    .also(first, "the first is here"),
            ),
            None => {
                first = Some(child.name.span);
                heater = read_heater(child, entry, context, &mut joined);
            }
        }
    }
    let alternates =
        children(fields.statement, "alternates").flat_map(|child| read_alternates(child, context)).collect();
    let entry = entry?;
    let name = fields
        .statement
        .argument(0)
        .and_then(|name| match &name.value {
            crate::source::Scalar::Text(text) => Some(text.clone()),
            _ => None,
        })
        .unwrap_or_default();
    let mut unused = Vec::new();
    for child in children(fields.statement, "unused") {
        read_unused(child, &name, entry, context, &mut unused);
    }
    Some(Body {
        kind: Kind::Tube(Tube {
            device: device?,
            canonical: entry.name.clone(),
            sections: entry.sections.clone(),
            heating: entry.heating,
            heaters: entry.heaters.clone(),
            heater,
            alternates,
            unused,
            changes: tube_changes(fields, entry, context),
        }),
        terminals: tube_terminals(entry),
        joins: joined,
    })
}

/// The terminals of a tube: electrodes by section, then the heater's.
fn tube_terminals(entry: &TubeEntry) -> Vec<String> {
    let pin = |name: &str| entry.pins.iter().any(|pin| pin.terminal == name);
    let mut terminals = Vec::new();
    for section in &entry.sections {
        let prefix = if section.suffix.is_empty() { String::new() } else { format!("{}.", section.suffix) };
        let electrodes: &[&str] = match section.kind {
            SectionKind::Triode => &["plate", "grid", "cathode"],
            SectionKind::Pentode => &["plate", "grid", "screen", "suppressor", "cathode"],
            SectionKind::Rectifier { plates: 1 } => &["plate", "cathode"],
            SectionKind::Rectifier { .. } => &["plate1", "plate2", "cathode"],
            SectionKind::Regulator => &["anode", "cathode"],
        };
        for electrode in electrodes {
            let terminal = format!("{prefix}{electrode}");
            // A suppressor joined to the cathode inside the tube has no terminal.
            if *electrode == "suppressor" && !pin(&terminal) {
                continue;
            }
            terminals.push(terminal);
        }
    }
    if !entry.heaters.is_empty() {
        terminals.extend(owned(&["heater.from", "heater.to"]));
    }
    if pin("heater.tap") {
        terminals.push("heater.tap".to_owned());
    }
    terminals
}

fn read_heater(
    statement: &Statement,
    entry: Option<&TubeEntry>,
    context: &Context<'_>,
    joined: &mut Vec<Join>,
) -> Option<Heater> {
    let mut fields = Fields::new(statement, context.complaints);
    let voltage = fields.quantity_argument("its voltage", "heater \"6.3V\" from=h1 to=h2", HEATER_VOLTAGE);
    let tapped = entry.is_none_or(|entry| entry.pins.iter().any(|pin| pin.terminal == "heater.tap"));
    let ends: &[&'static str] = if tapped { &["from", "to", "tap"] } else { &["from", "to"] };
    joined.extend(
        joins(&mut fields, ends)
            .into_iter()
            .map(|join| Join { terminal: format!("heater.{}", join.terminal), to: join.to }),
    );
    fields.finish(&[]);
    if entry.is_some_and(|entry| entry.heaters.is_empty()) {
        context.complaints.borrow_mut().push(Complaint::at(
            statement.name.span,
            "this tube has no heater",
            "leave this out",
        ));
        return None;
    }
    Some(Heater { voltage: voltage?, span: statement.span })
}

fn read_alternates(statement: &Statement, context: &Context<'_>) -> Vec<Spanned<String>> {
    let mut fields = Fields::new(statement, context.complaints);
    let values = fields.rest();
    if values.is_empty() {
        fields.missing("at least one type", "alternates \"12BH7A\"");
    }
    let types = values
        .iter()
        .filter_map(|value| fields.type_word(value))
        .filter_map(|word| match context.devices.tube(&word.value) {
            Some(entry) => Some(Spanned::new(entry.name.clone(), word.span)),
            None => {
                fields.complain(unknown_type(&word, "tube", context.devices.tube_names()));
                None
            }
        })
        .collect();
    fields.finish(&[]);
    types
}

fn read_unused(
    statement: &Statement,
    name: &str,
    entry: &TubeEntry,
    context: &Context<'_>,
    unused: &mut Vec<Spanned<String>>,
) {
    let mut fields = Fields::new(statement, context.complaints);
    let values = fields.rest();
    if values.is_empty() {
        fields.missing("a section", "unused b");
    }
    for word in values.iter().filter_map(|value| fields.word(value)) {
        let suffix = word.value.strip_prefix(name).unwrap_or(&word.value);
        if entry.sections.iter().any(|section| section.suffix == suffix) {
            unused.push(Spanned::new(suffix.to_owned(), word.span));
            continue;
        }
        let labels: Vec<String> = entry.sections.iter().map(|section| format!("{name}{}", section.suffix)).collect();
        fields.complain(
            Complaint::at(word.span, format!("`{name}` has no section `{}`", word.value), "not a section of this tube")
                .help(format!("its sections: {}", any_of(&labels))),
        );
    }
    fields.finish(&[]);
}
