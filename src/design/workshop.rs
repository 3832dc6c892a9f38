//! The workshop file, `coldcheck.kdl`: what a workshop decides for all its designs.
//!
//! Knows no rules: whether an adjusted rule and its limit exist is for the room that holds them.

use crate::source::{Complaint, FileId, Scalar, Sources, Span, Spanned, Statement, parse};
use crate::units::{Amperes, Farads, Ohms, Quantity, Volts, Watts};

use super::Mains;
use super::fields::Fields;
use super::ledger::Ledger;
use super::reader::read_mains;
use super::suggest::{any_of, nearest};
use super::values::{Bounds, CAPACITANCE, CURRENT, POWER, RESISTANCE, Refusable, VOLTAGE, quantity};

/// What a workshop decides for all its designs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Workshop {
    /// The least class that fails a run: `hazard`, `overstress`, `malfunction` or `refinement`.
    pub gate: Option<Spanned<String>>,
    /// Folders with the workshop's own rules, relative to this file.
    pub rules: Vec<Spanned<String>>,
    /// Folders with the workshop's own devices, relative to this file.
    pub catalogue: Vec<Spanned<String>>,
    /// The derating set that the workshop builds to; whether it exists is for the room that holds the rules.
    pub derating: Option<Spanned<String>>,
    /// Limits of rules that the workshop sets otherwise.
    pub adjusts: Vec<Adjust>,
    /// Rules that the workshop does not want to hear.
    pub quiets: Vec<Quiet>,
    /// The mains of designs that state none.
    pub mains: Option<Mains>,
    /// The ratings on the shelf, from which remedies choose.
    pub stock: Vec<Shelf>,
    /// Whether every inspection varies the parts within their tolerances.
    pub spread: Option<SpreadSetting>,
}

/// `spread builds=N seed=N`.
#[derive(Clone, Debug, PartialEq)]
pub struct SpreadSetting {
    /// So many builds are drawn at random.
    pub builds: Option<Spanned<usize>>,
    /// The seed that they are drawn with.
    pub seed: Option<Spanned<u64>>,
    /// The whole statement.
    pub span: Span,
}

/// `adjust RULE LIMIT=VALUE`.
#[derive(Clone, Debug, PartialEq)]
pub struct Adjust {
    /// The rule.
    pub rule: Spanned<String>,
    /// Its limit.
    pub limit: Spanned<String>,
    /// The value as written (`0.8`, `60s`), without quotes; the span covers the quotes.
    pub value: Spanned<String>,
}

/// `quiet RULE because="…"`.
#[derive(Clone, Debug, PartialEq)]
pub struct Quiet {
    /// The rule.
    pub rule: Spanned<String>,
    /// Why.
    pub because: String,
    /// The whole statement.
    pub span: Span,
}

/// One line of `stock`.
///
/// The shelves, with the unit of their values: `capacitor-voltage` (V), `capacitor-value` (F), `resistor-power` (W),
/// `resistor-voltage` (V), `resistor-value` (Ω), `fuse-current` (A), `choke-current` (A), `diode-voltage` (V).
#[derive(Clone, Debug, PartialEq)]
pub struct Shelf {
    /// Which shelf.
    pub name: Spanned<String>,
    /// What lies on it, ascending, in base SI units.
    pub values: Vec<f64>,
}

/// The shelves that a workshop may stock.
pub(crate) const SHELVES: [&str; 8] = [
    "capacitor-voltage",
    "capacitor-value",
    "resistor-power",
    "resistor-voltage",
    "resistor-value",
    "fuse-current",
    "choke-current",
    "diode-voltage",
];
const CLASSES: [&str; 4] = ["hazard", "overstress", "malfunction", "refinement"];
/// More builds than this are not drawn.
const MOST_BUILDS: f64 = 1e5;
/// The largest whole number below which a file's numbers are all exact.
const MOST_SEED: f64 = 9_007_199_254_740_991.0;
/// What a workshop file may say.
pub(crate) const STATEMENTS: [&str; 9] =
    ["gate", "rules", "catalogue", "derating", "adjust", "quiet", "mains", "stock", "spread"];

impl Workshop {
    /// What lies on a shelf, ascending, in base SI units, where the workshop says so.
    #[must_use]
    pub fn shelf(&self, name: &str) -> Option<&[f64]> {
        self.stock.iter().find(|shelf| shelf.name.value == name).map(|shelf| shelf.values.as_slice())
    }
}

/// Reads a workshop file. What can be read is read; complaints are in order of place.
#[must_use]
pub fn read_workshop(sources: &Sources, file: FileId) -> (Workshop, Vec<Complaint>) {
    let (statements, complaints) = parse(sources, file);
    let complaints = Ledger::new(complaints);
    let mut workshop = Workshop::default();
    let mut gate_at: Option<Span> = None;
    let mut mains_at: Option<Span> = None;
    let mut derating_at: Option<Span> = None;
    let mut spread_at: Option<Span> = None;
    for statement in &statements {
        let keyword = statement.name.span;
        let mut fields = Fields::new(statement, &complaints);
        match statement.name.value.as_str() {
            "gate" => {
                if twice(&fields, gate_at.replace(keyword)) {
                    continue;
                }
                workshop.gate = gate(&mut fields);
                fields.finish(&[]);
            }
            "mains" => {
                if !twice(&fields, mains_at.replace(keyword)) {
                    workshop.mains = read_mains(statement, &complaints);
                }
            }
            "rules" => workshop.rules.extend(folders(fields, "rules \"rules/\"")),
            "catalogue" => workshop.catalogue.extend(folders(fields, "catalogue \"tubes/\"")),
            "derating" => {
                if !twice(&fields, derating_at.replace(keyword)) {
                    let example = "derating \"space-agency\"";
                    workshop.derating = fields.argument("a derating set", example).and_then(|value| fields.word(value));
                    fields.finish(&[]);
                }
            }
            "adjust" => adjust(fields, &mut workshop.adjusts),
            "quiet" => workshop.quiets.extend(quiet(fields)),
            "stock" => {
                for child in &statement.children {
                    if let Some(shelf) = shelf(child, &workshop.stock, &complaints) {
                        workshop.stock.push(shelf);
                    }
                }
                fields.finish(&SHELVES);
            }
            "spread" => {
                if !twice(&fields, spread_at.replace(keyword)) {
                    workshop.spread = Some(spread(fields));
                }
            }
            other => {
                let complaint =
                    Complaint::at(keyword, format!("`{other}` is not a setting of the workshop file"), "not known");
                fields.complain(match nearest(other, STATEMENTS) {
                    Some(near) => complaint.help(format!("did you mean `{near}`?")),
                    None => complaint.help(format!("settings: {}", any_of(&STATEMENTS))),
                });
            }
        }
    }
    let mut complaints = complaints.into_complaints();
    complaints.sort_by_key(|complaint| complaint.span.map(|span| (span.start, span.end)));
    (workshop, complaints)
}

fn twice(fields: &Fields<'_>, first: Option<Span>) -> bool {
    let Some(first) = first else { return false };
    let name = &fields.statement.name;
    fields.complain(
        Complaint::at(name.span, format!("`{}` is set twice", name.value), "set again here")
            .also(first, "first set here"),
    );
    true
}

fn gate(fields: &mut Fields<'_>) -> Option<Spanned<String>> {
    let word = fields.argument("a class", "gate overstress").and_then(|value| fields.word(value))?;
    if CLASSES.contains(&word.value.as_str()) {
        return Some(word);
    }
    let complaint = Complaint::at(
        word.span,
        format!("`{}` is not a class of findings", word.value),
        format!("{} is wanted", any_of(&CLASSES)),
    );
    fields.complain(match nearest(&word.value, CLASSES) {
        Some(near) => complaint.help(format!("did you mean `{near}`?")),
        None => complaint,
    });
    None
}

fn spread(mut fields: Fields<'_>) -> SpreadSetting {
    let builds = count(&mut fields, "builds", MOST_BUILDS);
    let seed = count(&mut fields, "seed", MOST_SEED);
    let setting = SpreadSetting {
        builds: builds.map(|number| Spanned::new(number.value as usize, number.span)),
        seed,
        span: fields.statement.span,
    };
    fields.finish(&[]);
    setting
}

/// A whole number from nought to a bound.
fn count(fields: &mut Fields<'_>, name: &'static str, most: f64) -> Option<Spanned<u64>> {
    let value = &fields.property(name)?.value;
    match value.value {
        Scalar::Number(number) if (0.0..=most).contains(&number) && number.fract() == 0.0 => {
            Some(Spanned::new(number as u64, value.span))
        }
        _ => {
            let message = format!("`{name}` is a whole number from 0 to {most}");
            fields.complain(Complaint::at(value.span, message, "not such a number"));
            None
        }
    }
}

fn folders(mut fields: Fields<'_>, example: &str) -> Vec<Spanned<String>> {
    let values = fields.rest();
    if values.is_empty() {
        fields.missing("a folder", example);
    }
    let folders = values.iter().filter_map(|value| fields.word(value)).collect();
    fields.finish(&[]);
    folders
}

fn adjust(mut fields: Fields<'_>, adjusts: &mut Vec<Adjust>) {
    let example = "adjust \"capacitor/working-voltage\" share=0.8";
    let rule = fields.argument("a rule", example).and_then(|value| fields.word(value));
    let statement: &Statement = fields.statement;
    if statement.properties.is_empty() {
        fields.missing("a limit with its value", example);
    }
    if let Some(surplus) = statement.argument(1) {
        fields.complain(
            Complaint::at(surplus.span, "`adjust` takes one rule", "not expected here")
                .help(format!("write it as `{example}`")),
        );
    }
    let Some(rule) = rule else { return };
    for property in &statement.properties {
        let value = match &property.value.value {
            Scalar::Text(text) => text.clone(),
            Scalar::Number(number) => number.to_string(),
            Scalar::Flag(_) | Scalar::Null => {
                fields.complain(Complaint::at(
                    property.value.span,
                    "a limit is a number, with its unit where it has one",
                    "not a value",
                ));
                continue;
            }
        };
        adjusts.push(Adjust {
            rule: rule.clone(),
            limit: property.name.clone(),
            value: Spanned::new(value, property.value.span),
        });
    }
}

fn quiet(mut fields: Fields<'_>) -> Option<Quiet> {
    let example = "quiet \"resistor/preferred-value\" because=\"…\"";
    let rule = fields.argument("a rule", example).and_then(|value| fields.word(value));
    let because = fields.text("because");
    match &because {
        None => fields.missing("a reason", example),
        Some(reason) if reason.value.trim().is_empty() => {
            fields.complain(Complaint::at(reason.span, "a rule is quieted for a reason", "say why"))
        }
        Some(_) => {}
    }
    let span = fields.statement.span;
    fields.finish(&[]);
    Some(Quiet { rule: rule?, because: because.map(|text| text.value).filter(|text| !text.trim().is_empty())?, span })
}

fn shelf(statement: &Statement, earlier: &[Shelf], complaints: &Ledger) -> Option<Shelf> {
    let name = statement.name.value.as_str();
    if !SHELVES.contains(&name) {
        return None;
    }
    let mut fields = Fields::new(statement, complaints);
    let first = earlier.iter().find(|shelf| shelf.name.value == name).map(|shelf| shelf.name.span);
    if twice(&fields, first) {
        return None;
    }
    let written = fields.rest();
    if written.is_empty() {
        fields.missing("at least one value", &format!("{name} …"));
    }
    let read = |value: &Spanned<Scalar>| match name {
        "capacitor-voltage" | "resistor-voltage" | "diode-voltage" => base::<Volts>(value, VOLTAGE),
        "capacitor-value" => base::<Farads>(value, CAPACITANCE),
        "resistor-power" => base::<Watts>(value, POWER),
        "resistor-value" => base::<Ohms>(value, RESISTANCE),
        _ => base::<Amperes>(value, CURRENT),
    };
    let mut values: Vec<f64> = written.iter().filter_map(|value| fields.keep(read(value))).collect();
    values.sort_by(f64::total_cmp);
    values.dedup();
    fields.finish(&[]);
    Some(Shelf { name: statement.name.clone(), values })
}

fn base<Q: Quantity>(value: &Spanned<Scalar>, bounds: Bounds) -> Refusable<f64> {
    quantity::<Q>(value, bounds).map(|value| value.value.base())
}
