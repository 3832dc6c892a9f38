//! The linearised nodal matrix: where its entries are, and their values for given slopes of the devices.

use super::devices::{Ports, Response};
use super::equations::{Device, Equations, Unknown, corners};
use super::sparse::{Factors, Number, Undetermined};
use std::sync::Arc;

/// A matrix of which the places are fixed and the values change.
#[derive(Clone, Debug)]
pub(super) struct Assembly<T> {
    places: Arc<[(usize, usize)]>,
    /// Values at the places: conductances first, then the stamps of the devices, then the extra entries.
    pub values: Vec<T>,
    extra: usize,
    size: usize,
    factors: Option<Factors<T>>,
}

impl<T: Number> Assembly<T> {
    /// Lays out G, the devices and further places of which the caller sets the values.
    pub(super) fn new(
        equations: &Equations,
        extra: impl Iterator<Item = (usize, usize)>,
        number: impl Fn(f64) -> T,
    ) -> Self {
        let mut places: Vec<(usize, usize)> = Vec::new();
        let mut values: Vec<T> = Vec::new();
        for &(row, column, siemens) in &equations.conductance {
            places.push((row, column));
            values.push(number(siemens));
        }
        for device in &equations.devices {
            stamp(device, &Response::default(), |row, column, _| {
                places.push((row, column));
                values.push(T::default());
            });
        }
        let first_extra = places.len();
        places.extend(extra);
        values.resize(places.len(), T::default());
        Self { places: places.into(), values, extra: first_extra, size: equations.size, factors: None }
    }

    /// The same matrix with rows and columns exchanged.
    pub(super) fn transposed(&self) -> Self {
        let mut other = self.clone();
        other.places = self.places.iter().map(|(row, column)| (*column, *row)).collect();
        other.factors = None;
        other
    }

    /// Takes over the analysis of another matrix with the same places, if it is one; values stay its own.
    pub(super) fn learn_from(&mut self, other: &Self) {
        if self.factors.is_none() && self.size == other.size && self.places == other.places {
            self.factors.clone_from(&other.factors);
        }
    }

    /// Sets the slopes of the devices.
    pub(super) fn set_slopes(&mut self, equations: &Equations, responses: &[Response], number: impl Fn(f64) -> T) {
        let mut place = equations.conductance.len();
        for (device, response) in equations.devices.iter().zip(responses) {
            stamp(device, response, |_, _, siemens| {
                self.values[place] = number(siemens);
                place += 1;
            });
        }
    }

    /// The values of the further places.
    pub(super) fn extra_mut(&mut self) -> &mut [T] {
        &mut self.values[self.extra..]
    }

    /// Factors the present values.
    pub(super) fn factor(&mut self) -> Result<(), Undetermined> {
        if let Some(factors) = &mut self.factors
            && factors.refactor(&self.values)
        {
            return Ok(());
        }
        self.factors = Some(Factors::analyse(self.size, &self.places, &self.values)?);
        Ok(())
    }

    /// Solves in place with the last factors.
    pub(super) fn solve(&self, side: &mut [T]) {
        self.solve_in(side, &mut vec![T::default(); side.len()]);
    }

    /// The same with room of the caller's, as long as the right-hand side.
    pub(super) fn solve_in(&self, side: &mut [T], room: &mut [T]) {
        if let Some(factors) = &self.factors {
            factors.solve(side, room);
        }
    }
}

/// The entries of one device, always in the same order.
fn stamp(device: &Device, response: &Response, mut put: impl FnMut(usize, usize, f64)) {
    let ports = device.law.ports();
    for (i, out) in device.ports.iter().take(ports).enumerate() {
        for (j, by) in device.ports.iter().take(ports).enumerate() {
            let slope = response.slope[i][j];
            for (row, column, sign) in corners(*out, *by) {
                put(row, column, sign * slope);
            }
        }
    }
}

/// Adds port currents to the balance of the nodes.
pub(super) fn add_currents(device: &Device, currents: Ports, sign: f64, balance: &mut [f64]) {
    let mut add = |place: Unknown, amperes: f64| {
        if let Some(place) = place {
            balance[place] += amperes;
        }
    };
    for (port, current) in device.ports.iter().zip(currents) {
        add(port.0, sign * current);
        add(port.1, -sign * current);
    }
}

/// The current that a linearised device passes at zero port voltage.
pub(super) fn offset(response: &Response, volts: Ports) -> Ports {
    std::array::from_fn(|i| response.current[i] - response.slope[i].iter().zip(volts).map(|(g, v)| g * v).sum::<f64>())
}
