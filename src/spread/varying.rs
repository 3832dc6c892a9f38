//! A design with its parts away from their nominal values: the typed design changed, nothing else.

use crate::catalogue::{Devices, TubeModel, TubeModelChanges};
use crate::design::{Design, Diode, DiodeKind, Kind, Part, Tube, Winding};
use crate::source::Spanned;
use crate::units::{Amperes, Farads, Henries, Ohms, Volts};

use super::spreading::{Variation, Varied};

/// The design as drawn: no other tubes, and what it says of a tube's model said of each section by itself.
pub(super) fn as_drawn(design: &Design) -> Design {
    let mut plain = design.clone();
    for part in &mut plain.parts {
        if let Kind::Tube(tube) = &mut part.kind {
            tube.alternates.clear();
            tube.changes = by_section(tube);
        }
    }
    plain
}

fn by_section(tube: &Tube) -> TubeModelChanges {
    let mut keys = Vec::new();
    for section in &tube.sections {
        for (key, value) in tube.changes_of(&section.suffix) {
            keys.push((full_key(&section.suffix, key), value));
        }
    }
    TubeModelChanges { keys, forms: tube.changes.forms.clone() }
}

fn full_key(suffix: &str, key: &str) -> String {
    if suffix.is_empty() { key.to_owned() } else { format!("{suffix}.{key}") }
}

/// The design with some quantities away from their nominal value, each by a share.
pub(super) fn varied<'v>(
    design: &Design,
    devices: &dyn Devices,
    departures: impl Iterator<Item = (&'v Variation, f64)>,
) -> Design {
    let mut design = design.clone();
    for (variation, share) in departures {
        if let Some(part) = design.parts.get_mut(variation.part.0) {
            vary(part, devices, variation.what, 1.0 + share);
        }
    }
    design
}

fn vary(part: &mut Part, devices: &dyn Devices, what: Varied, factor: f64) {
    let times = |value: &mut Spanned<Ohms>| value.value = Ohms(value.value.0 * factor);
    match (&mut part.kind, what) {
        (Kind::Resistor(resistor), Varied::Resistance) => times(&mut resistor.resistance),
        (Kind::Potentiometer(pot), Varied::Resistance) => times(&mut pot.resistance),
        (Kind::Choke(choke), Varied::Resistance) => choke.resistance.iter_mut().for_each(times),
        (Kind::OutputTransformer(transformer), Varied::Resistance) => {
            transformer.primary_resistance.iter_mut().for_each(times);
        }
        (Kind::Capacitor(capacitor), Varied::Capacitance) => {
            capacitor.capacitance.value = Farads(capacitor.capacitance.value.0 * factor);
        }
        (Kind::Choke(choke), Varied::Inductance) => {
            choke.inductance.value = Henries(choke.inductance.value.0 * factor);
        }
        (Kind::OutputTransformer(transformer), Varied::Inductance) => {
            if let Some(inductance) = &mut transformer.inductance {
                inductance.value = Henries(inductance.value.0 * factor);
            }
        }
        (Kind::Transformer(transformer), Varied::PrimaryResistance) => {
            winding(&mut transformer.primary, factor);
        }
        (Kind::Transformer(transformer), Varied::WindingResistance(place)) => {
            transformer.windings.get_mut(place).into_iter().for_each(|found| winding(found, factor));
        }
        (Kind::Tube(tube), Varied::Current(place)) => {
            // Both scales divide the current.
            scale(tube, place, "kg1", 1.0 / factor);
            scale(tube, place, "kg2", 1.0 / factor);
        }
        (Kind::Tube(tube), Varied::Amplification(place)) => scale(tube, place, "mu", factor),
        (Kind::Tube(tube), Varied::Perveance(place)) => scale(tube, place, "k", factor),
        (Kind::Tube(tube), Varied::Voltage(place)) => {
            if let Some(TubeModel::Regulator(model)) = tube.sections.get_mut(place).map(|section| &mut section.model) {
                model.voltage *= factor;
            }
        }
        (Kind::Diode(diode), Varied::Voltage(_)) => junction(diode, devices, factor),
        (Kind::CurrentSource(source), Varied::SourceCurrent) => {
            source.current.value = Amperes(source.current.value.0 * factor);
        }
        _ => {}
    }
}

fn winding(winding: &mut Winding, factor: f64) {
    if let Some(resistance) = &mut winding.resistance {
        resistance.value = Ohms(resistance.value.0 * factor);
    }
}

/// A model key of a section, in the catalogue's model and in what the design says in its place.
fn scale(tube: &mut Tube, place: usize, key: &str, factor: f64) {
    let Some(section) = tube.sections.get_mut(place) else { return };
    let value = match (&mut section.model, key) {
        (TubeModel::Triode(model), "mu") => Some(&mut model.mu),
        (TubeModel::Triode(model), "kg1") => Some(&mut model.kg1),
        (TubeModel::Pentode(law), key) => law.key_mut(key),
        (TubeModel::VacuumDiode(model), "k") => Some(&mut model.k),
        _ => None,
    };
    let Some(value) = value else { return };
    *value *= factor;
    let key = full_key(&section.suffix, key);
    for (_, value) in tube.changes.keys.iter_mut().filter(|(known, _)| *known == key) {
        *value *= factor;
    }
}

/// The voltage of a zener; that of an LED, which is its emission coefficient times the same logarithm.
fn junction(diode: &mut Diode, devices: &dyn Devices, factor: f64) {
    match &mut diode.kind {
        DiodeKind::Zener(voltage) => voltage.value = Volts(voltage.value.0 * factor),
        DiodeKind::Led(colour) => {
            let stated = diode.changes.keys.iter().rev().find(|(key, _)| key == "n").map(|(_, value)| *value);
            let published = devices.led(&colour.value).map(|led| led.model.n);
            if let Some(coefficient) = stated.or(published) {
                diode.changes.keys.push(("n".to_owned(), coefficient * factor));
            }
        }
        DiodeKind::Plain(_) => {}
    }
}
