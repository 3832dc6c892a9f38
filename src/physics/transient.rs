//! Switch-on from zero charge.

use super::equations::Equations;
use super::islands::fed;
use super::march::March;
use super::partition::Part;
use super::reduced::{GAMMA, Reduced, ports};
use super::watch::instant_currents;
use super::{Crest, Element, Network, NodeId, SolveError, Transient};
use crate::units::{Hertz, Seconds};
use std::f64::consts::{FRAC_PI_2, TAU};

/// More periods than this are not followed: 200 s at 50 Hz.
const MOST_PERIODS: f64 = 10_000.0;
/// A crest above the settled one by less than this share is no overshoot.
const OVERSHOOT: f64 = 1e-3;
/// So many periods without a higher crest end a following that may end early.
const QUIET_PERIODS: f64 = 10.0;

const FEWEST_STEPS: u32 = 16;

/// What of a switch-on is followed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Following<'a> {
    /// For a sum of the elements' main currents that is followed besides, such as the current of a primary from those of
    /// its windings; elements beyond its end count nothing.
    pub weights: &'a [f64],
    /// The largest voltage either way that each element has in the steady state that comes in the end. With it the
    /// following ends before its duration, once no capacitor overshoots that any further.
    pub settled: Option<&'a [f64]>,
}

/// A network made ready to be switched on, at as many angles of the mains as are wanted.
///
/// Only what something feeds is followed: all else stays at zero.
#[derive(Debug)]
pub struct Switching {
    nodes: usize,
    count: usize,
    fed: Part,
    frequency: Hertz,
    steps: u32,
    equations: Equations,
    reduced: Reduced,
}

impl Switching {
    /// Makes a network ready, in so many steps a period (at least 16).
    ///
    /// # Errors
    /// See [`SolveError`].
    pub fn new(network: &Network, frequency: Hertz, steps: u32) -> Result<Self, SolveError> {
        network.check()?;
        if !(frequency.0.is_finite() && frequency.0 > 0.0) {
            return Err(SolveError::NonFinite { node: NodeId::GROUND });
        }
        let steps = steps.max(FEWEST_STEPS);
        let fed = Part::of(network, fed(network).into_iter());
        let equations = Equations::new(&fed.network);
        let step = 1.0 / (f64::from(steps) * frequency.0);
        let reduced = Reduced::fitting(&equations, &ports(&equations), step).map_err(|error| fed.lift(error))?;
        Ok(Self {
            nodes: network.nodes.max(1),
            count: network.elements.len(),
            fed,
            frequency,
            steps,
            equations,
            reduced,
        })
    }

    /// Follows a switch-on from zero charge, everything in the network conducting at once, at an angle of the mains
    /// (radians; 0: the emf crosses zero upwards).
    ///
    /// # Errors
    /// See [`SolveError`]; a duration that is not finite or is longer than 10,000 periods is [`SolveError::NonFinite`].
    pub fn follow(&self, angle: f64, duration: Seconds, following: Following<'_>) -> Result<Transient, SolveError> {
        let periods = duration.0 * self.frequency.0;
        if !(0.0..=MOST_PERIODS).contains(&periods) {
            return Err(SolveError::NonFinite { node: NodeId::GROUND });
        }
        let (network, equations, reduced) = (&self.fed.network, &self.equations, &self.reduced);
        let mut march = March::new(equations);
        let steps = (periods * f64::from(self.steps)).ceil() as usize;
        let mut state = vec![0.0; equations.stores.len()];
        let mut x = vec![0.0; equations.size];
        let mut now = vec![0.0; network.elements.len()];
        let mut answer = Transient {
            nodes: vec![Crest::default(); self.nodes],
            elements: vec![Crest::default(); self.count],
            currents: vec![Crest::default(); self.count],
            weighted: Crest::default(),
        };
        let quiet = QUIET_PERIODS / self.frequency.0;
        let least = quiet + longest_rise(network);
        for n in 0..steps {
            let part = |part: f64| (angle + TAU * (n as f64 + part) / f64::from(self.steps)).sin_cos();
            let angles = [part(GAMMA), part(1.0)];
            let at = reduced.step * (n + 1) as f64;
            let made = march.step(reduced, angles, &mut state, |march, stage, out| {
                if stage == 0 {
                    return;
                }
                march.unknowns(reduced, angles[1], &mut x);
                instant_currents(network, march, reduced, &x, out, &mut now);
                let voltage = |node: usize| node.checked_sub(1).map_or(0.0, |n| x[n]);
                for (node, place) in self.fed.nodes.iter().enumerate() {
                    raise(&mut answer.nodes[place.0], voltage(node), at);
                }
                let mut sum = 0.0;
                for ((element, id), current) in network.elements.iter().zip(&self.fed.elements).zip(&now) {
                    let (a, b) = element.ends();
                    raise(&mut answer.elements[id.0], voltage(a.0) - voltage(b.0), at);
                    raise(&mut answer.currents[id.0], *current, at);
                    sum += current * following.weights.get(id.0).copied().unwrap_or(0.0);
                }
                raise(&mut answer.weighted, sum, at);
            });
            made.map_err(|error| self.fed.lift(error))?;
            let is_over = (n + 1) % self.steps as usize == 0
                && at >= least
                && following.settled.is_some_and(|settled| at >= self.last_overshoot(&answer, settled) + quiet);
            if is_over {
                break;
            }
        }
        Ok(answer)
    }

    /// When a capacitor last rose above anything before and above what it has in the end, s.
    fn last_overshoot(&self, answer: &Transient, settled: &[f64]) -> f64 {
        let capacitor = |element: &Element| matches!(element, Element::Capacitor { .. });
        let each = self.fed.network.elements.iter().zip(&self.fed.elements).filter(|(element, _)| capacitor(element));
        each.flat_map(|(_, id)| {
            let crest = answer.elements[id.0];
            let settled = settled.get(id.0).copied().unwrap_or(0.0);
            let over = |volts: f64| volts > settled * (1.0 + OVERSHOOT);
            let high = over(crest.maximum).then_some(crest.maximum_at.0);
            let low = over(-crest.minimum).then_some(crest.minimum_at.0);
            high.into_iter().chain(low)
        })
        .fold(0.0, f64::max)
    }
}

/// A quarter of the slowest ring that the chokes of a network could make with its capacitors, s: all of the former in
/// series with all of the latter beside each other. Zero without a choke: capacitors and resistors alone do not ring.
fn longest_rise(network: &Network) -> f64 {
    let (mut henries, mut farads) = (0.0, 0.0);
    for element in &network.elements {
        match element {
            Element::Inductor { inductance, .. } => henries += inductance.0,
            Element::Capacitor { capacitance, .. } => farads += capacitance.0,
            _ => {}
        }
    }
    FRAC_PI_2 * f64::sqrt(henries * farads)
}

fn raise(crest: &mut Crest, value: f64, at: f64) {
    if value > crest.maximum {
        crest.maximum = value;
        crest.maximum_at = Seconds(at);
    }
    if value < crest.minimum {
        crest.minimum = value;
        crest.minimum_at = Seconds(at);
    }
}
