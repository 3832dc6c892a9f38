//! Noise at an output: every source of it carried there through the linearised network.
//!
//! Thermal noise of resistances (Johnson and Nyquist); of tubes the equivalent grid resistance 2.5/gm with the partition
//! noise of a screen (North, RCA Review 1940, as in the Radio Designer's Handbook); shot noise of junctions, behind their
//! series resistance, and of bipolar transistors (Schottky), channel noise of field-effect transistors (van der Ziel, two
//! thirds of gm). Flicker noise of tubes is an estimate: it scatters by ten to one between specimens. Excess noise of
//! resistors is not counted, and an ideal current source makes none.

use super::{Element, ElementId, Linear, NodeId, OperatingPoint, Reach, SolveError};
use crate::units::Hertz;

/// Boltzmann's constant times 300 K, J.
const THERMAL_ENERGY: f64 = 1.380_649e-23 * 300.0;
/// Elementary charge, C.
const CHARGE: f64 = 1.602_176_634e-19;
/// Equivalent grid resistance times transconductance of a triode.
const TUBE_FACTOR: f64 = 2.5;
/// Channel noise of a field-effect transistor in saturation.
const CHANNEL_FACTOR: f64 = 2.0 / 3.0;
/// The band over which noise is summed.
const BAND: (f64, f64) = (20.0, 20_000.0);
/// Even, for Simpson's rule; twenty intervals a decade.
const INTERVALS: usize = 60;

/// Noise at an output, rms, V.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Noise {
    /// 20 Hz to 20 kHz.
    pub plain: f64,
    /// The same band, weighted by curve A.
    pub weighted: f64,
}

/// Noise between each pair of nodes of a network about its operating point. `flicker_corner` is the frequency at which
/// the flicker noise of a tube equals its other noise.
///
/// # Errors
/// See [`SolveError`], for each pair of its own.
pub fn noise(
    linear: &Linear,
    point: &OperatingPoint,
    outputs: &[(NodeId, NodeId)],
    flicker_corner: Hertz,
) -> Vec<Result<Noise, SolveError>> {
    let step = (BAND.1 / BAND.0).ln() / INTERVALS as f64;
    let sources = sources(linear, point);
    let mut sums = vec![Ok(Noise::default()); outputs.len()];
    for n in 0..=INTERVALS {
        let hertz = BAND.0 * (step * n as f64).exp();
        let simpson = match n {
            0 | INTERVALS => 1.0,
            n if n % 2 == 1 => 4.0,
            _ => 2.0,
        };
        let flicker = 1.0 + flicker_corner.0 / hertz;
        let ears = linear.ears(Hertz(hertz));
        for (sum, output) in sums.iter_mut().zip(outputs) {
            let Ok(so_far) = sum else { continue };
            match ears.as_ref().map_err(Clone::clone).and_then(|ears| ears.reach(*output)) {
                Ok(reach) => {
                    let density: f64 = sources.iter().map(|source| source.density(&reach, flicker)).sum();
                    let share = simpson * step / 3.0 * hertz * density;
                    so_far.plain += share;
                    so_far.weighted += share * a_weighting(hertz).powi(2);
                }
                Err(error) => *sum = Err(error),
            }
        }
    }
    let root = |squares: Noise| Noise { plain: squares.plain.sqrt(), weighted: squares.weighted.sqrt() };
    sums.into_iter().map(|sum| sum.map(root)).collect()
}

/// One source of noise, by where it acts.
enum Source {
    /// Between two nodes: A²/Hz, and the part of it that rises towards low frequencies.
    Shunt { ends: (NodeId, NodeId), even: f64, flicker: f64 },
    /// Within an element that has a branch of its own: V²/Hz.
    Series { element: ElementId, volts_squared: f64 },
}

impl Source {
    /// V²/Hz at the output, where flicker noise is so many times what it is without.
    fn density(&self, reach: &Reach<'_>, flickering: f64) -> f64 {
        match *self {
            Self::Shunt { ends: (a, b), even, flicker } => {
                reach.of_current(a, b).norm_sqr() * (even + flicker * flickering)
            }
            Self::Series { element, volts_squared } => reach.of_emf(element).norm_sqr() * volts_squared,
        }
    }
}

fn sources(linear: &Linear, point: &OperatingPoint) -> Vec<Source> {
    let four_kt = 4.0 * THERMAL_ENERGY;
    let mut found = Vec::new();
    let slopes = linear.control_slopes();
    for (place, element) in linear.network().elements.iter().enumerate() {
        let ends = element.ends();
        let mut shunt = |even: f64, flicker: f64| found.push(Source::Shunt { ends, even, flicker });
        let currents = point.currents.get(place).copied().unwrap_or_default();
        let slope = slopes[place].abs();
        let main = currents.main.0.abs();
        match *element {
            Element::Resistor { resistance, .. } if resistance.0 > 0.0 => shunt(four_kt / resistance.0, 0.0),
            Element::Inductor { resistance, .. }
            | Element::Coil { resistance, .. }
            | Element::Winding { resistance, .. }
            | Element::Supply { resistance, .. } => {
                found.push(Source::Series { element: ElementId(place), volts_squared: four_kt * resistance.0 });
            }
            Element::Junction { model, .. } => {
                // Outside is heard what of the junction's own current does not go round through its own slope.
                let slope = linear.main_slopes(place)[0];
                let outside = 1.0 - slope * model.rs;
                shunt(2.0 * CHARGE * main * outside.powi(2) + four_kt * model.rs * slope.powi(2), 0.0);
            }
            Element::Triode { .. } => shunt(0.0, four_kt * TUBE_FACTOR * slope),
            Element::Pentode { .. } => {
                let screen = currents.screen.0.abs();
                let share = if main + screen > 0.0 { main / (main + screen) } else { 1.0 };
                shunt(2.0 * CHARGE * screen * share, four_kt * TUBE_FACTOR * slope * share);
            }
            Element::FieldEffect { .. } => shunt(four_kt * CHANNEL_FACTOR * slope, 0.0),
            Element::Bipolar { .. } => {
                shunt(2.0 * CHARGE * main, 0.0);
                if let Some(base) = element.grid() {
                    let even = 2.0 * CHARGE * currents.grid.0.abs();
                    found.push(Source::Shunt { ends: (base, ends.1), even, flicker: 0.0 });
                }
            }
            Element::Resistor { .. }
            | Element::Capacitor { .. }
            | Element::VacuumDiode { .. }
            | Element::CurrentSource { .. } => {}
        }
    }
    found
}

/// Curve A of IEC 61672-1, as a ratio; one at 1 kHz.
#[must_use]
pub fn a_weighting(hertz: f64) -> f64 {
    let curve = |f: f64| {
        let s = f * f;
        let pole = |p: f64| s + p * p;
        12_194.217_f64.powi(2) * s * s
            / (pole(20.598_997) * (pole(107.652_65) * pole(737.862_23)).sqrt() * pole(12_194.217))
    };
    curve(hertz) / curve(1000.0)
}

#[cfg(test)]
mod tests {
    use super::a_weighting;

    /// IEC 61672-1, table of design goals; the exact frequency of the nominal 31.5 Hz is 31.62 Hz.
    #[test]
    fn curve_a_has_its_published_values() {
        for (hertz, decibels) in [(31.62, -39.4), (100.0, -19.1), (1000.0, 0.0), (2512.0, 1.3), (10_000.0, -2.5)] {
            let found = 20.0 * a_weighting(hertz).log10();
            assert!((found - decibels).abs() < 0.06, "{hertz} Hz: {found}");
        }
    }
}
