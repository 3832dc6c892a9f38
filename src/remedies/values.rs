//! A value changed to the one that an advice names, or a rating stated that is not.

use crate::design::word;
use crate::facts::SubjectKind;
use crate::source::{Scalar, Span, Spanned, Statement};
use crate::units::{Dimension, as_written, format_quantity, parse_value};

use super::Candidate;
use super::bench::{Bench, around};
use super::scale::scale;

/// The statements that a power can be stated of, among those whose parts turn power into heat.
const RATED_IN_WATTS: [&str; 6] = ["resistor", "potentiometer", "diode", "zener", "led", "current-source"];

/// What a field of a statement holds: its dimension, and the shelf that it is chosen from.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Field {
    dimension: Dimension,
    shelf: (SubjectKind, &'static str),
}

/// A quantity that an advice names: its value, and its words there.
struct Named {
    value: f64,
    words: String,
}

/// The quantities of a dimension in an advice.
fn quantities(advice: &str, dimension: Dimension) -> Vec<Named> {
    let trimmed = |word: &str| word.trim_matches([',', ';', ':', '.']).to_owned();
    let words: Vec<String> = advice.split_whitespace().map(trimmed).collect();
    let named = |pair: &[String]| {
        let number = pair.concat();
        let first = number.starts_with(|c: char| c.is_ascii_digit());
        let value = first.then(|| parse_value(&number, dimension).ok()).flatten()?;
        Some(Named { value, words: pair.join(" ") })
    };
    words.windows(2).filter_map(named).collect()
}

impl Bench<'_> {
    /// The values that the advice names, each in place of one that the finding marks.
    pub(super) fn values(&self) -> Vec<Candidate> {
        let mut found = Vec::new();
        for (remedy, advice) in self.finding.remedies.iter().enumerate() {
            for label in self.finding.labels.iter().filter(|label| label.span.file == self.finding.span.file) {
                let Some(statement) = around(&self.statements, label.span).pop() else { continue };
                let Some((value, field)) = marked(statement, label.span) else { continue };
                let Some(old) = word(value) else { continue };
                // The power that an advice names for a new part mends nothing as the rating of the one that stands.
                if field.dimension == Dimension::POWER && !self.is_about(Dimension::POWER) {
                    continue;
                }
                let standing = parse_value(&old.value, field.dimension).ok();
                for named in quantities(&advice.text, field.dimension) {
                    let change = |new: f64| {
                        let written = as_written(new, field.dimension);
                        let title = format!("change `{}` to `{written}`", old.value);
                        let edits = vec![Self::replace(value.span, format!("\"{written}\""))];
                        tried(title, edits, remedy, (new, field.dimension), (&advice.text, &named))
                    };
                    let values = scale(self.drawn.shelves, field.shelf, named.value, standing);
                    found.extend(values.into_iter().map(change));
                }
            }
            found.extend(self.rating_stated(remedy, &advice.text));
        }
        found
    }

    fn is_about(&self, dimension: Dimension) -> bool {
        self.finding.facts.iter().any(|fact| fact.dimension == dimension)
    }

    /// The power of a part that states none, where its statement can state one.
    fn rating_stated(&self, remedy: usize, advice: &str) -> Vec<Candidate> {
        let Some((statement, _)) = self.part_statement().filter(|_| self.is_about(Dimension::POWER)) else {
            return Vec::new();
        };
        if !RATED_IN_WATTS.contains(&statement.name.value.as_str()) {
            return Vec::new();
        }
        let named = quantities(advice, Dimension::POWER).into_iter().next();
        let Some(named) = named.filter(|_| statement.property("power").is_none()) else { return Vec::new() };
        let after = statement.properties.last().map_or(statement.name.span.end, |property| property.value.span.end);
        let shelf = (SubjectKind::Resistor, "rated-power");
        scale(self.drawn.shelves, shelf, named.value, None)
            .into_iter()
            .map(|new| {
                let written = as_written(new, Dimension::POWER);
                let edit = Self::insert(statement.span.file, after, format!(" power=\"{written}\""));
                let title = format!("state a rating of `{written}`");
                tried(title, vec![edit], remedy, (new, Dimension::POWER), (advice, &named))
            })
            .collect()
    }
}

fn tried(
    title: String,
    edits: Vec<crate::findings::Edit>,
    remedy: usize,
    (new, dimension): (f64, Dimension),
    (advice, named): (&str, &Named),
) -> Candidate {
    let shown = format_quantity(new, dimension);
    let advice = advice.replacen(&named.words, &shown, 1);
    Candidate { title, edits, remedy, value: Some(shown), advice: Some(advice) }
}

/// The value of a statement that lies under a mark, and what it holds.
fn marked(statement: &Statement, mark: Span) -> Option<(&Spanned<Scalar>, Field)> {
    let under = |value: &&Spanned<Scalar>| value.span.start <= mark.start && mark.end <= value.span.end;
    let field = |dimension, kind, fact| Field { dimension, shelf: (kind, fact) };
    if let Some(value) = statement.argument(1).filter(under) {
        let field = match statement.name.value.as_str() {
            "resistor" => field(Dimension::RESISTANCE, SubjectKind::Resistor, "resistance"),
            "potentiometer" => field(Dimension::RESISTANCE, SubjectKind::Potentiometer, "resistance"),
            "capacitor" => field(Dimension::CAPACITANCE, SubjectKind::Capacitor, "capacitance"),
            "choke" => field(Dimension::INDUCTANCE, SubjectKind::Choke, "inductance"),
            "fuse" => field(Dimension::CURRENT, SubjectKind::Fuse, "rated-current"),
            _ => return None,
        };
        return Some((value, field));
    }
    let property = statement.properties.iter().find(|property| under(&&property.value))?;
    let kind = match statement.name.value.as_str() {
        "capacitor" => SubjectKind::Capacitor,
        "choke" => SubjectKind::Choke,
        "winding" => SubjectKind::Winding,
        "potentiometer" => SubjectKind::Potentiometer,
        "fuse" => SubjectKind::Fuse,
        "switch" => SubjectKind::Switch,
        _ => SubjectKind::Resistor,
    };
    let field = match property.name.value.as_str() {
        "voltage" => field(Dimension::VOLTAGE, kind, "rated-voltage"),
        "surge" => field(Dimension::VOLTAGE, kind, "rated-surge"),
        "power" => field(Dimension::POWER, kind, "rated-power"),
        "current" => field(Dimension::CURRENT, kind, "rated-current"),
        "ripple" => field(Dimension::CURRENT, kind, "rated-ripple"),
        _ => return None,
    };
    Some((&property.value, field))
}
