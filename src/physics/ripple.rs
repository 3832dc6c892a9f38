//! Ripple carried from the supply into its load: small signals at the harmonics of the mains.

use super::load::Load;
use super::orbit::Clock;
use super::small_signal::{Complex, Linear};
use super::{Element, ElementSwing, Network, NodeId, SolveError, SteadyState, Swing};
use crate::units::Hertz;
use std::f64::consts::{SQRT_2, TAU};

const HARMONICS: usize = 40;
/// A harmonic smaller than this at every port is left out: an absolute limit, V, and a share of the largest harmonic.
const LEAST_RIPPLE: f64 = 1e-7;
const LEAST_SHARE: f64 = 2e-3;

/// Adds the ripple to the nodes and elements of the load.
pub(super) fn carry_ripple(
    whole: &Network,
    load: &Load,
    frequency: Hertz,
    clock: &Clock,
    steady: &mut SteadyState,
) -> Result<(), SolveError> {
    let steps = clock.angles.len();
    let linear = Linear::about(&load.part.network, &load.point.voltages)?;
    let mut waves: Vec<Vec<f64>> = vec![Vec::new(); linear.size() + 1];
    let mut strongest = 0.0;
    for harmonic in 1..=HARMONICS {
        let (side, strength) = drive(load, &linear, steady, clock, harmonic);
        strongest = f64::max(strongest, strength);
        // A winding of the load, a heater's as a rule, drives by itself and says nothing of what ripple is small.
        let own = harmonic == 1 && windings(load);
        if !own && (strength <= LEAST_RIPPLE || strength < LEAST_SHARE * strongest) {
            continue;
        }
        let answer = linear.solve(side, Hertz(frequency.0 * harmonic as f64)).map_err(|error| load.part.lift(error))?;
        for (node, wave) in waves.iter_mut().enumerate().skip(1) {
            let phasor = answer[node];
            if phasor.norm() < 1e-12 {
                continue;
            }
            wave.resize(steps, 0.0);
            for (sample, (sine, cosine)) in wave.iter_mut().zip(clock.turns(harmonic)) {
                *sample += phasor.re * cosine - phasor.im * sine;
            }
        }
    }
    for (node, wave) in load.part.nodes.iter().zip(&waves) {
        if wave.is_empty() || !steady.waveforms[node.0].is_empty() {
            continue;
        }
        let mean = steady.mean.voltages[node.0];
        let samples: Vec<f64> = wave.iter().map(|v| v + mean).collect();
        steady.nodes[node.0] = swing(&samples);
        steady.waveforms[node.0] = samples;
    }
    for (place, id) in load.part.elements.iter().enumerate() {
        let element = &whole.elements[id.0];
        let moves = element.terminals().any(|node| !steady.waveforms[node.0].is_empty());
        if !moves {
            continue;
        }
        let (a, b) = element.ends();
        let across = wave_between(steady, a, b, steps);
        let branch = linear.branch(place).map(|branch| &waves[branch + 1]);
        let current = match (branch, element) {
            (Some(wave), _) => shifted(wave, steady.mean.currents[id.0].main.0, steps),
            (None, Element::Resistor { resistance, .. }) => across.iter().map(|v| v / resistance.0).collect(),
            (None, Element::Capacitor { capacitance, .. }) => {
                let rate = capacitance.0 / (2.0 * clock.step);
                (0..steps).map(|n| rate * (across[(n + 1) % steps] - across[(n + steps - 1) % steps])).collect()
            }
            _ => along_tangent(&linear, steady, element, (place, id.0), steps),
        };
        if let Element::Winding { .. } = element {
            steady.winding_waves[id.0].clone_from(&current);
        }
        steady.elements[id.0] = ElementSwing {
            current: swing(&current),
            voltage: swing(&across),
            conduction: steady.elements[id.0].conduction,
        };
    }
    Ok(())
}

fn shifted(wave: &[f64], mean: f64, steps: usize) -> Vec<f64> {
    (0..steps).map(|n| mean + wave.get(n).copied().unwrap_or(0.0)).collect()
}

fn wave_between(steady: &SteadyState, a: NodeId, b: NodeId, steps: usize) -> Vec<f64> {
    let at = |node: NodeId, n: usize| {
        let still = steady.mean.voltages[node.0];
        steady.waveforms[node.0].get(n).copied().unwrap_or(still)
    };
    (0..steps).map(|n| at(a, n) - at(b, n)).collect()
}

/// The main current of a device whose port voltages move a little.
fn along_tangent(
    linear: &Linear,
    steady: &SteadyState,
    element: &Element,
    (local, whole): (usize, usize),
    steps: usize,
) -> Vec<f64> {
    let mean = steady.mean.currents[whole].main.0;
    let mut current = vec![mean; steps];
    let (first, common) = element.ends();
    let terminals = [Some(first), element.grid(), element.screen()];
    for (terminal, slope) in terminals.into_iter().zip(linear.main_slopes(local)) {
        let Some(terminal) = terminal else { continue };
        let wave = wave_between(steady, terminal, common, steps);
        let still = steady.mean.voltages[terminal.0] - steady.mean.voltages[common.0];
        for (current, volts) in current.iter_mut().zip(wave) {
            *current += slope * (volts - still);
        }
    }
    current
}

fn windings(load: &Load) -> bool {
    load.part.network.elements.iter().any(|element| matches!(element, Element::Winding { emf, .. } if emf.0 != 0.0))
}

/// The right-hand side of one harmonic: the supply's voltages at the ports, and the emfs of the load's own windings.
/// With it the largest of the former, V.
fn drive(load: &Load, linear: &Linear, steady: &SteadyState, clock: &Clock, harmonic: usize) -> (Vec<Complex>, f64) {
    let mut side = vec![Complex::default(); linear.size()];
    let mut largest = 0.0;
    for (place, port) in load.ports.iter().enumerate() {
        let phasor = fourier(&steady.waveforms[port.node.0], clock, harmonic);
        largest = f64::max(largest, phasor.norm());
        if let Some(branch) = linear.branch(load.holder(place)) {
            side[branch] = phasor;
        }
    }
    if harmonic == 1 {
        for (place, element) in load.part.network.elements.iter().enumerate() {
            if let (Element::Winding { emf, phase, .. }, Some(branch)) = (element, linear.branch(place)) {
                // A sine is the real part of a phasor a quarter turn behind.
                side[branch] = Complex::from_polar(SQRT_2 * emf.0, phase - TAU / 4.0);
            }
        }
    }
    (side, largest)
}

/// Phasor of a harmonic, samples being at the ends of even steps.
pub(super) fn fourier(samples: &[f64], clock: &Clock, harmonic: usize) -> Complex {
    let parts = samples.iter().zip(clock.turns(harmonic));
    let sum: Complex = parts.map(|(v, (sine, cosine))| Complex::new(v * cosine, -v * sine)).sum();
    sum * (2.0 / samples.len().max(1) as f64)
}

fn swing(samples: &[f64]) -> Swing {
    let count = samples.len().max(1) as f64;
    Swing {
        mean: samples.iter().sum::<f64>() / count,
        minimum: samples.iter().copied().fold(f64::INFINITY, f64::min),
        maximum: samples.iter().copied().fold(f64::NEG_INFINITY, f64::max),
        rms: (samples.iter().map(|v| v * v).sum::<f64>() / count).sqrt(),
    }
}
