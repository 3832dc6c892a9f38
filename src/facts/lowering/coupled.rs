//! Output transformers in the network: coils on one core.

use crate::design::{Half, OutputTransformer, PartId};
use crate::physics::{Element, NodeId};
use crate::units::{Henries, Ohms, Quantity};

use super::Lowering;

/// Reactance of the primary equals its rated impedance here where no inductance is stated, Hz: a bass corner of 20 Hz
/// and less behind a source that matches (common practice).
const ASSUMED_CORNER: f64 = 20.0;

/// A place on the primary where something is joined: share of the turns from the start, and the terminal.
type Place = (f64, String);

impl Lowering<'_> {
    pub(super) fn output_transformer(&mut self, id: PartId, transformer: &OutputTransformer) {
        let whole = transformer.primary_resistance.as_ref().map_or(0.0, |r| r.value.base());
        let inductance = primary_inductance(transformer);
        let core = self.core(id, inductance);
        let places: Vec<Place> = places(transformer)
            .into_iter()
            .filter(|(_, terminal)| self.circuit.net_of(id, terminal).is_some())
            .collect();
        for pair in places.windows(2) {
            let [(from_share, from), (to_share, to)] = pair else { continue };
            let turns = to_share - from_share;
            let Some((a, b)) = self.pair(id, from, to) else { continue };
            let resistance = Ohms(whole * turns);
            self.add(id, from, Element::Coil { a, b, core, turns, resistance, leakage: Henries(0.0) });
        }
        for (name, impedance, resistance) in &transformer.secondaries {
            let Some((a, b)) = self.pair(id, &format!("{name}.start"), &format!("{name}.finish")) else { continue };
            let resistance = resistance.as_ref().map_or(Ohms(0.0), |r| r.value);
            let turns = (impedance.value.base() / transformer.primary.value.base()).sqrt();
            // The leakage is stated as the primary shows it; here it lies behind the ratio.
            let leakage = Henries(transformer.leakage.as_ref().map_or(0.0, |l| l.value.base()) * turns * turns);
            self.add(id, name, Element::Coil { a, b, core, turns, resistance, leakage });
        }
    }

    /// A node of its own for the core, with the primary's inductance on it.
    fn core(&mut self, id: PartId, inductance: Henries) -> NodeId {
        let core = NodeId(self.done.network.nodes);
        self.done.network.nodes += 1;
        self.add(id, "core", Element::Inductor { a: core, b: NodeId::GROUND, inductance, resistance: Ohms(0.0) });
        core
    }
}

fn primary_inductance(transformer: &OutputTransformer) -> Henries {
    let assumed = transformer.primary.value.base() / (2.0 * std::f64::consts::PI * ASSUMED_CORNER);
    transformer.inductance.as_ref().map_or(Henries(assumed), |l| l.value)
}

/// What is assumed of an output transformer that does not state it.
pub(crate) fn transformer_assumptions(name: &str, transformer: &OutputTransformer) -> Vec<String> {
    let mut found = Vec::new();
    if transformer.inductance.is_none() {
        let henries = primary_inductance(transformer).base();
        found.push(format!("primary inductance of {name} taken as {henries:.0} H: its rated impedance at 20 Hz"));
    }
    if transformer.leakage.is_none() {
        found.push(format!("leakage inductance of {name} taken as none: its treble corner is not counted"));
    }
    if transformer.primary_resistance.is_none() || transformer.secondaries.iter().any(|(_, _, r)| r.is_none()) {
        found.push(format!("winding resistance of {name} taken as 0 Ω where it is not stated"));
    }
    found
}

/// The terminals of the primary in order of turns; without a centre a tap is counted from the start.
fn places(transformer: &OutputTransformer) -> Vec<Place> {
    let mut all: Vec<Place> = vec![(0.0, "primary.start".to_owned()), (1.0, "primary.finish".to_owned())];
    if transformer.centre_tapped {
        all.push((0.5, "primary.centre".to_owned()));
    }
    for (index, (terminal, share)) in transformer.taps.iter().enumerate() {
        let share = share.value.base();
        let place = match transformer.half_of_tap(index) {
            None => share,
            Some(Half::Start) => 0.5 - share / 2.0,
            Some(Half::Finish) => 0.5 + share / 2.0,
        };
        all.push((place, terminal.clone()));
    }
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    all
}
