//! Ripple carried from the supply into its load: small signals at the harmonics of the mains.

use super::load::Load;
use super::orbit::Clock;
use super::small_signal::{Complex, Linear};
use super::{Element, ElementSwing, Network, SolveError, SteadyState, Swing};
use crate::units::Hertz;
use std::f64::consts::{SQRT_2, TAU};

const HARMONICS: usize = 8;
/// A harmonic smaller than this at every port is left out, V.
const LEAST_RIPPLE: f64 = 1e-7;

/// Adds the ripple to the nodes and elements of the load.
pub(super) fn carry_ripple(
    whole: &Network,
    load: &Load,
    frequency: Hertz,
    clock: &Clock,
    steady: &mut SteadyState,
) -> Result<(), SolveError> {
    let steps = clock.angles.len();
    let count = load.part.network.nodes;
    let linear = Linear::about(&load.part.network, &load.point.voltages)?;
    let mut waves: Vec<Vec<f64>> = vec![Vec::new(); count];
    for harmonic in 1..=HARMONICS {
        let Some(side) = drive(load, &linear, steady, harmonic) else {
            continue;
        };
        let answer = linear.solve(side, Hertz(frequency.0 * harmonic as f64)).map_err(|error| load.part.lift(error))?;
        for (node, wave) in waves.iter_mut().enumerate().skip(1) {
            let phasor = answer[node];
            if phasor.norm() < 1e-12 {
                continue;
            }
            wave.resize(steps, 0.0);
            for (n, sample) in wave.iter_mut().enumerate() {
                let angle = TAU * (harmonic * (n + 1) % steps) as f64 / steps as f64;
                *sample += phasor.re * angle.cos() - phasor.im * angle.sin();
            }
        }
    }
    for (node, wave) in load.part.nodes.iter().zip(waves) {
        if wave.is_empty() || !steady.waveforms[node.0].is_empty() {
            continue;
        }
        let mean = steady.mean.voltages[node.0];
        let samples: Vec<f64> = wave.iter().map(|v| v + mean).collect();
        steady.nodes[node.0] = swing(&samples);
        steady.waveforms[node.0] = samples;
    }
    for id in &load.part.elements {
        let element = &whole.elements[id.0];
        let (a, b) = element.ends();
        let (first, second) = (&steady.waveforms[a.0], &steady.waveforms[b.0]);
        if first.is_empty() && second.is_empty() {
            continue;
        }
        let across: Vec<f64> = (0..steps)
            .map(|n| {
                let at = |wave: &[f64], node: usize| wave.get(n).copied().unwrap_or(steady.mean.voltages[node]);
                at(first, a.0) - at(second, b.0)
            })
            .collect();
        steady.elements[id.0] = element_swing(element, &across, clock, steady.elements[id.0]);
    }
    Ok(())
}

/// The right-hand side of one harmonic: the supply's voltages at the ports, and the emfs of the load's own windings.
fn drive(load: &Load, linear: &Linear, steady: &SteadyState, harmonic: usize) -> Option<Vec<Complex>> {
    let mut side = vec![Complex::default(); linear.size()];
    let mut largest = 0.0;
    for (place, port) in load.ports.iter().enumerate() {
        let phasor = fourier(&steady.waveforms[port.node.0], harmonic);
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
                largest = f64::max(largest, side[branch].norm());
            }
        }
    }
    (largest > LEAST_RIPPLE).then_some(side)
}

/// Phasor of a harmonic, samples being at the ends of even steps.
fn fourier(samples: &[f64], harmonic: usize) -> Complex {
    let steps = samples.len().max(1);
    let sum: Complex = samples
        .iter()
        .enumerate()
        .map(|(n, v)| {
            let angle = TAU * (harmonic * (n + 1) % steps) as f64 / steps as f64;
            Complex::from_polar(*v, -angle)
        })
        .sum();
    sum * (2.0 / steps as f64)
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

/// Resistors follow their voltage and capacitors its rate; what else there is keeps its mean current.
fn element_swing(element: &Element, across: &[f64], clock: &Clock, before: ElementSwing) -> ElementSwing {
    let steps = across.len();
    let current = match element {
        Element::Resistor { resistance, .. } if resistance.0 > 0.0 => {
            let samples: Vec<f64> = across.iter().map(|v| v / resistance.0).collect();
            swing(&samples)
        }
        Element::Capacitor { capacitance, .. } => {
            let rate = capacitance.0 / (2.0 * clock.step);
            let samples: Vec<f64> =
                (0..steps).map(|n| rate * (across[(n + 1) % steps] - across[(n + steps - 1) % steps])).collect();
            swing(&samples)
        }
        _ => before.current,
    };
    ElementSwing { current, voltage: swing(across), conduction: before.conduction }
}
