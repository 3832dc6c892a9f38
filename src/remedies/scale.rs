//! The values to try one after another, from the one that an advice names onwards.

use crate::facts::SubjectKind;
use crate::rules::Shelves;
use crate::units::{Series, nearest_preferred};

/// So many values are tried of one advice.
const MOST: usize = 4;

/// The value named, then the next ones on the shelf away from the value that stands there. What no shelf carries is
/// rounded away from it to two digits and tried once.
pub(super) fn scale(shelves: &Shelves, shelf: (SubjectKind, &str), named: f64, old: Option<f64>) -> Vec<f64> {
    let up = old.is_none_or(|old| named >= old);
    let ratings = shelves.carried(shelf.0, shelf.1);
    let beyond = |value: f64| if up { value >= named * (1.0 - 1e-6) } else { value <= named * (1.0 + 1e-6) };
    let mut values: Vec<f64> = if !ratings.is_empty() {
        ratings.iter().copied().filter(|rating| beyond(*rating)).collect()
    } else if let Some(series) = series(shelf.1) {
        preferred(named, series).into_iter().filter(|value| beyond(*value)).collect()
    } else {
        vec![two_digits(named, up)]
    };
    if !up {
        values.reverse();
    }
    values.truncate(MOST);
    values
}

fn series(fact: &str) -> Option<Series> {
    match fact {
        "resistance" => Some(Series::E12),
        "capacitance" => Some(Series::E6),
        _ => None,
    }
}

/// The preferred numbers within a decade of a value, in order.
fn preferred(value: f64, series: Series) -> Vec<f64> {
    let mut found: Vec<f64> = Vec::new();
    let mut factor = 0.1;
    while value > 0.0 && factor <= 10.0 {
        let near = nearest_preferred(value * factor, series);
        if found.last().is_none_or(|last| near > last * (1.0 + 1e-6)) {
            found.push(near);
        }
        factor *= 1.03;
    }
    found
}

fn two_digits(value: f64, up: bool) -> f64 {
    if value <= 0.0 || !value.is_finite() {
        return value;
    }
    let step = 10f64.powi(value.log10().floor() as i32 - 1);
    let steps = if up { (value / step - 1e-6).ceil() } else { (value / step + 1e-6).floor() };
    steps * step
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(values: &[f64], wanted: &[f64]) -> bool {
        values.len() == wanted.len() && values.iter().zip(wanted).all(|(a, b)| (a / b - 1.0).abs() < 1e-6)
    }

    #[test]
    fn a_rating_goes_up_the_shelf_and_a_value_goes_the_way_that_the_advice_points() {
        let mut shelves = Shelves::default();
        shelves.stock(SubjectKind::Capacitor, "rated-voltage", [350.0, 400.0, 450.0, 500.0]);
        let volts = scale(&shelves, (SubjectKind::Capacitor, "rated-voltage"), 400.0, Some(350.0));
        assert!(near(&volts, &[400.0, 450.0, 500.0]), "{volts:?}");
        let up = scale(&shelves, (SubjectKind::Capacitor, "capacitance"), 0.16e-6, Some(47e-9));
        assert!(near(&up, &[0.22e-6, 0.33e-6, 0.47e-6, 0.68e-6]), "{up:?}");
        let down = scale(&shelves, (SubjectKind::Resistor, "resistance"), 1e6, Some(2.2e6));
        assert!(near(&down, &[1e6, 820e3, 680e3, 560e3]), "{down:?}");
        assert!(near(&scale(&shelves, (SubjectKind::Choke, "rated-current"), 0.06127, Some(0.06)), &[0.062]));
    }

    #[test]
    fn a_shelf_that_ends_below_what_is_needed_has_nothing_to_try() {
        let mut shelves = Shelves::default();
        shelves.stock(SubjectKind::Capacitor, "rated-voltage", [350.0]);
        assert!(scale(&shelves, (SubjectKind::Capacitor, "rated-voltage"), 400.0, Some(350.0)).is_empty());
    }
}
