//! The progress bar: on stderr, on a terminal, for runs that take long enough to be looked at.

use std::io::{self, IsTerminal};

use indicatif::{ProgressBar, ProgressStyle};

/// Fewer designs than this are over before a bar can be read.
const FEWEST: usize = 16;

/// A bar over so many designs.
pub(super) fn bar(designs: usize, quiet: bool) -> ProgressBar {
    if quiet || designs < FEWEST || !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(u64::try_from(designs).unwrap_or(u64::MAX));
    match ProgressStyle::with_template("{bar:40} {pos} of {len} designs, {eta} to go") {
        Ok(style) => bar.with_style(style),
        Err(_) => bar,
    }
}
