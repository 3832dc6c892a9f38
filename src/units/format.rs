//! How a quantity is shown: four significant digits, an SI prefix, a no-break-free plain space before the unit.
//!
//! Fixed digits, so that the same number is the same bytes everywhere.

use super::Dimension;

const PREFIXES: [(f64, &str); 9] =
    [(1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "µ"), (1e-9, "n"), (1e-12, "p"), (1e-15, "f")];

/// Shows a value of a dimension, in base SI units, as a builder reads it: `47 kΩ`, `1.2 mA`, `389.2 V`.
///
/// An infinite time is shown as `never`; a dimension without a named unit is shown with its powers.
#[must_use]
pub fn format_quantity(value: f64, dimension: Dimension) -> String {
    if value.is_infinite() && dimension == Dimension::TIME {
        return "never".to_owned();
    }
    if dimension == Dimension::NONE {
        return format_ratio(value);
    }
    match dimension.unit() {
        Some(unit) => prefixed(value, unit),
        None => format!("{} {dimension}", significant(value, 4)),
    }
}

/// A quantity as a design writes it: without a blank, and with the letters that a keyboard has.
#[must_use]
pub fn as_written(value: f64, dimension: Dimension) -> String {
    format_quantity(value, dimension).replace([' ', 'Ω'], "").replace('µ', "u")
}

/// Shows a plain number with four significant digits.
#[must_use]
pub fn format_ratio(value: f64) -> String {
    significant(value, 4)
}

/// Shows a value with four significant digits, an SI prefix and the unit.
#[must_use]
pub fn prefixed(value: f64, unit: &str) -> String {
    if !value.is_finite() {
        return format!("{value} {unit}");
    }
    // Seconds and farads read badly with prefixes above one; a builder says 3200 s, never 3.2 ks.
    let largest = if matches!(unit, "s" | "F" | "V" | "A" | "W" | "J" | "m") { 1.0 } else { 1e9 };
    let magnitude = value.abs();
    if magnitude < 1e-15 {
        return format!("0 {unit}");
    }
    for (scale, prefix) in PREFIXES {
        // The bound is a little under one, so that 999.96 is shown as 1000 only in its own decade.
        if scale <= largest && magnitude >= scale * 0.999_95 {
            return format!("{} {prefix}{unit}", significant(value / scale, 4));
        }
    }
    format!("{} f{unit}", significant(value / 1e-15, 4))
}

fn significant(value: f64, digits: i32) -> String {
    if value == 0.0 || !value.is_finite() {
        return if value == 0.0 { "0".to_owned() } else { value.to_string() };
    }
    let exponent = value.abs().log10().floor() as i32;
    let decimals = (digits - 1 - exponent).clamp(0, 12) as usize;
    let text = format!("{value:.decimals$}");
    if text.contains('.') {
        let trimmed = text.trim_end_matches('0').trim_end_matches('.');
        if trimmed == "-0" { "0".to_owned() } else { trimmed.to_owned() }
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities_are_written_as_designs_write_them() {
        assert_eq!(as_written(47e3, Dimension::RESISTANCE), "47k");
        assert_eq!(as_written(4.7e-5, Dimension::CAPACITANCE), "47uF");
        assert_eq!(as_written(630.0, Dimension::VOLTAGE), "630V");
        assert_eq!(as_written(100.0, Dimension::RESISTANCE), "100");
    }

    #[test]
    fn values_read_as_builders_write_them() {
        for (value, dimension, shown) in [
            (47e3, Dimension::RESISTANCE, "47 kΩ"),
            (0.0012, Dimension::CURRENT, "1.2 mA"),
            (389.24, Dimension::VOLTAGE, "389.2 V"),
            (2.2e-7, Dimension::CAPACITANCE, "220 nF"),
            (4.7e-5, Dimension::CAPACITANCE, "47 µF"),
            (1234.0, Dimension::VOLTAGE, "1234 V"),
            (3200.0, Dimension::TIME, "3200 s"),
            (f64::INFINITY, Dimension::TIME, "never"),
            (0.0, Dimension::VOLTAGE, "0 V"),
            (-1.5, Dimension::VOLTAGE, "-1.5 V"),
            (0.87654, Dimension::NONE, "0.8765"),
            (999.99, Dimension::RESISTANCE, "1 kΩ"),
        ] {
            assert_eq!(format_quantity(value, dimension), shown);
        }
    }
}
