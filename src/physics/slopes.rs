//! The slopes of a tube at an operating point, as its data sheet prints them.

use super::devices::Law;
use super::{Element, NodeId};
use crate::units::Siemens;

/// Transconductance and plate conductance of a tube at rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TubeSlopes {
    /// Change of plate current with grid voltage.
    pub transconductance: Siemens,
    /// Change of plate current with plate voltage.
    pub plate_conductance: Siemens,
}

/// The slopes of a triode or pentode at the given node voltages, V; `None` for any other element.
pub fn tube_slopes(element: &Element, voltage: impl Fn(NodeId) -> f64) -> Option<TubeSlopes> {
    let (law, [plate, grid, screen], cathode) = match *element {
        Element::Triode { plate, grid, cathode, model } => (Law::Triode(model), [plate, grid, cathode], cathode),
        Element::Pentode { plate, grid, screen, cathode, model } => {
            (Law::Pentode(model), [plate, grid, screen], cathode)
        }
        _ => return None,
    };
    let foot = voltage(cathode);
    let response = law.respond([voltage(plate) - foot, voltage(grid) - foot, voltage(screen) - foot]);
    Some(TubeSlopes {
        transconductance: Siemens(response.slope[0][1]),
        plate_conductance: Siemens(response.slope[0][0]),
    })
}
