//! How a builder writes a value: `4k7`, `0.22uF`, `R47`, `60mA`, `5%`, `2,2M`.
//!
//! Letter codes are those of IEC 60062 (a letter in place of the decimal point); SI prefixes and units as usual.

use super::Dimension;

/// Why a value could not be read.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ValueError {
    /// Nothing between the quotes.
    #[error("the value is empty")]
    Empty,
    /// No number could be made out.
    #[error("`{0}` is not a number with a unit")]
    NotANumber(String),
    /// A unit that does not measure what is asked for.
    #[error("`{text}` is in {unit}, and a {wanted} is wanted here")]
    WrongUnit {
        /// What was written.
        text: String,
        /// The unit that was found.
        unit: String,
        /// What is wanted, as a noun.
        wanted: String,
    },
    /// Something after the number that is neither a prefix nor a unit.
    #[error("`{tail}` in `{text}` is no unit or SI prefix known here")]
    UnknownUnit {
        /// What was written.
        text: String,
        /// The part that was not understood.
        tail: String,
    },
    /// Infinite or not a number.
    #[error("`{0}` is too large to be a value")]
    NotFinite(String),
}

/// Reads a value as a builder writes it, of the wanted dimension; the result is in base SI units.
///
/// # Errors
/// A [`ValueError`] that says what was not understood.
pub fn parse_value(text: &str, wanted: Dimension) -> Result<f64, ValueError> {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Err(ValueError::Empty);
    }
    let normal: String = trimmed.replace(',', ".").replace(['μ', 'u'], "µ").replace('−', "-");
    let (number, tail) = split_number(&normal);
    if number.is_empty() && tail.is_empty() {
        return Err(ValueError::NotANumber(trimmed.to_owned()));
    }
    let value = match letter_code(number, tail, wanted) {
        Some(value) => value,
        None => {
            let parsed: f64 = number.parse().map_err(|_| ValueError::NotANumber(trimmed.to_owned()))?;
            parsed * scale(trimmed, tail.trim(), wanted)?
        }
    };
    if value.is_finite() { Ok(value) } else { Err(ValueError::NotFinite(trimmed.to_owned())) }
}

fn split_number(text: &str) -> (&str, &str) {
    let bytes = text.as_bytes();
    let mut end = 0;
    while end < bytes.len() {
        let exponent = matches!(bytes[end], b'e' | b'E')
            && end > 0
            && bytes.get(end + 1).is_some_and(|b| {
                b.is_ascii_digit() || (matches!(b, b'+' | b'-') && bytes.get(end + 2).is_some_and(u8::is_ascii_digit))
            });
        let sign = matches!(bytes[end], b'+' | b'-') && (end == 0 || matches!(bytes[end - 1], b'e' | b'E'));
        if bytes[end].is_ascii_digit() || bytes[end] == b'.' || exponent || sign {
            end += 1;
        } else {
            break;
        }
    }
    text.split_at(end)
}

/// IEC 60062: `4k7`, `R47`, `4n7`, `2M2`; a unit may follow (`4k7Ω`, `4n7F`, `6V3`).
fn letter_code(number: &str, tail: &str, wanted: Dimension) -> Option<f64> {
    let letter = tail.chars().next()?;
    let rest = &tail[letter.len_utf8()..];
    let digits_end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
    let (digits, unit) = rest.split_at(digits_end);
    if digits.is_empty() || number.contains('.') || number.contains(['e', 'E']) {
        return None;
    }
    let factor = match letter {
        'R' if wanted == Dimension::RESISTANCE => 1.0,
        'V' if wanted == Dimension::VOLTAGE => 1.0,
        'A' if wanted == Dimension::CURRENT => 1.0,
        'W' if wanted == Dimension::POWER => 1.0,
        'F' if wanted == Dimension::CAPACITANCE => 1.0,
        'H' if wanted == Dimension::INDUCTANCE => 1.0,
        _ => prefix(letter)?,
    };
    let unit = unit.trim();
    if !unit.is_empty() && dimension_of(unit) != Some(wanted) {
        return None;
    }
    let whole = if number.is_empty() || number == "-" || number == "+" { format!("{number}0") } else { number.into() };
    format!("{whole}.{digits}").parse::<f64>().ok().map(|v| v * factor)
}

fn prefix(letter: char) -> Option<f64> {
    Some(match letter {
        'G' => 1e9,
        'M' => 1e6,
        'k' | 'K' => 1e3,
        'm' => 1e-3,
        'µ' => 1e-6,
        'n' => 1e-9,
        'p' => 1e-12,
        _ => return None,
    })
}

fn dimension_of(unit: &str) -> Option<Dimension> {
    Some(match unit {
        "V" | "v" | "volt" | "volts" => Dimension::VOLTAGE,
        "A" | "a" | "amp" | "amps" => Dimension::CURRENT,
        "Ω" | "\u{2126}" | "ohm" | "ohms" | "Ohm" | "R" => Dimension::RESISTANCE,
        "F" | "f" => Dimension::CAPACITANCE,
        "H" | "h" => Dimension::INDUCTANCE,
        "W" | "w" => Dimension::POWER,
        "Hz" | "hz" | "HZ" => Dimension::FREQUENCY,
        "s" | "sec" => Dimension::TIME,
        "S" => Dimension::CONDUCTANCE,
        "J" => Dimension::ENERGY,
        "m" => Dimension::LENGTH,
        _ => return None,
    })
}

fn scale(text: &str, tail: &str, wanted: Dimension) -> Result<f64, ValueError> {
    if tail.is_empty() {
        return Ok(1.0);
    }
    let wrong =
        |unit: &str| ValueError::WrongUnit { text: text.to_owned(), unit: unit.to_owned(), wanted: wanted.to_string() };
    if tail == "%" {
        return if wanted == Dimension::NONE { Ok(0.01) } else { Err(wrong("per cent")) };
    }
    if tail == "mm" && wanted == Dimension::LENGTH {
        return Ok(1e-3);
    }
    // A bare letter that is both a prefix and a unit (`m`, `F`…) is read as what is wanted here.
    if dimension_of(tail) == Some(wanted) {
        return Ok(1.0);
    }
    let mut letters = tail.chars();
    if let Some(factor) = letters.next().and_then(prefix) {
        let unit = letters.as_str().trim();
        if unit.is_empty() {
            return if wanted == Dimension::NONE { Err(wrong(tail)) } else { Ok(factor) };
        }
        if let Some(found) = dimension_of(unit) {
            return if found == wanted { Ok(factor) } else { Err(wrong(tail)) };
        }
    }
    match dimension_of(tail) {
        Some(_) => Err(wrong(tail)),
        None => Err(ValueError::UnknownUnit { text: text.to_owned(), tail: tail.to_owned() }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(text: &str, wanted: Dimension, expected: f64) {
        let value = parse_value(text, wanted).unwrap_or_else(|e| panic!("{text}: {e}"));
        assert!((value - expected).abs() <= expected.abs() * 1e-12, "{text}: {value}");
    }

    #[test]
    fn iec_60062_letter_codes() {
        // The examples of IEC 60062 as commonly cited.
        for (text, ohms) in
            [("R47", 0.47), ("4R7", 4.7), ("470R", 470.0), ("4K7", 4700.0), ("47K3", 47_300.0), ("4M7", 4.7e6)]
        {
            near(text, Dimension::RESISTANCE, ohms);
        }
        for (text, farads) in [("4n7", 4.7e-9), ("100n", 100e-9), ("p33", 0.33e-12), ("2µ2", 2.2e-6), ("4u7F", 4.7e-6)]
        {
            near(text, Dimension::CAPACITANCE, farads);
        }
    }

    #[test]
    fn prefixes_units_and_a_decimal_comma() {
        near("100k", Dimension::RESISTANCE, 1e5);
        near("2,2 kΩ", Dimension::RESISTANCE, 2200.0);
        near("2M2", Dimension::RESISTANCE, 2.2e6);
        near("47 ohm", Dimension::RESISTANCE, 47.0);
        near("0.22uF", Dimension::CAPACITANCE, 0.22e-6);
        near("60mA", Dimension::CURRENT, 0.06);
        near("6.3V", Dimension::VOLTAGE, 6.3);
        near("6V3", Dimension::VOLTAGE, 6.3);
        near("5%", Dimension::NONE, 0.05);
        near("50Hz", Dimension::FREQUENCY, 50.0);
        near("20kHz", Dimension::FREQUENCY, 20e3);
        near("10H", Dimension::INDUCTANCE, 10.0);
        near("-60V", Dimension::VOLTAGE, -60.0);
        near("1e3", Dimension::RESISTANCE, 1000.0);
        near("1m", Dimension::LENGTH, 1.0);
        near("1m", Dimension::CURRENT, 1e-3);
        near("600", Dimension::RESISTANCE, 600.0);
    }

    #[test]
    fn what_is_wrong_is_named() {
        assert!(matches!(parse_value("10V", Dimension::RESISTANCE), Err(ValueError::WrongUnit { .. })));
        assert!(matches!(parse_value("10x", Dimension::RESISTANCE), Err(ValueError::UnknownUnit { .. })));
        assert!(matches!(parse_value("ten", Dimension::RESISTANCE), Err(ValueError::NotANumber(_))));
        assert!(matches!(parse_value("", Dimension::RESISTANCE), Err(ValueError::Empty)));
        assert!(matches!(parse_value("1e400", Dimension::RESISTANCE), Err(ValueError::NotFinite(_))));
        assert!(matches!(parse_value("5%", Dimension::VOLTAGE), Err(ValueError::WrongUnit { .. })));
    }
}
