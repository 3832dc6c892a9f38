//! Where tubes begin to clip, among the levels that a search has solved and a few more.
//!
//! Knows a bench of levels and its tubes; knows nothing of parts or facts.

use crate::physics::Element;

use super::large::is_paired;
use super::large_search::{Bench, Point};

/// Levels that are tried beyond full drive to see which tube clips first.
const MOST_BEYOND: usize = 4;
/// Levels that are looked at besides for where each tube begins to clip, and how near one must be to clipping.
const MOST_LOOKS: usize = 6;
const NEAR_CLIPPING: f64 = 0.02;

/// Drives harder until a tube clips, so that the first to do so can be named; a level that cannot be solved ends it.
pub(super) fn until_one_clips(bench: &mut Bench, full: Option<f64>) {
    let Some(mut drive) = full else { return };
    for _ in 0..MOST_BEYOND {
        let places = 0..bench.held.network.elements.len();
        let shares = |point: &Point| {
            let shares = places
                .clone()
                .filter_map(|place| clip_share(bench, place, is_paired(&bench.held.network, place), point));
            shares.fold(0.0, f64::max)
        };
        let most = bench.points.iter().map(shares).fold(0.0, f64::max);
        if most >= 1.0 || most <= 0.0 {
            return;
        }
        drive *= (1.05 / most).clamp(1.1, 2.0);
        if bench.roughly_at(drive).is_err() {
            return;
        }
    }
}

/// Levels between those that were solved, until what each tube begins to clip at is no more than a short way from one.
pub(super) fn look_closer(bench: &mut Bench) {
    for _ in 0..MOST_LOOKS {
        let mut points: Vec<&Point> = bench.points.iter().collect();
        points.sort_by(|a, b| a.drive.total_cmp(&b.drive));
        let places = 0..bench.held.network.elements.len();
        let vague = places.filter_map(|place| clipping(bench, place, points.iter().copied())?.vague());
        let Some((_, drive)) = vague.max_by(|a, b| a.0.total_cmp(&b.0)) else { return };
        if bench.roughly_at(drive).is_err() {
            return;
        }
    }
}

/// Two levels between which a tube begins to clip, each a drive and the share of the way to clipping there.
pub(super) struct Clipping {
    below: (f64, f64),
    beyond: (f64, f64),
}

impl Clipping {
    /// By the straight line between both.
    pub(super) fn drive(&self) -> f64 {
        let (below, beyond) = (self.below, self.beyond);
        let way = if beyond.1.is_finite() { (1.0 - below.1) / (beyond.1 - below.1) } else { 0.0 };
        below.0 + way * (beyond.0 - below.0)
    }

    /// How far both levels are from clipping, and the drive between them, where that is too far to be told by a line.
    fn vague(&self) -> Option<(f64, f64)> {
        let away = f64::min(1.0 - self.below.1, self.beyond.1 - 1.0);
        (away.is_finite() && away > NEAR_CLIPPING).then(|| (away, self.drive()))
    }
}

/// Where an element begins to clip, among the levels that were solved, in order of their drive.
pub(super) fn clipping<'p>(bench: &Bench, place: usize, points: impl Iterator<Item = &'p Point>) -> Option<Clipping> {
    let paired = is_paired(&bench.held.network, place);
    let mut below = (0.0, 0.0);
    for point in points {
        let here = (point.drive, clip_share(bench, place, paired, point)?);
        if here.1 >= 1.0 {
            return Some(Clipping { below, beyond: here });
        }
        below = here;
    }
    None
}

/// Whether two tubes at rest and in swing tell that one of them clips: its grid drives current, its plate current is cut
/// off (where no partner carries on), or a pentode's plate comes down to its knee.
fn clip_share(bench: &Bench, place: usize, paired: bool, point: &Point) -> Option<f64> {
    /// A plate current below this share of its resting value is none.
    const CUT_OFF: f64 = 0.02;
    /// Share of the resting plate voltage at which a pentode's knee is taken to be.
    const KNEE: f64 = 0.15;
    let element = bench.held.network.elements.get(place)?;
    let swing = point.tubes.get(place)?.as_ref()?;
    let (plate, cathode) = element.ends();
    let grid = element.grid()?;
    let bias = -bench.rest(grid, cathode);
    let rest = bench.rest(plate, cathode);
    let share = |moved: f64, room: f64| if room > 0.0 { moved / room } else { f64::INFINITY };
    let mut most = share(swing.grid_crest + bias, bias);
    if matches!(element, Element::Pentode { .. }) {
        most = most.max(share(rest - swing.plate_least, (1.0 - KNEE) * rest));
    }
    if !paired {
        let current = swing.electrodes[0];
        most = most.max(share(current.mean - current.minimum, (1.0 - CUT_OFF) * current.mean));
    }
    Some(most)
}
