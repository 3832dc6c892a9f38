//! A design as it comes out when its parts are not exactly what is printed on them: worst corners and random builds.
//!
//! Pure, as the inspection is: a design and what it is judged against in, what the spread does to findings and facts
//! out. Each quantity is first taken to a limit of its tolerance alone; from what that does to every rule (or fact) the
//! corner follows in which it is worst, and that corner is solved and judged. Builds drawn at random tell how often a
//! rule breaks, and catch what does not grow steadily from nominal to corner. The tubes are those that are drawn.

mod bands;
mod builds;
mod chance;
mod judging;
mod probing;
mod spreading;
mod steering;
mod telling;
mod trial;
mod varying;

pub use bands::{Band, Bands, bands};
pub use judging::inspect_spread;
pub use spreading::{Spreading, Variation, Varied, spreading};

use crate::design::{Design, Kind};

/// How far the spread is looked into.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SpreadOptions {
    /// So many builds are drawn; none leaves the corners.
    pub builds: usize,
    /// The seed that they are drawn with.
    pub seed: u64,
}

impl Default for SpreadOptions {
    fn default() -> Self {
        Self { builds: 100, seed: 1 }
    }
}

/// The builder's name of what varies: the part, or the section of a tube.
fn label(design: &Design, variation: &Variation) -> String {
    let part = design.part(variation.part);
    match (&part.kind, variation.what) {
        (
            Kind::Tube(tube),
            Varied::Current(place) | Varied::Amplification(place) | Varied::Perveance(place) | Varied::Voltage(place),
        ) => {
            let suffix = tube.sections.get(place).map(|section| section.suffix.as_str()).unwrap_or_default();
            format!("{}{suffix}", part.name)
        }
        (Kind::Transformer(_), Varied::PrimaryResistance) => format!("{}.primary", part.name),
        (Kind::Transformer(transformer), Varied::WindingResistance(place)) => {
            let winding = transformer.windings.get(place).map(|winding| winding.name.value.as_str());
            format!("{}.{}", part.name, winding.unwrap_or_default())
        }
        _ => part.name.clone(),
    }
}
