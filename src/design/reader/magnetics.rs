//! Transformers, output transformers and chokes.

use crate::source::{Complaint, Spanned, Statement};
use crate::units::{Ohms, Volts};

use super::{joins, owned};
use crate::design::fields::Fields;
use crate::design::template::{Body, Context, Join};
use crate::design::values::{
    Bounds, CHOKE_CURRENT, CURRENT, INDUCTANCE, POWER, RESISTANCE, VOLTAGE, quantity, winding_voltage,
};
use crate::design::{Choke, Kind, OutputTransformer, Transformer, Winding};

pub(super) fn choke(fields: &mut Fields<'_>) -> Option<Body> {
    let inductance = fields.quantity_argument("its inductance", "choke L1 \"10H\"", INDUCTANCE);
    let joins = joins(fields, &["from", "to"]);
    let resistance = fields.quantity("resistance", RESISTANCE);
    let current = fields.quantity("current", CHOKE_CURRENT);
    Some(Body {
        kind: Kind::Choke(Choke { inductance: inductance?, resistance, current }),
        terminals: owned(&["from", "to"]),
        joins,
    })
}

pub(super) fn transformer(fields: &mut Fields<'_>, context: &Context<'_>) -> Option<Body> {
    let mut terminals = Vec::new();
    let mut joined = Vec::new();
    let mut primary: Option<Winding> = None;
    let mut primary_seen = false;
    let mut windings: Vec<Winding> = Vec::new();
    // Two windings of one name would join nets that the designer keeps apart: the part is left out instead.
    let mut lost = false;
    for child in &fields.statement.children {
        let is_primary = match child.name.value.as_str() {
            "primary" => true,
            "winding" => false,
            _ => continue,
        };
        let read = winding(child, is_primary, context, &mut terminals, &mut joined);
        if is_primary && primary_seen {
            fields.complain(Complaint::at(child.name.span, "a transformer has one primary", "a second primary"));
            lost = true;
            continue;
        }
        primary_seen |= is_primary;
        let Some(read) = read else {
            lost = true;
            continue;
        };
        if is_primary {
            primary = Some(read);
        } else if let Some(first) = windings.iter().find(|winding| winding.name.value == read.name.value) {
            fields.complain(
                Complaint::at(
                    read.name.span,
                    format!("two windings are called `{}`", read.name.value),
                    "named again here",
                )
                .also(first.name.span, "first named here"),
            );
            lost = true;
        } else {
            windings.push(read);
        }
    }
    if !primary_seen {
        fields.missing("a primary", "primary \"230V\" start=… finish=…");
    }
    let primary = primary.filter(|_| !lost)?;
    Some(Body { kind: Kind::Transformer(Transformer { primary, windings }), terminals, joins: joined })
}

fn winding(
    statement: &Statement,
    primary: bool,
    context: &Context<'_>,
    terminals: &mut Vec<String>,
    joined: &mut Vec<Join>,
) -> Option<Winding> {
    let mut fields = Fields::new(statement, context.complaints);
    let (name, example) = if primary {
        let name = Spanned::new("primary".to_owned(), statement.name.span);
        (Some(name), "primary \"230V\"")
    } else {
        let example = "winding ht \"250-0-250V\"";
        (fields.name("a name", example), example)
    };
    if let Some(name) = &name
        && !primary
        && name.value == "primary"
    {
        fields.complain(Complaint::at(
            name.span,
            "`primary` is the winding at the mains",
            "give this winding another name",
        ));
        return None;
    }
    let voltage =
        fields.argument("its voltage", example).and_then(|written| fields.keep(winding_voltage(written, VOLTAGE)));
    let ends = joins(&mut fields, &["start", "centre", "finish"]);
    let centre_joined = statement.property("centre").is_some();
    let current = fields.quantity("current", CURRENT);
    let resistance = fields.quantity("resistance", RESISTANCE);
    let no_load = fields
        .property("no-load")
        .and_then(|property| fields.keep(winding_voltage(&property.value, VOLTAGE)))
        .map(|voltage| voltage.total);
    fields.finish(&[]);
    let (name, voltage) = (name?, voltage?);
    // A centre that is joined although the voltage is written end to end stands in the middle.
    let half = Volts(voltage.total.value.0 / 2.0);
    let halves = voltage.halves.or(centre_joined.then_some((half, half)));
    let prefix = name.value.clone();
    let ends_of = if halves.is_some() { &["start", "centre", "finish"][..] } else { &["start", "finish"][..] };
    terminals.extend(ends_of.iter().map(|end| format!("{prefix}.{end}")));
    joined.extend(ends.into_iter().map(|join| Join { terminal: format!("{prefix}.{}", join.terminal), to: join.to }));
    Some(Winding { name, voltage: voltage.total, halves, current, resistance, no_load, span: statement.span })
}

pub(super) fn output_transformer(fields: &mut Fields<'_>, context: &Context<'_>) -> Option<Body> {
    let power = fields.quantity("power", POWER);
    let children = &fields.statement.children;
    let mut terminals = Vec::new();
    let mut joined = Vec::new();
    let mut primary: Option<OutputTransformer> = None;
    let mut primary_seen = false;
    let mut taps = Vec::new();
    let mut secondaries = Vec::new();
    let several = children.iter().filter(|child| child.name.value == "secondary").count() > 1;
    for child in children {
        match child.name.value.as_str() {
            "primary" if primary_seen => fields.complain(Complaint::at(
                child.name.span,
                "an output transformer has one primary",
                "a second primary",
            )),
            "primary" => {
                primary_seen = true;
                primary = output_primary(child, context, &mut terminals, &mut joined);
            }
            "tap" => taps.extend(tap(child, context, &taps, &mut terminals, &mut joined)),
            "secondary" => {
                secondaries.extend(secondary(child, several, context, &secondaries, &mut terminals, &mut joined))
            }
            _ => {}
        }
    }
    if !primary_seen {
        fields.missing("a primary", "primary \"5k\" start=… finish=…");
    }
    if !children.iter().any(|child| child.name.value == "secondary") {
        fields.missing("a secondary", "secondary \"8\" start=… finish=…");
    }
    let written = |name: &str| children.iter().filter(|child| child.name.value == name).count();
    if secondaries.is_empty() || secondaries.len() < written("secondary") || taps.len() < written("tap") {
        return None;
    }
    let mut transformer = primary?;
    if let Some((_, share)) = taps.iter().find(|(_, share)| transformer.centre_tapped && !paired(&taps, share.value)) {
        fields.complain(Complaint::at(
            share.span,
            "a tap of a centre-tapped primary is counted from the centre, and each half has one: write the same share twice",
            "no second tap of this share",
        ));
    }
    transformer.power = power;
    transformer.taps = taps;
    transformer.secondaries = secondaries;
    Some(Body { kind: Kind::OutputTransformer(transformer), terminals, joins: joined })
}

/// Whether both halves of a centre-tapped primary have a tap of this share.
fn paired(taps: &[(String, Spanned<crate::units::Ratio>)], share: crate::units::Ratio) -> bool {
    taps.iter().filter(|(_, other)| other.value == share).count() % 2 == 0
}

fn output_primary(
    statement: &Statement,
    context: &Context<'_>,
    terminals: &mut Vec<String>,
    joined: &mut Vec<Join>,
) -> Option<OutputTransformer> {
    let mut fields = Fields::new(statement, context.complaints);
    let impedance = fields.quantity_argument("its impedance", "primary \"5k\" start=… finish=…", RESISTANCE);
    let ends = joins(&mut fields, &["start", "centre", "finish"]);
    let primary_resistance = fields.quantity("resistance", RESISTANCE);
    let inductance = fields.quantity("inductance", INDUCTANCE);
    let current = fields.quantity("current", CHOKE_CURRENT);
    let leakage = fields.quantity("leakage", INDUCTANCE);
    fields.finish(&[]);
    terminals.extend(owned(&["primary.start", "primary.centre", "primary.finish"]));
    joined.extend(ends.into_iter().map(|join| Join { terminal: format!("primary.{}", join.terminal), to: join.to }));
    Some(OutputTransformer {
        power: None,
        primary: impedance?,
        primary_resistance,
        inductance,
        current,
        leakage,
        centre_tapped: statement.property("centre").is_some(),
        taps: Vec::new(),
        secondaries: Vec::new(),
    })
}

fn tap(
    statement: &Statement,
    context: &Context<'_>,
    earlier: &[(String, Spanned<crate::units::Ratio>)],
    terminals: &mut Vec<String>,
    joined: &mut Vec<Join>,
) -> Option<(String, Spanned<crate::units::Ratio>)> {
    let mut fields = Fields::new(statement, context.complaints);
    // A tap is spoken of in per cent; a bare `43` can mean nothing else.
    let share = fields.argument("its place on the winding", "tap \"43%\" at=…").and_then(|written| {
        let read = match &written.value {
            crate::source::Scalar::Number(number) if *number > 1.0 => {
                let share = crate::source::Scalar::Number(number / 100.0);
                quantity(&Spanned::new(share, written.span), Bounds::positive(0.999))
            }
            _ => quantity(written, Bounds::positive(0.999)),
        };
        fields.keep(read)
    });
    let at = fields.reference("at");
    fields.finish(&[]);
    let share: Spanned<crate::units::Ratio> = share?;
    let name = unused_name(
        format!("tap-{}", crate::units::format_ratio(share.value.0 * 100.0)),
        earlier.iter().map(|(name, _)| name.as_str()),
    );
    terminals.push(name.clone());
    joined.extend(at.map(|to| Join { terminal: name.clone(), to }));
    Some((name, share))
}

type Secondary = (String, Spanned<Ohms>, Option<Spanned<Ohms>>);

fn secondary(
    statement: &Statement,
    several: bool,
    context: &Context<'_>,
    earlier: &[Secondary],
    terminals: &mut Vec<String>,
    joined: &mut Vec<Join>,
) -> Option<Secondary> {
    let mut fields = Fields::new(statement, context.complaints);
    let impedance: Option<Spanned<Ohms>> =
        fields.quantity_argument("its impedance", "secondary \"8\" start=… finish=…", RESISTANCE);
    let ends = joins(&mut fields, &["start", "finish"]);
    let resistance = fields.quantity("resistance", RESISTANCE);
    fields.finish(&[]);
    let impedance = impedance?;
    let name = if several {
        format!("secondary-{}", crate::units::format_ratio(impedance.value.0))
    } else {
        "secondary".to_owned()
    };
    let name = unused_name(name, earlier.iter().map(|(name, _, _)| name.as_str()));
    terminals.extend([format!("{name}.start"), format!("{name}.finish")]);
    joined.extend(ends.into_iter().map(|join| Join { terminal: format!("{name}.{}", join.terminal), to: join.to }));
    Some((name, impedance, resistance))
}

/// The name, with `b`, `c`… behind it where it is taken.
fn unused_name<'a>(name: String, taken: impl Iterator<Item = &'a str> + Clone) -> String {
    if !taken.clone().any(|other| other == name) {
        return name;
    }
    ('b'..='z')
        .map(|letter| format!("{name}{letter}"))
        .find(|candidate| !taken.clone().any(|other| other == candidate))
        .unwrap_or(name)
}
