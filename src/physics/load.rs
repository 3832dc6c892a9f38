//! The load of a supply: everything that does not follow the mains, solved at direct current with the supply's nodes held.

use super::assembly::Assembly;
use super::equations::Equations;
use super::operating_point::Search;
use super::partition::Part;
use super::small_signal::{Complex, Linear};
use super::{Element, ElementId, Network, NodeId, OperatingPoint, SolveError};
use crate::units::{Hertz, Ohms, Volts};
use std::f64::consts::TAU;

/// A node that the load shares with the supply.
#[derive(Clone, Debug)]
pub(super) struct Port {
    /// The node, numbered as in the whole network.
    pub node: NodeId,
    /// Voltage at which the load was solved, V.
    pub voltage: f64,
    /// Current that the load draws from it, A.
    pub current: f64,
    /// Change of that current with the voltage of each port, S.
    pub slopes: Vec<f64>,
    /// What it shows besides, as a capacitance to the reference, F.
    pub capacitance: f64,
}

/// The load.
#[derive(Clone, Debug)]
pub(super) struct Load {
    /// Its elements; after them comes one holding source per port.
    pub part: Part,
    /// What it shares with the supply.
    pub ports: Vec<Port>,
    /// Its last solution.
    pub point: OperatingPoint,
    /// Its equations at that solution, whose structure the next solution shares.
    pattern: Option<Assembly<f64>>,
}

impl Load {
    /// The load that the given elements make; `supply` says which nodes belong to the supply.
    pub(super) fn new(whole: &Network, elements: impl Iterator<Item = ElementId>, supply: &[bool]) -> Self {
        let mut part = Part::of(whole, elements);
        let mut ports = Vec::new();
        for (local, node) in part.nodes.iter().enumerate().skip(1) {
            if !supply[node.0] {
                continue;
            }
            part.network.elements.push(Element::Supply {
                plus: NodeId(local),
                minus: NodeId::GROUND,
                voltage: Volts(0.0),
                resistance: Ohms(0.0),
            });
            ports.push(Port { node: *node, voltage: 0.0, current: 0.0, slopes: Vec::new(), capacitance: 0.0 });
        }
        Self { part, ports, point: OperatingPoint::default(), pattern: None }
    }

    /// The element of the load's network that holds a port.
    pub(super) fn holder(&self, port: usize) -> usize {
        self.part.elements.len() + port
    }

    /// Solves the load with the shared nodes at the given voltages.
    pub(super) fn solve(&mut self, voltage: impl Fn(NodeId) -> f64) -> Result<(), SolveError> {
        let first = self.part.elements.len();
        for (port, holder) in self.ports.iter_mut().zip(self.part.network.elements.iter_mut().skip(first)) {
            port.voltage = voltage(port.node);
            if let Element::Supply { voltage, .. } = holder {
                *voltage = Volts(port.voltage);
            }
        }
        let equations = Equations::new(&self.part.network);
        let lift = |error| self.part.lift(error);
        let mut search = Search::new(&equations, equations.spread(&self.point.voltages));
        if let Some(pattern) = &self.pattern {
            search.matrix.learn_from(pattern);
        }
        search.solve().map_err(lift)?;
        let branches: Vec<usize> =
            (0..self.ports.len()).filter_map(|port| equations.branch.get(first + port).copied().flatten()).collect();
        let mut columns = Vec::with_capacity(branches.len());
        for branch in &branches {
            columns.push(search.response_to(*branch).map_err(lift)?);
        }
        for (port, branch) in self.ports.iter_mut().zip(&branches) {
            // The holder's current is counted from its plus through it: what the load draws is its opposite.
            port.current = -search.x[*branch];
            port.capacitance = 0.0;
            port.slopes = columns.iter().map(|column| -column[*branch]).collect();
        }
        self.point = search.answer(&self.part.network);
        self.pattern = Some(search.matrix);
        Ok(())
    }

    /// Replaces the slopes of the ports by what a small signal of the given frequency finds.
    pub(super) fn see_at(&mut self, frequency: Hertz) -> Result<(), SolveError> {
        let lift = |error| self.part.lift(error);
        let linear = Linear::about(&self.part.network, &self.point.voltages).map_err(lift)?;
        let first = self.part.elements.len();
        let branches: Vec<usize> = (0..self.ports.len()).filter_map(|port| linear.branch(first + port)).collect();
        for (column, driven) in branches.iter().enumerate() {
            let mut side = vec![Complex::default(); linear.size()];
            side[*driven] = Complex::new(1.0, 0.0);
            let answer = linear.solve(side, frequency).map_err(lift)?;
            for (row, (port, branch)) in self.ports.iter_mut().zip(&branches).enumerate() {
                // The reference comes first in the answer.
                let admittance = -answer[branch + 1];
                port.slopes[column] = admittance.re;
                if row == column {
                    port.capacitance = admittance.im / (TAU * frequency.0);
                }
            }
        }
        Ok(())
    }
}
