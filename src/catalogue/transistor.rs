//! What the catalogue knows of a transistor: its model, its limits, its capacitances. Every figure is in base SI units.

use crate::units::{Amperes, Farads, Volts, Watts};

use super::DeviceSource;

/// Shichman–Hodges square law of a MOSFET or JFET: I = kp/2·(vgs − vto)²·(1 + lambda·vds) in saturation. Units: V, A.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldEffectModel {
    /// Threshold, V, as for an n-channel device: negative where it conducts at zero gate voltage.
    pub vto: f64,
    /// Transconductance parameter, A/V².
    pub kp: f64,
    /// Rise of the current with the drain voltage, 1/V.
    pub lambda: f64,
    /// Saturation current of the gate junction of a JFET, A.
    pub gate: Option<f64>,
    /// Whether every polarity is turned about.
    pub p_channel: bool,
}

/// Ebers–Moll transport model of a bipolar transistor. Units: V, A.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BipolarModel {
    /// Transport saturation current, A.
    pub is: f64,
    /// Forward current gain.
    pub bf: f64,
    /// Reverse current gain.
    pub br: f64,
    /// Early voltage, V.
    pub va: f64,
    /// Whether every polarity is turned about.
    pub pnp: bool,
}

/// The model of a transistor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TransistorModel {
    /// MOSFET or JFET.
    FieldEffect(FieldEffectModel),
    /// Bipolar.
    Bipolar(BipolarModel),
}

/// Which kind of transistor, in the words of designs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TransistorFamily {
    /// `mosfet`.
    Mosfet,
    /// `bjt`.
    Bipolar,
    /// `jfet`.
    JunctionFet,
}

impl TransistorFamily {
    /// The kind of a word, `None` for any other word.
    #[must_use]
    pub fn of(word: &str) -> Option<Self> {
        match word {
            "mosfet" => Some(Self::Mosfet),
            "bjt" => Some(Self::Bipolar),
            "jfet" => Some(Self::JunctionFet),
            _ => None,
        }
    }
}

/// Published limits; `None` is not published or not known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct TransistorLimits {
    /// Largest voltage, drain to source or collector to emitter.
    pub voltage: Option<Volts>,
    /// Largest continuous current.
    pub current: Option<Amperes>,
    /// Largest power, at 25 °C case for a power type, at 25 °C air for a small one.
    pub dissipation: Option<Watts>,
    /// Largest voltage of the gate over the source, either way.
    pub gate_voltage: Option<Volts>,
}

/// A transistor of the catalogue.
#[derive(Clone, Debug, PartialEq)]
pub struct TransistorEntry {
    /// Canonical name.
    pub name: String,
    /// Other names.
    pub aliases: Vec<String>,
    /// What it is.
    pub family: TransistorFamily,
    /// Its model.
    pub model: TransistorModel,
    /// Its limits.
    pub limits: TransistorLimits,
    /// Gate to source, or base to emitter.
    pub input_capacitance: Option<Farads>,
    /// Gate to drain, or base to collector.
    pub feedback_capacitance: Option<Farads>,
    /// Drain to source.
    pub output_capacitance: Option<Farads>,
    /// Where the figures come from.
    pub sources: Vec<DeviceSource>,
}
