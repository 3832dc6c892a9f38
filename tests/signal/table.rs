//! Published figures beside computed ones: plain comma-separated files, kept in step by the tests.

use std::path::PathBuf;

/// The rows of a file without quotes, its heading left out.
pub fn rows(text: &str) -> impl Iterator<Item = Vec<&str>> {
    text.lines().skip(1).map(|line| line.split(',').collect())
}

/// Compares a computed table with the one beside the tests, or writes it where `UPDATE_TABLES` is set.
pub fn keep(name: &str, text: &str) {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/signal").join(name);
    if std::env::var_os("UPDATE_TABLES").is_some() {
        std::fs::write(&path, text).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(kept, text, "{name} is stale: run the tests with UPDATE_TABLES=1 and look at what changed");
}

/// Median of the magnitudes, and the share of them that is within a limit.
pub fn spread(errors: &[f64], limit: f64) -> (f64, f64) {
    let mut sizes: Vec<f64> = errors.iter().map(|error| error.abs()).collect();
    sizes.sort_by(f64::total_cmp);
    let inside = sizes.iter().filter(|size| **size <= limit).count();
    (sizes[sizes.len() / 2], inside as f64 / sizes.len() as f64)
}
