//! What is recorded over one period: voltages of nodes, currents and voltages of elements.

use super::equations::Equations;
use super::march::{March, WEIGHTS};
use super::orbit::Clock;
use super::reduced::Reduced;
use super::{Element, ElementSwing, Network, SolveError, Swing};

/// The share of the largest current above which an element is said to conduct.
const CONDUCTING: f64 = 0.01;

/// One period, sampled.
#[derive(Clone, Debug, Default)]
pub(super) struct Period {
    /// Samples of each node's voltage at the end of each step.
    pub waveforms: Vec<Vec<f64>>,
    /// Swing of each node.
    pub nodes: Vec<Swing>,
    /// Swing of each element.
    pub elements: Vec<ElementSwing>,
    /// Samples of each winding's current; empty for what is no winding.
    pub winding_waves: Vec<Vec<f64>>,
    /// Mean currents of each device port, in the order of the devices.
    pub port_means: Vec<f64>,
    /// End of the period less its beginning, for each state.
    pub gap: Vec<f64>,
}

/// Sum, square sum and extremes of a quantity.
#[derive(Clone, Copy, Debug)]
struct Tally {
    sum: f64,
    squares: f64,
    minimum: f64,
    maximum: f64,
}

impl Tally {
    const EMPTY: Self = Self { sum: 0.0, squares: 0.0, minimum: f64::INFINITY, maximum: f64::NEG_INFINITY };

    /// The first stage is only of first order in itself: it counts for averages, not for extremes.
    fn add(&mut self, value: f64, stage: usize, may_be_extreme: bool) {
        self.sum += WEIGHTS[stage] * value;
        self.squares += WEIGHTS[stage] * value * value;
        if stage == 1 && may_be_extreme {
            self.minimum = self.minimum.min(value);
            self.maximum = self.maximum.max(value);
        }
    }

    fn swing(&self, steps: usize) -> Swing {
        let count = steps as f64;
        Swing {
            mean: self.sum / count,
            minimum: self.minimum,
            maximum: self.maximum,
            rms: (self.squares / count).max(0.0).sqrt(),
        }
    }
}

/// Marches once more through a closed period and records it.
pub(super) fn record(
    network: &Network,
    march: &mut March,
    reduced: &Reduced,
    clock: &Clock,
    start: &[f64],
) -> Result<Period, SolveError> {
    let equations: &Equations = march.equations;
    let steps = clock.angles.len();
    let mut x = vec![0.0; equations.size];
    let mut nodes = vec![Tally::EMPTY; equations.nodes];
    let mut voltages = vec![Tally::EMPTY; network.elements.len()];
    let mut currents = vec![Tally::EMPTY; network.elements.len()];
    let mut samples = vec![Vec::with_capacity(steps); network.elements.len()];
    let mut waveforms = vec![Vec::with_capacity(steps); equations.nodes];
    let mut port_sums = vec![0.0; march.ports.len()];
    let mut state = start.to_vec();
    let mut now = vec![0.0; network.elements.len()];
    march.sensitivity = Vec::new();
    let bare = bare_choke_ends(network, equations.nodes);
    for angles in &clock.angles {
        let conducting = march.conducting();
        march.step(reduced, *angles, &mut state, |march, stage, out| {
            march.unknowns(reduced, angles[stage], &mut x);
            instant_currents(network, march, reduced, &x, out, &mut now);
            for (place, port) in port_sums.iter_mut().enumerate() {
                *port += WEIGHTS[stage] * march.port_current(place);
            }
            let at = |node: usize| node.checked_sub(1).map_or(0.0, |n| x[n]);
            let turned_off = march.conducting() < conducting;
            for (node, tally) in nodes.iter_mut().enumerate() {
                tally.add(at(node), stage, !(turned_off && bare[node]));
                if stage == 1 {
                    waveforms[node].push(at(node));
                }
            }
            for (place, element) in network.elements.iter().enumerate() {
                let (a, b) = element.ends();
                let free = turned_off && (bare[a.0] || bare[b.0]);
                voltages[place].add(at(a.0) - at(b.0), stage, !free);
                currents[place].add(now[place], stage, true);
                if stage == 1 {
                    samples[place].push(now[place]);
                }
            }
        })?;
    }
    Ok(Period {
        nodes: nodes.iter().map(|t| t.swing(steps)).collect(),
        elements: voltages
            .iter()
            .zip(&currents)
            .zip(&samples)
            .map(|((voltage, current), samples)| ElementSwing {
                current: current.swing(steps),
                voltage: voltage.swing(steps),
                conduction: conduction(samples),
            })
            .collect(),
        winding_waves: network
            .elements
            .iter()
            .zip(&samples)
            .map(|(element, wave)| if matches!(element, Element::Winding { .. }) { wave.clone() } else { Vec::new() })
            .collect(),
        gap: state.iter().zip(start).map(|(end, start)| end - start).collect(),
        port_means: port_sums.iter().map(|sum| sum / steps as f64).collect(),
        waveforms,
    })
}

/// Marches once more through a closed period for what supply and load must know of each other: means of all nodes, and
/// samples of those that are `watched`. Everything else of the period is left empty.
pub(super) fn sketch(
    march: &mut March,
    reduced: &Reduced,
    clock: &Clock,
    start: &[f64],
    watched: impl Fn(usize) -> bool,
) -> Result<Period, SolveError> {
    let nodes = march.equations.nodes;
    let watched: Vec<usize> = (1..nodes).filter(|node| watched(*node)).collect();
    let mut waveforms = vec![Vec::new(); nodes];
    let mut state = start.to_vec();
    march.sensitivity = Vec::new();
    let mut sources = [0.0; 3];
    let (mut put, mut amperes) = (vec![0.0; reduced.states], vec![0.0; reduced.ports]);
    for angles in &clock.angles {
        march.step(reduced, *angles, &mut state, |march, stage, _| {
            let (sine, cosine) = angles[stage];
            let parts = [1.0, sine, cosine];
            let add = |sums: &mut [f64], values: &[f64]| {
                for (sum, value) in sums.iter_mut().zip(values) {
                    *sum += WEIGHTS[stage] * value;
                }
            };
            add(&mut sources, &parts);
            add(&mut put, &march.put);
            add(&mut amperes, &march.amperes);
            if stage == 1 {
                for node in &watched {
                    waveforms[*node].push(reduced.unknown(node - 1, parts, &march.put, &march.amperes));
                }
            }
        })?;
    }
    let steps = clock.angles.len() as f64;
    let mean = |node: usize| {
        let sum = node.checked_sub(1).map_or(0.0, |place| reduced.unknown(place, sources, &put, &amperes));
        Swing { mean: sum / steps, ..Swing::default() }
    };
    Ok(Period {
        waveforms,
        nodes: (0..nodes).map(mean).collect(),
        gap: state.iter().zip(start).map(|(end, start)| end - start).collect(),
        ..Period::default()
    })
}

/// Nodes where a choke ends and no capacitor stands. In the step in which a rectifier cuts the choke's current off, what
/// is left of that current makes a spike there that no smaller step lessens and that a real current, falling to nothing,
/// does not make: such a step tells nothing of extremes.
fn bare_choke_ends(network: &Network, nodes: usize) -> Vec<bool> {
    let mut bare = vec![false; nodes];
    for element in &network.elements {
        if let Element::Inductor { a, b, .. } = element {
            bare[a.0] = true;
            bare[b.0] = true;
        }
    }
    for element in &network.elements {
        if let Element::Capacitor { a, b, .. } = element {
            bare[a.0] = false;
            bare[b.0] = false;
        }
    }
    bare[0] = false;
    bare
}

fn conduction(samples: &[f64]) -> f64 {
    let largest = samples.iter().fold(0.0, |most, v| f64::max(most, v.abs()));
    if largest == 0.0 || samples.is_empty() {
        return 0.0;
    }
    let conducting = samples.iter().filter(|v| v.abs() > CONDUCTING * largest);
    conducting.count() as f64 / samples.len() as f64
}

/// The main current of each element after a stage.
pub(super) fn instant_currents(
    network: &Network,
    march: &March,
    reduced: &Reduced,
    x: &[f64],
    out: &[f64],
    now: &mut [f64],
) {
    let equations = march.equations;
    let at = |node: super::NodeId| node.0.checked_sub(1).map_or(0.0, |n| x[n]);
    for (place, element) in network.elements.iter().enumerate() {
        now[place] = match (equations.branch[place], element) {
            (Some(branch), _) => x[branch],
            (None, Element::Resistor { a, b, resistance }) => (at(*a) - at(*b)) / resistance.0,
            _ => 0.0,
        };
    }
    let rate = 1.0 / (super::reduced::GAMMA * reduced.step);
    for ((store, out), put) in equations.stores.iter().zip(out).zip(&march.put) {
        if equations.branch[store.element].is_none() {
            now[store.element] = (store.weight - store.lent) * (out - put) * rate;
        }
    }
    let mut port = 0;
    for device in &equations.devices {
        now[device.element] = march.port_current(port);
        port += device.law.ports();
    }
}
