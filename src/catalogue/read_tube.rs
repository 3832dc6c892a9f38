//! A `tube` statement of a catalogue file made into a [`TubeEntry`].

use std::collections::BTreeMap;

use crate::source::{Complaint, Statement};
use crate::units::{Farads, Seconds};

use super::fields::{known_children, known_properties, missing, quantity, sources, unknown, word, words};
use super::names::key;
use super::read_limits::{figure, rectifier_limits, regulator_limits, section_limits};
use super::read_model::{section_kind, tube_model};
use super::{DeviceSource, HeaterConnection, Heating, Pin, Section, SectionLimits, TubeEntry};

/// Reads a tube; `None` where something that it cannot do without is missing or wrong, which is then complained of.
pub(super) fn read_tube(
    statement: &Statement,
    bases: &BTreeMap<String, (String, Vec<Pin>)>,
    out: &mut Vec<Complaint>,
) -> Option<TubeEntry> {
    known_properties(statement, &[], out);
    let single = ["aliases", "base", "heating", "total-plate-dissipation"];
    known_children(statement, &single, &["section"], out);
    let name = word(statement, 0, "the tube's name", out)?.value.to_owned();
    let mut all_sources = Vec::new();
    let aliases = aliases(statement, out);
    let base = base(statement, bases, out);
    let heating = heating(statement, &mut all_sources, out);
    let total_plate_dissipation = child(statement, "total-plate-dissipation").and_then(|group| {
        note_sources(&mut all_sources, sources(group, out));
        figure(statement, "total-plate-dissipation", out)
    });
    let mut sections = Vec::new();
    let mut complete = true;
    for group in statement.children.iter().filter(|c| c.name.value == "section") {
        match section(group, &mut all_sources, out) {
            Some(some) => sections.extend(some),
            None => complete = false,
        }
    }
    if !statement.children.iter().any(|c| c.name.value == "section") {
        missing(statement, "a `section`", out);
    }
    let ((base, pins), (heating, heaters, warm_up)) = (base?, heating?);
    if !complete || sections.is_empty() {
        return None;
    }
    let entry = TubeEntry {
        name,
        aliases,
        base,
        pins,
        heating,
        heaters,
        warm_up,
        sections,
        total_plate_dissipation,
        sources: all_sources,
    };
    fits_its_base(statement, &entry, out).then_some(entry)
}

/// The other names of an entry.
pub(super) fn aliases(statement: &Statement, out: &mut Vec<Complaint>) -> Vec<String> {
    child(statement, "aliases").map_or_else(Vec::new, |group| {
        words(group, 0, "an alias", out).into_iter().map(|alias| alias.value.to_owned()).collect()
    })
}

/// The first child of a name.
pub(super) fn child<'a>(statement: &'a Statement, name: &str) -> Option<&'a Statement> {
    statement.children.iter().find(|c| c.name.value == name)
}

/// Adds documents that are not yet among those of the entry.
pub(super) fn note_sources(all: &mut Vec<DeviceSource>, more: Vec<DeviceSource>) {
    for source in more {
        if !all.contains(&source) {
            all.push(source);
        }
    }
}

fn base(
    statement: &Statement,
    bases: &BTreeMap<String, (String, Vec<Pin>)>,
    out: &mut Vec<Complaint>,
) -> Option<(String, Vec<Pin>)> {
    let Some(group) = child(statement, "base") else {
        missing(statement, "a `base`", out);
        return None;
    };
    let written = word(group, 0, "a base number", out)?;
    let found = bases.get(&key(written.value)).cloned();
    if found.is_none() {
        let known: Vec<&str> = bases.values().map(|(name, _)| name.as_str()).collect();
        unknown(written.span, "base of the catalogue", written.value, &known, out);
    }
    found
}

fn heating(
    statement: &Statement,
    all_sources: &mut Vec<DeviceSource>,
    out: &mut Vec<Complaint>,
) -> Option<(Heating, Vec<HeaterConnection>, Option<f64>)> {
    let Some(group) = child(statement, "heating") else {
        missing(statement, "a `heating`", out);
        return None;
    };
    known_children(group, &["warm-up"], &["heater"], out);
    note_sources(all_sources, sources(group, out));
    let written = word(group, 0, "`indirect`, `direct`, `joined-cathode` or `cold`", out)?;
    let kind = match written.value {
        "indirect" => Heating::Indirect,
        "direct" => Heating::Direct,
        "joined-cathode" => Heating::JoinedCathode,
        "cold" => return Some((Heating::Cold, Vec::new(), None)),
        other => {
            let known = ["indirect", "direct", "joined-cathode", "cold"];
            unknown(written.span, "kind of heating", other, &known, out);
            return None;
        }
    };
    let heaters: Vec<HeaterConnection> = group
        .children
        .iter()
        .filter(|c| c.name.value == "heater")
        .filter_map(|heater| match heater.arguments.as_slice() {
            [voltage, current] => {
                Some(HeaterConnection { voltage: quantity(voltage, out)?, current: quantity(current, out)? })
            }
            _ => {
                missing(heater, "a voltage and a current", out);
                None
            }
        })
        .collect();
    if heaters.is_empty() {
        missing(group, "a `heater` with voltage and current", out);
        return None;
    }
    let warm_up = figure::<Seconds>(group, "warm-up", out).map(|seconds| seconds.0);
    Some((kind, heaters, warm_up))
}

/// One `section` statement: one section for each suffix that it names, or the only section of its tube.
fn section(group: &Statement, all_sources: &mut Vec<DeviceSource>, out: &mut Vec<Complaint>) -> Option<Vec<Section>> {
    known_properties(group, &["plates"], out);
    known_children(group, &["model", "limits", "rectifier", "regulator", "capacitances"], &[], out);
    let written = word(group, 0, "a kind of section", out)?;
    let kind = section_kind(group, written.value, out)?;
    let Some(model_group) = child(group, "model") else {
        missing(group, "a `model`", out);
        return None;
    };
    note_sources(all_sources, sources(model_group, out));
    let model = tube_model(model_group, kind, out);
    let limits = child(group, "limits").map_or_else(SectionLimits::default, |limits| section_limits(limits, out));
    note_sources(all_sources, limits.sources.clone());
    let rectifier = child(group, "rectifier").map(|limits| rectifier_limits(limits, out));
    if let Some(rectifier) = &rectifier {
        note_sources(all_sources, rectifier.sources.clone());
    }
    let regulator = child(group, "regulator").map(|limits| regulator_limits(limits, out));
    if let Some(regulator) = &regulator {
        note_sources(all_sources, regulator.sources.clone());
    }
    let mut capacitance = [None; 3];
    if let Some(capacitances) = child(group, "capacitances") {
        known_properties(capacitances, &["cgk", "cgp", "cpk"], out);
        note_sources(all_sources, sources(capacitances, out));
        capacitance = ["cgk", "cgp", "cpk"].map(|name| {
            let property = capacitances.property(name)?;
            quantity::<Farads>(&property.value, out)
        });
    }
    let only = Section {
        suffix: String::new(),
        kind,
        model: model?,
        limits,
        rectifier,
        regulator,
        input_capacitance: capacitance[0],
        grid_plate_capacitance: capacitance[1],
        output_capacitance: capacitance[2],
    };
    let suffixes = words(group, 1, "a section's letter", out);
    if suffixes.is_empty() {
        return Some(vec![only]);
    }
    let copies = suffixes.iter().map(|suffix| Section { suffix: suffix.value.to_owned(), ..only.clone() });
    Some(copies.collect())
}

/// Whether the base has a pin for every electrode of every section (a filament is its own cathode); complains of each that it lacks.
fn fits_its_base(statement: &Statement, entry: &TubeEntry, out: &mut Vec<Complaint>) -> bool {
    let mut fits = true;
    for section in &entry.sections {
        for terminal in section.kind.electrodes() {
            let name = match section.suffix.as_str() {
                "" => (*terminal).to_owned(),
                suffix => format!("{suffix}.{terminal}"),
            };
            let filament = *terminal == "cathode" && entry.heating == Heating::Direct;
            if filament || entry.pins.iter().any(|pin| pin.terminal == name) {
                continue;
            }
            fits = false;
            let place = child(statement, "base").map_or(statement.name.span, |base| base.span);
            out.push(Complaint::at(
                place,
                format!("base {} has no pin for `{name}` of the {}", entry.base, entry.name),
                "no such pin",
            ));
        }
    }
    fits
}
