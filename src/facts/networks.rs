//! The networks of a design as physics solves them: for curves over time, and for measuring the solver by itself.

use std::collections::HashMap;

use crate::catalogue::Devices;
use crate::circuit::{Circuit, Roles};
use crate::design::Design;
use crate::physics::Network;
use crate::units::Hertz;

use super::State;
use super::memory::Memory;
use super::study::{Study, lowered_in};

/// The network of a design as drawn in a state, heaters at their hot resistance, and the mains frequency.
#[must_use]
pub fn network_in(design: &Design, circuit: &Circuit, devices: &dyn Devices, state: State) -> (Network, Hertz) {
    let roles = Roles::of(design, circuit);
    let memory = Memory::default();
    let study = Study::unsolved(design, circuit, &roles, devices, &memory);
    (lowered_in(&study, state, &HashMap::new()).network, study.mains.frequency)
}
