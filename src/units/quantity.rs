//! One newtype a unit, so that a voltage is never passed where a resistance is meant.

use super::Dimension;

/// What every unit type shares: its value in base SI units, and its dimension.
pub trait Quantity: Copy {
    /// The physical dimension of this type.
    const DIMENSION: Dimension;
    /// Wraps a value in base SI units.
    fn from_base(value: f64) -> Self;
    /// The value in base SI units.
    fn base(self) -> f64;
}

macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident: $dimension:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(pub f64);

        impl Quantity for $name {
            const DIMENSION: Dimension = Dimension::$dimension;
            fn from_base(value: f64) -> Self { Self(value) }
            fn base(self) -> f64 { self.0 }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(&super::format_quantity(self.0, Dimension::$dimension))
            }
        }
    )*};
}

quantities! {
    /// Electric potential difference in volts.
    Volts: VOLTAGE;
    /// Electric current in amperes.
    Amperes: CURRENT;
    /// Resistance or impedance in ohms.
    Ohms: RESISTANCE;
    /// Conductance or transconductance in siemens.
    Siemens: CONDUCTANCE;
    /// Capacitance in farads.
    Farads: CAPACITANCE;
    /// Inductance in henries.
    Henries: INDUCTANCE;
    /// Power in watts.
    Watts: POWER;
    /// Energy in joules.
    Joules: ENERGY;
    /// Time in seconds.
    Seconds: TIME;
    /// Frequency in hertz.
    Hertz: FREQUENCY;
    /// Length in metres.
    Metres: LENGTH;
    /// A plain number: a ratio, a share, a tolerance.
    Ratio: NONE;
}
