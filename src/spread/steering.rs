//! Which way to take each quantity for a figure to be at its worst, from how the figure answers to each alone.
//!
//! The prediction is linear: the sum of what each quantity does by itself at its worse limit. It only chooses corners;
//! what stands in them is solved.

use super::spreading::Variation;
use super::trial::Departed;

/// Effects smaller than this share of the largest have no say in the corner of a figure: the linear prediction is not
/// better than that.
const NO_SAY: f64 = 1e-3;

/// How a figure is driven to its lowest.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Course {
    /// For each quantity: −1 at its lower limit, 1 at its upper, 0 where it does not matter.
    pub(super) signs: Vec<i8>,
    /// What each adds to the figure there: zero or below.
    pub(super) gains: Vec<f64>,
}

impl Course {
    /// The course of a figure that departed by `moved` when each quantity was taken by `share` alone; none where
    /// nothing lowers it.
    pub(super) fn to_lowest(variations: &[Variation], moves: &[Option<(f64, f64)>]) -> Option<Self> {
        let mut signs = vec![0; variations.len()];
        let mut gains = vec![0.0; variations.len()];
        for (place, (variation, moved)) in variations.iter().zip(moves).enumerate() {
            let Some((share, moved)) = moved else { continue };
            let (low, high) = (moved * variation.low / share, moved * variation.high / share);
            (signs[place], gains[place]) = if high < low { (1, high) } else { (-1, low) };
        }
        let largest = gains.iter().copied().fold(0.0, f64::min);
        for (sign, gain) in signs.iter_mut().zip(&mut gains) {
            if *gain >= NO_SAY * largest {
                (*sign, *gain) = (0, 0.0);
            }
        }
        (largest < 0.0).then_some(Self { signs, gains })
    }

    /// By how much the figure is predicted to fall.
    pub(super) fn fall(&self) -> f64 {
        self.gains.iter().sum()
    }

    /// The quantities that weigh most, weightiest first.
    pub(super) fn weightiest(&self, most: usize) -> Vec<usize> {
        let mut places: Vec<usize> = (0..self.signs.len()).filter(|place| self.signs[*place] != 0).collect();
        places.sort_by(|a, b| self.gains[*a].total_cmp(&self.gains[*b]));
        places.truncate(most);
        places
    }
}

/// A worst case: every quantity that has a say at one of its limits.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Corner {
    signs: Vec<i8>,
}

impl Corner {
    fn agrees(&self, course: &Course) -> bool {
        self.signs.iter().zip(&course.signs).all(|(here, there)| here * there >= 0)
    }

    /// Where the quantities stand.
    pub(super) fn departures(&self, variations: &[Variation]) -> Vec<Departed> {
        let at = |(place, (sign, variation)): (usize, (&i8, &Variation))| match sign {
            1 => Some((place, variation.high)),
            -1 => Some((place, variation.low)),
            _ => None,
        };
        self.signs.iter().zip(variations).enumerate().filter_map(at).collect()
    }

    /// The share by which a quantity departs.
    pub(super) fn share(&self, variations: &[Variation], place: usize) -> f64 {
        let found = self.departures(variations).into_iter().find(|(known, _)| *known == place);
        found.map_or(0.0, |(_, share)| share)
    }
}

/// The fewest corners that can be had by laying courses together that nowhere contradict each other, in order of
/// coming; and for each course, in which corner it ends.
pub(super) fn corners<'c>(courses: impl IntoIterator<Item = &'c Course>) -> (Vec<Corner>, Vec<usize>) {
    let mut corners: Vec<Corner> = Vec::new();
    let mut ends = Vec::new();
    for course in courses {
        let place = corners.iter().position(|corner| corner.agrees(course)).unwrap_or_else(|| {
            corners.push(Corner { signs: vec![0; course.signs.len()] });
            corners.len() - 1
        });
        if let Some(corner) = corners.get_mut(place) {
            for (here, there) in corner.signs.iter_mut().zip(&course.signs) {
                if *here == 0 {
                    *here = *there;
                }
            }
        }
        ends.push(place);
    }
    (corners, ends)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::design::PartId;
    use crate::spread::Varied;

    fn three() -> Vec<Variation> {
        let one = |part, low, high| Variation { part: PartId(part), what: Varied::Resistance, low, high };
        vec![one(0, -0.05, 0.05), one(1, -0.2, 0.5), one(2, -0.1, 0.1)]
    }

    #[test]
    fn each_quantity_goes_to_its_worse_limit() {
        // Taken up by 5 %, 50 % and 10 %, they move the figure by −1, +5 and nothing.
        let course = Course::to_lowest(&three(), &[Some((0.05, -1.0)), Some((0.5, 5.0)), Some((0.1, 0.0))]).unwrap();
        assert_eq!(course.signs, [1, -1, 0]);
        assert!((course.fall() + 3.0).abs() < 1e-12);
        assert_eq!(course.weightiest(1), [1]);
    }

    #[test]
    fn what_nothing_lowers_has_no_course() {
        assert_eq!(Course::to_lowest(&three(), &[None, Some((0.5, 0.0)), None]), None);
    }

    #[test]
    fn courses_that_agree_share_a_corner() {
        let course = |signs: [i8; 3]| Course { signs: signs.to_vec(), gains: vec![-1.0; 3] };
        let courses = [course([1, 0, 0]), course([0, -1, 0]), course([-1, 0, 1])];
        let (corners, ends) = corners(&courses);
        assert_eq!(ends, [0, 0, 1]);
        assert_eq!(corners[0].departures(&three()), [(0, 0.05), (1, -0.2)]);
        assert_eq!(corners[1].share(&three(), 2), 0.1);
    }
}
