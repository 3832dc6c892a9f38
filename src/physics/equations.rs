//! The nodal equations of a network: G·x + C·x′ + D·φ(Dᵀx) = b(t).
//!
//! Unknowns `x` are node voltages (the reference left out), then the inner nodes of junctions with series resistance,
//! then the currents of branches that need one (chokes, windings, supplies, resistances too small to invert).
//! Built once per network; holds no solution.

use super::devices::{LEAST_CONDUCTANCE, Law, Ports};
use super::{Currents, Element, Network, NodeId, SolveError};
use crate::units::Amperes;

/// Below this a resistance is a branch with its own current instead of a conductance, Ω.
const LEAST_RESISTANCE: f64 = 1e-2;

/// A smaller resistance in series with a junction is left out: it would drown in rounding, Ω.
const LEAST_SERIES: f64 = 1e-4;

/// Place of an unknown; `None` is the reference.
pub(super) type Unknown = Option<usize>;

/// What stores energy; its state is a voltage (capacitor) or a current (choke).
#[derive(Clone, Copy, Debug)]
pub(super) struct Store {
    /// The element.
    pub element: usize,
    /// State = x[plus] − x[minus]; a choke has only `plus`, its branch current.
    pub plus: Unknown,
    /// See `plus`.
    pub minus: Unknown,
    /// Farads, or minus henries.
    pub weight: f64,
    /// Farads of a load that are counted in `weight` besides.
    pub lent: f64,
}

/// A nonlinear device.
#[derive(Clone, Copy, Debug)]
pub(super) struct Device {
    /// The element.
    pub element: usize,
    /// Its law.
    pub law: Law,
    /// Both ends of each port.
    pub ports: [(Unknown, Unknown); 3],
}

/// Something constant at a place of the matrix.
pub(super) type Stamp = (usize, usize, f64);

/// The equations.
#[derive(Clone, Debug)]
pub(super) struct Equations {
    /// Nodes of the network.
    pub nodes: usize,
    /// Number of unknowns.
    pub size: usize,
    /// G.
    pub conductance: Vec<Stamp>,
    /// C = Σ weight · (plus − minus)(plus − minus)ᵀ.
    pub stores: Vec<Store>,
    /// D and φ.
    pub devices: Vec<Device>,
    /// Constant part of b.
    pub direct: Vec<f64>,
    /// Part of b that goes with sin ωt.
    pub sine: Vec<f64>,
    /// Part of b that goes with cos ωt.
    pub cosine: Vec<f64>,
    /// Branch current of each element that has one.
    pub branch: Vec<Option<usize>>,
    /// All nodes that no direct path ties to the reference; one node of each such part is held.
    pub floating: Vec<NodeId>,
    /// What linear elements, capacitors included, join.
    pub ties: Vec<(Unknown, Unknown)>,
    /// For each unknown, the node by which to name it.
    names: Vec<NodeId>,
}

impl Equations {
    /// Writes the equations of a network that has passed [`Network::check`].
    pub(super) fn new(network: &Network) -> Self {
        let nodes = network.nodes.max(1);
        let mut equations = Self {
            nodes,
            size: nodes - 1,
            conductance: Vec::new(),
            stores: Vec::new(),
            devices: Vec::new(),
            direct: Vec::new(),
            sine: Vec::new(),
            cosine: Vec::new(),
            branch: vec![None; network.elements.len()],
            floating: Vec::new(),
            ties: Vec::new(),
            names: (1..nodes).map(NodeId).collect(),
        };
        for (place, element) in network.elements.iter().enumerate() {
            equations.write(place, element);
        }
        let size = equations.size;
        equations.direct.resize(size, 0.0);
        equations.sine.resize(size, 0.0);
        equations.cosine.resize(size, 0.0);
        equations.hold_floating(network);
        equations
    }

    fn unknown(node: NodeId) -> Unknown {
        node.0.checked_sub(1)
    }

    fn fresh(&mut self, name: NodeId) -> usize {
        self.names.push(name);
        self.size += 1;
        self.size - 1
    }

    /// A conductance between two unknowns.
    pub(super) fn conduct(&mut self, a: Unknown, b: Unknown, siemens: f64) {
        self.ties.push((a, b));
        let entries = corners((a, b), (a, b)).map(|(row, column, sign)| (row, column, sign * siemens));
        self.conductance.extend(entries);
    }

    /// A branch with its own current i from a to b: x[a] − x[b] − resistance·i − … = b(t). Gives its place.
    fn branch(&mut self, place: usize, a: NodeId, b: NodeId, resistance: f64) -> usize {
        let current = self.fresh(if a == NodeId::GROUND { b } else { a });
        self.branch[place] = Some(current);
        self.ties.push((Self::unknown(a), Self::unknown(b)));
        for (node, sign) in [(Self::unknown(a), 1.0), (Self::unknown(b), -1.0)] {
            if let Some(node) = node {
                self.conductance.push((node, current, sign));
                self.conductance.push((current, node, sign));
            }
        }
        self.conductance.push((current, current, -resistance));
        current
    }

    fn device(&mut self, element: usize, law: Law, ports: [(Unknown, Unknown); 3]) {
        self.devices.push(Device { element, law, ports });
    }

    fn write(&mut self, place: usize, element: &Element) {
        let shut = (None, None);
        let at = Self::unknown;
        match *element {
            Element::Resistor { a, b, resistance } => {
                if resistance.0 < LEAST_RESISTANCE {
                    self.branch(place, a, b, resistance.0);
                } else {
                    self.conduct(at(a), at(b), 1.0 / resistance.0);
                }
            }
            Element::Capacitor { a, b, capacitance } => {
                if capacitance.0 > 0.0 {
                    self.ties.push((at(a), at(b)));
                }
                self.stores.push(Store { element: place, plus: at(a), minus: at(b), weight: capacitance.0, lent: 0.0 });
            }
            Element::Inductor { a, b, inductance, resistance } => {
                let current = self.branch(place, a, b, resistance.0);
                self.stores.push(Store {
                    element: place,
                    plus: Some(current),
                    minus: None,
                    weight: -inductance.0,
                    lent: 0.0,
                });
            }
            Element::Winding { a, b, emf, resistance, phase } => {
                let current = self.branch(place, a, b, resistance.0);
                let crest = std::f64::consts::SQRT_2 * emf.0;
                self.sine.resize(self.size, 0.0);
                self.cosine.resize(self.size, 0.0);
                self.sine[current] = crest * phase.cos();
                self.cosine[current] = crest * phase.sin();
            }
            Element::Supply { plus, minus, voltage, resistance } => {
                let current = self.branch(place, plus, minus, resistance.0);
                self.direct.resize(self.size, 0.0);
                self.direct[current] = voltage.0;
            }
            Element::Junction { anode, cathode, model } => {
                let inner = if model.rs >= LEAST_SERIES {
                    let inner = Some(self.fresh(anode));
                    self.conduct(at(anode), inner, 1.0 / model.rs);
                    inner
                } else {
                    at(anode)
                };
                let ports = [(inner, at(cathode)), shut, shut];
                self.device(place, Law::junction(model), ports);
            }
            Element::VacuumDiode { plate, cathode, model } => {
                let ports = [(at(plate), at(cathode)), shut, shut];
                self.device(place, Law::vacuum_diode(model), ports);
            }
            Element::Triode { plate, grid, cathode, model } => {
                let k = at(cathode);
                let ports = [(at(plate), k), (at(grid), k), shut];
                self.device(place, Law::Triode(model), ports);
            }
            Element::Pentode { plate, grid, screen, cathode, model } => {
                let k = at(cathode);
                let ports = [(at(plate), k), (at(grid), k), (at(screen), k)];
                self.device(place, Law::Pentode(model), ports);
            }
            Element::Coil { a, b, core, turns, resistance, leakage } => {
                let current = self.branch(place, a, b, resistance.0);
                if let Some(core) = at(core) {
                    self.conductance.push((current, core, -turns));
                    self.conductance.push((core, current, -turns));
                    self.ties.push((Some(core), Some(current)));
                }
                self.stores.push(Store {
                    element: place,
                    plus: Some(current),
                    minus: None,
                    weight: -leakage.0,
                    lent: 0.0,
                });
            }
            Element::FieldEffect { drain, gate, source, model } => {
                let common = at(source);
                self.device(place, Law::FieldEffect(model), [(at(drain), common), (at(gate), common), shut]);
            }
            Element::Bipolar { collector, base, emitter, model } => {
                let common = at(emitter);
                self.device(place, Law::Bipolar(model), [(at(collector), common), (at(base), common), shut]);
            }
            Element::CurrentSource { from, to, current } => {
                let law = Law::CurrentSource { current: current.0 };
                self.device(place, law, [(at(from), at(to)), shut, shut]);
            }
        }
    }

    /// Finds the parts without a direct path to the reference and holds one node of each by the least conductance.
    fn hold_floating(&mut self, network: &Network) {
        let mut island: Vec<usize> = (0..self.nodes).collect();
        for element in &network.elements {
            if matches!(element, Element::Capacitor { .. }) {
                continue;
            }
            let (a, b) = element.ends();
            join(&mut island, a.0, b.0);
            if let Some(screen) = element.screen() {
                join(&mut island, screen.0, b.0);
            }
            if let Element::Bipolar { base, .. } = element {
                join(&mut island, base.0, b.0);
            }
        }
        let reference = root(&island, 0);
        for node in 1..self.nodes {
            let top = root(&island, node);
            if top == reference {
                continue;
            }
            self.floating.push(NodeId(node));
            if top == node {
                self.conductance.push((node - 1, node - 1, LEAST_CONDUCTANCE));
                self.ties.push((Some(node - 1), None));
            }
        }
    }

    /// The node that stands for an unknown in an error.
    pub(super) fn name(&self, unknown: usize) -> NodeId {
        self.names.get(unknown).copied().unwrap_or(NodeId::GROUND)
    }

    /// The error for an unknown that nothing determines.
    pub(super) fn singular(&self, unknown: usize) -> SolveError {
        SolveError::Singular { node: self.name(unknown) }
    }

    /// Node voltages, the reference included.
    pub(super) fn voltages(&self, x: &[f64]) -> Vec<f64> {
        std::iter::once(0.0).chain(x.iter().take(self.nodes - 1).copied()).collect()
    }

    /// A first `x` from node voltages.
    pub(super) fn spread(&self, voltages: &[f64]) -> Vec<f64> {
        let mut is_branch = vec![false; self.size];
        self.branch.iter().flatten().for_each(|unknown| is_branch[*unknown] = true);
        (0..self.size)
            .map(|unknown| {
                let voltage = || voltages.get(self.name(unknown).0).copied().filter(|v| v.is_finite()).unwrap_or(0.0);
                if is_branch[unknown] { 0.0 } else { voltage() }
            })
            .collect()
    }

    /// The current of an element where capacitors carry none, from the solution and the currents of the devices.
    pub(super) fn currents(&self, network: &Network, x: &[f64], device_currents: &[Ports]) -> Vec<Currents> {
        let mut all: Vec<Currents> = network
            .elements
            .iter()
            .enumerate()
            .map(|(place, element)| {
                let main = match (self.branch[place], element) {
                    (Some(branch), _) => x[branch],
                    (None, Element::Resistor { a, b, resistance }) => {
                        (value(x, Self::unknown(*a)) - value(x, Self::unknown(*b))) / resistance.0
                    }
                    _ => 0.0,
                };
                Currents { main: Amperes(main), ..Currents::default() }
            })
            .collect();
        for (device, currents) in self.devices.iter().zip(device_currents) {
            let [main, grid, screen] = currents.map(Amperes);
            all[device.element] = Currents { main, grid, screen };
        }
        all
    }
}

/// The places and signs at which a quantity that drives `out` and is driven by `by` enters the matrix.
pub(super) fn corners(out: (Unknown, Unknown), by: (Unknown, Unknown)) -> impl Iterator<Item = (usize, usize, f64)> {
    [(out.0, by.0, 1.0), (out.1, by.1, 1.0), (out.0, by.1, -1.0), (out.1, by.0, -1.0)]
        .into_iter()
        .filter_map(|(row, column, sign)| Some((row?, column?, sign)))
}

/// The value of an unknown; the reference is zero.
pub(super) fn value(x: &[f64], unknown: Unknown) -> f64 {
    unknown.map_or(0.0, |place| x[place])
}

impl Store {
    /// The entries of C.
    pub(super) fn corners(&self) -> impl Iterator<Item = (usize, usize, f64)> {
        corners((self.plus, self.minus), (self.plus, self.minus))
    }
}

impl Device {
    /// The port voltages in a solution.
    pub(super) fn volts(&self, x: &[f64]) -> Ports {
        self.ports.map(|(plus, minus)| value(x, plus) - value(x, minus))
    }
}

pub(super) fn root(island: &[usize], mut node: usize) -> usize {
    while island[node] != node {
        node = island[node];
    }
    node
}

pub(super) fn join(island: &mut [usize], a: usize, b: usize) {
    let (a, b) = (root(island, a), root(island, b));
    // The smaller number becomes the root, so the reference stays one.
    island[a.max(b)] = a.min(b);
}
