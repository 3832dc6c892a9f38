//! The network that physics solves: numbered nodes and elements. Knows nothing of part names, nets or text.

use super::SolveError;
use crate::catalogue::{BipolarModel, DiodeModel, FieldEffectModel, PentodeLaw, TriodeModel, VacuumDiodeModel};
use crate::units::{Amperes, Farads, Henries, Ohms, Volts};

/// A node; number 0 is the reference of every voltage.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NodeId(pub usize);

impl NodeId {
    /// The reference node.
    pub const GROUND: Self = Self(0);
}

/// Place of an element in [`Network::elements`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ElementId(pub usize);

/// An element. Currents of two-terminal elements are counted from the first terminal through the element to the second.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Element {
    /// A resistor; zero ohms is an ideal connection.
    Resistor {
        /// First terminal.
        a: NodeId,
        /// Second terminal.
        b: NodeId,
        /// Its value, zero or more.
        resistance: Ohms,
    },
    /// A capacitor, open at direct current.
    Capacitor {
        /// First terminal.
        a: NodeId,
        /// Second terminal.
        b: NodeId,
        /// Its value, zero or more.
        capacitance: Farads,
    },
    /// A choke with the resistance of its winding.
    Inductor {
        /// First terminal.
        a: NodeId,
        /// Second terminal.
        b: NodeId,
        /// Its inductance, zero or more.
        inductance: Henries,
        /// Resistance of its winding, zero or more.
        resistance: Ohms,
    },
    /// A transformer winding: a sinusoid at mains frequency, behind a resistance.
    Winding {
        /// The end whose potential over `b` is √2·emf·sin(ωt + phase).
        a: NodeId,
        /// The other end.
        b: NodeId,
        /// Open-circuit voltage, rms; 0 V when the mains is off.
        emf: Volts,
        /// Resistance, zero or more.
        resistance: Ohms,
        /// Radians, 0 or π.
        phase: f64,
    },
    /// A direct supply behind a resistance, which may be zero. Its current is counted from `plus` through it to `minus`: negative while it delivers.
    Supply {
        /// Positive terminal.
        plus: NodeId,
        /// Negative terminal.
        minus: NodeId,
        /// Open-circuit voltage.
        voltage: Volts,
        /// Inner resistance.
        resistance: Ohms,
    },
    /// A diode, an LED or (with a breakdown voltage) a zener or gas regulator.
    Junction {
        /// Anode.
        anode: NodeId,
        /// Cathode.
        cathode: NodeId,
        /// Its law.
        model: DiodeModel,
    },
    /// One plate of a vacuum rectifier.
    VacuumDiode {
        /// Plate.
        plate: NodeId,
        /// Cathode.
        cathode: NodeId,
        /// Its law.
        model: VacuumDiodeModel,
    },
    /// A triode.
    Triode {
        /// Plate.
        plate: NodeId,
        /// Grid.
        grid: NodeId,
        /// Cathode.
        cathode: NodeId,
        /// Its law.
        model: TriodeModel,
    },
    /// A pentode or beam tetrode; the suppressor is taken to be at the cathode.
    Pentode {
        /// Plate.
        plate: NodeId,
        /// Control grid.
        grid: NodeId,
        /// Screen.
        screen: NodeId,
        /// Cathode.
        cathode: NodeId,
        /// Its law.
        model: PentodeLaw,
    },
    /// A coil on a core that other coils share: its voltage is `turns` times that of the core node, besides the drop in
    /// its resistance and leakage, and `turns` times its current goes into the core. The core's own inductance is an
    /// [`Element::Inductor`] from the core node to the reference, as a coil of one turn would show it.
    Coil {
        /// First terminal.
        a: NodeId,
        /// Second terminal.
        b: NodeId,
        /// The core: its voltage is that of one turn.
        core: NodeId,
        /// Turns, in any unit that the coils of the core share.
        turns: f64,
        /// Resistance, zero or more.
        resistance: Ohms,
        /// Leakage inductance, zero or more.
        leakage: Henries,
    },
    /// A MOSFET or JFET.
    FieldEffect {
        /// Drain.
        drain: NodeId,
        /// Gate.
        gate: NodeId,
        /// Source.
        source: NodeId,
        /// Its law.
        model: FieldEffectModel,
    },
    /// A bipolar transistor.
    Bipolar {
        /// Collector.
        collector: NodeId,
        /// Base.
        base: NodeId,
        /// Emitter.
        emitter: NodeId,
        /// Its law.
        model: BipolarModel,
    },
    /// Passes its current while 2 V or more stand across it in its direction, less in proportion below, none when reversed.
    CurrentSource {
        /// Where the current enters.
        from: NodeId,
        /// Where it leaves.
        to: NodeId,
        /// The full current, zero or more.
        current: Amperes,
    },
}

impl Element {
    /// The two nodes between which its voltage and main current are counted (a tube: plate and cathode).
    #[must_use]
    pub fn ends(&self) -> (NodeId, NodeId) {
        match *self {
            Self::Resistor { a, b, .. }
            | Self::Capacitor { a, b, .. }
            | Self::Inductor { a, b, .. }
            | Self::Winding { a, b, .. }
            | Self::Coil { a, b, .. } => (a, b),
            Self::FieldEffect { drain, source, .. } => (drain, source),
            Self::Bipolar { collector, emitter, .. } => (collector, emitter),
            Self::Supply { plus, minus, .. } => (plus, minus),
            Self::Junction { anode, cathode, .. } => (anode, cathode),
            Self::VacuumDiode { plate, cathode, .. }
            | Self::Triode { plate, cathode, .. }
            | Self::Pentode { plate, cathode, .. } => (plate, cathode),
            Self::CurrentSource { from, to, .. } => (from, to),
        }
    }

    /// The control grid, gate or base, if it has one.
    #[must_use]
    pub fn grid(&self) -> Option<NodeId> {
        match *self {
            Self::Triode { grid, .. } | Self::Pentode { grid, .. } => Some(grid),
            Self::FieldEffect { gate, .. } => Some(gate),
            Self::Bipolar { base, .. } => Some(base),
            _ => None,
        }
    }

    /// The screen, if it has one.
    #[must_use]
    pub fn screen(&self) -> Option<NodeId> {
        match *self {
            Self::Pentode { screen, .. } => Some(screen),
            _ => None,
        }
    }

    /// The core that a coil shares with others.
    #[must_use]
    pub fn core(&self) -> Option<NodeId> {
        match *self {
            Self::Coil { core, .. } => Some(core),
            _ => None,
        }
    }

    /// All its terminals.
    pub fn terminals(&self) -> impl Iterator<Item = NodeId> + use<> {
        let (a, b) = self.ends();
        [Some(a), Some(b), self.grid(), self.screen(), self.core()].into_iter().flatten()
    }

    /// The same element between other nodes.
    #[must_use]
    pub fn renumbered(&self, place: impl Fn(NodeId) -> NodeId) -> Self {
        let mut copy = *self;
        match &mut copy {
            Self::Resistor { a, b, .. }
            | Self::Capacitor { a, b, .. }
            | Self::Inductor { a, b, .. }
            | Self::Winding { a, b, .. }
            | Self::Supply { plus: a, minus: b, .. }
            | Self::Junction { anode: a, cathode: b, .. }
            | Self::VacuumDiode { plate: a, cathode: b, .. }
            | Self::CurrentSource { from: a, to: b, .. } => {
                *a = place(*a);
                *b = place(*b);
            }
            Self::Coil { a, b, core, .. } => {
                *a = place(*a);
                *b = place(*b);
                *core = place(*core);
            }
            Self::FieldEffect { drain: main, gate: control, source: common, .. }
            | Self::Bipolar { collector: main, base: control, emitter: common, .. } => {
                *main = place(*main);
                *control = place(*control);
                *common = place(*common);
            }
            Self::Triode { plate, grid, cathode, .. } => {
                *plate = place(*plate);
                *grid = place(*grid);
                *cathode = place(*cathode);
            }
            Self::Pentode { plate, grid, screen, cathode, .. } => {
                *plate = place(*plate);
                *grid = place(*grid);
                *screen = place(*screen);
                *cathode = place(*cathode);
            }
        }
        copy
    }

    fn is_usable(&self) -> bool {
        let passive = |v: f64| v.is_finite() && v >= 0.0;
        let positive = |v: f64| v.is_finite() && v > 0.0;
        match *self {
            Self::Resistor { resistance, .. } => passive(resistance.0),
            Self::Capacitor { capacitance, .. } => passive(capacitance.0),
            Self::Inductor { inductance, resistance, .. } => passive(inductance.0) && passive(resistance.0),
            Self::Winding { emf, resistance, phase, .. } => {
                emf.0.is_finite() && passive(resistance.0) && phase.is_finite()
            }
            Self::Supply { voltage, resistance, .. } => voltage.0.is_finite() && passive(resistance.0),
            Self::Junction { model, .. } => {
                positive(model.is) && positive(model.n) && passive(model.rs) && model.breakdown.is_none_or(positive)
            }
            Self::VacuumDiode { model, .. } => positive(model.k),
            Self::Triode { model: m, .. } => {
                [m.mu, m.x, m.kg1, m.kp].into_iter().all(positive) && passive(m.kvb) && m.rgi.is_none_or(positive)
            }
            Self::Pentode { model: m, .. } => {
                m.form().keys().iter().all(|key| m.key(key).is_some_and(positive)) && m.rgi().is_none_or(positive)
            }
            Self::CurrentSource { current, .. } => passive(current.0),
            Self::Coil { turns, resistance, leakage, .. } => {
                turns.is_finite() && passive(resistance.0) && passive(leakage.0)
            }
            Self::FieldEffect { model: m, .. } => m.vto.is_finite() && positive(m.kp) && passive(m.lambda),
            Self::Bipolar { model: m, .. } => [m.is, m.bf, m.br, m.va].into_iter().all(positive),
        }
    }
}

/// Nodes 0 to `nodes - 1` and the elements between them.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Network {
    /// How many nodes, the reference included.
    pub nodes: usize,
    /// The elements; their places are their [`ElementId`]s.
    pub elements: Vec<Element>,
}

impl Network {
    /// Whether every element lies between nodes that exist and carries a value that a part can have.
    ///
    /// # Errors
    /// [`SolveError::Malformed`] with the first element that does not.
    pub fn check(&self) -> Result<(), SolveError> {
        for (place, element) in self.elements.iter().enumerate() {
            let here = element.terminals().all(|node| node.0 < self.nodes.max(1));
            if !here || !element.is_usable() {
                return Err(SolveError::Malformed { element: ElementId(place) });
            }
        }
        Ok(())
    }
}
