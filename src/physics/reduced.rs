//! The equations at one size of time step, reduced to what moves: stored voltages and currents, and device ports.
//!
//! One stage of the time scheme solves (G + C/γh)·x = C·z/γh + b(t) − D·j. All of that is linear but j, so it is inverted
//! once; a stage then costs a few small products and Newton's method over the ports alone.

use super::SolveError;
use super::assembly::Assembly;
use super::equations::{Equations, Unknown, corners, join, root, value};

/// Conductance lent to a port that alone joins its node to the rest, and taken back in its law, S. Half-way (as a ratio)
/// between a conducting and a blocked junction, so that neither drowns in the rounding of the other.
const LOAN: f64 = 1e-6;
/// Coefficient of the scheme: 1 − 1/√2 (see [`super::march`]).
pub(super) const GAMMA: f64 = 1.0 - std::f64::consts::FRAC_1_SQRT_2;

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
    /// Fall of the port voltages with the port currents.
    pub react: Vec<f64>,
    /// Fall of the states with the port currents.
    pub back: Vec<f64>,
    /// States and open port voltages from the constant, sine and cosine parts of the sources.
    pub state_drive: [Vec<f64>; 3],
    /// See `state_drive`.
    pub port_drive: [Vec<f64>; 3],
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

impl Reduced {
    /// Reduces the equations for one step size.
    pub(super) fn new(equations: &Equations, ports: &[Port], step: f64) -> Result<Self, SolveError> {
        let rate = 1.0 / (GAMMA * step);
        let stores = &equations.stores;
        let lent = |port: &Port| corners(port.ends, port.ends);
        let places = stores
            .iter()
            .flat_map(|store| store.corners())
            .chain(ports.iter().flat_map(lent))
            .map(|(row, column, _)| (row, column))
            .collect::<Vec<_>>();
        let mut matrix = Assembly::<f64>::new(equations, places.into_iter(), |v| v);
        let entries = stores
            .iter()
            .flat_map(|store| store.corners().map(|(_, _, sign)| sign * store.weight * rate))
            .chain(ports.iter().flat_map(|port| lent(port).map(|(_, _, sign)| sign * port.loan)));
        for (place, entry) in matrix.extra_mut().iter_mut().zip(entries) {
            *place = entry;
        }
        matrix.factor().map_err(|unknown| equations.singular(unknown.0))?;

        let (size, m, k) = (equations.size, stores.len(), ports.len());
        let mut reduced = Self {
            step,
            states: m,
            ports: k,
            carry: vec![0.0; m * m],
            open: vec![0.0; k * m],
            react: vec![0.0; k * k],
            back: vec![0.0; m * k],
            state_drive: std::array::from_fn(|_| vec![0.0; m]),
            port_drive: std::array::from_fn(|_| vec![0.0; k]),
            full_states: vec![0.0; size * m],
            full_ports: vec![0.0; size * k],
            full_drive: std::array::from_fn(|_| vec![0.0; size]),
        };
        let state_ends: Vec<(Unknown, Unknown)> = stores.iter().map(|s| (s.plus, s.minus)).collect();
        let port_ends: Vec<(Unknown, Unknown)> = ports.iter().map(|p| p.ends).collect();
        let mut side = vec![0.0; size];
        let column = |side: &mut [f64], ends: (Unknown, Unknown), weight: f64| {
            side.fill(0.0);
            if let Some(plus) = ends.0 {
                side[plus] += weight;
            }
            if let Some(minus) = ends.1 {
                side[minus] -= weight;
            }
            matrix.solve(side);
        };
        let pick = |x: &[f64], ends: (Unknown, Unknown)| value(x, ends.0) - value(x, ends.1);
        for (j, store) in stores.iter().enumerate() {
            column(&mut side, state_ends[j], store.weight * rate);
            for i in 0..m {
                reduced.carry[i * m + j] = pick(&side, state_ends[i]);
            }
            for i in 0..k {
                reduced.open[i * m + j] = pick(&side, port_ends[i]);
            }
            for i in 0..size {
                reduced.full_states[i * m + j] = side[i];
            }
        }
        for j in 0..k {
            column(&mut side, port_ends[j], 1.0);
            for i in 0..m {
                reduced.back[i * k + j] = pick(&side, state_ends[i]);
            }
            for i in 0..k {
                reduced.react[i * k + j] = pick(&side, port_ends[i]);
            }
            for i in 0..size {
                reduced.full_ports[i * k + j] = side[i];
            }
        }
        for (part, source) in [&equations.direct, &equations.sine, &equations.cosine].into_iter().enumerate() {
            side.copy_from_slice(source);
            matrix.solve(&mut side);
            for i in 0..m {
                reduced.state_drive[part][i] = pick(&side, state_ends[i]);
            }
            for i in 0..k {
                reduced.port_drive[part][i] = pick(&side, port_ends[i]);
            }
            reduced.full_drive[part].copy_from_slice(&side);
        }
        let finite = reduced.carry.iter().chain(&reduced.react).all(|v| v.is_finite());
        if finite { Ok(reduced) } else { Err(equations.singular(0)) }
    }
}
