//! One input driven harder and harder until one output's wave is no longer what is wanted.
//!
//! Knows a held network, its output and a limit of distortion; knows nothing of parts or facts.

use crate::physics::{Driven, Electrodes, Element, Harmonics, Held, LargeSignal, NodeId, SolveError};
use crate::units::Volts;

use super::small::MIDDLE;

/// How far a level or a distortion that is sought may be missed, as a share.
const NEAR: f64 = 0.005;
/// The same where it is only sought roughly.
const ROUGHLY_NEAR: f64 = 0.02;
/// Closer than this two drives are the same, as a share.
const SAME: f64 = 0.002;
/// Levels that a search may take.
const MOST_LEVELS: usize = 24;
/// Largest stride upwards in one go, as a ratio.
const STRIDE: f64 = 4.0;
/// Least stride upwards, and the stride through a region of crossover distortion.
const LEAST_STRIDE: f64 = 1.2;
const CROSSING: f64 = 1.6;
/// Between crossover and clipping no level within the limit is looked for closer than this.
const WIDE: f64 = 0.1;
/// How distortion rises with the drive, as a power of it: no more slowly than this. What is not known is taken as one.
const LEAST_STEEPNESS: f64 = 0.5;
/// A gain above the small-signal one by more than this rises with the drive.
const RISING: f64 = 1.02;
/// An output this far below what its small-signal gain promises has clipped, whatever its distortion.
const CLIPPED: f64 = 0.25;

/// What is sought.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Aim {
    /// The output's terminals, in the held network.
    pub(super) output: (NodeId, NodeId),
    /// Small-signal gain from the source's emf.
    pub(super) gain: f64,
    /// Level at which distortion is asked for.
    pub(super) level: Option<Level>,
    /// Distortion at which a level counts as the largest.
    pub(super) limit: f64,
}

/// A level as a design states it, V rms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Level {
    /// At the output.
    Output(f64),
    /// Of the source.
    Source(f64),
}

/// A tube at one level.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct TubeSwing {
    /// Currents and powers of its electrodes.
    pub(super) electrodes: Electrodes,
    /// Largest voltage of the grid over the cathode, V.
    pub(super) grid_crest: f64,
    /// Smallest voltage of the plate over the cathode, V.
    pub(super) plate_least: f64,
    /// Largest voltage of the plate over the cathode, V.
    pub(super) plate_most: f64,
    /// Peak-to-peak swing of the plate or of the cathode, whichever moves more, V.
    pub(super) swing: f64,
}

/// The output at one level.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Point {
    /// The source, V rms.
    pub(super) drive: f64,
    /// Whether it was solved with few steps, in a search.
    pub(super) is_rough: bool,
    /// The output, V rms, harmonics included.
    pub(super) rms: f64,
    /// All harmonics over the fundamental.
    pub(super) distortion: f64,
    /// The second over the fundamental.
    pub(super) second: f64,
    /// The third.
    pub(super) third: f64,
    /// Each element of the held network that is a tube.
    pub(super) tubes: Vec<Option<TubeSwing>>,
    /// Mean current drawn from each rail, in the order of [`Held::rails`], A.
    pub(super) drawn: Vec<f64>,
}

/// A network with its aim, and the levels that were solved.
pub(super) struct Bench {
    pub(super) held: Held,
    pub(super) aim: Aim,
    driven: Driven,
    /// Voltage at which each rail is held, V.
    pub(super) rails: Vec<f64>,
    /// Every level solved, in order of solution.
    pub(super) points: Vec<Point>,
}

impl Bench {
    pub(super) fn new(held: Held, aim: Aim) -> Result<Self, SolveError> {
        let driven = Driven::new(&held.network, MIDDLE)?;
        let rails = held.rails.iter().map(|(node, _)| held.node(*node).map_or(0.0, |node| driven.rest(node))).collect();
        Ok(Self { held, aim, driven, rails, points: Vec::new() })
    }

    /// What each rail delivers at rest, A.
    pub(super) fn resting(&self) -> Vec<f64> {
        self.held.rails.iter().map(|(_, holder)| -self.driven.resting_current(*holder)).collect()
    }

    /// Holds the rails at other voltages, in the order of [`Held::rails`]; what was solved is forgotten.
    pub(super) fn hold_all(&mut self, volts: &[f64]) -> Result<(), SolveError> {
        if self.rails == volts {
            return Ok(());
        }
        self.points.clear();
        let holders: Vec<_> =
            self.held.rails.iter().map(|(_, holder)| *holder).zip(volts.iter().map(|v| Volts(*v))).collect();
        self.rails = volts.to_vec();
        self.driven.hold(&holders)
    }

    /// Voltage of one node over another at rest, V.
    pub(super) fn rest(&self, a: NodeId, b: NodeId) -> f64 {
        self.driven.rest(a) - self.driven.rest(b)
    }

    /// Solves one level.
    pub(super) fn at(&mut self, drive: f64) -> Result<Point, SolveError> {
        let signal = self.driven.at(Volts(drive))?;
        Ok(self.take(drive, &signal, false))
    }

    /// The same with few steps, for a search.
    pub(super) fn roughly_at(&mut self, drive: f64) -> Result<Point, SolveError> {
        let signal = self.driven.roughly_at(Volts(drive))?;
        Ok(self.take(drive, &signal, true))
    }

    fn solve(&mut self, drive: f64, is_rough: bool) -> Result<Point, SolveError> {
        if is_rough { self.roughly_at(drive) } else { self.at(drive) }
    }

    fn take(&mut self, drive: f64, signal: &LargeSignal, is_rough: bool) -> Point {
        let (hot, cold) = self.aim.output;
        let across: Vec<f64> = signal.waves[hot.0].iter().zip(&signal.waves[cold.0]).map(|(a, b)| a - b).collect();
        let harmonics = Harmonics::of(&across);
        let swing = |place: usize, element: &Element| {
            let electrodes = signal.devices[place]?;
            let (plate, cathode) = element.ends();
            let grid = element.grid()?;
            let over = |a: NodeId, b: NodeId| signal.waves[a.0].iter().zip(&signal.waves[b.0]).map(|(a, b)| a - b);
            let span = |node: NodeId| {
                let wave = &signal.waves[node.0];
                let (least, most) =
                    wave.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(l, m), v| (l.min(*v), m.max(*v)));
                most - least
            };
            Some(TubeSwing {
                electrodes,
                grid_crest: over(grid, cathode).fold(f64::NEG_INFINITY, f64::max),
                plate_least: over(plate, cathode).fold(f64::INFINITY, f64::min),
                plate_most: over(plate, cathode).fold(f64::NEG_INFINITY, f64::max),
                swing: span(plate).max(span(cathode)),
            })
        };
        let point = Point {
            drive,
            is_rough,
            rms: harmonics.rms(),
            distortion: harmonics.distortion(),
            second: harmonics.share(2),
            third: harmonics.share(3),
            tubes: self.held.network.elements.iter().enumerate().map(|(n, e)| swing(n, e)).collect(),
            drawn: self.held.rails.iter().map(|(_, holder)| -signal.branch_means[holder.0]).collect(),
        };
        self.points.push(point.clone());
        point
    }

    /// The point at the stated level; `None` where none is stated, or the output never reaches it.
    pub(super) fn stated(&mut self) -> Result<Option<Point>, SolveError> {
        match self.aim.level {
            None => Ok(None),
            Some(Level::Source(volts)) => self.at(volts).map(Some),
            Some(Level::Output(volts)) => {
                let (drive, _) = self.drive_for(volts, volts / self.aim.gain, true)?;
                Ok(self.drive_for(volts, drive, false)?.1)
            }
        }
    }

    /// The drive at which the output has so many volts, and the point there; as far as it came, where it never has.
    fn drive_for(&mut self, volts: f64, first: f64, is_rough: bool) -> Result<(f64, Option<Point>), SolveError> {
        let mut drive = first;
        for _ in 0..MOST_LEVELS / 2 {
            let point = self.solve(drive, is_rough)?;
            if (point.rms / volts - 1.0).abs() < NEAR {
                return Ok((drive, Some(point)));
            }
            if point.rms < CLIPPED * self.aim.gain * drive {
                break;
            }
            drive *= volts / point.rms;
        }
        Ok((drive, None))
    }

    /// The largest level within the limit of distortion; `None` where not even a small one is.
    ///
    /// A pair of tubes biased near cut-off distorts small levels more than larger ones, mostly by odd harmonics: beyond
    /// the limit its gain still rises with the drive there, and the search goes on upwards.
    ///
    /// It is sought with few steps first; the last way to it is gone with all of them.
    pub(super) fn largest(&mut self, first: f64) -> Result<Option<Point>, SolveError> {
        let mut rough = Bracket { is_rough: true, ..Bracket::default() };
        let Some(found) = self.seek(first, &mut rough)? else { return self.seek(first, &mut Bracket::default()) };
        self.seek(found.drive, &mut Bracket { steepness: Some(rough.steepness().unwrap_or(1.0)), ..Bracket::default() })
    }

    fn seek(&mut self, first: f64, seen: &mut Bracket) -> Result<Option<Point>, SolveError> {
        let mut drive = first;
        for _ in 0..MOST_LEVELS {
            let is_same = |point: &&Point| point.is_rough == seen.is_rough && (point.drive / drive - 1.0).abs() < 1e-9;
            let known = self.points.iter().find(is_same).cloned();
            let point = known.map_or_else(|| self.solve(drive, seen.is_rough), Ok)?;
            let over = point.distortion / self.aim.limit;
            let gain = point.rms / (self.aim.gain * drive);
            let crossover = gain > RISING && point.third > point.second;
            let near = if seen.is_rough { 1.0 - ROUGHLY_NEAR..=1.0 + ROUGHLY_NEAR } else { 1.0 - NEAR..=1.0 };
            if near.contains(&over) && !crossover {
                return Ok(Some(point));
            }
            if over <= 1.0 && gain > CLIPPED {
                seen.inside = Some(point);
            } else if crossover {
                seen.crossed = Some(drive);
                seen.below = seen.inside.take_if(|inside| inside.drive < drive).or(seen.below.take());
            } else {
                seen.outside = Some(point);
            }
            match seen.next(self.aim.limit) {
                Some(next) => drive = next,
                None => break,
            }
        }
        Ok(seen.inside.take().or(seen.below.take()))
    }
}

/// What a search has seen so far.
#[derive(Default)]
struct Bracket {
    /// Whether few steps are enough.
    is_rough: bool,
    /// How distortion rises with the drive near what is sought, where a search before this one has told.
    steepness: Option<f64>,
    /// The highest point within the limit.
    inside: Option<Point>,
    /// The lowest point beyond it.
    outside: Option<Point>,
    /// The highest drive beyond the limit whose gain still rises.
    crossed: Option<f64>,
    /// A point within the limit below such a drive.
    below: Option<Point>,
}

impl Bracket {
    /// The drive to try next; `None` where the bracket is as narrow as is wanted.
    fn next(&self, limit: f64) -> Option<f64> {
        if let (Some(steepness), Some(only), None) = (self.steepness, self.only(), self.crossed) {
            let way = ((1.0 - 0.5 * NEAR) * limit / only.distortion.max(1e-9)).powf(1.0 / steepness);
            let (least, most) = if self.inside.is_some() { (1.0 + SAME, STRIDE) } else { (1.0 / STRIDE, 1.0 - SAME) };
            return Some(only.drive * way.clamp(least, most));
        }
        match (&self.inside, &self.outside, self.crossed) {
            (Some(low), Some(high), _) => (high.drive / low.drive - 1.0 > SAME).then(|| between(low, high, limit)),
            (Some(low), None, _) => {
                Some(low.drive * (1.02 * limit / low.distortion.max(1e-9)).clamp(LEAST_STRIDE, STRIDE))
            }
            (None, Some(high), Some(low)) => (high.drive / low - 1.0 > WIDE).then(|| (high.drive * low).sqrt()),
            (None, Some(high), None) => Some(high.drive * (limit / high.distortion).clamp(1.0 / STRIDE, 0.8)),
            (None, None, low) => low.map(|low| low * CROSSING),
        }
    }
}

impl Bracket {
    /// The only point seen.
    fn only(&self) -> Option<&Point> {
        match (&self.inside, &self.outside) {
            (Some(only), None) | (None, Some(only)) => Some(only),
            _ => None,
        }
    }

    /// How distortion rises with the drive between both sides.
    fn steepness(&self) -> Option<f64> {
        let (low, high) = (self.inside.as_ref()?, self.outside.as_ref()?);
        let power = (high.distortion / low.distortion).ln() / (high.drive / low.drive).ln();
        Some(if power.is_finite() { power.max(LEAST_STEEPNESS) } else { 1.0 })
    }
}

/// Where distortion meets the limit between two drives, by the straight line through their logarithms, kept off both ends.
fn between(low: &Point, high: &Point, limit: f64) -> f64 {
    let (a, b) = (low.distortion.max(1e-9).ln(), high.distortion.max(1e-9).ln());
    let way = if b > a { (limit.ln() - a) / (b - a) } else { 0.5 };
    let span = high.drive / low.drive;
    low.drive * span.powf(way.clamp(0.1, 0.9))
}
