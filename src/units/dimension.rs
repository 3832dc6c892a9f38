//! A physical dimension as exponents of volt, ampere, second and metre.
//!
//! Volt and ampere are taken as base instead of kilogram and kelvin because every quantity of an
//! amplifier is a product of their powers; the algebra is that of the SI (BIPM, SI Brochure, 9th ed., 2.3.3).

use std::fmt;
use std::ops::{Div, Mul};

/// Exponents of volt, ampere, second and metre.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Dimension {
    volt: i8,
    ampere: i8,
    second: i8,
    metre: i8,
}

impl Dimension {
    const fn of(volt: i8, ampere: i8, second: i8, metre: i8) -> Self {
        Self { volt, ampere, second, metre }
    }

    /// A plain number.
    pub const NONE: Self = Self::of(0, 0, 0, 0);
    /// Volts.
    pub const VOLTAGE: Self = Self::of(1, 0, 0, 0);
    /// Amperes.
    pub const CURRENT: Self = Self::of(0, 1, 0, 0);
    /// Ohms, V/A.
    pub const RESISTANCE: Self = Self::of(1, -1, 0, 0);
    /// Siemens, A/V.
    pub const CONDUCTANCE: Self = Self::of(-1, 1, 0, 0);
    /// Farads, A·s/V.
    pub const CAPACITANCE: Self = Self::of(-1, 1, 1, 0);
    /// Henries, V·s/A.
    pub const INDUCTANCE: Self = Self::of(1, -1, 1, 0);
    /// Watts, V·A.
    pub const POWER: Self = Self::of(1, 1, 0, 0);
    /// Joules, V·A·s.
    pub const ENERGY: Self = Self::of(1, 1, 1, 0);
    /// Seconds.
    pub const TIME: Self = Self::of(0, 0, 1, 0);
    /// Hertz, 1/s.
    pub const FREQUENCY: Self = Self::of(0, 0, -1, 0);
    /// Metres.
    pub const LENGTH: Self = Self::of(0, 0, 0, 1);

    /// The named unit of this dimension, where it has one.
    #[must_use]
    pub fn unit(self) -> Option<&'static str> {
        Some(match self {
            Self::NONE => "",
            Self::VOLTAGE => "V",
            Self::CURRENT => "A",
            Self::RESISTANCE => "Ω",
            Self::CONDUCTANCE => "S",
            Self::CAPACITANCE => "F",
            Self::INDUCTANCE => "H",
            Self::POWER => "W",
            Self::ENERGY => "J",
            Self::TIME => "s",
            Self::FREQUENCY => "Hz",
            Self::LENGTH => "m",
            _ => return None,
        })
    }

    /// The noun a builder uses for this dimension, where there is one.
    #[must_use]
    pub fn noun(self) -> Option<&'static str> {
        Some(match self {
            Self::NONE => "plain number",
            Self::VOLTAGE => "voltage",
            Self::CURRENT => "current",
            Self::RESISTANCE => "resistance",
            Self::CONDUCTANCE => "conductance",
            Self::CAPACITANCE => "capacitance",
            Self::INDUCTANCE => "inductance",
            Self::POWER => "power",
            Self::ENERGY => "energy",
            Self::TIME => "time",
            Self::FREQUENCY => "frequency",
            Self::LENGTH => "length",
            _ => return None,
        })
    }

    /// The noun with its article, or the unit where there is no noun.
    #[must_use]
    pub fn with_article(self) -> String {
        match self.noun() {
            Some(noun) if noun.starts_with(['a', 'e', 'i', 'o', 'u']) => format!("an {noun}"),
            Some(noun) => format!("a {noun}"),
            None => format!("a quantity in {self}"),
        }
    }

    /// The dimension of the square root, where the exponents allow one.
    #[must_use]
    pub fn square_root(self) -> Option<Self> {
        let Self { volt, ampere, second, metre } = self;
        [volt, ampere, second, metre].iter().all(|e| e % 2 == 0).then_some(Self::of(
            volt / 2,
            ampere / 2,
            second / 2,
            metre / 2,
        ))
    }
}

impl Mul for Dimension {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self::of(
            self.volt.saturating_add(other.volt),
            self.ampere.saturating_add(other.ampere),
            self.second.saturating_add(other.second),
            self.metre.saturating_add(other.metre),
        )
    }
}

impl Div for Dimension {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        Self::of(
            self.volt.saturating_sub(other.volt),
            self.ampere.saturating_sub(other.ampere),
            self.second.saturating_sub(other.second),
            self.metre.saturating_sub(other.metre),
        )
    }
}

impl fmt::Display for Dimension {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(noun) = self.noun() {
            return f.write_str(noun);
        }
        let mut first = true;
        for (symbol, exponent) in [("V", self.volt), ("A", self.ampere), ("s", self.second), ("m", self.metre)] {
            if exponent != 0 {
                if !first {
                    f.write_str("·")?;
                }
                first = false;
                if exponent == 1 { f.write_str(symbol)? } else { write!(f, "{symbol}^{exponent}")? }
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::Dimension;

    #[test]
    fn ohms_law_and_power_close() {
        assert_eq!(Dimension::VOLTAGE / Dimension::CURRENT, Dimension::RESISTANCE);
        assert_eq!(Dimension::VOLTAGE * Dimension::CURRENT, Dimension::POWER);
        assert_eq!(Dimension::RESISTANCE * Dimension::CAPACITANCE, Dimension::TIME);
        assert_eq!(Dimension::POWER * Dimension::TIME, Dimension::ENERGY);
    }

    #[test]
    fn a_noun_has_its_article() {
        assert_eq!(Dimension::ENERGY.with_article(), "an energy");
        assert_eq!(Dimension::INDUCTANCE.with_article(), "an inductance");
        assert_eq!(Dimension::VOLTAGE.with_article(), "a voltage");
        assert_eq!((Dimension::VOLTAGE * Dimension::VOLTAGE).with_article(), "a quantity in V^2");
    }

    #[test]
    fn the_root_of_power_times_resistance_is_a_voltage() {
        assert_eq!((Dimension::POWER * Dimension::RESISTANCE).square_root(), Some(Dimension::VOLTAGE));
        assert_eq!(Dimension::VOLTAGE.square_root(), None);
    }

    #[test]
    fn an_unnamed_dimension_is_spelled_out() {
        assert_eq!((Dimension::VOLTAGE * Dimension::VOLTAGE).to_string(), "V^2");
    }
}
