//! The `model` statement of a tube: keys that take the place of the catalogue's.

use crate::catalogue::{PentodeForm, SectionKind, TubeEntry, TubeModel, TubeModelChanges};
use crate::design::fields::Fields;
use crate::design::suggest::{any_of, did_you_mean};
use crate::design::template::Context;
use crate::design::values::{Bounds, CAPACITANCE, CURRENT, RESISTANCE, quantity};
use crate::source::Complaint;
use crate::units::{Amperes, Farads, Ohms, Quantity, Ratio};

use super::children;

const ANY_POSITIVE: Bounds = Bounds::positive(1e12);

/// One key of a model, where it is given.
pub(super) fn model_key(fields: &mut Fields<'_>, key: &'static str) -> Option<(String, f64)> {
    let property = fields.property(key)?;
    let written = &property.value;
    let value = match key {
        "rs" | "rgi" => quantity::<Ohms>(written, RESISTANCE).map(|value| value.value.base()),
        "cgk" | "cgp" | "cpk" => quantity::<Farads>(written, CAPACITANCE).map(|value| value.value.base()),
        "is" => quantity::<Amperes>(written, CURRENT).map(|value| value.value.base()),
        _ => quantity::<Ratio>(written, ANY_POSITIVE).map(|value| value.value.base()),
    };
    fields.keep(value).map(|value| (key.to_owned(), value))
}

/// What a design says of the models in one tube.
pub(super) fn tube_changes(fields: &Fields<'_>, entry: &TubeEntry, context: &Context<'_>) -> TubeModelChanges {
    const TRIODE: [&str; 9] = ["mu", "x", "kg1", "kp", "kvb", "rgi", "cgk", "cgp", "cpk"];
    let mut changes = TubeModelChanges::default();
    for child in children(fields.statement, "model") {
        let mut model = Fields::new(child, context.complaints);
        // Of a tube with unlike sections, the section is named first: `model p mu=…`.
        let section = model.optional_argument().and_then(|value| model.word(value));
        let chosen = section.as_ref().map(|word| entry.sections.iter().find(|known| known.suffix == word.value));
        if let (Some(word), Some(None)) = (&section, &chosen) {
            let known: Vec<&str> = entry
                .sections
                .iter()
                .map(|section| section.suffix.as_str())
                .filter(|suffix| !suffix.is_empty())
                .collect();
            let complaint = Complaint::at(
                word.span,
                format!("this tube has no section `{}`", word.value),
                "not a section of this tube",
            );
            fields.complain(match did_you_mean(&word.value, known) {
                Some(help) => complaint.help(help),
                None => complaint.help("leave it out: the tube has one section"),
            });
            continue;
        }
        let meant = chosen.flatten().or(entry.sections.first());
        let suffix = section.map_or(String::new(), |word| word.value);
        let prefix = if suffix.is_empty() { String::new() } else { format!("{suffix}.") };
        let mut given: Vec<(String, f64)> = Vec::new();
        match meant.map(|section| (section.kind, section.model)) {
            Some((SectionKind::Triode, _)) => given.extend(TRIODE.iter().filter_map(|key| model_key(&mut model, key))),
            Some((SectionKind::Pentode, TubeModel::Pentode(law))) => {
                let form = pentode_keys(&mut model, &entry.name, law.form(), &mut given);
                changes.forms.extend(form.map(|form| (suffix, form)));
            }
            Some((SectionKind::Rectifier { .. }, _)) => given.extend(model_key(&mut model, "k")),
            _ => {}
        }
        changes.keys.extend(given.into_iter().map(|(key, value)| (format!("{prefix}{key}"), value)));
        model.finish(&[]);
    }
    changes
}

/// The keys of a pentode's `model`, and its form where that is another than the catalogue's.
///
/// A key that only the other form has is refused; another form than the catalogue's must have all its keys.
fn pentode_keys(
    model: &mut Fields<'_>,
    tube: &str,
    of_catalogue: PentodeForm,
    given: &mut Vec<(String, f64)>,
) -> Option<PentodeForm> {
    let written = model.one_of("form", &PentodeForm::WORDS);
    let form = written.as_ref().and_then(|word| PentodeForm::of(&word.value)).unwrap_or(of_catalogue);
    let other = if form == PentodeForm::Koren { PentodeForm::Divided } else { PentodeForm::Koren };
    for key in form.keys().iter().chain(&["rgi", "cgk", "cgp", "cpk"]) {
        given.extend(model_key(model, key));
    }
    for key in other.keys().iter().filter(|key| !form.keys().contains(key)) {
        if let Some(property) = model.property(key) {
            let whose = if written.is_some() {
                "this model".to_owned()
            } else {
                format!("the catalogue's model of the {tube}")
            };
            model.complain(
                Complaint::at(
                    property.name.span,
                    format!("`{key}` is a key of `form={}`, and {whose} is `form={}`", other.word(), form.word()),
                    "not a key of this form",
                )
                .help(format!("its keys: {}", any_of(form.keys()))),
            );
        }
    }
    if form == of_catalogue {
        return None;
    }
    let lacking: Vec<&str> =
        form.keys().iter().copied().filter(|key| !given.iter().any(|(had, _)| had == key)).collect();
    if lacking.is_empty() {
        return Some(form);
    }
    // Half a form must not change the catalogue's model of another.
    given.retain(|(key, _)| !form.keys().contains(&key.as_str()));
    if let Some(word) = written.filter(|_| !model.statement.broken) {
        let message = format!("`form={}` lacks {}", form.word(), lacking.join(", "));
        model.complain(Complaint::at(word.span, message, "incomplete").help(format!(
            "the catalogue has the {tube} as `form={}`; another form is given with all its keys",
            of_catalogue.word()
        )));
    }
    None
}
