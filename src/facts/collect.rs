//! All facts of a design, topic by topic.

use crate::catalogue::Devices;
use crate::circuit::{Circuit, Roles};
use crate::design::Design;

use super::recorder::Recorder;
use super::study::Study;
use super::switching::Surge;
use super::{
    FactTable, Memory, alternates, capacitors, controls, corners, drive, feedback, heating, hum, large, mains,
    mains_side, noise, ports, regulators, resistors, shorts, signal, small, stages, supply, transistors, tubes, wiring,
};

/// Computes every fact of a design.
///
/// Conditions that cannot be solved are listed in [`FactTable::unsolved`]; facts that should exist and could not be had
/// are recorded as failed, with the reason.
#[must_use]
pub fn facts_of(design: &Design, circuit: &Circuit, devices: &dyn Devices) -> FactTable {
    facts_remembered(design, circuit, devices, &Memory::default())
}

/// The same facts, of which what has been solved before is not solved again.
#[must_use]
pub fn facts_remembered(design: &Design, circuit: &Circuit, devices: &dyn Devices, memory: &Memory) -> FactTable {
    let roles = Roles::of(design, circuit);
    let study = Study::unsolved(design, circuit, &roles, devices, memory).solved_throughout();
    let mut recorder = Recorder::new(&study);
    let surge = Surge::of(&study);
    mains::record(&mut recorder, surge.as_ref());
    capacitors::record(&mut recorder, surge.as_ref());
    resistors::record(&mut recorder);
    mains_side::record(&mut recorder);
    tubes::record(&mut recorder);
    transistors::record(&mut recorder);
    heating::record(&mut recorder);
    alternates::record(&mut recorder);
    supply::record(&mut recorder, surge.as_ref());
    regulators::record(&mut recorder);
    stages::record(&mut recorder);
    ports::record(&mut recorder);
    let small = small::running(&study);
    corners::record(&mut recorder, &small);
    signal::record(&mut recorder, &small);
    large::record(&mut recorder, &small);
    feedback::record(&mut recorder, &small);
    controls::record(&mut recorder);
    drive::record(&mut recorder, &small);
    noise::record(&mut recorder, &small);
    hum::record(&mut recorder, &small);
    shorts::record(&mut recorder);
    wiring::record(&mut recorder);
    recorder.table
}
