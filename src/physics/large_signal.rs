//! The periodic steady state of a network that one sinusoid drives, in the time domain: nothing is made linear.
//!
//! Newton's method on the stored charges and fluxes at the beginning of a period (shooting), so that coupling and bypass
//! capacitors stand at the voltages that grid current and rectified signals leave them at in the long run.

use super::assembly::Assembly;
use super::equations::Equations;
use super::march::{March, WEIGHTS};
use super::operating_point::Search;
use super::orbit::{Answer, Clock, close};
use super::reduced::{Reduced, ports};
use super::{Complex, Element, ElementId, Network, NodeId, SolveError};
use crate::units::{Hertz, Volts};
use std::f64::consts::TAU;

/// Steps in one period.
const STEPS: usize = 128;
/// The same where a level is only sought: levels so found are within a few parts in a thousand, distortions within some
/// hundredths of themselves.
const FEW_STEPS: usize = 32;
/// Change of the states, as a share of the largest of their kind, at which a period counts as closed: what is left open
/// then is about the square of it.
const CLOSED: f64 = 1e-4;
/// States are not foretold further than so many times the last stride from one level to another.
const FORESIGHT: f64 = 2.0;
/// So often the way to another level is halved where it is too far in one stride.
const HALVINGS: u32 = 4;

/// What flows into an electrode over a period.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Electrode {
    /// Mean current, A.
    pub mean: f64,
    /// Smallest current, A.
    pub minimum: f64,
    /// Largest current, A.
    pub maximum: f64,
    /// Mean of voltage to the cathode times current, W.
    pub power: f64,
}

/// A tube or transistor over a period: plate, grid and screen (of a transistor its main and control electrode).
pub type Electrodes = [Electrode; 3];

/// One period at one level.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LargeSignal {
    /// Each node's voltage, V, at the end of each of the even steps of a period.
    pub waves: Vec<Vec<f64>>,
    /// Each device with electrodes; empty for other elements.
    pub devices: Vec<Option<Electrodes>>,
    /// Mean main current of each supply and coil, A; zero for other elements.
    pub branch_means: Vec<f64>,
}

/// A wave taken apart into its mean and harmonics.
#[derive(Clone, Debug, PartialEq)]
pub struct Harmonics {
    /// Mean.
    pub mean: f64,
    /// Amplitude (crest) and phase of the fundamental and those above it, against the drive's sine.
    pub waves: Vec<Complex>,
}

impl Harmonics {
    /// The harmonics of samples at the end of each even step of a period, as many as the samples tell.
    #[must_use]
    pub fn of(samples: &[f64]) -> Self {
        let length = samples.len().max(1);
        let count = length as f64;
        let circle: Vec<Complex> = (0..length)
            .map(|n| {
                let (sine, cosine) = (TAU * n as f64 / count).sin_cos();
                Complex::new(sine, cosine)
            })
            .collect();
        let wave = |order: usize| {
            let pairs = samples.iter().enumerate();
            pairs.map(|(n, v)| circle[order * (n + 1) % length] * *v).sum::<Complex>() * (2.0 / count)
        };
        let highest = (samples.len() / 4).max(1);
        Self { mean: samples.iter().sum::<f64>() / count, waves: (1..=highest).map(wave).collect() }
    }

    /// Crest of a harmonic; 1 is the fundamental.
    #[must_use]
    pub fn crest(&self, order: usize) -> f64 {
        order.checked_sub(1).and_then(|place| self.waves.get(place)).map_or(0.0, |wave| wave.norm())
    }

    /// A harmonic as a share of the fundamental.
    #[must_use]
    pub fn share(&self, order: usize) -> f64 {
        self.crest(order) / self.crest(1)
    }

    /// All harmonics above the fundamental together, as a share of it.
    #[must_use]
    pub fn distortion(&self) -> f64 {
        let above: f64 = self.waves.iter().skip(1).map(|wave| wave.norm_sqr()).sum();
        above.sqrt() / self.crest(1)
    }

    /// Root of the mean square of all that alternates.
    #[must_use]
    pub fn rms(&self) -> f64 {
        (self.waves.iter().map(|wave| wave.norm_sqr()).sum::<f64>() / 2.0).sqrt()
    }
}

/// A network ready to be driven at one level after another; each begins where the last one ended.
#[derive(Clone, Debug)]
pub struct Driven {
    network: Network,
    frequency: Hertz,
    equations: Equations,
    fine: Grain,
    rough: Grain,
    state: Vec<f64>,
    volts: Vec<f64>,
    level: f64,
    /// The level solved before this one, and its states.
    earlier: Option<(f64, Vec<f64>)>,
    /// How the last period's end answered its beginning.
    answer: Answer,
    rest: Vec<f64>,
}

/// The equations at one size of step.
#[derive(Clone, Debug)]
struct Grain {
    clock: Clock,
    reduced: Reduced,
    /// What 1 V of the source drives.
    unit: [Vec<f64>; 3],
}

impl Grain {
    /// A period in all steps and one in few.
    fn both(equations: &Equations, frequency: Hertz) -> Result<[Self; 2], SolveError> {
        let mut pattern = None;
        let fine = Self::new(equations, frequency, STEPS, &mut pattern)?;
        Ok([fine, Self::new(equations, frequency, FEW_STEPS, &mut pattern)?])
    }

    fn new(
        equations: &Equations,
        frequency: Hertz,
        steps: usize,
        pattern: &mut Option<Assembly<f64>>,
    ) -> Result<Self, SolveError> {
        let clock = Clock::new(frequency, steps);
        let reduced = Reduced::inverted(equations, &ports(equations), clock.step, pattern)?;
        let unit = [&reduced.state_drive, &reduced.port_drive, &reduced.full_drive].map(|drive| drive[1].clone());
        Ok(Self { clock, reduced, unit })
    }

    /// At so many volts of the source.
    fn drive(&mut self, level: f64) {
        let drives = [&mut self.reduced.state_drive, &mut self.reduced.port_drive, &mut self.reduced.full_drive];
        for (drive, unit) in drives.into_iter().zip(&self.unit) {
            drive[1] = unit.iter().map(|v| level * v).collect();
        }
    }
}

impl Driven {
    /// A network in which every winding but one is at 0 V and that one at 1 V: the unit of the levels.
    ///
    /// # Errors
    /// See [`SolveError`]: the network must have an operating point.
    pub fn new(network: &Network, frequency: Hertz) -> Result<Self, SolveError> {
        network.check()?;
        if !(frequency.0.is_finite() && frequency.0 > 0.0) {
            return Err(SolveError::NonFinite { node: NodeId::GROUND });
        }
        let equations = Equations::new(network);
        let mut search = Search::new(&equations, vec![0.0; equations.size]);
        search.solve()?;
        let rest = search.x.clone();
        let at = |unknown: Option<usize>| unknown.map_or(0.0, |place: usize| rest[place]);
        let state = equations.stores.iter().map(|store| at(store.plus) - at(store.minus)).collect();
        let volts = ports(&equations).iter().map(|port| at(port.ends.0) - at(port.ends.1)).collect();
        let [fine, rough] = Grain::both(&equations, frequency)?;
        Ok(Self {
            network: network.clone(),
            equations,
            fine,
            rough,
            frequency,
            state,
            volts,
            level: 0.0,
            earlier: None,
            answer: Answer::default(),
            rest,
        })
    }

    /// Voltage of a node at rest, V.
    #[must_use]
    pub fn rest(&self, node: NodeId) -> f64 {
        node.0.checked_sub(1).and_then(|place| self.rest.get(place)).copied().unwrap_or(0.0)
    }

    /// Current of a supply or coil at rest, A, counted as in [`super::Element`].
    #[must_use]
    pub fn resting_current(&self, element: ElementId) -> f64 {
        let branch = self.equations.branch.get(element.0).copied().flatten();
        branch.and_then(|place| self.rest.get(place)).copied().unwrap_or(0.0)
    }

    /// The steady state with the source at this many volts, rms.
    ///
    /// # Errors
    /// See [`SolveError`]. The next level then begins where the last one that was solved ended.
    pub fn at(&mut self, level: Volts) -> Result<LargeSignal, SolveError> {
        self.reach(level, false)
    }

    /// The same with few steps, for a search.
    ///
    /// # Errors
    /// See [`Driven::at`].
    pub fn roughly_at(&mut self, level: Volts) -> Result<LargeSignal, SolveError> {
        self.reach(level, true)
    }

    fn reach(&mut self, level: Volts, rough: bool) -> Result<LargeSignal, SolveError> {
        let mut stride = 1.0;
        let mut halvings = 0;
        loop {
            let aim = self.level + stride * (level.0 - self.level);
            match self.settle(aim, rough) {
                Ok(()) if stride >= 1.0 => return self.record(rough),
                Ok(()) => stride = 1.0,
                Err(error) if halvings >= HALVINGS => return Err(error),
                Err(_) => {
                    halvings += 1;
                    stride *= 0.5;
                }
            }
        }
    }

    /// Holds supplies of the network at other voltages; the next level begins at the states of the last one.
    ///
    /// # Errors
    /// See [`SolveError`].
    pub fn hold(&mut self, supplies: &[(ElementId, Volts)]) -> Result<(), SolveError> {
        for (supply, volts) in supplies {
            if let Some(branch) = self.equations.branch.get(supply.0).copied().flatten() {
                self.equations.direct[branch] = volts.0;
            }
        }
        let mut search = Search::new(&self.equations, self.rest.clone());
        search.solve()?;
        self.rest = search.x.clone();
        self.earlier = None;
        [self.fine, self.rough] = Grain::both(&self.equations, self.frequency)?;
        Ok(())
    }

    fn settle(&mut self, level: f64, rough: bool) -> Result<(), SolveError> {
        let foretold = self.foretold(level);
        let grain = if rough { &mut self.rough } else { &mut self.fine };
        grain.drive(level);
        let (reduced, clock) = (&grain.reduced, &grain.clock);
        let mut march = March::new(&self.equations);
        march.begin_at(&self.volts);
        let guess = foretold.as_ref().unwrap_or(&self.state);
        let mut closed = close(&mut march, reduced, clock, (guess, &mut self.answer), CLOSED);
        if closed.is_err() && foretold.is_some() {
            march.begin_at(&self.volts);
            closed = close(&mut march, reduced, clock, (&self.state, &mut self.answer), CLOSED);
        }
        let orbit = closed?;
        self.volts = march.volts;
        let left = std::mem::replace(&mut self.state, orbit.start);
        if level != self.level {
            self.earlier = Some((self.level, left));
        }
        self.level = level;
        Ok(())
    }

    /// The states at another level along the straight line through the last two.
    fn foretold(&self, level: f64) -> Option<Vec<f64>> {
        let (before, states) = self.earlier.as_ref()?;
        let way = (level - self.level) / (self.level - before);
        (way.abs() <= FORESIGHT)
            .then(|| self.state.iter().zip(states).map(|(now, then)| now + way * (now - then)).collect())
    }

    fn record(&self, rough: bool) -> Result<LargeSignal, SolveError> {
        let Grain { clock, reduced, .. } = if rough { &self.rough } else { &self.fine };
        let (network, equations) = (&self.network, &self.equations);
        let mut march = March::new(equations);
        march.begin_at(&self.volts);
        let steps = clock.angles.len();
        let ports = march.ports.len();
        let mut found = LargeSignal {
            waves: vec![Vec::with_capacity(steps); equations.nodes],
            devices: vec![None; network.elements.len()],
            branch_means: vec![0.0; network.elements.len()],
        };
        let empty = Electrode { minimum: f64::INFINITY, maximum: f64::NEG_INFINITY, ..Electrode::default() };
        let mut electrodes = vec![empty; ports];
        let mut x = vec![0.0; equations.size];
        let mut state = self.state.clone();
        for angles in &clock.angles {
            march.step(reduced, *angles, &mut state, |march, stage, _| {
                march.unknowns(reduced, angles[stage], &mut x);
                let weight = WEIGHTS[stage] / steps as f64;
                for (port, electrode) in electrodes.iter_mut().enumerate() {
                    let current = march.port_current(port);
                    electrode.mean += weight * current;
                    electrode.power += weight * current * march.volts[port];
                    if stage == 1 {
                        electrode.minimum = electrode.minimum.min(current);
                        electrode.maximum = electrode.maximum.max(current);
                    }
                }
                for (mean, branch) in found.branch_means.iter_mut().zip(&equations.branch) {
                    *mean += branch.map_or(0.0, |place| weight * x[place]);
                }
                if stage == 1 {
                    for (node, wave) in found.waves.iter_mut().enumerate() {
                        wave.push(node.checked_sub(1).map_or(0.0, |place| x[place]));
                    }
                }
            })?;
        }
        let mut port = 0;
        for device in &equations.devices {
            let count = device.law.ports();
            let mut all = Electrodes::default();
            all[..count].copy_from_slice(&electrodes[port..port + count]);
            if network.elements.get(device.element).is_some_and(|element| element.grid().is_some()) {
                found.devices[device.element] = Some(all);
            }
            port += count;
        }
        Ok(found)
    }
}

/// Whether anything in a network can bend a wave.
#[must_use]
pub fn bends(network: &Network) -> bool {
    network.elements.iter().any(|element| {
        element.grid().is_some()
            || matches!(element, Element::Junction { .. } | Element::VacuumDiode { .. } | Element::CurrentSource { .. })
    })
}
