//! Where a rectifier delivers, and what capacitance it charges there. Knows nothing of what stages do with it.

use std::collections::BTreeSet;

use crate::design::{Design, Kind, PartId};
use crate::units::Farads;

use super::rails::{filament_legs, is_joint};
use super::{Circuit, Conduction, Link, NetId, Roles};

impl Roles {
    /// The nets at which a rectifier delivers: its cathode and what heats that, or an anode at a minus rail.
    #[must_use]
    pub fn delivers(&self, design: &Design, circuit: &Circuit, rectifier: PartId) -> BTreeSet<NetId> {
        let own = |link: &&Link| link.part == rectifier && link.conduction == Conduction::Rectifying;
        let ways = circuit.all_links().filter(own).flat_map(|link| [link.from_net, link.to_net]);
        ways.chain(filament_legs(design, circuit, rectifier)).filter(|net| self.outputs.contains(net)).collect()
    }

    /// The capacitance that holds a rectifier's outputs: to ground, from one output to another, and through the joints of
    /// stacked capacitors.
    #[must_use]
    pub fn reservoir(&self, design: &Design, circuit: &Circuit, outputs: &BTreeSet<NetId>) -> Farads {
        let mut passed = Vec::new();
        Farads(
            outputs
                .iter()
                .map(|output| {
                    passed.push(*output);
                    self.held_by(design, circuit, *output, &mut passed.clone())
                })
                .sum(),
        )
    }

    fn held_by(&self, design: &Design, circuit: &Circuit, net: NetId, passed: &mut Vec<NetId>) -> f64 {
        let mut farads = 0.0;
        for link in circuit.links(net).filter(|link| link.conduction == Conduction::Capacitive) {
            let Kind::Capacitor(capacitor) = &design.part(link.part).kind else { continue };
            let (own, other) = (capacitor.capacitance.value.0, link.other(net));
            if passed.contains(&other) {
                continue;
            }
            if circuit.is_ground(other) || self.outputs.contains(&other) {
                farads += own;
            } else if is_joint(circuit, other) {
                passed.push(other);
                let below = self.held_by(design, circuit, other, passed);
                if below > 0.0 {
                    farads += own * below / (own + below);
                }
            }
        }
        farads
    }
}
