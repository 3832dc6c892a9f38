//! What the shop or the workshop has on the shelf, for remedies that name a part to fit.

use std::collections::BTreeMap;

use crate::facts::SubjectKind;
use crate::units::{Series, nearest_preferred, next_shelf_value};

/// Ratings on the shelf, by kind of part and name of the rating.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shelves {
    ratings: BTreeMap<(SubjectKind, String), Vec<f64>>,
}

/// The shelves by the names that catalogue and workshop file use, with what lies on each.
const NAMED: [(&str, SubjectKind, &str); 10] = [
    ("capacitor-voltage", SubjectKind::Capacitor, "rated-voltage"),
    ("capacitor-value", SubjectKind::Capacitor, "capacitance"),
    ("resistor-power", SubjectKind::Resistor, "rated-power"),
    ("resistor-power", SubjectKind::Potentiometer, "rated-power"),
    ("resistor-voltage", SubjectKind::Resistor, "rated-voltage"),
    ("resistor-value", SubjectKind::Resistor, "resistance"),
    ("resistor-value", SubjectKind::Resistor, "value-in-series"),
    ("fuse-current", SubjectKind::Fuse, "rated-current"),
    ("choke-current", SubjectKind::Choke, "rated-current"),
    ("diode-voltage", SubjectKind::Rectifier, "peak-inverse-voltage-limit"),
];

impl Shelves {
    /// Shelves filled by name (`capacitor-voltage`, `resistor-power`…): the workshop's where it has one, else the catalogue's.
    #[must_use]
    pub fn filled_by(on_shelf: &dyn Fn(&str) -> Vec<f64>) -> Self {
        let mut shelves = Self::default();
        for (name, kind, fact) in NAMED {
            let ratings = on_shelf(name);
            if !ratings.is_empty() {
                shelves.stock(kind, fact, ratings);
            }
        }
        shelves
    }

    /// Puts ratings on a shelf, in base SI units; they replace what stood there.
    pub fn stock(&mut self, kind: SubjectKind, fact: &str, ratings: impl IntoIterator<Item = f64>) {
        let mut ratings: Vec<f64> = ratings.into_iter().filter(|r| r.is_finite()).collect();
        ratings.sort_by(f64::total_cmp);
        self.ratings.insert((kind, fact.to_owned()), ratings);
    }

    /// The ratings on a shelf in order, in base SI units; none where nothing is stocked.
    #[must_use]
    pub fn carried(&self, kind: SubjectKind, fact: &str) -> &[f64] {
        self.ratings.get(&(kind, fact.to_owned())).map_or(&[], Vec::as_slice)
    }

    /// Whether a rating at or above what is needed can be had: where nothing is stocked, anything can.
    #[must_use]
    pub fn carries(&self, kinds: &[SubjectKind], fact: &str, needed: f64) -> bool {
        let shelf = kinds.iter().find_map(|kind| self.ratings.get(&(*kind, fact.to_owned())));
        shelf.is_none_or(|ratings| next_shelf_value(ratings, needed).is_some())
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
