//! The random numbers of the builds: the same seed and build give the same numbers on every machine and thread.
//!
//! SplitMix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014), whose constants
//! are those of its authors. It is for sampling tolerances, and for nothing that must not be guessed.

const GAMMA: u64 = 0x9e37_79b9_7f4a_7c15;

/// A sequence of random numbers.
pub(super) struct Chance {
    state: u64,
}

impl Chance {
    /// The sequence of a build: builds of one seed have nothing in common.
    pub(super) fn of(seed: u64, build: usize) -> Self {
        let mut first = Self { state: seed };
        let mut second = Self { state: first.next() ^ (build as u64) };
        Self { state: second.next() }
    }

    fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(GAMMA);
        let mut mixed = self.state;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// The next number, uniform between two bounds.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        // The upper 53 bits are what the mantissa of a number holds.
        let share = (self.next() >> 11) as f64 / (1_u64 << 53) as f64;
        low + share * (high - low)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sequence_is_that_of_the_published_generator() {
        // The first numbers for seed 1234567, as implementations of SplitMix64 give them (from memory).
        let mut chance = Chance { state: 1_234_567 };
        let first: Vec<u64> = (0..3).map(|_| chance.next()).collect();
        assert_eq!(first, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
    }

    #[test]
    fn numbers_fill_their_bounds_evenly() {
        let mut chance = Chance::of(7, 3);
        let numbers: Vec<f64> = (0..10_000).map(|_| chance.between(-0.2, 0.5)).collect();
        assert!(numbers.iter().all(|number| (-0.2..0.5).contains(number)));
        let mean = numbers.iter().sum::<f64>() / 10_000.0;
        // A uniform number of this width has a standard deviation of 0.2; that of the mean is a hundredth of it.
        assert!((mean - 0.15).abs() < 0.008, "{mean}");
    }

    #[test]
    fn builds_and_seeds_differ() {
        let first = |seed, build| Chance::of(seed, build).between(0.0, 1.0);
        assert!(first(1, 0) != first(1, 1) && first(1, 0) != first(2, 0) && first(1, 0) == first(1, 0));
    }
}
