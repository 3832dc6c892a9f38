//! What can go wrong in a solution. A network that cannot be solved is data for the floors above, never a panic.

use super::{ElementId, NodeId};
use crate::units::Amperes;
use thiserror::Error;

/// Why a network has no solution that may be trusted.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SolveError {
    /// An element names a node that does not exist, or carries a value that no real part has.
    #[error("element {} has a value or a node that cannot be used", .element.0)]
    Malformed {
        /// The element at fault.
        element: ElementId,
    },
    /// A node has no determined voltage, or a loop of ideal sources no determined current.
    #[error("nothing determines the solution at node {}", .node.0)]
    Singular {
        /// The node at which elimination stopped.
        node: NodeId,
    },
    /// A number overflowed.
    #[error("the solution at node {} is not finite", .node.0)]
    NonFinite {
        /// The node at which it was noticed.
        node: NodeId,
    },
    /// The iteration did not settle.
    #[error("no solution after {iterations} iterations (largest unbalanced current {residual})")]
    NoConvergence {
        /// Largest sum of currents into a node that should be zero.
        residual: Amperes,
        /// How many iterations were made in all.
        iterations: usize,
        /// The nodes that would not settle, worst first.
        nodes: Vec<NodeId>,
    },
}
