//! A transformer winding as a source: open-circuit voltage behind a resistance, estimated where it is not stated.
//!
//! Each winding is a source by itself: E = rated voltage + rated current × (its resistance + the primary's × ratio²),
//! behind that same resistance; windings do not load each other. For a half that shares its current with the other half,
//! the ratio of the whole takes the place of one of its own.

use crate::design::{Transformer, Winding};
use crate::units::{Ohms, Quantity, Volts};

/// Copper drop of a small transformer at rated load, as a share of the voltage, in each of primary and secondary
/// (common practice: 10 % regulation in all, shared evenly).
const COPPER_DROP: f64 = 0.05;

/// Rated power that a primary is given when nothing states a current (common practice: a small preamplifier's).
const PRIMARY_WATTS: f64 = 25.0;

/// A centre-tapped winding up to this voltage, end to end, is taken to heat tubes from end to end (common practice).
const HEATER_VOLTS: f64 = 30.0;

/// A winding, or one half of a centre-tapped one, as physics needs it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct WindingSource {
    /// `start`–`finish`, `start`–`centre` or `centre`–`finish`.
    pub(crate) ends: (String, String),
    /// Which half, for naming: empty, `start` or `finish`.
    pub(crate) half: &'static str,
    /// Open-circuit voltage at nominal mains.
    pub(crate) emf: Volts,
    /// Its own resistance with the primary's reflected into it.
    pub(crate) resistance: Ohms,
    /// Rated voltage of this half over the primary's.
    pub(crate) ratio: f64,
}

/// The sources of one winding and what was assumed about it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct WindingSources {
    /// The winding's name.
    pub(crate) name: String,
    /// One source, or two for a centre-tapped winding.
    pub(crate) sources: Vec<WindingSource>,
    /// What was assumed, in words.
    pub(crate) assumptions: Vec<String>,
}

/// The resistance of the primary and whether it is assumed.
pub(crate) fn primary_resistance(transformer: &Transformer) -> (Ohms, Option<String>) {
    if let Some(stated) = &transformer.primary.resistance {
        return (stated.value, None);
    }
    let volts = transformer.primary.voltage.value.base();
    let stated: f64 = transformer.windings.iter().filter_map(rated_watts).sum();
    let watts = if stated > 0.0 { stated } else { PRIMARY_WATTS };
    let ohms = COPPER_DROP * volts * volts / watts;
    (Ohms(ohms), Some(format!("primary resistance taken as {} (5 % drop at rated load)", Ohms(ohms))))
}

fn rated_watts(winding: &Winding) -> Option<f64> {
    Some(winding.voltage.value.base() * winding.current.as_ref()?.value.base())
}

/// The sources of every secondary of a transformer at its rated primary voltage.
pub(crate) fn winding_sources(transformer: &Transformer) -> Vec<WindingSources> {
    let (primary_ohms, primary_note) = primary_resistance(transformer);
    let primary_volts = transformer.primary.voltage.value.base();
    transformer
        .windings
        .iter()
        .map(|winding| {
            let mut assumptions: Vec<String> = primary_note.iter().cloned().collect();
            let whole_volts = winding.voltage.value.base();
            let whole_ohms = winding.resistance.as_ref().map_or_else(
                || {
                    let amperes =
                        winding.current.as_ref().map_or_else(|| PRIMARY_WATTS / whole_volts, |c| c.value.base());
                    let ohms = COPPER_DROP * whole_volts / amperes;
                    assumptions.push(format!(
                        "resistance of winding {} taken as {} (5 % drop at rated current)",
                        winding.name.value,
                        Ohms(ohms)
                    ));
                    ohms
                },
                |r| r.value.base(),
            );
            if winding.current.is_none() && winding.no_load.is_none() {
                assumptions.push(format!(
                    "winding {} states no rated current: its open-circuit voltage is taken as its rated voltage",
                    winding.name.value
                ));
            }
            let one = |ends: (&str, &str), half, volts: f64| {
                let share = volts / whole_volts;
                let ratio = volts / primary_volts;
                // Halves of a high-tension winding take turns; those of a heater winding carry its current end to end,
                // both at once, and the primary's drop shows in each for both.
                let carried = if whole_volts <= HEATER_VOLTS { whole_volts / primary_volts } else { ratio };
                let resistance = whole_ohms * share + primary_ohms.base() * ratio * carried;
                let emf = match (&winding.no_load, &winding.current) {
                    (Some(measured), _) => measured.value.base() * share,
                    (None, Some(current)) => volts + current.value.base() * resistance,
                    (None, None) => volts,
                };
                let name = &winding.name.value;
                WindingSource {
                    ends: (format!("{name}.{}", ends.0), format!("{name}.{}", ends.1)),
                    half,
                    emf: Volts(emf),
                    resistance: Ohms(resistance),
                    ratio,
                }
            };
            let sources = match winding.halves {
                Some((first, second)) => vec![
                    one(("start", "centre"), "start", first.base()),
                    one(("centre", "finish"), "finish", second.base()),
                ],
                None => vec![one(("start", "finish"), "", whole_volts)],
            };
            WindingSources { name: winding.name.value.clone(), sources, assumptions }
        })
        .collect()
}
