//! The design made linear about its running point, in every line-up, with what is plugged in at inputs and outputs.

use crate::circuit::NetId;
use crate::design::{Kind, PartId};
use crate::physics::{Drive, Element, ElementId, Linear, NodeId, OperatingPoint, linearise};
use crate::units::{Hertz, Ohms, Quantity};

use super::lowering::{Lowered, transformer_assumptions};
use super::recorder::sample;
use super::study::Study;
use super::{Sample, State, Value};

/// The frequency at which gains are stated.
pub(super) const MIDDLE: Hertz = Hertz(1000.0);

/// Share by which two figures differ that are one but for rounding.
const ROUNDING: f64 = 1e-9;

/// One line-up in `running`.
pub(super) struct Small {
    /// Index of the line-up.
    pub(super) lineup: usize,
    /// The network.
    pub(super) lowered: Lowered,
    /// The same, linear.
    pub(super) linear: Linear,
    /// Where it rests.
    pub(super) point: OperatingPoint,
}

/// An input or output with its two nets.
pub(super) struct Port {
    pub(super) id: PartId,
    pub(super) hot: NetId,
    pub(super) cold: NetId,
}

/// Every line-up that could be solved in `running`.
pub(super) fn running(study: &Study<'_>) -> Vec<Small> {
    let solved = study.solved.iter().filter(|solved| solved.state == State::Running);
    solved
        .filter_map(|solved| {
            let steady = solved.steady.as_ref().ok()?;
            let lowered = study.with_ports(solved);
            let problem = || (lowered.network.clone(), steady.mean.voltages.clone());
            let linear =
                study.memory.recall(|memory| &memory.linear, problem, || linearise(&lowered.network, &steady.mean));
            let linear = linear.ok()?;
            // The ports stand between the elements: currents are looked up by part and way.
            let mut point = steady.mean.clone();
            point.currents = vec![Default::default(); lowered.network.elements.len()];
            for (way, place) in &lowered.elements {
                let found = solved.lowered.elements.get(way).and_then(|id| steady.mean.currents.get(id.0));
                if let (Some(found), Some(slot)) = (found, point.currents.get_mut(place.0)) {
                    *slot = *found;
                }
            }
            Some(Small { lineup: solved.lineup, lowered, linear, point })
        })
        .collect()
}

/// What has the highest figure; of several whose figures differ by rounding alone, the first.
pub(super) fn first_highest<T>(items: impl IntoIterator<Item = T>, figure: impl Fn(&T) -> f64) -> Option<T> {
    let mut best: Option<(T, f64)> = None;
    for item in items {
        let here = figure(&item);
        let rounded = |known: &f64| here - known <= ROUNDING * known.abs().min(f64::MAX);
        if best.as_ref().is_none_or(|(_, known)| here > *known && !rounded(known)) {
            best = Some((item, here));
        }
    }
    best.map(|(item, _)| item)
}

/// Why a fact of small signals is missing where a design has no solution at rest.
pub(super) const UNSOLVED: &str = "the circuit could not be solved at rest";

/// Whether the design as drawn is among what was solved.
pub(super) fn is_drawn_solved(small: &[Small]) -> bool {
    small.iter().any(|each| each.lineup == 0)
}

/// The outputs, or the inputs, of a design that are joined to something.
pub(super) fn ports(study: &Study<'_>, wanted: impl Fn(&Kind) -> bool) -> Vec<Port> {
    let circuit = study.circuit;
    let all = study.design.ids().filter(|(_, part)| wanted(&part.kind));
    all.filter_map(|(id, _)| {
        let hot = circuit.net_of(id, "hot")?;
        let cold = circuit.net_of(id, "cold").or_else(|| circuit.ground())?;
        Some(Port { id, hot, cold })
    })
    .collect()
}

/// What is assumed of the parts that signals pass.
pub(super) fn assumptions(study: &Study<'_>) -> Vec<String> {
    let transformers = study.design.parts.iter().filter_map(|part| match &part.kind {
        Kind::OutputTransformer(transformer) => Some(transformer_assumptions(&part.name, transformer)),
        _ => None,
    });
    transformers.flatten().collect()
}

impl Small {
    /// The two nodes of a port.
    pub(super) fn nodes(&self, port: &Port) -> Option<(NodeId, NodeId)> {
        Some((self.lowered.node(port.hot)?, self.lowered.node(port.cold)?))
    }

    /// A sample in this line-up.
    pub(super) fn sample(&self, value: f64) -> Sample {
        sample(Some(State::Running), self.lineup, Value::Quantity(value))
    }

    /// Magnitude of the response from an input's source to an output.
    pub(super) fn response(&self, input: ElementId, output: (NodeId, NodeId), frequency: Hertz) -> Option<f64> {
        let ratio = self.linear.transfer(Drive::Within(input), output, frequency).ok()?;
        Some(ratio.norm()).filter(|ratio| ratio.is_finite())
    }

    /// The same network with these potentiometers at another setting.
    pub(super) fn turned(&self, study: &Study<'_>, pots: &[PartId], setting: f64) -> Option<Self> {
        let mut lowered = self.lowered.clone();
        for id in pots {
            let Kind::Potentiometer(pot) = &study.design.part(*id).kind else { continue };
            let whole = pot.resistance.value.base();
            for (way, share) in [("upper", 1.0 - setting), ("lower", setting)] {
                let (Some(place), Some(_)) = (lowered.element(*id, way), lowered.element(*id, "lower")) else {
                    continue;
                };
                if let Some(Element::Resistor { resistance, .. }) = lowered.network.elements.get_mut(place.0) {
                    *resistance = Ohms(whole * share);
                }
            }
        }
        let linear = linearise(&lowered.network, &self.point).ok()?;
        Some(Self { lineup: self.lineup, lowered, linear, point: self.point.clone() })
    }
}
