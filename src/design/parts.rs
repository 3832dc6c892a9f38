//! The kinds of parts, one struct each, with units and spans.

use crate::catalogue::{DiodeModelChanges, HeaterConnection, Heating, Section, TransistorFamily, TubeModelChanges};
use crate::source::{Span, Spanned};
use crate::units::{Amperes, Farads, Henries, Hertz, Ohms, Ratio, Volts, Watts};

/// What a part is. Terminal names are given with each kind.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// `live` `neutral` `earth`.
    Inlet(Inlet),
    /// `from` `to`.
    Fuse(Fuse),
    /// `from` `to`.
    Switch(Switch),
    /// `primary.start` `primary.finish`, and `NAME.start` `NAME.centre` `NAME.finish` of each winding.
    Transformer(Transformer),
    /// `primary.start|centre|finish`, `tap-PERCENT` (repeated taps: `tap-43`, and `tap-43b` on the other half), `secondary.start|finish` or `secondary-8.start` when there are several.
    OutputTransformer(OutputTransformer),
    /// `plus` `minus`.
    BenchSupply(BenchSupply),
    /// `from` `to`.
    Choke(Choke),
    /// `from` `to`.
    Resistor(Resistor),
    /// `top` `wiper` `bottom`.
    Potentiometer(Potentiometer),
    /// `from` `to`; `plus` `minus` when polarised.
    Capacitor(Capacitor),
    /// `anode` `cathode`: diodes, zeners and LEDs.
    Diode(Diode),
    /// `ac1` `ac2` `plus` `minus`.
    Bridge(Bridge),
    /// Electrodes by section (`plate`, or `a.plate`), and `heater.from` `heater.to` (`heater.tap` where joined).
    Tube(Tube),
    /// `from` `to`; the current flows from → to inside it.
    CurrentSource(CurrentSource),
    /// `drain` `gate` `source`, or `collector` `base` `emitter`.
    Transistor(Transistor),
    /// `hot` `cold`.
    Input(Input),
    /// `hot` `cold`.
    Output(Output),
}

/// The mains inlet.
#[derive(Clone, Debug, PartialEq)]
pub struct Inlet {}

/// A fuse.
#[derive(Clone, Debug, PartialEq)]
pub struct Fuse {
    /// Rated current.
    pub current: Spanned<Amperes>,
    /// `slow` or `fast`.
    pub speed: Option<Spanned<String>>,
    /// Rated voltage.
    pub voltage: Option<Spanned<Volts>>,
}

/// A switch.
#[derive(Clone, Debug, PartialEq)]
pub struct Switch {
    /// Rated voltage.
    pub voltage: Option<Spanned<Volts>>,
    /// Rated current.
    pub current: Option<Spanned<Amperes>>,
    /// Whether it is closed when the design runs (the default).
    pub closed: bool,
}

/// A winding of a mains transformer; the primary too.
#[derive(Clone, Debug, PartialEq)]
pub struct Winding {
    /// `primary`, or the winding's name.
    pub name: Spanned<String>,
    /// Rated rms voltage end to end.
    pub voltage: Spanned<Volts>,
    /// Rated rms voltage of start–centre and centre–finish, for a centre-tapped winding.
    pub halves: Option<(Volts, Volts)>,
    /// Rated rms current (of each half when centre-tapped).
    pub current: Option<Spanned<Amperes>>,
    /// Resistance, end to end.
    pub resistance: Option<Spanned<Ohms>>,
    /// Measured open-circuit voltage, end to end.
    pub no_load: Option<Spanned<Volts>>,
    /// The statement.
    pub span: Span,
}

/// A mains transformer.
#[derive(Clone, Debug, PartialEq)]
pub struct Transformer {
    /// The primary.
    pub primary: Winding,
    /// The secondaries.
    pub windings: Vec<Winding>,
}

/// An output transformer.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputTransformer {
    /// Rated power.
    pub power: Option<Spanned<Watts>>,
    /// Primary impedance, end to end.
    pub primary: Spanned<Ohms>,
    /// Primary resistance, end to end.
    pub primary_resistance: Option<Spanned<Ohms>>,
    /// Primary inductance.
    pub inductance: Option<Spanned<Henries>>,
    /// Largest direct current of the primary.
    pub current: Option<Spanned<Amperes>>,
    /// Leakage inductance, referred to the primary.
    pub leakage: Option<Spanned<Henries>>,
    /// Whether the primary has a centre terminal joined.
    pub centre_tapped: bool,
    /// Taps: share of the winding from the centre (or start) towards an end, with the terminal's name.
    pub taps: Vec<(String, Spanned<Ratio>)>,
    /// Secondaries: terminal prefix, impedance, resistance.
    pub secondaries: Vec<(String, Spanned<Ohms>, Option<Spanned<Ohms>>)>,
}

/// A half of a centre-tapped primary.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Half {
    /// From start to centre.
    Start,
    /// From centre to finish.
    Finish,
}

impl OutputTransformer {
    /// The half in which a tap lies, by its place in [`Self::taps`]; none without a centre. The first tap of a share lies in
    /// the half towards the start, the second towards the finish.
    #[must_use]
    pub fn half_of_tap(&self, index: usize) -> Option<Half> {
        let (_, share) = self.taps.get(index).filter(|_| self.centre_tapped)?;
        let before = self.taps.iter().take(index).filter(|(_, other)| other.value == share.value).count();
        Some(if before % 2 == 0 { Half::Start } else { Half::Finish })
    }
}

/// An ideal direct supply.
#[derive(Clone, Debug, PartialEq)]
pub struct BenchSupply {
    /// Its voltage.
    pub voltage: Spanned<Volts>,
    /// Its internal resistance.
    pub resistance: Option<Spanned<Ohms>>,
    /// Its largest current.
    pub current: Option<Spanned<Amperes>>,
}

/// A choke.
#[derive(Clone, Debug, PartialEq)]
pub struct Choke {
    /// Inductance.
    pub inductance: Spanned<Henries>,
    /// Winding resistance.
    pub resistance: Option<Spanned<Ohms>>,
    /// Rated direct current.
    pub current: Option<Spanned<Amperes>>,
}

/// A resistor.
#[derive(Clone, Debug, PartialEq)]
pub struct Resistor {
    /// Resistance.
    pub resistance: Spanned<Ohms>,
    /// Rated power.
    pub power: Option<Spanned<Watts>>,
    /// Limiting element voltage as stated.
    pub voltage: Option<Spanned<Volts>>,
    /// Tolerance as a share.
    pub tolerance: Option<Spanned<Ratio>>,
    /// `carbon-film`, `metal-film`, `metal-oxide`, `wirewound`, `carbon-composition`.
    pub kind: Option<Spanned<String>>,
}

/// A potentiometer.
#[derive(Clone, Debug, PartialEq)]
pub struct Potentiometer {
    /// Resistance, top to bottom.
    pub resistance: Spanned<Ohms>,
    /// Rated power.
    pub power: Option<Spanned<Watts>>,
    /// `linear` or `log`.
    pub taper: Option<Spanned<String>>,
    /// Tolerance of its resistance as a share.
    pub tolerance: Option<Spanned<Ratio>>,
    /// Share of the resistance between wiper and bottom, 1 with the wiper at the top.
    pub setting: Ratio,
}

/// A capacitor.
#[derive(Clone, Debug, PartialEq)]
pub struct Capacitor {
    /// Capacitance.
    pub capacitance: Spanned<Farads>,
    /// Whether its statement names `plus` and `minus`.
    pub polarised: bool,
    /// Rated direct voltage.
    pub voltage: Option<Spanned<Volts>>,
    /// Tolerance as a share.
    pub tolerance: Option<Spanned<Ratio>>,
    /// `film`, `paper-in-oil`, `electrolytic`, `ceramic`, `mica`, `safety`.
    pub kind: Option<Spanned<String>>,
    /// `X1`, `X2`, `Y1`, `Y2`.
    pub class: Option<Spanned<String>>,
    /// Rated ripple current, rms.
    pub ripple: Option<Spanned<Amperes>>,
    /// Rated surge voltage as stated.
    pub surge: Option<Spanned<Volts>>,
    /// Rated temperature in °C as stated.
    pub temperature: Option<Spanned<f64>>,
}

impl Capacitor {
    /// Whether it suffers from being reversed: written with plus and minus, and not of a kind that has none.
    #[must_use]
    pub fn suffers_reversal(&self) -> bool {
        self.polarised && self.kind.as_ref().is_none_or(|kind| kind.value == "electrolytic")
    }
}

/// Which junction device.
#[derive(Clone, Debug, PartialEq)]
pub enum DiodeKind {
    /// A rectifier or signal diode of a catalogue type.
    Plain(Spanned<String>),
    /// A zener of a voltage.
    Zener(Spanned<Volts>),
    /// An LED of a colour.
    Led(Spanned<String>),
}

/// A diode, zener or LED.
#[derive(Clone, Debug, PartialEq)]
pub struct Diode {
    /// Which.
    pub kind: DiodeKind,
    /// Rated power.
    pub power: Option<Spanned<Watts>>,
    /// Rated current.
    pub current: Option<Spanned<Amperes>>,
    /// `model` keys of the design.
    pub changes: DiodeModelChanges,
}

/// A bridge of four equal diodes.
#[derive(Clone, Debug, PartialEq)]
pub struct Bridge {
    /// Catalogue type of each diode, or of the bridge.
    pub device: Spanned<String>,
    /// `model` keys of the design.
    pub changes: DiodeModelChanges,
}

/// A heater as joined by its tube.
#[derive(Clone, Debug, PartialEq)]
pub struct Heater {
    /// The voltage that the designer wires it for (6.3 V or 12.6 V of a tapped heater).
    pub voltage: Spanned<Volts>,
    /// The statement.
    pub span: Span,
}

/// A tube.
#[derive(Clone, Debug, PartialEq)]
pub struct Tube {
    /// The type as written; it is known to the catalogue.
    pub device: Spanned<String>,
    /// The catalogue's canonical name of the type.
    pub canonical: String,
    /// Its sections as the catalogue has them.
    pub sections: Vec<Section>,
    /// How its cathode is heated, from the catalogue.
    pub heating: Heating,
    /// Its published heater connections, from the catalogue.
    pub heaters: Vec<HeaterConnection>,
    /// Its heater; `None` where the design leaves it out.
    pub heater: Option<Heater>,
    /// Other types that may be plugged in, canonical names with the spans as written.
    pub alternates: Vec<Spanned<String>>,
    /// Suffixes of sections left out on purpose, with the span of the statement.
    pub unused: Vec<Spanned<String>>,
    /// `model` keys of the design.
    pub changes: TubeModelChanges,
}

/// A current source or sink.
#[derive(Clone, Debug, PartialEq)]
pub struct CurrentSource {
    /// The current.
    pub current: Spanned<Amperes>,
    /// Rated voltage.
    pub voltage: Option<Spanned<Volts>>,
    /// Rated power.
    pub power: Option<Spanned<Watts>>,
}

/// A transistor.
#[derive(Clone, Debug, PartialEq)]
pub struct Transistor {
    /// Which kind.
    pub family: TransistorFamily,
    /// The catalogue's canonical name, with the span of the type as written.
    pub device: Spanned<String>,
}

/// An input of the design.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// Impedance of what drives it.
    pub source: Option<Spanned<Ohms>>,
    /// Level, rms.
    pub level: Option<Spanned<Volts>>,
}

/// An output of the design and what it should reach.
#[derive(Clone, Debug, PartialEq)]
pub struct Output {
    /// The load.
    pub load: Option<Spanned<Ohms>>,
    /// Capacitance of the cable.
    pub cable: Option<Spanned<Farads>>,
    /// Level, rms.
    pub level: Option<Spanned<Volts>>,
    /// Gain, as a ratio.
    pub gain: Option<Spanned<Ratio>>,
    /// Largest hum, rms.
    pub hum: Option<Spanned<Volts>>,
    /// Largest noise, rms.
    pub noise: Option<Spanned<Volts>>,
    /// Power into the load.
    pub power: Option<Spanned<Watts>>,
    /// Largest distortion at the level, as a share.
    pub distortion: Option<Spanned<Ratio>>,
    /// Largest source impedance.
    pub source_impedance: Option<Spanned<Ohms>>,
    /// The input it is heard from, where stated.
    pub of: Option<Spanned<String>>,
    /// Corner asked for at the low end, where it differs from the band.
    pub low_corner: Option<Spanned<Hertz>>,
    /// The replay curve that its response should follow: `riaa`.
    pub equalisation: Option<Spanned<String>>,
}
