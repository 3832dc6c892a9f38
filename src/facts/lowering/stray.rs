//! Transistors, and the capacitances inside tubes and transistors, which count for small signals only.

use crate::catalogue::{Section, TransistorModel};
use crate::circuit::electrode_name;
use crate::design::{PartId, Transistor};
use crate::physics::{Element, ElementId};
use crate::units::Farads;

use super::{Lowered, Lowering};

/// Ways of the capacitances between electrodes, as they end.
const STRAYS: [&str; 6] = ["cgk", "cgp", "cpk", "cin", "cfb", "cout"];

impl Lowered {
    /// The capacitances inside tubes and transistors.
    pub(crate) fn strays(&self) -> Vec<ElementId> {
        let inside = |way: &str| STRAYS.contains(&way.rsplit('.').next().unwrap_or(way));
        self.elements.iter().filter(|((_, way), _)| inside(way)).map(|(_, id)| *id).collect()
    }
}

impl Lowering<'_> {
    pub(super) fn transistor(&mut self, id: PartId, transistor: &Transistor) {
        let name = &transistor.device.value;
        let Some(entry) = self.devices.transistor(transistor.family, name) else {
            self.done.unmodelled.push((id, format!("the catalogue has no model of {name}")));
            return;
        };
        let [main, control, common] = transistor.terminals();
        let (Some((first, last)), Some(gate)) = (self.pair(id, main, common), self.node(id, control)) else { return };
        let element = match entry.model {
            TransistorModel::FieldEffect(model) => Element::FieldEffect { drain: first, gate, source: last, model },
            TransistorModel::Bipolar(model) => Element::Bipolar { collector: first, base: gate, emitter: last, model },
        };
        let capacitances = [
            ("cin", control, common, entry.input_capacitance),
            ("cfb", control, main, entry.feedback_capacitance),
            ("cout", main, common, entry.output_capacitance),
        ];
        self.add(id, "", element);
        for (way, from, to, farads) in capacitances {
            self.stray(id, way, from, to, farads);
        }
    }

    pub(super) fn section_capacitances(&mut self, id: PartId, section: &Section) {
        let suffix = &section.suffix;
        let name = |electrode: &str| electrode_name(suffix, electrode);
        let (plate, grid, cathode) = (name("plate"), name("grid"), name("cathode"));
        self.stray(id, &format!("{suffix}.cgk"), &grid, &cathode, section.input_capacitance);
        self.stray(id, &format!("{suffix}.cgp"), &grid, &plate, section.grid_plate_capacitance);
        self.stray(id, &format!("{suffix}.cpk"), &plate, &cathode, section.output_capacitance);
    }

    fn stray(&mut self, id: PartId, way: &str, from: &str, to: &str, farads: Option<Farads>) {
        if let (true, Some(capacitance), Some((a, b))) = (self.condition.ports, farads, self.pair(id, from, to)) {
            self.add(id, way, Element::Capacitor { a, b, capacitance });
        }
    }
}
