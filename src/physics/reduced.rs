//! The equations at one size of time step, reduced to what moves: stored voltages and currents, and device ports.
//!
//! One stage of the time scheme solves (G + C/γh)·x = C·z/γh + b(t) − D·j. All of that is linear but j, so it is factored
//! once; a stage then costs Newton's method over the ports alone, and either a few small products (inverted beforehand, for
//! a supply's few states) or one sparse solution (for a whole network).

use super::SolveError;
use super::assembly::Assembly;
use super::dense::{dot, eliminate};
use super::devices::LEAST_CONDUCTANCE;
use super::equations::{Equations, Unknown, corners, join, root, value};

/// Conductance lent to a port that alone joins its node to the rest, and taken back in its law, S. Half-way (as a ratio)
/// between a conducting and a blocked junction, so that neither drowns in the rounding of the other.
const LOAN: f64 = 1e-6;
/// Coefficient of the scheme: 1 − 1/√2 (see [`super::march`]).
pub(super) const GAMMA: f64 = 1.0 - std::f64::consts::FRAC_1_SQRT_2;

/// A voltage at which whatever can shut is shut, and no zener of a supply has broken down, V.
const LOWEST: f64 = 3.0;

/// More states and ports than this are not inverted beforehand where it is not known that they are a supply's few.
const MOST_INVERTED: usize = 32;

/// One port of one device.
#[derive(Clone, Copy, Debug)]
pub(super) struct Port {
    /// Its ends.
    pub ends: (Unknown, Unknown),
    /// Conductance that the linear part already counts, S.
    pub loan: f64,
}

/// The reduced equations for a step size. Matrices are stored row by row.
#[derive(Clone, Debug)]
pub(super) struct Reduced {
    /// The step, s.
    pub step: f64,
    /// Number of states.
    pub states: usize,
    /// Number of ports.
    pub ports: usize,
    /// New states from the states put in.
    pub carry: Vec<f64>,
    /// Open port voltages from the states put in.
    pub open: Vec<f64>,
    /// The factored matrix, where it was not inverted beforehand; then only `react` and `full_ports` are filled.
    pub factored: Option<Assembly<f64>>,
    /// Fall of the port voltages with the port currents.
    pub react: Vec<f64>,
    /// Fall of the states with the port currents.
    pub back: Vec<f64>,
    /// States and open port voltages from the constant, sine and cosine parts of the sources.
    pub state_drive: [Vec<f64>; 3],
    /// See `state_drive`.
    pub port_drive: [Vec<f64>; 3],
    /// With every device shut: the port voltages from the open ones, and what their leakage adds. Empty where not every
    /// device can shut.
    pub shut: Vec<f64>,
    /// See `shut`.
    pub shut_offset: Vec<f64>,
    /// All unknowns from the states put in, from the port currents (falling), and from the sources.
    pub full_states: Vec<f64>,
    /// See `full_states`.
    pub full_ports: Vec<f64>,
    /// See `full_states`.
    pub full_drive: [Vec<f64>; 3],
}

/// The ports of all devices in order, each with the conductance lent to it.
pub(super) fn ports(equations: &Equations) -> Vec<Port> {
    let mut island: Vec<usize> = (0..=equations.size).collect();
    let place = |unknown: Unknown| unknown.map_or(0, |u| u + 1);
    for &(a, b) in &equations.ties {
        join(&mut island, place(a), place(b));
    }
    let mut all = Vec::new();
    for device in &equations.devices {
        for ends in device.ports.iter().take(device.law.ports()) {
            let (a, b) = (place(ends.0), place(ends.1));
            let apart = root(&island, a) != root(&island, b);
            join(&mut island, a, b);
            all.push(Port { ends: *ends, loan: if apart { LOAN } else { 0.0 } });
        }
    }
    all
}

/// G + C/γh with what is lent to ports, factored.
fn factor(
    equations: &Equations,
    ports: &[Port],
    rate: f64,
    like: Option<&Assembly<f64>>,
) -> Result<Assembly<f64>, SolveError> {
    let lent = |port: &Port| corners(port.ends, port.ends);
    let stores = &equations.stores;
    let places: Vec<(usize, usize)> = stores
        .iter()
        .flat_map(|store| store.corners())
        .chain(ports.iter().flat_map(lent))
        .map(|(row, column, _)| (row, column))
        .collect();
    let mut matrix = Assembly::<f64>::new(equations, places.into_iter(), |v| v);
    if let Some(like) = like {
        matrix.learn_from(like);
    }
    let stored = stores.iter().flat_map(|store| {
        let weight = store.weight * rate;
        store.corners().map(move |(_, _, sign)| sign * weight)
    });
    let loans = ports.iter().flat_map(|port| lent(port).map(move |(_, _, sign)| sign * port.loan));
    for (place, entry) in matrix.extra_mut().iter_mut().zip(stored.chain(loans)) {
        *place = entry;
    }
    matrix.factor().map_err(|unknown| equations.singular(unknown.0))?;
    Ok(matrix)
}

impl Reduced {
    /// Whichever of the other two makes a step of these equations cheaper.
    pub(super) fn fitting(equations: &Equations, ports: &[Port], step: f64) -> Result<Self, SolveError> {
        if equations.stores.len() + ports.len() <= MOST_INVERTED {
            Self::inverted(equations, ports, step, &mut None)
        } else {
            Self::factored(equations, ports, step, &mut None)
        }
    }

    /// Only factored: for whole networks, of which many step sizes or all unknowns are wanted. `pattern` is left
    /// behind for another step size.
    pub(super) fn factored(
        equations: &Equations,
        ports: &[Port],
        step: f64,
        pattern: &mut Option<Assembly<f64>>,
    ) -> Result<Self, SolveError> {
        let matrix = factor(equations, ports, 1.0 / (GAMMA * step), pattern.as_ref())?;
        pattern.get_or_insert_with(|| matrix.clone());
        let mut reduced = Self::empty(equations, ports, step);
        reduced.find_ports(equations, ports, &matrix);
        reduced.find_shut(equations, ports);
        reduced.factored = Some(matrix);
        reduced.checked(equations)
    }

    /// Inverted beforehand: for a supply, at one step size. `pattern` is left behind for the next equations that are built
    /// alike.
    pub(super) fn inverted(
        equations: &Equations,
        ports: &[Port],
        step: f64,
        pattern: &mut Option<Assembly<f64>>,
    ) -> Result<Self, SolveError> {
        let rate = 1.0 / (GAMMA * step);
        let matrix = factor(equations, ports, rate, pattern.as_ref())?;
        let mut reduced = Self::empty(equations, ports, step);
        let (size, m, k) = (equations.size, reduced.states, reduced.ports);
        reduced.carry = vec![0.0; m * m];
        reduced.open = vec![0.0; k * m];
        reduced.back = vec![0.0; m * k];
        reduced.full_states = vec![0.0; size * m];
        reduced.find_ports(equations, ports, &matrix);
        reduced.find_shut(equations, ports);
        let ends: Vec<(Unknown, Unknown)> = equations.stores.iter().map(|s| (s.plus, s.minus)).collect();
        for (i, ends) in ends.iter().enumerate() {
            for j in 0..k {
                let row = |unknown: Unknown| unknown.map_or(0.0, |u| reduced.full_ports[u * k + j]);
                reduced.back[i * k + j] = row(ends.0) - row(ends.1);
            }
        }
        let mut side = vec![0.0; size];
        for (j, store) in equations.stores.iter().enumerate() {
            side.fill(0.0);
            put(&mut side, ends[j], store.weight * rate);
            matrix.solve(&mut side);
            for (i, ends) in ends.iter().enumerate() {
                reduced.carry[i * m + j] = pick(&side, *ends);
            }
            for (i, port) in ports.iter().enumerate() {
                reduced.open[i * m + j] = pick(&side, port.ends);
            }
            for (i, value) in side.iter().enumerate() {
                reduced.full_states[i * m + j] = *value;
            }
        }
        let sources = [&equations.direct, &equations.sine, &equations.cosine];
        for (part, source) in sources.into_iter().enumerate() {
            side.copy_from_slice(source);
            matrix.solve(&mut side);
            reduced.state_drive[part] = ends.iter().map(|ends| pick(&side, *ends)).collect();
            reduced.port_drive[part] = ports.iter().map(|port| pick(&side, port.ends)).collect();
            reduced.full_drive[part] = side.clone();
        }
        *pattern = Some(matrix);
        reduced.checked(equations)
    }

    /// One unknown from the constant, sine and cosine parts of the sources, the states put in and the port currents, or
    /// from sums of them. Only where it was inverted beforehand.
    pub(super) fn unknown(&self, place: usize, sources: [f64; 3], put: &[f64], amperes: &[f64]) -> f64 {
        let (m, k) = (self.states, self.ports);
        let driven: f64 = self.full_drive.iter().zip(sources).map(|(drive, source)| source * drive[place]).sum();
        driven + dot(&self.full_states[place * m..(place + 1) * m], put)
            - dot(&self.full_ports[place * k..(place + 1) * k], amperes)
    }

    fn empty(equations: &Equations, ports: &[Port], step: f64) -> Self {
        let (size, k) = (equations.size, ports.len());
        Self {
            step,
            states: equations.stores.len(),
            ports: k,
            carry: Vec::new(),
            open: Vec::new(),
            factored: None,
            react: vec![0.0; k * k],
            back: Vec::new(),
            state_drive: Default::default(),
            port_drive: Default::default(),
            shut: Vec::new(),
            shut_offset: Vec::new(),
            full_states: Vec::new(),
            full_ports: vec![0.0; size * k],
            full_drive: Default::default(),
        }
    }

    fn find_ports(&mut self, equations: &Equations, ports: &[Port], matrix: &Assembly<f64>) {
        let k = ports.len();
        let mut side = vec![0.0; equations.size];
        for (j, port) in ports.iter().enumerate() {
            side.fill(0.0);
            put(&mut side, port.ends, 1.0);
            matrix.solve(&mut side);
            for (i, port) in ports.iter().enumerate() {
                self.react[i * k + j] = pick(&side, port.ends);
            }
            for (i, value) in side.iter().enumerate() {
                self.full_ports[i * k + j] = *value;
            }
        }
    }

    /// v = open − react·(leak + (least − loan)·v), solved for v beforehand.
    fn find_shut(&mut self, equations: &Equations, ports: &[Port]) {
        let k = ports.len();
        let shuts = equations.devices.iter().all(|device| device.law.is_shut(-LOWEST));
        if !shuts || k == 0 {
            return;
        }
        let mut matrix = vec![0.0; k * k];
        let mut inverse = vec![0.0; k * k];
        for i in 0..k {
            for j in 0..k {
                let one = f64::from(u8::from(i == j));
                matrix[i * k + j] = one + self.react[i * k + j] * (LEAST_CONDUCTANCE - ports[j].loan);
                inverse[i * k + j] = one;
            }
        }
        if !eliminate(&mut matrix, &mut inverse, k, k) {
            return;
        }
        let leaks: Vec<f64> = equations.devices.iter().map(|device| device.law.leak()).collect();
        let raised: Vec<f64> = self.react.chunks_exact(k).map(|row| -dot(row, &leaks)).collect();
        self.shut_offset = inverse.chunks_exact(k).map(|row| dot(row, &raised)).collect();
        self.shut = inverse;
    }

    fn checked(self, equations: &Equations) -> Result<Self, SolveError> {
        if self.carry.iter().chain(&self.react).all(|v| v.is_finite()) { Ok(self) } else { Err(equations.singular(0)) }
    }
}

/// Adds a quantity at both ends, with opposite signs.
pub(super) fn put(side: &mut [f64], ends: (Unknown, Unknown), weight: f64) {
    if let Some(plus) = ends.0 {
        side[plus] += weight;
    }
    if let Some(minus) = ends.1 {
        side[minus] -= weight;
    }
}

/// The difference between both ends.
pub(super) fn pick(x: &[f64], ends: (Unknown, Unknown)) -> f64 {
    value(x, ends.0) - value(x, ends.1)
}
