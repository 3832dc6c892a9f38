//! Resistors, potentiometers and capacitors.

use crate::source::Complaint;
use crate::units::Ratio;

use super::{joins, owned};
use crate::design::fields::Fields;
use crate::design::template::Body;
use crate::design::values::{CURRENT, POWER, RESISTANCE, SHARE, TOLERANCE, VOLTAGE, capacitance, celsius};
use crate::design::{Capacitor, Kind, Potentiometer, Resistor};

const RESISTOR_KINDS: [&str; 5] = ["carbon-film", "metal-film", "metal-oxide", "wirewound", "carbon-composition"];
const CAPACITOR_KINDS: [&str; 6] = ["film", "paper-in-oil", "electrolytic", "ceramic", "mica", "safety"];
// IEC 60384-14 names the classes.
const SAFETY_CLASSES: [&str; 4] = ["X1", "X2", "Y1", "Y2"];

pub(super) fn resistor(fields: &mut Fields<'_>) -> Option<Body> {
    let resistance = fields.quantity_argument("its resistance", "resistor R1 \"47k\"", RESISTANCE);
    let joins = joins(fields, &["from", "to"]);
    let power = fields.quantity("power", POWER);
    let voltage = fields.quantity("voltage", VOLTAGE);
    let tolerance = fields.quantity("tolerance", TOLERANCE);
    let kind = fields.one_of("kind", &RESISTOR_KINDS);
    Some(Body {
        kind: Kind::Resistor(Resistor { resistance: resistance?, power, voltage, tolerance, kind }),
        terminals: owned(&["from", "to"]),
        joins,
    })
}

pub(super) fn potentiometer(fields: &mut Fields<'_>) -> Option<Body> {
    let resistance = fields.quantity_argument("its resistance", "potentiometer P1 \"100k\"", RESISTANCE);
    let joins = joins(fields, &["top", "wiper", "bottom"]);
    let power = fields.quantity("power", POWER);
    let taper = fields.one_of("taper", &["linear", "log"]);
    let tolerance = fields.quantity("tolerance", TOLERANCE);
    let setting = fields.quantity("setting", SHARE).map_or(Ratio(1.0), |setting| setting.value);
    Some(Body {
        kind: Kind::Potentiometer(Potentiometer { resistance: resistance?, power, taper, tolerance, setting }),
        terminals: owned(&["top", "wiper", "bottom"]),
        joins,
    })
}

pub(super) fn capacitor(fields: &mut Fields<'_>) -> Option<Body> {
    let capacitance = fields
        .argument("its capacitance", "capacitor C1 \"220n\"")
        .and_then(|written| fields.keep(capacitance(written)));
    let mut plain = joins(fields, &["from", "to"]);
    let polar = joins(fields, &["plus", "minus"]);
    let given = |name| fields.statement.property(name);
    let polarised = given("plus").is_some() || given("minus").is_some();
    let both = given("from").or(given("to")).zip(given("plus").or(given("minus")));
    if let Some((plain, polar)) = both {
        fields.complain(
            Complaint::at(
                plain.name.span,
                "a capacitor is either polarised or not",
                format!("`{}` is for one without polarity", plain.name.value),
            )
            .also(polar.name.span, format!("`{}` is for a polarised one", polar.name.value))
            .help("name `plus` and `minus`, or `from` and `to`"),
        );
    }
    if polarised {
        plain = polar;
    }
    let voltage = fields.quantity("voltage", VOLTAGE);
    let tolerance = fields.quantity("tolerance", TOLERANCE);
    let kind = fields.one_of("kind", &CAPACITOR_KINDS);
    let class = fields.one_of("class", &SAFETY_CLASSES);
    let ripple = fields.quantity("ripple", CURRENT);
    let surge = fields.quantity("surge", VOLTAGE);
    let temperature = fields.property("temperature").and_then(|property| fields.keep(celsius(&property.value)));
    Some(Body {
        kind: Kind::Capacitor(Capacitor {
            capacitance: capacitance.filter(|_| both.is_none())?,
            polarised,
            voltage,
            tolerance,
            kind,
            class,
            ripple,
            surge,
            temperature,
        }),
        terminals: if polarised { owned(&["plus", "minus"]) } else { owned(&["from", "to"]) },
        joins: plain,
    })
}
