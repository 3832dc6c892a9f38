//! How the number of a fact is read by people: shares as per cent, levels in decibels, angles in degrees.
//!
//! The number itself stays in base SI units everywhere else, in JSON too.

use crate::units::{Dimension, format_quantity};

use super::{ValueKind, find_definition};

/// Shares that a builder says in per cent.
const SHARES: [&str; 9] = [
    "allowed-difference",
    "distortion",
    "distortion-limit",
    "distortion-second",
    "distortion-third",
    "plate-rest",
    "supply-rejection",
    "tolerance",
    "wanted-distortion",
];
/// Ratios that are read in decibels as often as plain.
const GAINS: [&str; 4] = ["gain", "wanted-gain", "loop-gain", "gain-margin"];
/// Numbers that are decibels already.
const DECIBELS: [&str; 1] = ["riaa-deviation"];
/// Angles.
const DEGREES: [&str; 1] = ["phase-margin"];

/// The value of a fact in the unit in which it is read: `2.92 %`, `0.43 dB`, `38.2°`, `47 kΩ`.
#[must_use]
pub fn fact_shown(name: &str, value: f64) -> String {
    let dimension = match find_definition(name).map(|definition| definition.value) {
        Some(ValueKind::Quantity(dimension)) => dimension,
        _ => Dimension::NONE,
    };
    if value.is_infinite() && dimension != Dimension::TIME {
        return "infinite".to_owned();
    }
    if SHARES.contains(&name) {
        return format!("{} %", three_digits(100.0 * value));
    }
    if DECIBELS.contains(&name) {
        return format!("{} dB", three_digits(value));
    }
    if DEGREES.contains(&name) {
        return format!("{}°", three_digits(value));
    }
    format_quantity(value, dimension)
}

/// Whether a plain number is read with a unit: per cent, decibels, degrees.
#[must_use]
pub fn read_in_unit(name: &str) -> bool {
    SHARES.contains(&name) || DECIBELS.contains(&name) || DEGREES.contains(&name)
}

/// The same, a gain with its decibels beside it.
#[must_use]
pub fn fact_shown_fully(name: &str, value: f64) -> String {
    let text = fact_shown(name, value);
    if GAINS.contains(&name) && value.abs() > 0.0 && value.is_finite() {
        format!("{text} ({:.1} dB)", 20.0 * value.abs().log10())
    } else {
        text
    }
}

/// No more digits than a meter for such things shows.
fn three_digits(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let decimals = (2 - value.abs().log10().floor() as i32).clamp(0, 12) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_levels_and_angles_carry_the_unit_in_which_they_are_read() {
        for (name, value, shown) in [
            ("distortion", 0.029_23, "2.92 %"),
            ("distortion-third", 0.000_014_06, "0.00141 %"),
            ("distortion-limit", 0.05, "5 %"),
            ("distortion", 1.144, "114 %"),
            ("riaa-deviation", 0.4321, "0.432 dB"),
            ("phase-margin", 38.21, "38.2°"),
            ("gain", 10.84, "10.84"),
            ("peak-voltage", 389.24, "389.2 V"),
        ] {
            assert_eq!(fact_shown(name, value), shown);
        }
        assert_eq!(fact_shown_fully("gain", 10.0), "10 (20.0 dB)");
    }

    #[test]
    fn every_name_listed_here_is_a_fact() {
        for name in SHARES.iter().chain(&GAINS).chain(&DECIBELS).chain(&DEGREES) {
            assert!(find_definition(name).is_some(), "{name}");
        }
    }
}
