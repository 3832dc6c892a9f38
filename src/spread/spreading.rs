//! What varies from build to build, and by how much: what a part states wins, and what it does not state is assumed.
//!
//! The mains is not here: its tolerance makes states of its own. What no figure is known for (transistors, silicon
//! diodes, heaters, the ratio of a transformer) stays as it is catalogued or stated.

use std::collections::BTreeSet;

use crate::catalogue::TubeModel;
use crate::design::{Capacitor, Design, DiodeKind, Kind, Part, PartId, Resistor, Transformer, Tube};
use crate::units::Quantity;

/// Resistors (common practice); a carbon composition part is worse.
const RESISTOR: f64 = 0.05;
const CARBON_COMPOSITION: f64 = 0.1;
/// Potentiometer tracks (common practice).
const POTENTIOMETER: f64 = 0.2;
/// Aluminium electrolytics: letter M of IEC 60062, as makers print it today; old stock was −20 % to +50 %.
const ELECTROLYTIC: f64 = 0.2;
/// Film and paper capacitors: letter K of IEC 60062 (common practice).
const FILM: f64 = 0.1;
/// Mica capacitors (common practice).
const MICA: f64 = 0.05;
/// Ceramic, safety and unnamed capacitors: letter M of IEC 60062 (common practice).
const OTHER_CAPACITOR: f64 = 0.2;
/// Inductance of an iron-cored choke, and of a primary (common practice).
const INDUCTANCE: f64 = 0.2;
/// Resistance of a winding (common practice).
const WINDING: f64 = 0.1;
/// Plate current of new tubes of one type at one bias, apart from their amplification factor (common practice).
const TUBE_CURRENT: f64 = 0.2;
/// Amplification factor of new tubes of one type (common practice).
const AMPLIFICATION: f64 = 0.1;
/// Perveance of a rectifier (common practice).
const PERVEANCE: f64 = 0.2;
/// Voltage that a gas regulator holds (sheets of the 0A2 and 0B2, from memory: about 7 % either way).
const REGULATOR: f64 = 0.07;
/// A zener without a letter C in its name for 5 % is worse; 5 % is what is sold (common practice).
const ZENER: f64 = 0.05;
/// Forward voltage of an LED (common practice).
const LED: f64 = 0.1;
/// A built current source (common practice).
const CURRENT_SOURCE: f64 = 0.1;

/// What of a part varies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Varied {
    /// Of a resistor, a potentiometer's track, a choke's or an output transformer's primary winding.
    Resistance,
    /// Of a capacitor.
    Capacitance,
    /// Of a choke or of an output transformer's primary.
    Inductance,
    /// Of a mains transformer's primary.
    PrimaryResistance,
    /// Of a secondary, by its place.
    WindingResistance(usize),
    /// Plate (and screen) current of a section, by its place.
    Current(usize),
    /// Amplification factor of a section.
    Amplification(usize),
    /// Perveance of a rectifier section.
    Perveance(usize),
    /// Voltage of a gas regulator, a zener or an LED.
    Voltage(usize),
    /// Of a current source.
    SourceCurrent,
}

impl Varied {
    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Resistance | Self::PrimaryResistance | Self::WindingResistance(_) => "resistance",
            Self::Capacitance => "capacitance",
            Self::Inductance => "inductance",
            Self::Current(_) | Self::SourceCurrent => "current",
            Self::Amplification(_) => "amplification",
            Self::Perveance(_) => "perveance",
            Self::Voltage(_) => "voltage",
        }
    }
}

/// One quantity that varies by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Variation {
    /// The part.
    pub part: PartId,
    /// What of it.
    pub what: Varied,
    /// Lowest departure as a share, below zero.
    pub low: f64,
    /// Highest departure as a share, above zero.
    pub high: f64,
}

/// Everything that varies in a design, in order of its parts, and which tolerances are assumed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Spreading {
    /// The quantities.
    pub variations: Vec<Variation>,
    /// In words, each once.
    pub assumptions: Vec<String>,
}

/// What varies in a design.
#[must_use]
pub fn spreading(design: &Design) -> Spreading {
    let mut list = List::default();
    for (id, part) in design.ids() {
        list.part(id, part);
    }
    Spreading { variations: list.variations, assumptions: list.assumed.into_iter().collect() }
}

#[derive(Default)]
struct List {
    variations: Vec<Variation>,
    assumed: BTreeSet<String>,
}

impl List {
    fn even(&mut self, part: PartId, what: Varied, share: f64) {
        // Nothing varies by all of itself: a resistance of zero is another circuit.
        let share = share.min(0.99);
        if share > 0.0 {
            self.variations.push(Variation { part, what, low: -share, high: share });
        }
    }

    fn assume(&mut self, what: &str, share: f64) -> f64 {
        self.assumed.insert(format!("{what} ±{} %", (share * 100.0).round()));
        share
    }

    fn part(&mut self, id: PartId, part: &Part) {
        match &part.kind {
            Kind::Resistor(resistor) => {
                let share = self.resistor(resistor);
                self.even(id, Varied::Resistance, share);
            }
            Kind::Potentiometer(pot) => {
                let stated = pot.tolerance.as_ref().map(|tolerance| tolerance.value.base());
                let share = stated.unwrap_or_else(|| self.assume("potentiometers", POTENTIOMETER));
                self.even(id, Varied::Resistance, share);
            }
            Kind::Capacitor(capacitor) => {
                let share = self.capacitor(capacitor);
                self.even(id, Varied::Capacitance, share);
            }
            Kind::Choke(choke) => {
                let share = self.assume("inductance of chokes and primaries", INDUCTANCE);
                self.even(id, Varied::Inductance, share);
                if choke.resistance.is_some() {
                    let share = self.assume("resistance of windings", WINDING);
                    self.even(id, Varied::Resistance, share);
                }
            }
            Kind::OutputTransformer(transformer) => {
                if transformer.inductance.is_some() {
                    let share = self.assume("inductance of chokes and primaries", INDUCTANCE);
                    self.even(id, Varied::Inductance, share);
                }
                if transformer.primary_resistance.is_some() {
                    let share = self.assume("resistance of windings", WINDING);
                    self.even(id, Varied::Resistance, share);
                }
            }
            Kind::Transformer(transformer) => self.transformer(id, transformer),
            Kind::Tube(tube) => self.tube(id, tube),
            Kind::Diode(diode) => match diode.kind {
                DiodeKind::Zener(_) => {
                    let share = self.assume("zener voltages", ZENER);
                    self.even(id, Varied::Voltage(0), share);
                }
                DiodeKind::Led(_) => {
                    let share = self.assume("forward voltage of LEDs", LED);
                    self.even(id, Varied::Voltage(0), share);
                }
                DiodeKind::Plain(_) => {}
            },
            Kind::CurrentSource(_) => {
                let share = self.assume("current sources", CURRENT_SOURCE);
                self.even(id, Varied::SourceCurrent, share);
            }
            Kind::Inlet(_)
            | Kind::Fuse(_)
            | Kind::Switch(_)
            | Kind::BenchSupply(_)
            | Kind::Bridge(_)
            | Kind::Transistor(_)
            | Kind::Input(_)
            | Kind::Output(_) => {}
        }
    }

    fn resistor(&mut self, resistor: &Resistor) -> f64 {
        match (&resistor.tolerance, &resistor.kind) {
            (Some(stated), _) => stated.value.base(),
            (None, Some(kind)) if kind.value == "carbon-composition" => {
                self.assume("carbon composition resistors", CARBON_COMPOSITION)
            }
            (None, _) => self.assume("resistors", RESISTOR),
        }
    }

    fn capacitor(&mut self, capacitor: &Capacitor) -> f64 {
        if let Some(stated) = &capacitor.tolerance {
            return stated.value.base();
        }
        match capacitor.kind.as_ref().map(|kind| kind.value.as_str()) {
            Some("electrolytic") => self.assume("electrolytic capacitors", ELECTROLYTIC),
            Some("film" | "paper-in-oil") => self.assume("film and paper capacitors", FILM),
            Some("mica") => self.assume("mica capacitors", MICA),
            _ if capacitor.polarised => self.assume("electrolytic capacitors", ELECTROLYTIC),
            _ => self.assume("other capacitors", OTHER_CAPACITOR),
        }
    }

    fn transformer(&mut self, id: PartId, transformer: &Transformer) {
        let stated = |resistance: bool, what, list: &mut Self| {
            if resistance {
                let share = list.assume("resistance of windings", WINDING);
                list.even(id, what, share);
            } else {
                list.assumed.insert("windings without a resistance keep the estimate of it".to_owned());
            }
        };
        stated(transformer.primary.resistance.is_some(), Varied::PrimaryResistance, self);
        for (place, winding) in transformer.windings.iter().enumerate() {
            stated(winding.resistance.is_some(), Varied::WindingResistance(place), self);
        }
    }

    fn tube(&mut self, id: PartId, tube: &Tube) {
        for (place, section) in tube.sections.iter().enumerate() {
            if tube.unused.iter().any(|unused| unused.value == section.suffix) {
                continue;
            }
            match section.model {
                TubeModel::Triode(_) | TubeModel::Pentode(_) => {
                    let share = self.assume("current of tubes", TUBE_CURRENT);
                    self.even(id, Varied::Current(place), share);
                    let share = self.assume("amplification factor of tubes", AMPLIFICATION);
                    self.even(id, Varied::Amplification(place), share);
                }
                TubeModel::VacuumDiode(_) => {
                    let share = self.assume("perveance of rectifiers", PERVEANCE);
                    self.even(id, Varied::Perveance(place), share);
                }
                TubeModel::Regulator(_) => {
                    let share = self.assume("voltage of gas regulators", REGULATOR);
                    self.even(id, Varied::Voltage(place), share);
                }
            }
        }
    }
}
