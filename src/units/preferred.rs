//! Preferred numbers of IEC 60063 and the ratings that a shelf carries.

/// A series of IEC 60063.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Series {
    /// 20 %.
    E6,
    /// 10 %.
    E12,
    /// 5 %.
    E24,
    /// 2 %.
    E48,
    /// 1 %.
    E96,
    /// 0.5 % and finer.
    E192,
}

// E24 is stored, not computed: eight of its values differ from the rounded geometric series (IEC 60063).
const E24: [f64; 24] = [
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0, 3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2,
    9.1,
];

impl Series {
    /// The series whose steps fit a tolerance given as a share (0.05 for 5 %).
    #[must_use]
    pub fn for_tolerance(tolerance: f64) -> Self {
        match tolerance {
            t if t < 0.009 => Self::E192,
            t if t < 0.019 => Self::E96,
            t if t < 0.049 => Self::E48,
            t if t < 0.09 => Self::E24,
            t if t < 0.19 => Self::E12,
            _ => Self::E6,
        }
    }

    fn mantissas(self) -> Vec<f64> {
        let every = |step: usize| E24.iter().step_by(step).copied().collect();
        match self {
            Self::E6 => every(4),
            Self::E12 => every(2),
            Self::E24 => every(1),
            Self::E48 => computed(48),
            Self::E96 => computed(96),
            Self::E192 => computed(192),
        }
    }
}

// Three-digit series are rounded from the geometric one, with 9.20 for 9.19 in E192 (IEC 60063).
fn computed(count: u32) -> Vec<f64> {
    (0..count)
        .map(|k| {
            let rounded = (100.0 * 10f64.powf(f64::from(k) / f64::from(count))).round() / 100.0;
            if (rounded - 9.19).abs() < 1e-9 { 9.2 } else { rounded }
        })
        .collect()
}

/// The preferred number nearest to a positive value, by ratio.
#[must_use]
pub fn nearest_preferred(value: f64, series: Series) -> f64 {
    if value.is_nan() || value <= 0.0 || value.is_infinite() {
        return value;
    }
    let decade = 10f64.powi(value.log10().floor() as i32);
    let mantissas = series.mantissas();
    let candidates = mantissas.iter().copied().chain([10.0, mantissas.last().copied().unwrap_or(1.0) / 10.0]);
    let mut best = value;
    let mut distance = f64::INFINITY;
    for mantissa in candidates {
        let candidate = mantissa * decade;
        let apart = (value / candidate).ln().abs();
        if apart < distance {
            distance = apart;
            best = candidate;
        }
    }
    best
}

/// The number nearest to a positive value that resistors of a tolerance, given as a share, are sold in: those of its own
/// series, and those of E24, in which makers offer the finer tolerances too.
#[must_use]
pub fn nearest_sold(value: f64, tolerance: f64) -> f64 {
    let own = nearest_preferred(value, Series::for_tolerance(tolerance));
    let usual = nearest_preferred(value, Series::E24);
    let apart = |candidate: f64| (candidate / value).ln().abs();
    if tolerance < 0.049 && apart(usual) < apart(own) { usual } else { own }
}

/// Whether a value is a preferred number of the series, to one part in ten thousand.
#[must_use]
pub fn is_preferred(value: f64, series: Series) -> bool {
    value > 0.0 && (nearest_preferred(value, series) / value - 1.0).abs() < 1e-4
}

/// The least value of an ascending shelf that is at or above what is needed.
#[must_use]
pub fn next_shelf_value(shelf: &[f64], needed: f64) -> Option<f64> {
    shelf.iter().copied().find(|rating| *rating >= needed * (1.0 - 1e-9))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn series_nest_as_the_standard_says() {
        // IEC 60063: E48 lies within E96 within E192, and 4.7 is in E24 but not in E96.
        for value in Series::E48.mantissas() {
            assert!(is_preferred(value, Series::E96), "{value}");
        }
        for value in Series::E96.mantissas() {
            assert!(is_preferred(value, Series::E192), "{value}");
        }
        assert!(is_preferred(47e3, Series::E24));
        assert!(!is_preferred(47e3, Series::E96));
        assert!(is_preferred(9.2, Series::E192));
    }

    #[test]
    fn the_nearest_number_is_found_across_the_decade() {
        assert!((nearest_preferred(4600.0, Series::E12) - 4700.0).abs() < 1e-6);
        assert!((nearest_preferred(9.7, Series::E24) - 10.0).abs() < 1e-9);
        assert!((nearest_preferred(1.03e6, Series::E24) - 1e6).abs() < 1e-3);
    }

    #[test]
    fn one_per_cent_resistors_are_sold_in_the_numbers_of_e24_too() {
        for ohms in [47e3, 120e3, 68.1e3] {
            assert!((nearest_sold(ohms, 0.01) / ohms - 1.0).abs() < 1e-9, "{ohms}");
        }
        assert!((nearest_sold(68.1e3, 0.05) - 68e3).abs() < 1e-6);
        assert!((nearest_sold(50e3, 0.01) - 49.9e3).abs() < 1e-6);
        assert!((nearest_sold(51e3, 0.1) - 47e3).abs() < 1e-6);
    }

    #[test]
    fn a_shelf_gives_the_next_rating_up() {
        assert_eq!(next_shelf_value(&[350.0, 400.0, 450.0], 380.0), Some(400.0));
        assert_eq!(next_shelf_value(&[350.0, 400.0, 450.0], 451.0), None);
    }
}
