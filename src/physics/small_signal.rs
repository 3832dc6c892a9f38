//! Small signals about an operating point: transfer and impedance at a frequency.

use super::assembly::Assembly;
use super::devices::{Ports, Response};
use super::equations::Equations;
use super::{Element, ElementId, Network, NodeId, OperatingPoint, SolveError};
use crate::units::{Farads, Hertz};
use std::f64::consts::TAU;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// A complex number: ratio of phasors, or an impedance in ohms.
pub type Complex = nalgebra::Complex<f64>;

/// Where the signal comes in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drive {
    /// An ideal voltage of 1 V of `plus` over `minus`.
    Between {
        /// Positive side.
        plus: NodeId,
        /// Negative side.
        minus: NodeId,
    },
    /// An emf of 1 V in series with a winding or a supply, raising its first terminal.
    Within(ElementId),
}

/// A network made linear about an operating point.
#[derive(Clone, Debug)]
pub struct Linear {
    network: Network,
    equations: Equations,
    voltages: Vec<f64>,
    matrix: Assembly<Complex>,
    /// The same with rows and columns exchanged, once it has been asked for.
    turned: OnceLock<Assembly<Complex>>,
    /// What was factored for some frequencies.
    known: Arc<Mutex<Vec<AtFrequency>>>,
    responses: Vec<Response>,
}

/// The bits of a frequency in hertz, and the equations factored there.
type AtFrequency = (u64, Arc<Assembly<Complex>>);

/// Linearises a network about an operating point (for a mains-driven one: `SteadyState::mean`). All other sources are at rest.
///
/// # Errors
/// [`SolveError::Malformed`] when the network is.
pub fn linearise(network: &Network, point: &OperatingPoint) -> Result<Linear, SolveError> {
    Linear::about(network, &point.voltages)
}

/// Where the structure is analysed.
const MIDDLE: Hertz = Hertz(1000.0);

/// So many entries of factored equations are kept at the most, some ten megabytes, and at so many frequencies.
const MOST_KEPT: usize = 400_000;
const MOST_FREQUENCIES: usize = 256;

/// Below this an element between two nodes hides what else lies there, and is taken out by solving anew.
const LEAST_REST: f64 = 1e-4;

impl Linear {
    /// Linearises about given node voltages.
    pub(super) fn about(network: &Network, voltages: &[f64]) -> Result<Self, SolveError> {
        network.check()?;
        let equations = Equations::new(network);
        let x = settle_inner(&equations, network, voltages);
        let responses: Vec<Response> =
            equations.devices.iter().map(|device| device.law.respond(device.volts(&x))).collect();
        let real = |v: f64| Complex::new(v, 0.0);
        let places: Vec<(usize, usize)> =
            equations.stores.iter().flat_map(|store| store.corners().map(|(row, column, _)| (row, column))).collect();
        let mut matrix = Assembly::new(&equations, places.into_iter(), real);
        matrix.set_slopes(&equations, &responses, real);
        // The structure is analysed once, at a frequency in the middle, and factored again for every other.
        fill(&mut matrix, &equations, MIDDLE);
        matrix.factor().map_err(|unknown| equations.singular(unknown.0))?;
        Ok(Self {
            network: network.clone(),
            equations,
            voltages: voltages.to_vec(),
            matrix,
            turned: OnceLock::new(),
            known: Arc::default(),
            responses,
        })
    }

    /// Ratio of the output voltage (of `output.0` over `output.1`) to the driving voltage.
    ///
    /// # Errors
    /// See [`SolveError`].
    pub fn transfer(&self, input: Drive, output: (NodeId, NodeId), frequency: Hertz) -> Result<Complex, SolveError> {
        match input {
            Drive::Between { plus, minus } => {
                let x = self.inject(plus, minus, frequency)?;
                let across = difference(&x, plus, minus);
                if across.norm() < 1e-15 {
                    return Err(SolveError::Singular { node: plus });
                }
                Ok(difference(&x, output.0, output.1) / across)
            }
            Drive::Within(element) => {
                let branch =
                    self.equations.branch.get(element.0).copied().flatten().ok_or(SolveError::Malformed { element })?;
                let mut side = vec![Complex::default(); self.equations.size];
                side[branch] = Complex::new(1.0, 0.0);
                let x = self.solve(side, frequency)?;
                Ok(difference(&x, output.0, output.1))
            }
        }
    }

    /// What every source in the network does to one output, all found with one solution of the transposed equations.
    ///
    /// # Errors
    /// See [`SolveError`].
    pub fn reach(&self, output: (NodeId, NodeId), frequency: Hertz) -> Result<Reach<'_>, SolveError> {
        self.ears(frequency)?.reach(output)
    }

    /// The transposed equations at one frequency, for many outputs.
    ///
    /// # Errors
    /// See [`SolveError`].
    pub fn ears(&self, frequency: Hertz) -> Result<Ears<'_>, SolveError> {
        let turned = self.turned.get_or_init(|| {
            let mut turned = self.matrix.transposed();
            // Where this fails, the solution below says why.
            turned.factor().ok();
            turned
        });
        Ok(Ears { linear: self, turned: self.factored(turned.clone(), frequency)? })
    }

    /// The impedance in ohms between two nodes, elements removed where named. Nodes that nothing joins show about 1 TΩ.
    ///
    /// # Errors
    /// See [`SolveError`].
    pub fn impedance(
        &self,
        a: NodeId,
        b: NodeId,
        frequency: Hertz,
        without: &[ElementId],
    ) -> Result<Complex, SolveError> {
        let x = self.inject(a, b, frequency)?;
        let together = difference(&x, a, b);
        if without.is_empty() {
            return Ok(together);
        }
        // What stands directly between the two nodes is taken out by a change of rank one (Sherman and Morrison, 1950),
        // as long as it does not swamp all the rest.
        let beside: Option<Complex> = without.iter().map(|id| self.admittance(*id, (a, b), frequency)).sum();
        match beside.map(|beside| Complex::new(1.0, 0.0) - beside * together) {
            Some(rest) if rest.norm() >= LEAST_REST => Ok(together / rest),
            _ => self.without(without)?.impedance(a, b, frequency, &[]),
        }
    }

    /// The admittance of an element that stands between two nodes; `None` for any other.
    fn admittance(&self, id: ElementId, (a, b): (NodeId, NodeId), frequency: Hertz) -> Option<Complex> {
        let element = self.network.elements.get(id.0)?;
        let ends = element.ends();
        if ends != (a, b) && ends != (b, a) {
            return None;
        }
        match *element {
            Element::Capacitor { capacitance, .. } => Some(Complex::new(0.0, TAU * frequency.0 * capacitance.0)),
            Element::Resistor { resistance, .. } | Element::Supply { resistance, .. } if resistance.0 > 0.0 => {
                Some(Complex::new(1.0 / resistance.0, 0.0))
            }
            _ => None,
        }
    }

    /// The same with elements taken out; slopes of all others stay as they are.
    ///
    /// # Errors
    /// [`SolveError::Malformed`] for an element that is not there.
    pub fn without(&self, elements: &[ElementId]) -> Result<Self, SolveError> {
        let mut network = self.network.clone();
        for element in elements {
            let place = network.elements.get_mut(element.0).ok_or(SolveError::Malformed { element: *element })?;
            let (a, b) = place.ends();
            *place = Element::Capacitor { a, b, capacitance: Farads(0.0) };
        }
        Self::about(&network, &self.voltages)
    }

    /// One ampere into `a` and out of `b`.
    fn inject(&self, a: NodeId, b: NodeId, frequency: Hertz) -> Result<Vec<Complex>, SolveError> {
        self.solve(self.between(a, b)?, frequency)
    }

    fn between(&self, a: NodeId, b: NodeId) -> Result<Vec<Complex>, SolveError> {
        let mut side = vec![Complex::default(); self.equations.size];
        for (node, sign) in [(a, 1.0), (b, -1.0)] {
            if node.0 >= self.equations.nodes {
                return Err(SolveError::Singular { node });
            }
            if let Some(place) = node.0.checked_sub(1) {
                side[place] += sign;
            }
        }
        Ok(side)
    }

    /// Solves for phasors of the right-hand side; gives node voltages with the reference first, then the further unknowns.
    pub(super) fn solve(&self, side: Vec<Complex>, frequency: Hertz) -> Result<Vec<Complex>, SolveError> {
        self.solve_with(&*self.at(frequency)?, side)
    }

    /// The equations factored at a frequency, which many sweeps share.
    fn at(&self, frequency: Hertz) -> Result<Arc<Assembly<Complex>>, SolveError> {
        let bits = frequency.0.to_bits();
        // A poisoned lock holds what is known as well as any other.
        let known = || self.known.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, found)) = known().iter().find(|(at, _)| *at == bits) {
            return Ok(Arc::clone(found));
        }
        let found = Arc::new(self.factored(self.matrix.clone(), frequency)?);
        let mut known = known();
        if known.len() < MOST_FREQUENCIES && (known.len() + 1) * found.values.len() <= MOST_KEPT {
            known.push((bits, Arc::clone(&found)));
        }
        Ok(found)
    }

    fn factored(&self, mut matrix: Assembly<Complex>, frequency: Hertz) -> Result<Assembly<Complex>, SolveError> {
        fill(&mut matrix, &self.equations, frequency);
        matrix.factor().map_err(|unknown| self.equations.singular(unknown.0))?;
        Ok(matrix)
    }

    fn solve_with(&self, matrix: &Assembly<Complex>, mut side: Vec<Complex>) -> Result<Vec<Complex>, SolveError> {
        matrix.solve(&mut side);
        if let Some(place) = side.iter().position(|v| !v.re.is_finite() || !v.im.is_finite()) {
            return Err(SolveError::NonFinite { node: self.equations.name(place) });
        }
        side.insert(0, Complex::default());
        Ok(side)
    }

    /// Change of an element's main current with the voltage of each of its ports (from outside its series resistance), S.
    pub(super) fn main_slopes(&self, element: usize) -> Ports {
        let devices = self.equations.devices.iter().zip(&self.responses);
        for (device, response) in devices {
            if device.element == element {
                let mut slopes = response.slope[0];
                if let Some(Element::Junction { model, .. }) = self.network.elements.get(element) {
                    slopes[0] /= 1.0 + slopes[0] * model.rs;
                }
                return slopes;
            }
        }
        [0.0; 3]
    }

    /// The network that was made linear.
    #[must_use]
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// Change of each element's main current with the voltage of its grid, gate or base, S; zero where it has none.
    pub(super) fn control_slopes(&self) -> Vec<f64> {
        let mut slopes = vec![0.0; self.network.elements.len()];
        for (device, response) in self.equations.devices.iter().zip(&self.responses) {
            slopes[device.element] = response.slope[0][1];
        }
        slopes
    }

    /// The branch of an element in the right-hand side, where it has one.
    pub(super) fn branch(&self, element: usize) -> Option<usize> {
        self.equations.branch.get(element).copied().flatten()
    }

    /// How many unknowns the right-hand side has.
    pub(super) fn size(&self) -> usize {
        self.equations.size
    }
}

/// A linear network ready to tell what is heard at its outputs, at one frequency.
#[derive(Clone, Debug)]
pub struct Ears<'l> {
    linear: &'l Linear,
    turned: Assembly<Complex>,
}

impl<'l> Ears<'l> {
    /// What every source in the network does to one output.
    ///
    /// # Errors
    /// See [`SolveError`].
    pub fn reach(&self, output: (NodeId, NodeId)) -> Result<Reach<'l>, SolveError> {
        let side = self.linear.between(output.0, output.1)?;
        let found = self.linear.solve_with(&self.turned, side)?;
        Ok(Reach { found, branch: &self.linear.equations.branch })
    }
}

/// How strongly each possible source is heard at one output, at one frequency.
#[derive(Clone, Debug)]
pub struct Reach<'l> {
    found: Vec<Complex>,
    branch: &'l [Option<usize>],
}

impl Reach<'_> {
    /// Ohms: the output voltage for one ampere into `a` and out of `b`.
    #[must_use]
    pub fn of_current(&self, a: NodeId, b: NodeId) -> Complex {
        difference(&self.found, a, b)
    }

    /// Ratio: the output voltage for one volt in series with an element that has a branch of its own (a winding, a
    /// supply, a choke, a coil), raising its first terminal; zero for any other.
    #[must_use]
    pub fn of_emf(&self, element: ElementId) -> Complex {
        let branch = self.branch.get(element.0).copied().flatten();
        branch.and_then(|place| self.found.get(place + 1)).copied().unwrap_or_default()
    }
}

/// Sets the entries that change with frequency.
fn fill(matrix: &mut Assembly<Complex>, equations: &Equations, frequency: Hertz) {
    let entries = equations.stores.iter().flat_map(|store| {
        let susceptance = TAU * frequency.0 * store.weight;
        store.corners().map(move |(_, _, sign)| sign * susceptance)
    });
    for (place, entry) in matrix.extra_mut().iter_mut().zip(entries) {
        *place = Complex::new(0.0, entry);
    }
}

fn difference(x: &[Complex], a: NodeId, b: NodeId) -> Complex {
    let at = |node: NodeId| x.get(node.0).copied().unwrap_or_default();
    at(a) - at(b)
}

/// Fills in the inner nodes of junctions: the current through the series resistance is that of the junction.
fn settle_inner(equations: &Equations, network: &Network, voltages: &[f64]) -> Vec<f64> {
    let mut x = equations.spread(voltages);
    for device in &equations.devices {
        let Some(Element::Junction { anode, cathode, model }) = network.elements.get(device.element) else {
            continue;
        };
        let Some(inner) = device.ports[0].0.filter(|place| *place >= equations.nodes - 1) else {
            continue;
        };
        let at = |node: NodeId| voltages.get(node.0).copied().unwrap_or(0.0);
        let total = at(*anode) - at(*cathode);
        let excess = |v: f64| v + model.rs * device.law.respond([v, 0.0, 0.0]).current[0] - total;
        // Between zero and the total the excess changes sign once, the law being monotone.
        let (mut low, mut high) = (total.min(0.0), total.max(0.0));
        for _ in 0..200 {
            let middle = 0.5 * (low + high);
            if excess(middle) > 0.0 {
                high = middle;
            } else {
                low = middle;
            }
        }
        x[inner] = at(*cathode) + 0.5 * (low + high);
    }
    x
}
