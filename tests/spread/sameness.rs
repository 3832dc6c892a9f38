//! The same seed gives the same, whatever the threads; another seed gives other builds.

use super::bench::{Bench, OPTIONS};
use coldcheck::findings::DesignReport;
use coldcheck::spread::SpreadOptions;

const STAGE: &str = include_str!("triode-stage.kdl");

fn with_threads<T: Send>(threads: usize, what: impl FnOnce() -> T + Send) -> T {
    rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap().install(what)
}

#[test]
fn a_report_is_the_same_on_one_thread_and_on_many() {
    let report = |threads| {
        let DesignReport { findings, not_judged, spread, .. } =
            with_threads(threads, || Bench::of(STAGE).report(OPTIONS));
        format!("{findings:#?}{not_judged:#?}{spread:#?}")
    };
    let one = report(1);
    assert_eq!(one, report(5));
    assert_eq!(one, report(5));
}

#[test]
fn bands_are_the_same_to_the_last_bit_for_a_seed_and_differ_between_seeds() {
    let band = |threads, seed| {
        let options = SpreadOptions { builds: 30, seed };
        with_threads(threads, || Bench::of(STAGE).band("V1a", "plate-voltage", options).unwrap())
    };
    assert_eq!(band(1, 1), band(4, 1));
    assert_ne!(band(1, 1).quantiles, band(1, 2).quantiles);
    // The corners do not know the seed.
    assert_eq!((band(1, 1).low, band(1, 1).high), (band(1, 2).low, band(1, 2).high));
}
