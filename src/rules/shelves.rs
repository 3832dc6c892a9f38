//! What the shop or the workshop has on the shelf, for remedies that name a part to fit.

use std::collections::BTreeMap;

use crate::facts::SubjectKind;
use crate::units::{Series, nearest_preferred, next_shelf_value};

/// Ratings on the shelf, by kind of part and name of the rating.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shelves {
    ratings: BTreeMap<(SubjectKind, String), Vec<f64>>,
}

impl Shelves {
    /// Puts ratings on a shelf, in base SI units; they replace what stood there.
    pub fn stock(&mut self, kind: SubjectKind, fact: &str, ratings: impl IntoIterator<Item = f64>) {
        let mut ratings: Vec<f64> = ratings.into_iter().filter(|r| r.is_finite()).collect();
        ratings.sort_by(f64::total_cmp);
        self.ratings.insert((kind, fact.to_owned()), ratings);
    }

    /// The least rating at or above what is needed. Resistances and capacitances are preferred numbers (E12 and E6 of
    /// IEC 60063) where nothing is stocked; where the shelf ends below what is needed, what is needed comes back as it is.
    #[must_use]
    pub fn at_or_above(&self, kinds: &[SubjectKind], fact: &str, needed: f64) -> f64 {
        for kind in kinds {
            if let Some(ratings) = self.ratings.get(&(*kind, fact.to_owned())) {
                return next_shelf_value(ratings, needed).unwrap_or(needed);
            }
        }
        match fact {
            "resistance" | "value-in-series" => preferred_at_or_above(needed, Series::E12),
            "capacitance" => preferred_at_or_above(needed, Series::E6),
            _ => needed,
        }
    }
}

fn preferred_at_or_above(needed: f64, series: Series) -> f64 {
    [1.0, 1.05, 1.1, 1.2, 1.3, 1.4, 1.5]
        .into_iter()
        .map(|factor| nearest_preferred(needed * factor, series))
        .find(|value| *value >= needed * (1.0 - 1e-9))
        .unwrap_or(needed)
}
