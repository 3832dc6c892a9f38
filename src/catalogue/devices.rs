//! What the catalogue knows of a device. Every figure is in base SI units and typed.

use super::{PentodeForm, PentodeLaw};
use crate::units::{Amperes, Farads, Ohms, Volts, Watts};

/// Where a figure comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DeviceSource {
    /// The published document.
    pub document: String,
    /// Whether the figures were recalled and not checked against a page.
    pub from_memory: bool,
}

/// Koren triode (Glass Audio 8(5), 1996). Units: V, A.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TriodeModel {
    /// Amplification factor.
    pub mu: f64,
    /// Exponent.
    pub x: f64,
    /// Current scale.
    pub kg1: f64,
    /// Knee of the grid family.
    pub kp: f64,
    /// Knee of the plate family, V².
    pub kvb: f64,
    /// Grid conduction resistance for a positive grid, Ω, where known.
    pub rgi: Option<f64>,
}

/// Vacuum diode, per plate: I = k·V^1.5 (Child and Langmuir).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VacuumDiodeModel {
    /// Perveance, A/V^1.5.
    pub k: f64,
}

/// A struck gas regulator: V = voltage + resistance·I. Units: V, Ω.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RegulatorModel {
    /// The voltage that it holds, continued to no current.
    pub voltage: f64,
    /// Its regulation: rise of that voltage over rise of the current.
    pub resistance: f64,
}

/// The model of a section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TubeModel {
    /// A triode.
    Triode(TriodeModel),
    /// A pentode or beam tetrode.
    Pentode(PentodeLaw),
    /// One plate of a rectifier.
    VacuumDiode(VacuumDiodeModel),
    /// A gas regulator.
    Regulator(RegulatorModel),
}

/// Junction with series resistance (Shockley); a zener breaks down at `breakdown` besides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DiodeModel {
    /// Saturation current, A.
    pub is: f64,
    /// Emission coefficient.
    pub n: f64,
    /// Series resistance, Ω.
    pub rs: f64,
    /// Breakdown voltage of a zener, V.
    pub breakdown: Option<f64>,
}

/// `model` keys given in a design for a tube; `None` leaves the catalogue's.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TubeModelChanges {
    /// Pairs of key and value as given (the keys of the section's model, `rgi`, `cgk`, `cgp`, `cpk`).
    pub keys: Vec<(String, f64)>,
    /// The form that a section's model is given in, by the section's letter, where it is another than the catalogue's.
    pub forms: Vec<(String, PentodeForm)>,
}

/// `model` keys given in a design for a junction device.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DiodeModelChanges {
    /// Pairs of key and value as given (`is`, `n`, `rs`).
    pub keys: Vec<(String, f64)>,
}

/// What a section is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SectionKind {
    /// Terminals `plate` `grid` `cathode`.
    Triode,
    /// Terminals `plate` `grid` `screen` `suppressor` `cathode` (`suppressor` only where it has a pin of its own).
    Pentode,
    /// Terminals `plate1` `plate2` `cathode` (or `plate` `cathode` with one plate).
    Rectifier {
        /// One or two.
        plates: u8,
    },
    /// Terminals `anode` `cathode`: a gas regulator.
    Regulator,
}

/// Published limits of a section. `None` is not published or not known.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SectionLimits {
    /// Largest plate voltage while conducting.
    pub plate_voltage: Option<Volts>,
    /// Largest plate voltage while cold.
    pub cold_plate_voltage: Option<Volts>,
    /// Largest plate dissipation.
    pub plate_dissipation: Option<Watts>,
    /// Largest screen voltage.
    pub screen_voltage: Option<Volts>,
    /// Largest screen dissipation.
    pub screen_dissipation: Option<Watts>,
    /// Largest cathode current.
    pub cathode_current: Option<Amperes>,
    /// Largest heater-to-cathode voltage with the heater positive, peak.
    pub heater_positive: Option<Volts>,
    /// The same, direct part.
    pub heater_positive_direct: Option<Volts>,
    /// Largest heater-to-cathode voltage with the heater negative, peak.
    pub heater_negative: Option<Volts>,
    /// Largest grid circuit resistance with cathode bias.
    pub grid_leak_cathode_bias: Option<Ohms>,
    /// Largest grid circuit resistance with fixed bias.
    pub grid_leak_fixed_bias: Option<Ohms>,
    /// The documents of these limits; where they differ, the stricter figure is carried.
    pub sources: Vec<DeviceSource>,
}

/// A limit published at a plate voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlateSupplyPoint {
    /// Transformer voltage per plate, rms; 0 V where the resistance is published without a voltage.
    pub voltage: Volts,
    /// Least total effective plate-supply resistance, per plate.
    pub resistance: Ohms,
}

/// Published limits of a rectifier.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RectifierLimits {
    /// Peak inverse voltage.
    pub inverse_voltage: Option<Volts>,
    /// Peak current of each plate.
    pub peak_current: Option<Amperes>,
    /// Direct current, total.
    pub direct_current: Option<Amperes>,
    /// Largest first capacitor.
    pub first_capacitor: Option<Farads>,
    /// Least plate-supply resistance, by voltage, ascending.
    pub plate_supply: Vec<PlateSupplyPoint>,
    /// Largest transient current of each plate when switched on hot.
    pub hot_switch_current: Option<Amperes>,
    /// Seconds from cold to conduction, where known.
    pub warm_up: Option<f64>,
    /// The documents of these limits; where they differ, the stricter figure is carried.
    pub sources: Vec<DeviceSource>,
}

/// Published limits of a gas regulator.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RegulatorLimits {
    /// Least voltage of the supply behind the resistor that is sure to strike it.
    pub least_supply: Option<Volts>,
    /// Least current at which it regulates.
    pub least_current: Option<Amperes>,
    /// Largest current in use.
    pub largest_current: Option<Amperes>,
    /// Largest capacitor beside it: a larger one makes it oscillate.
    pub largest_capacitor: Option<Farads>,
    /// The documents of these limits.
    pub sources: Vec<DeviceSource>,
}

/// A section of a tube.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// `a` and `b`, `t` and `p`, or empty for the only section.
    pub suffix: String,
    /// What it is.
    pub kind: SectionKind,
    /// Its model.
    pub model: TubeModel,
    /// Its limits.
    pub limits: SectionLimits,
    /// Its limits as a rectifier.
    pub rectifier: Option<RectifierLimits>,
    /// Its limits as a gas regulator.
    pub regulator: Option<RegulatorLimits>,
    /// Grid to cathode (pentode: input) capacitance.
    pub input_capacitance: Option<Farads>,
    /// Grid to plate capacitance.
    pub grid_plate_capacitance: Option<Farads>,
    /// Plate to cathode (pentode: output) capacitance.
    pub output_capacitance: Option<Farads>,
}

/// How the cathode is heated.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heating {
    /// A separate cathode.
    Indirect,
    /// The filament is the cathode: its terminal is the middle of the filament.
    Direct,
    /// A separate cathode joined to the heater inside the tube.
    JoinedCathode,
    /// No heater at all: a gas tube.
    Cold,
}

/// One way of wiring the heater.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeaterConnection {
    /// Rated voltage.
    pub voltage: Volts,
    /// Published current at that voltage.
    pub current: Amperes,
}

/// What a pin carries: `plate`, `a.plate`, `heater.from`, `heater.to`, `heater.tap`, `none`, `shield`, `internal`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Pin {
    /// `1`…`9`, or `cap`.
    pub number: String,
    /// The terminal, or `none`, `shield`, `internal`.
    pub terminal: String,
}

/// A tube of the catalogue.
#[derive(Clone, Debug, PartialEq)]
pub struct TubeEntry {
    /// Canonical name.
    pub name: String,
    /// Other names of the same tube.
    pub aliases: Vec<String>,
    /// EIA base, for comparing sockets.
    pub base: String,
    /// The pins.
    pub pins: Vec<Pin>,
    /// Kind of heating.
    pub heating: Heating,
    /// Heater connections, the parallel or only one first.
    pub heaters: Vec<HeaterConnection>,
    /// Published time from cold to full emission, s.
    pub warm_up: Option<f64>,
    /// Sections in order.
    pub sections: Vec<Section>,
    /// Largest plate dissipation of all sections together, where published.
    pub total_plate_dissipation: Option<Watts>,
    /// Where the figures come from.
    pub sources: Vec<DeviceSource>,
}

/// A junction diode of the catalogue.
#[derive(Clone, Debug, PartialEq)]
pub struct DiodeEntry {
    /// Canonical name.
    pub name: String,
    /// Other names.
    pub aliases: Vec<String>,
    /// The model.
    pub model: DiodeModel,
    /// Repetitive peak inverse voltage.
    pub inverse_voltage: Option<Volts>,
    /// Mean forward current.
    pub direct_current: Option<Amperes>,
    /// Repetitive peak forward current.
    pub peak_current: Option<Amperes>,
    /// Where the figures come from.
    pub sources: Vec<DeviceSource>,
}

/// An LED of the catalogue, by colour.
#[derive(Clone, Debug, PartialEq)]
pub struct LedEntry {
    /// `red`, `green`, `infra-red`…
    pub colour: String,
    /// Other spellings.
    pub aliases: Vec<String>,
    /// The model.
    pub model: DiodeModel,
    /// Largest direct current.
    pub direct_current: Option<Amperes>,
    /// Where the figures come from.
    pub sources: Vec<DeviceSource>,
}

impl SectionKind {
    /// The electrodes of such a section, in the words of designs. A suppressor is listed by the tubes that bring it out.
    #[must_use]
    pub fn electrodes(self) -> &'static [&'static str] {
        match self {
            Self::Triode => &["plate", "grid", "cathode"],
            Self::Pentode => &["plate", "grid", "screen", "cathode"],
            Self::Rectifier { plates: 1 } => &["plate", "cathode"],
            Self::Rectifier { .. } => &["plate1", "plate2", "cathode"],
            Self::Regulator => &["anode", "cathode"],
        }
    }
}
