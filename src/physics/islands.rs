//! What of a network hangs together once the reference is taken away, and what of it can ever move by itself.

use super::equations::{join, root};
use super::partition::is_live_winding;
use super::{Element, ElementId, Network};

/// The elements of each part of a network that nothing but the reference joins to the others, in the order of their first
/// elements. What lies at the reference with all its terminals is a part by itself.
pub(super) fn islands(network: &Network) -> Vec<Vec<ElementId>> {
    let mut joined: Vec<usize> = (0..network.nodes.max(1)).collect();
    for element in &network.elements {
        let mut terminals = element.terminals().map(|node| node.0).filter(|node| *node != 0);
        if let Some(first) = terminals.next() {
            terminals.for_each(|other| join(&mut joined, first, other));
        }
    }
    let mut islands: Vec<Vec<ElementId>> = Vec::new();
    let mut known: Vec<Option<usize>> = vec![None; joined.len()];
    for (place, element) in network.elements.iter().enumerate() {
        let at = element.terminals().map(|node| node.0).find(|node| *node != 0).map(|node| root(&joined, node));
        let island = at.and_then(|root| known[root]).unwrap_or(islands.len());
        if island == islands.len() {
            islands.push(Vec::new());
        }
        if let Some(root) = at {
            known[root] = Some(island);
        }
        islands[island].push(ElementId(place));
    }
    islands
}

/// Whether an element is a direct supply that delivers something.
pub(super) fn is_live_supply(element: &Element) -> bool {
    matches!(element, Element::Supply { voltage, .. } if voltage.0 != 0.0)
}

/// The elements of all parts in which something delivers: nothing else moves that stands at zero.
pub(super) fn fed(network: &Network) -> Vec<ElementId> {
    let delivers = |element: &Element| is_live_winding(element) || is_live_supply(element);
    let feeds = |island: &Vec<ElementId>| island.iter().any(|id| delivers(&network.elements[id.0]));
    islands(network).into_iter().filter(feeds).flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::NodeId;
    use crate::units::{Ohms, Volts};

    fn resistor(a: usize, b: usize) -> Element {
        Element::Resistor { a: NodeId(a), b: NodeId(b), resistance: Ohms(1e3) }
    }

    #[test]
    fn the_reference_joins_nothing() {
        let winding =
            Element::Winding { a: NodeId(3), b: NodeId(0), emf: Volts(6.3), resistance: Ohms(0.1), phase: 0.0 };
        let elements = vec![resistor(1, 0), resistor(3, 4), resistor(1, 2), resistor(0, 0), winding];
        let network = Network { nodes: 5, elements };
        let found: Vec<Vec<usize>> =
            islands(&network).iter().map(|island| island.iter().map(|id| id.0).collect()).collect();
        assert_eq!(found, [vec![0, 2], vec![1, 4], vec![3]]);
        assert_eq!(fed(&network), [ElementId(1), ElementId(4)]);
    }
}
