//! Statements that are no parts: `design`, `mains`, `band`, `wire`, `reading`, `waive`, `fit`.

use crate::source::{Complaint, Scalar, Span, Spanned, Statement};
use crate::units::{Hertz, Ratio};

use crate::design::fields::{Fields, inside_quotes};
use crate::design::ledger::Ledger;
use crate::design::template::{Context, FitTemplate, ReadingTemplate, WaiverTemplate, WireTemplate};
use crate::design::values::{FREQUENCY, MAINS_FREQUENCY, MAINS_VOLTAGE, SIGNED_VOLTAGE, TOLERANCE};
use crate::design::{Band, Mains};

/// The `design` statement.
pub(super) struct Heading {
    pub(super) title: Spanned<String>,
    pub(super) revision: Option<String>,
    pub(super) author: Option<String>,
    pub(super) notes: Vec<String>,
    pub(super) keyword: Span,
}

pub(super) fn heading(statement: &Statement, context: &Context<'_>) -> Heading {
    let mut fields = Fields::new(statement, context.complaints);
    let title = fields
        .argument("a title", "design \"Line stage\"")
        .and_then(|value| match &value.value {
            Scalar::Text(text) => Some(Spanned::new(text.clone(), inside_quotes(text, value.span))),
            _ => fields.word(value),
        })
        .unwrap_or_else(|| Spanned::new(String::new(), statement.name.span));
    let revision = fields.text("revision").map(|text| text.value);
    let author = fields.text("author").map(|text| text.value);
    fields.finish(&["note"]);
    let mut notes = Vec::new();
    for child in statement.children.iter().filter(|child| child.name.value == "note") {
        let mut note = Fields::new(child, context.complaints);
        if let Some(text) = note.argument("a text", "note \"…\"").and_then(|value| note.word(value)) {
            notes.push(text.value);
        }
        note.finish(&[]);
    }
    Heading { title, revision, author, notes, keyword: statement.name.span }
}

/// The mains where no tolerance is stated: ±10 % (the supply band of EN 50160).
const MAINS_TOLERANCE: Ratio = Ratio(0.1);

/// Reads `mains VOLTAGE FREQUENCY tolerance=`, of a design or of the workshop file.
pub(in crate::design) fn read_mains(statement: &Statement, context_complaints: &Ledger) -> Option<Mains> {
    let mut fields = Fields::new(statement, context_complaints);
    let example = "mains \"230V\" \"50Hz\"";
    let voltage = fields.quantity_argument("its voltage", example, MAINS_VOLTAGE);
    let frequency = fields.quantity_argument("its frequency", example, MAINS_FREQUENCY);
    let tolerance =
        fields.quantity::<Ratio>("tolerance", TOLERANCE).map_or(MAINS_TOLERANCE, |tolerance| tolerance.value);
    fields.finish(&[]);
    Some(Mains { voltage: voltage?, frequency: frequency?, tolerance, span: statement.span })
}

/// The band where the design states none.
pub(super) const AUDIO_BAND: (Hertz, Hertz) = (Hertz(20.0), Hertz(20e3));

pub(super) fn band(statement: &Statement, context: &Context<'_>) -> Band {
    let mut fields = Fields::new(statement, context.complaints);
    let from = fields.quantity::<Hertz>("from", FREQUENCY);
    let to = fields.quantity::<Hertz>("to", FREQUENCY);
    let band = Band {
        from: from.as_ref().map_or(AUDIO_BAND.0, |from| from.value),
        to: to.as_ref().map_or(AUDIO_BAND.1, |to| to.value),
        span: Some(statement.span),
    };
    if band.from >= band.to {
        let span = to.or(from).map_or(statement.name.span, |end| end.span);
        fields.complain(Complaint::at(
            span,
            format!("a band from {} to {} is empty", band.from, band.to),
            "`from` must lie below `to`",
        ));
    }
    fields.finish(&[]);
    band
}

pub(super) fn wire(statement: &Statement, context: &Context<'_>) -> Option<WireTemplate> {
    let mut fields = Fields::new(statement, context.complaints);
    let values = fields.rest();
    let ends: Vec<_> = values.iter().filter_map(|value| fields.reference_of(value)).collect();
    if values.len() < 2 {
        fields.missing("two or more ends", "wire V2.cathode c10");
    }
    fields.finish(&[]);
    (ends.len() >= 2).then_some(WireTemplate { ends, span: statement.span })
}

pub(super) fn reading(statement: &Statement, context: &Context<'_>) -> Option<ReadingTemplate> {
    let mut fields = Fields::new(statement, context.complaints);
    let example = "reading bplus \"255V\"";
    let at = fields.argument("the place where it was taken", example).and_then(|value| fields.reference_of(value));
    let voltage = fields.quantity_argument("its voltage", example, SIGNED_VOLTAGE);
    let by = fields.one_of("by", &["schematic", "meter"]).map(|by| by.value);
    let tolerance = fields.quantity::<Ratio>("tolerance", TOLERANCE).map(|tolerance| tolerance.value);
    fields.finish(&[]);
    Some(ReadingTemplate { at: at?, voltage: voltage?, by, tolerance, span: statement.span })
}

/// Reads `waive RULE because="…" until="…"`; `of_part` where it is the child of a part.
pub(super) fn waiver(statement: &Statement, of_part: bool, context: &Context<'_>) -> Option<WaiverTemplate> {
    let mut fields = Fields::new(statement, context.complaints);
    let example = "waive \"supply/bleeder\" because=\"…\"";
    let rule = fields.argument("the rule that is waived", example).and_then(|value| fields.word(value));
    let because = fields.text("because");
    let until = fields.text("until").and_then(|text| {
        let date = text.value.parse::<jiff::civil::Date>().map_err(|_| {
            Box::new(Complaint::at(
                text.span,
                format!("`{}` is not a date", text.value),
                "a date is written \"2027-06-30\"",
            ))
        });
        fields.keep(date).map(|date| Spanned::new(date, text.span))
    });
    let subject =
        if of_part { None } else { fields.property("part").and_then(|property| fields.reference_of(&property.value)) };
    match &because {
        None => fields.missing("a reason", example),
        Some(reason) if reason.value.trim().is_empty() => {
            fields.complain(Complaint::at(reason.span, "a waiver needs a reason", "say why the finding is accepted"))
        }
        Some(_) => {}
    }
    fields.finish(&[]);
    Some(WaiverTemplate {
        rule: rule?,
        subject,
        because: because.map(|text| text.value).filter(|text| !text.trim().is_empty())?,
        until,
        span: statement.span,
    })
}

pub(super) fn fit(statement: &Statement, context: &Context<'_>) -> (Option<Spanned<String>>, Option<FitTemplate>) {
    let mut fields = Fields::new(statement, context.complaints);
    let example = "fit line left in=… out=…";
    let stage = fields.name("the stage to fit", example);
    let name = fields.name("a name for this copy", example);
    let mut broken = statement.broken;
    let ports = statement
        .properties
        .iter()
        .filter_map(|property| {
            let to = fields.reference_of(&property.value);
            broken |= to.is_none();
            Some((property.name.clone(), to?))
        })
        .collect();
    if let Some(surplus) = statement.argument(2) {
        fields.complain(
            Complaint::at(surplus.span, "`fit` takes no further value", "not expected here")
                .help("ports are joined as `PORT=NET`"),
        );
    }
    if let Some(child) = statement.children.first() {
        fields.complain(Complaint::at(
            child.name.span,
            format!("`{}` does not belong inside `fit`", child.name.value),
            "not known here",
        ));
    }
    let fit = match (stage, name.clone()) {
        (Some(stage), Some(name)) => Some(FitTemplate { stage, name, ports, span: statement.span, broken }),
        _ => None,
    };
    (name, fit)
}
