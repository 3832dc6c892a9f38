//! From a written value to a typed one, within the bounds that a real part can have.
//!
//! Knows units and bounds; knows nothing of statements or parts.

use crate::source::{Complaint, Scalar, Span, Spanned};
use crate::units::{Dimension, Farads, Metres, Quantity, Ratio, ValueError, Volts, format_quantity, parse_value};

/// What a value may be, in base SI units. The upper bounds are far above any part a builder can buy.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    low: f64,
    low_allowed: bool,
    high: f64,
}

impl Bounds {
    /// Above zero, up to a bound.
    pub(super) const fn positive(high: f64) -> Self {
        Self { low: 0.0, low_allowed: false, high }
    }

    /// Zero and above, up to a bound.
    pub(super) const fn from_zero(high: f64) -> Self {
        Self { low: 0.0, low_allowed: true, high }
    }

    /// Between two bounds, both allowed.
    pub(super) const fn between(low: f64, high: f64) -> Self {
        Self { low, low_allowed: true, high }
    }
}

/// Resistances of parts: up to 1 TΩ.
pub(super) const RESISTANCE: Bounds = Bounds::positive(1e12);
/// Source impedances: as resistances, and zero.
pub(super) const IMPEDANCE: Bounds = Bounds::from_zero(1e12);
/// Capacitances: up to 1 F.
pub(super) const CAPACITANCE: Bounds = Bounds::positive(1.0);
/// Inductances: up to 100 kH.
pub(super) const INDUCTANCE: Bounds = Bounds::positive(1e5);
/// Voltages: up to 100 kV.
pub(super) const VOLTAGE: Bounds = Bounds::positive(1e5);
/// Voltages of either sign.
pub(super) const SIGNED_VOLTAGE: Bounds = Bounds::between(-1e5, 1e5);
/// Mains voltages: up to 1 kV.
pub(super) const MAINS_VOLTAGE: Bounds = Bounds::positive(1e3);
/// Heater voltages: up to 120 V.
pub(super) const HEATER_VOLTAGE: Bounds = Bounds::positive(120.0);
/// Currents: up to 1 kA.
pub(super) const CURRENT: Bounds = Bounds::positive(1e3);
/// Direct currents of chokes and output transformers: up to 20 A, that a forgotten `mA` may not pass for amperes.
pub(super) const CHOKE_CURRENT: Bounds = Bounds::positive(20.0);
/// Powers: up to 100 kW.
pub(super) const POWER: Bounds = Bounds::positive(1e5);
/// Frequencies: up to 1 GHz.
pub(super) const FREQUENCY: Bounds = Bounds::positive(1e9);
/// Mains frequencies: up to 1 kHz.
pub(super) const MAINS_FREQUENCY: Bounds = Bounds::between(10.0, 1e3);
/// Tolerances: up to 100 %.
pub(super) const TOLERANCE: Bounds = Bounds::from_zero(1.0);
/// Shares: 0 to 100 %.
pub(super) const SHARE: Bounds = Bounds::from_zero(1.0);
/// Gains, as ratios.
pub(super) const GAIN: Bounds = Bounds::positive(1e9);
/// Temperatures in °C.
pub(super) const TEMPERATURE: Bounds = Bounds::between(-60.0, 300.0);

/// A value, or what is wrong with it.
pub(super) type Refusable<T> = Result<T, Box<Complaint>>;

/// Reads a value of a unit: text as a builder writes it, or a bare number in base SI units.
pub(super) fn quantity<Q: Quantity>(written: &Spanned<Scalar>, bounds: Bounds) -> Refusable<Spanned<Q>> {
    let value = base_value(written, Q::DIMENSION)?;
    if let Some(complaint) = misfit(value, bounds, Q::DIMENSION, written.span) {
        // A bare `50` where a share is wanted: most likely 50 %.
        let share = Q::DIMENSION == Dimension::NONE && bounds.high <= 1.0;
        return Err(Box::new(match written.value {
            Scalar::Number(number) if share && (1.0..=100.0).contains(&number) => {
                complaint.help(format!("per cent are written with their sign: `\"{number}%\"`"))
            }
            _ => complaint,
        }));
    }
    Ok(Spanned::new(Q::from_base(value), written.span))
}

fn base_value(written: &Spanned<Scalar>, dimension: Dimension) -> Refusable<f64> {
    match &written.value {
        Scalar::Number(number) => Ok(*number),
        Scalar::Text(text) => parse_value(text, dimension).map_err(|error| {
            let message = match error {
                ValueError::WrongUnit { unit, .. } if unit == "per cent" => {
                    format!("`{text}` is a share, and {} is wanted here", dimension.with_article())
                }
                ValueError::WrongUnit { unit, .. } => {
                    format!("`{text}` is in {unit}, and {} is wanted here", dimension.with_article())
                }
                other => other.to_string(),
            };
            Box::new(Complaint::at(written.span, message, wanted(dimension)))
        }),
        Scalar::Flag(_) | Scalar::Null => Err(Box::new(Complaint::at(
            written.span,
            format!("{} is wanted here", dimension.with_article()),
            wanted(dimension),
        ))),
    }
}

fn wanted(dimension: Dimension) -> String {
    let example = match dimension {
        Dimension::VOLTAGE => "\"250V\"",
        Dimension::CURRENT => "\"60mA\"",
        Dimension::RESISTANCE => "\"4k7\"",
        Dimension::CAPACITANCE => "\"220n\"",
        Dimension::INDUCTANCE => "\"10H\"",
        Dimension::POWER => "\"0.5W\"",
        Dimension::FREQUENCY => "\"50Hz\"",
        Dimension::NONE => return "a number or a share, such as \"5%\"".to_owned(),
        _ => return dimension.with_article(),
    };
    format!("{}, such as {example}", dimension.with_article())
}

/// What is wrong with a value that lies outside its bounds; nothing where it lies within.
fn misfit(value: f64, bounds: Bounds, dimension: Dimension, span: Span) -> Option<Complaint> {
    let shown = |value: f64| format_quantity(value, dimension);
    let plain = dimension == Dimension::NONE;
    let noun = if plain { "value".to_owned() } else { dimension.to_string() };
    let article = if plain { "a value".to_owned() } else { dimension.with_article() };
    if value > bounds.high {
        if plain && bounds.high <= 1.0 {
            return Some(Complaint::at(
                span,
                format!("a share of {} % is more than there is", shown(value * 100.0)),
                "a share is at most \"100%\"",
            ));
        }
        return Some(Complaint::at(
            span,
            format!("{article} of {} is beyond anything that is built", shown(value)),
            format!("at most {} is accepted here", shown(bounds.high)),
        ));
    }
    if value >= bounds.low && (value > bounds.low || bounds.low_allowed) {
        return None;
    }
    Some(if bounds.low != 0.0 {
        Complaint::at(
            span,
            format!("{article} of {} is below anything that is built", shown(value)),
            format!("at least {} is accepted here", shown(bounds.low)),
        )
    } else if value == 0.0 {
        Complaint::at(span, format!("{article} of zero makes no sense here"), "must be above zero")
    } else {
        Complaint::at(
            span,
            format!("a negative {noun} makes no sense here"),
            if bounds.low_allowed { "must not be below zero" } else { "must be above zero" },
        )
    })
}

/// A winding's voltage: end to end, and its halves where it is written with a centre (`275-0-275V`).
pub(super) struct WindingVoltage {
    pub(super) total: Spanned<Volts>,
    pub(super) halves: Option<(Volts, Volts)>,
}

/// Reads a winding's voltage.
pub(super) fn winding_voltage(written: &Spanned<Scalar>, bounds: Bounds) -> Refusable<WindingVoltage> {
    let split = match &written.value {
        Scalar::Text(text) => centre_tapped(text),
        _ => None,
    };
    let Some((left, right)) = split else {
        return Ok(WindingVoltage { total: quantity(written, bounds)?, halves: None });
    };
    let half = |text: String| {
        quantity::<Volts>(&Spanned::new(Scalar::Text(text), written.span), bounds).map_err(|mut complaint| {
            complaint.message = format!("one half of this winding: {}", complaint.message);
            complaint.label = "a voltage with its centre, such as \"250-0-250V\"".to_owned();
            complaint
        })
    };
    let (left, right) = (half(left)?.value, half(right)?.value);
    Ok(WindingVoltage { total: Spanned::new(Volts(left.0 + right.0), written.span), halves: Some((left, right)) })
}

fn centre_tapped(text: &str) -> Option<(String, String)> {
    let (left, right) = text.split_once("-0-")?;
    let unit_at =
        |text: &str| text.find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | ','))).unwrap_or(text.len());
    let left = left.trim();
    // `250-0-250V`: the unit is written once, for both halves.
    let left = if unit_at(left) == left.len() {
        let right = right.trim();
        format!("{left}{}", right.get(unit_at(right)..).unwrap_or(""))
    } else {
        left.to_owned()
    };
    Some((left, right.trim().to_owned()))
}

/// Reads a gain: a ratio, or decibels of voltage.
pub(super) fn gain(written: &Spanned<Scalar>) -> Refusable<Spanned<Ratio>> {
    if let Scalar::Text(text) = &written.value
        && let Some(decibels) = text.trim().strip_suffix("dB")
    {
        let number = Spanned::new(Scalar::Text(decibels.trim().to_owned()), written.span);
        let decibels = quantity::<Ratio>(&number, Bounds::between(-200.0, 180.0))?;
        return Ok(decibels.map(|Ratio(decibels)| Ratio(10f64.powf(decibels / 20.0))));
    }
    quantity(written, GAIN)
}

/// Reads a capacitance. A plain number is farads, and none is built so large that it would be written so.
pub(super) fn capacitance(written: &Spanned<Scalar>) -> Refusable<Spanned<Farads>> {
    const PLAIN_FARADS: f64 = 10e-3;
    let read = quantity::<Farads>(written, CAPACITANCE)?;
    let plain = match &written.value {
        Scalar::Text(text) => !text.contains(char::is_alphabetic),
        _ => true,
    };
    if plain && read.value.0 >= PLAIN_FARADS {
        let number = match &written.value {
            Scalar::Text(text) => text.trim().to_owned(),
            _ => read.value.0.to_string(),
        };
        let shown = format_quantity(read.value.0, Dimension::CAPACITANCE);
        let message = format!("without a unit `{number}` is {shown}");
        let wanted = format!("{number} of what? such as \"{number}uF\"");
        return Err(Box::new(Complaint::at(written.span, message, wanted)));
    }
    Ok(read)
}

/// Reads a cable: metres at 100 pF each (the language's own rule), or its capacitance.
pub(super) fn cable(written: &Spanned<Scalar>) -> Refusable<Spanned<Farads>> {
    const FARADS_PER_METRE: f64 = 100e-12;
    let ambiguous = || {
        Box::new(Complaint::at(
            written.span,
            "a cable needs its length or its capacitance",
            "write \"1.5m\" or \"150pF\"",
        ))
    };
    let Scalar::Text(text) = &written.value else {
        return Err(ambiguous());
    };
    let text = text.trim();
    if text.ends_with('m') {
        let length = quantity::<Metres>(written, Bounds::from_zero(1e4))?;
        return Ok(length.map(|metres| Farads(metres.0 * FARADS_PER_METRE)));
    }
    if text.ends_with(|c: char| c.is_ascii_digit()) && parse_value(text, Dimension::NONE).is_ok() {
        return Err(ambiguous());
    }
    quantity(written, Bounds::from_zero(1.0))
}

/// Reads a temperature in °C: a number, or text with or without the unit.
pub(super) fn celsius(written: &Spanned<Scalar>) -> Refusable<Spanned<f64>> {
    let plain = match &written.value {
        Scalar::Text(text) => Scalar::Text(text.trim().trim_end_matches(['C', '°', '℃']).trim_end().to_owned()),
        other => other.clone(),
    };
    quantity::<Ratio>(&Spanned::new(plain, written.span), TEMPERATURE)
        .map(|ratio| ratio.map(|Ratio(value)| value))
        .map_err(|_| {
            Box::new(Complaint::at(
                written.span,
                "this is no temperature that a part is rated for",
                "a temperature in °C, such as \"105C\"",
            ))
        })
}
