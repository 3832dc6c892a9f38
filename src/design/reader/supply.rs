//! What brings power and signal in and out: inlet, fuse, switch, bench supply, current source, input, output.

use crate::source::Complaint;

use super::{joins, owned};
use crate::design::fields::Fields;
use crate::design::template::Body;
use crate::design::values::{Bounds, CURRENT, FREQUENCY, IMPEDANCE, POWER, RESISTANCE, SHARE, VOLTAGE, cable, gain};
use crate::design::{BenchSupply, CurrentSource, Fuse, Inlet, Input, Kind, Output, Switch};

pub(super) fn inlet(fields: &mut Fields<'_>) -> Option<Body> {
    Some(Body {
        joins: joins(fields, &["live", "neutral", "earth"]),
        kind: Kind::Inlet(Inlet {}),
        terminals: owned(&["live", "neutral", "earth"]),
    })
}

pub(super) fn fuse(fields: &mut Fields<'_>) -> Option<Body> {
    let current = fields.quantity_argument("its rated current", "fuse F1 \"500mA\"", CURRENT);
    let joins = joins(fields, &["from", "to"]);
    let speed = fields.one_of("speed", &["slow", "fast"]);
    let voltage = fields.quantity("voltage", VOLTAGE);
    Some(Body {
        kind: Kind::Fuse(Fuse { current: current?, speed, voltage }),
        terminals: owned(&["from", "to"]),
        joins,
    })
}

pub(super) fn switch(fields: &mut Fields<'_>) -> Option<Body> {
    let joins = joins(fields, &["from", "to"]);
    let voltage = fields.quantity("voltage", VOLTAGE);
    let current = fields.quantity("current", CURRENT);
    let closed = fields.one_of("position", &["closed", "open"]).is_none_or(|position| position.value == "closed");
    Some(Body { kind: Kind::Switch(Switch { voltage, current, closed }), terminals: owned(&["from", "to"]), joins })
}

pub(super) fn bench_supply(fields: &mut Fields<'_>) -> Option<Body> {
    let voltage = fields.quantity_argument("its voltage", "bench-supply B1 \"250V\"", VOLTAGE);
    let joins = joins(fields, &["plus", "minus"]);
    let resistance = fields.quantity("resistance", IMPEDANCE);
    let current = fields.quantity("current", CURRENT);
    Some(Body {
        kind: Kind::BenchSupply(BenchSupply { voltage: voltage?, resistance, current }),
        terminals: owned(&["plus", "minus"]),
        joins,
    })
}

pub(super) fn current_source(fields: &mut Fields<'_>) -> Option<Body> {
    let current = fields.quantity_argument("its current", "current-source I1 \"5mA\"", CURRENT);
    let joins = joins(fields, &["from", "to"]);
    let voltage = fields.quantity("voltage", VOLTAGE);
    let power = fields.quantity("power", POWER);
    Some(Body {
        kind: Kind::CurrentSource(CurrentSource { current: current?, voltage, power }),
        terminals: owned(&["from", "to"]),
        joins,
    })
}

pub(super) fn input(fields: &mut Fields<'_>) -> Option<Body> {
    Some(Body {
        joins: joins(fields, &["hot", "cold"]),
        kind: Kind::Input(Input {
            source: fields.quantity("source", IMPEDANCE),
            level: fields.quantity("level", VOLTAGE),
        }),
        terminals: owned(&["hot", "cold"]),
    })
}

pub(super) fn output(fields: &mut Fields<'_>) -> Option<Body> {
    let joins = joins(fields, &["hot", "cold"]);
    let cable = fields.property("cable").and_then(|property| fields.keep(cable(&property.value)));
    let gain = fields.property("gain").and_then(|property| fields.keep(gain(&property.value)));
    let output = Output {
        load: fields.quantity("load", RESISTANCE),
        cable,
        level: fields.quantity("level", VOLTAGE),
        gain,
        hum: fields.quantity("hum", VOLTAGE),
        noise: fields.quantity("noise", VOLTAGE),
        power: fields.quantity("power", POWER),
        distortion: fields.quantity("distortion", SHARE),
        source_impedance: fields.quantity("source-impedance", Bounds::positive(1e12)),
        of: fields.text("of"),
        low_corner: fields.quantity("low-corner", FREQUENCY),
        equalisation: fields.one_of("equalisation", &["riaa"]),
    };
    if let Some(of) = &output.of
        && of.value.is_empty()
    {
        fields.complain(Complaint::at(
            of.span,
            "`of` names the input that is heard at this output",
            "the name is empty",
        ));
    }
    Some(Body { kind: Kind::Output(output), terminals: owned(&["hot", "cold"]), joins })
}
