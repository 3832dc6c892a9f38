//! What lies between two nets: what a net reaches, the direct-current resistance on the way, and through which parts.

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

use nalgebra::{DMatrix, DVector};

use crate::design::PartId;
use crate::units::{Ohms, Quantity};

use super::{Circuit, Conduction, Link, NetId};

// Wire, contacts and windings without a stated resistance: small enough to vanish beside any part, large enough to keep
// the resistance matrix well conditioned.
const WIRE: f64 = 1e-3;

impl Circuit {
    /// The nets reached from a net over the links that `passes` allows; the net itself included. Nets for which
    /// `stops` holds are reached, and not passed through.
    pub fn reach(
        &self,
        from: NetId,
        mut passes: impl FnMut(&Link) -> bool,
        mut stops: impl FnMut(NetId) -> bool,
    ) -> BTreeSet<NetId> {
        let mut reached = BTreeSet::from([from]);
        let mut waiting = vec![from];
        while let Some(net) = waiting.pop() {
            if net != from && stops(net) {
                continue;
            }
            for link in self.links(net) {
                let other = link.other(net);
                if !reached.contains(&other) && passes(link) {
                    reached.insert(other);
                    waiting.push(other);
                }
            }
        }
        reached
    }

    /// The direct-current resistance from a net to a set of nets taken as one, through parts that always conduct;
    /// `None` where there is no such path. Parts in `without` are taken out.
    #[must_use]
    pub fn resistance_to(&self, from: NetId, targets: &BTreeSet<NetId>, without: &[PartId]) -> Option<Ohms> {
        if targets.contains(&from) {
            return Some(Ohms(0.0));
        }
        let allowed = |link: &Link| link.conduction.is_permanent() && !without.contains(&link.part);
        let reached = self.reach(from, allowed, |net| targets.contains(&net));
        if reached.is_disjoint(targets) {
            return None;
        }
        let places: BTreeMap<NetId, usize> =
            reached.iter().filter(|net| !targets.contains(net)).enumerate().map(|(i, net)| (*net, i)).collect();
        let mut matrix = DMatrix::<f64>::zeros(places.len(), places.len());
        for link in self.all_links().filter(|link| allowed(link) && link.from_net != link.to_net) {
            let (a, b) = (places.get(&link.from_net), places.get(&link.to_net));
            if !reached.contains(&link.from_net) || !reached.contains(&link.to_net) {
                continue;
            }
            let siemens = 1.0 / link_ohms(link.conduction);
            for place in [a, b].into_iter().flatten() {
                matrix[(*place, *place)] += siemens;
            }
            if let (Some(a), Some(b)) = (a, b) {
                matrix[(*a, *b)] -= siemens;
                matrix[(*b, *a)] -= siemens;
            }
        }
        let start = *places.get(&from)?;
        let mut injected = DVector::zeros(places.len());
        injected[start] = 1.0;
        let voltages = matrix.lu().solve(&injected)?;
        Some(Ohms(voltages[start]))
    }

    /// The parts on the path of least resistance between two nets, through parts that always conduct.
    #[must_use]
    pub fn least_path(&self, from: NetId, to: NetId) -> Option<Vec<PartId>> {
        let mut best: BTreeMap<NetId, f64> = BTreeMap::from([(from, 0.0)]);
        let mut came: BTreeMap<NetId, (NetId, PartId)> = BTreeMap::new();
        let mut waiting = BinaryHeap::from([Waiting { cost: 0.0, net: from }]);
        while let Some(Waiting { cost, net }) = waiting.pop() {
            if net == to {
                break;
            }
            if best.get(&net).is_some_and(|known| *known < cost) {
                continue;
            }
            for link in self.links(net).filter(|link| link.conduction.is_permanent()) {
                let other = link.other(net);
                let reached = cost + link_ohms(link.conduction);
                if best.get(&other).is_none_or(|known| reached < *known) {
                    best.insert(other, reached);
                    came.insert(other, (net, link.part));
                    waiting.push(Waiting { cost: reached, net: other });
                }
            }
        }
        best.get(&to)?;
        let mut parts = Vec::new();
        let mut net = to;
        while net != from {
            let (previous, part) = *came.get(&net)?;
            if parts.last() != Some(&part) {
                parts.push(part);
            }
            net = previous;
        }
        parts.reverse();
        Some(parts)
    }
}

fn link_ohms(conduction: Conduction) -> f64 {
    match conduction {
        Conduction::Resistive(ohms) | Conduction::Heater(ohms) | Conduction::Inductive(Some(ohms)) => {
            ohms.base().max(WIRE)
        }
        _ => WIRE,
    }
}

struct Waiting {
    cost: f64,
    net: NetId,
}

impl PartialEq for Waiting {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Waiting {}

impl PartialOrd for Waiting {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Waiting {
    // The heap gives the largest first: the cheapest is made the largest.
    fn cmp(&self, other: &Self) -> Ordering {
        other.cost.total_cmp(&self.cost).then(other.net.cmp(&self.net))
    }
}
