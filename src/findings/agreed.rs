//! Two findings that each ask for a rating at one place of the text: both name the larger, which satisfies both.

use crate::source::Span;
use crate::units::{Dimension, format_quantity, parse_value};

use super::Finding;

/// What an advice begins with that asks for a rating.
const ASKS: &str = "fit one rated ";

/// A rating that an advice asks for: value, dimension and words.
struct Asked {
    value: f64,
    dimension: Dimension,
    words: String,
}

fn asked(advice: &str) -> Option<Asked> {
    let rest = advice.strip_prefix(ASKS)?;
    let (number, rest) = rest.split_once(' ')?;
    let unit = rest.split([' ', ',', ';']).next()?;
    let dimension = match unit.chars().last()? {
        'V' => Dimension::VOLTAGE,
        'A' => Dimension::CURRENT,
        'W' => Dimension::POWER,
        _ => return None,
    };
    let value = parse_value(&format!("{number}{unit}"), dimension).ok()?;
    Some(Asked { value, dimension, words: format!("{number} {unit}") })
}

/// Raises each rating that a finding asks for to the largest that any finding asks for at the same place of the text.
pub(crate) fn agree(findings: &mut [Finding]) {
    let mut all: Vec<(Span, f64, Dimension)> = Vec::new();
    for finding in findings.iter() {
        let ratings = finding.remedies.iter().filter_map(|remedy| asked(&remedy.text));
        all.extend(ratings.map(|rating| (finding.span, rating.value, rating.dimension)));
    }
    for finding in findings {
        let span = finding.span;
        for remedy in &mut finding.remedies {
            let Some(own) = asked(&remedy.text) else { continue };
            let here = all.iter().filter(|(place, _, dimension)| *place == span && *dimension == own.dimension);
            let most = here.map(|(_, value, _)| *value).fold(own.value, f64::max);
            if most > own.value {
                remedy.text = remedy.text.replacen(&own.words, &format_quantity(most, own.dimension), 1);
            }
        }
    }
}
