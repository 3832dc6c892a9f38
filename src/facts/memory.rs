//! What has been solved for a design, kept for others that differ from it in little: the same design with an edit.
//!
//! A solution is found again only where the whole of its problem is equal, number for number: it is what solving anew would
//! give. Knows problems and solutions; does not know what either is for.

use std::sync::{Arc, Mutex, PoisonError};

use crate::physics::{
    Complex, ElementId, Held, Linear, Network, NodeId, Noise, OperatingPoint, SolveError, SteadyState,
};
use crate::units::Hertz;

use super::large::Outcome;
use super::large_search::Aim;
use super::large_supply::Sags;
use super::switching::Surge;

/// The solutions of one design.
#[derive(Debug, Default)]
pub struct Memory {
    keeps: bool,
    before: Option<Arc<Memory>>,
    pub(super) steady: Shelf<SteadyProblem, Result<Arc<SteadyState>, SolveError>>,
    pub(super) surges: Shelf<SurgeProblem, Result<Arc<Surge>, SolveError>>,
    pub(super) decays: Shelf<(Network, Vec<f64>), Result<Vec<f64>, String>>,
    pub(super) linear: Shelf<(Network, Vec<f64>), Result<Linear, SolveError>>,
    pub(super) outcomes: Shelf<OutcomeProblem, Result<(Arc<Outcome>, Sags), SolveError>>,
    pub(super) noises: Shelf<NoiseProblem, Vec<Result<Noise, SolveError>>>,
    pub(super) hums: Shelf<HumProblem, Vec<Option<f64>>>,
}

/// A network under the mains, and where the search for its steady state begins, with its scale.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct SteadyProblem {
    pub(super) network: Network,
    pub(super) frequency: Hertz,
    pub(super) near: Option<(Resting, f64)>,
}

/// A network that is switched on, with what is asked of its switch-on.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct SurgeProblem {
    pub(super) network: Network,
    pub(super) frequency: Hertz,
    pub(super) weights: Vec<f64>,
    pub(super) settled: Option<Vec<f64>>,
}

/// A signal played through a part of a network, with what is known by then of how the supply gives way.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct OutcomeProblem {
    pub(super) held: Held,
    pub(super) aim: Aim,
    pub(super) supply: Resting,
    pub(super) lineup: usize,
    pub(super) sags: Sags,
}

/// A steady state that was found again rather than solved anew: only so it is known to be of the same network.
#[derive(Clone, Debug)]
pub(super) struct Resting(pub(super) Arc<SteadyState>);

impl PartialEq for Resting {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

/// The noise of a network about a point, at its outputs.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct NoiseProblem {
    pub(super) network: Network,
    pub(super) point: OperatingPoint,
    pub(super) outputs: Vec<(NodeId, NodeId)>,
}

/// Phasors of what moves the rails of a network about a point, and its outputs.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct HumProblem {
    pub(super) network: Network,
    pub(super) voltages: Vec<f64>,
    pub(super) frequency: Hertz,
    pub(super) sources: Vec<(ElementId, Vec<Complex>)>,
    pub(super) outputs: Vec<Option<(NodeId, NodeId)>>,
}

impl Memory {
    /// One that keeps what is solved.
    #[must_use]
    pub fn keeping() -> Self {
        Self { keeps: true, ..Self::default() }
    }

    /// One that keeps what is solved and looks into another first.
    #[must_use]
    pub fn keeping_after(before: Arc<Self>) -> Self {
        Self { keeps: true, before: Some(before), ..Self::default() }
    }

    /// One that keeps nothing and looks into another: for many trials, whose own solutions would fill the room.
    #[must_use]
    pub fn of(before: Arc<Self>) -> Self {
        Self { before: Some(before), ..Self::default() }
    }

    /// Lets go of what it looked into.
    #[must_use]
    pub fn alone(mut self) -> Self {
        self.before = None;
        self
    }

    /// A solution: found again, or made.
    pub(super) fn recall<K: PartialEq, V: Clone>(
        &self,
        shelf: impl Fn(&Self) -> &Shelf<K, V>,
        problem: impl FnOnce() -> K,
        make: impl FnOnce() -> V,
    ) -> V {
        if !self.keeps && self.before.is_none() {
            return make();
        }
        let problem = problem();
        if let Some(known) = shelf(self).find(&problem) {
            return known;
        }
        let found = self.before.as_deref().and_then(|before| shelf(before).find(&problem)).unwrap_or_else(make);
        if self.keeps {
            shelf(self).keep(problem, found.clone());
        }
        found
    }
}

/// Problems with their solutions.
#[derive(Debug)]
pub(super) struct Shelf<K, V>(Mutex<Vec<(K, V)>>);

impl<K, V> Default for Shelf<K, V> {
    fn default() -> Self {
        Self(Mutex::default())
    }
}

impl<K: PartialEq, V: Clone> Shelf<K, V> {
    fn find(&self, problem: &K) -> Option<V> {
        // A poisoned lock holds what is known as well as any other.
        let known = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        known.iter().find(|(other, _)| other == problem).map(|(_, solution)| solution.clone())
    }

    fn keep(&self, problem: K, solution: V) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).push((problem, solution));
    }
}
