//! The catalogue of facts: name, dimension, subjects, meaning, analysis. Rules are checked against this list.

use std::collections::HashMap;
use std::sync::LazyLock;

use crate::units::Dimension;

/// What a rule or a fact may be about. The word used in rule files is [`SubjectKind::word`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum SubjectKind {
    /// A capacitor.
    Capacitor,
    /// A resistor.
    Resistor,
    /// A potentiometer.
    Potentiometer,
    /// A section of a signal tube.
    Tube,
    /// A tube's heater.
    Heater,
    /// A winding of a mains transformer.
    Winding,
    /// A bench supply.
    BenchSupply,
    /// A choke.
    Choke,
    /// A tube, diode or bridge that rectifies.
    Rectifier,
    /// A gas regulator.
    Regulator,
    /// A diode, LED or zener that does not rectify.
    Diode,
    /// A current source.
    CurrentSource,
    /// A transistor.
    Transistor,
    /// A fuse.
    Fuse,
    /// A switch.
    Switch,
    /// A net.
    Net,
    /// A terminal of a part.
    Terminal,
    /// A wire statement.
    Wire,
    /// A stated reading.
    Reading,
    /// An input.
    Input,
    /// An output.
    Output,
    /// The whole design; its facts may be used by every rule.
    Design,
}

impl SubjectKind {
    /// All kinds.
    pub const ALL: [Self; 22] = [
        Self::Capacitor,
        Self::Resistor,
        Self::Potentiometer,
        Self::Tube,
        Self::Heater,
        Self::Winding,
        Self::BenchSupply,
        Self::Choke,
        Self::Rectifier,
        Self::Regulator,
        Self::Diode,
        Self::CurrentSource,
        Self::Transistor,
        Self::Fuse,
        Self::Switch,
        Self::Net,
        Self::Terminal,
        Self::Wire,
        Self::Reading,
        Self::Input,
        Self::Output,
        Self::Design,
    ];

    /// The word that rule files use.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Capacitor => "capacitor",
            Self::Resistor => "resistor",
            Self::Potentiometer => "potentiometer",
            Self::Tube => "tube",
            Self::Heater => "heater",
            Self::Winding => "winding",
            Self::BenchSupply => "bench-supply",
            Self::Choke => "choke",
            Self::Rectifier => "rectifier",
            Self::Regulator => "regulator",
            Self::Diode => "diode",
            Self::CurrentSource => "current-source",
            Self::Transistor => "transistor",
            Self::Fuse => "fuse",
            Self::Switch => "switch",
            Self::Net => "net",
            Self::Terminal => "terminal",
            Self::Wire => "wire",
            Self::Reading => "reading",
            Self::Input => "input",
            Self::Output => "output",
            Self::Design => "design",
        }
    }
}

/// What kind of value a fact has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ValueKind {
    /// A quantity of a dimension.
    Quantity(Dimension),
    /// Yes or no.
    Flag,
    /// One of a few words.
    Word,
}

/// Which way a fact is worst.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Worst {
    /// The larger the worse (for a flag: true).
    Highest,
    /// The smaller the worse (for a flag: false).
    Lowest,
    /// The larger in magnitude the worse.
    Magnitude,
}

/// One fact of the catalogue.
#[derive(Debug, PartialEq, Eq)]
pub struct FactDefinition {
    /// Kebab-case name.
    pub name: &'static str,
    /// Kind of value and dimension.
    pub value: ValueKind,
    /// What it may be about.
    pub subjects: &'static [SubjectKind],
    /// Which way is worst.
    pub worst: Worst,
    /// One line.
    pub meaning: &'static str,
    /// The analysis that gives it.
    pub analysis: &'static str,
}

/// The definition of a name.
#[must_use]
pub fn find_definition(name: &str) -> Option<&'static FactDefinition> {
    static BY_NAME: LazyLock<HashMap<&str, &FactDefinition>> =
        LazyLock::new(|| FACTS.iter().map(|definition| (definition.name, definition)).collect());
    BY_NAME.get(name).copied()
}

macro_rules! facts {
    ($($name:literal $value:ident [$($subject:ident),*] $worst:ident $meaning:literal $analysis:literal;)*) => {
        /// Every fact there is.
        pub static FACTS: &[FactDefinition] = &[$(FactDefinition {
            name: $name,
            value: value_kind!($value),
            subjects: &[$(SubjectKind::$subject),*],
            worst: Worst::$worst,
            meaning: $meaning,
            analysis: $analysis,
        }),*];
    };
}
macro_rules! value_kind {
    (flag) => {
        ValueKind::Flag
    };
    (word) => {
        ValueKind::Word
    };
    ($dimension:ident) => {
        ValueKind::Quantity(Dimension::$dimension)
    };
}

facts! {
    // As stated by the design
    "rated-voltage" VOLTAGE [Capacitor, Resistor, Fuse, Switch, Heater, Winding, CurrentSource] Lowest "rated voltage: as stated, for a resistor without one the limiting element voltage of its kind and power" "stated or catalogue";
    "rated-power" POWER [Resistor, Potentiometer, Diode, CurrentSource] Lowest "rated power as stated" "stated";
    "rated-current" CURRENT [Winding, Choke, Fuse, Switch, Diode, Heater] Lowest "rated current as stated, of a heater as published" "stated or catalogue";
    "rated-ripple" CURRENT [Capacitor] Lowest "rated ripple current, rms, as stated" "stated";
    "rated-surge" VOLTAGE [Capacitor] Lowest "surge voltage: as stated, or 1.15 × the rating to 315 V and 1.10 × above (IEC 60384-4)" "stated or standard";
    "capacitance" CAPACITANCE [Capacitor] Highest "capacitance as stated" "stated";
    "resistance" RESISTANCE [Resistor, Potentiometer, Winding, Choke] Highest "resistance as stated or estimated" "stated or estimated";
    "inductance" INDUCTANCE [Choke] Lowest "inductance as stated" "stated";
    "tolerance" NONE [Resistor] Highest "tolerance as a share, 0.05 where not stated" "stated";
    "value-in-series" RESISTANCE [Resistor] Highest "nearest preferred number of IEC 60063 at the resistor's tolerance" "standard";
    "kind" word [Capacitor, Resistor, Rectifier, Diode] Highest "kind of the part: film, electrolytic…; of a rectifier tube or silicon" "stated";
    "class" word [Capacitor] Highest "class of a mains capacitor: X1, X2, Y1, Y2" "stated";
    "polarised" flag [Capacitor] Highest "whether the part has a plus and a minus" "stated";
    "role" word [Capacitor, Resistor, Potentiometer] Highest "what it does here: reservoir, coupling, output-coupling, cathode-bypass, screen-bypass, decoupling, across-mains, line-to-earth, other; of a resistor grid-leak, grid-stopper, plate-load, cathode, bleeder, heater-reference, dropper, other" "connectivity";

    // Capacitors
    "peak-voltage" VOLTAGE [Capacitor] Highest "largest steady voltage across it with the crest of the ripple, over all states" "operating point and supply";
    "working-voltage" VOLTAGE [Capacitor] Magnitude "mean voltage across it, plus to minus" "operating point and supply";
    "no-load-peak" VOLTAGE [Capacitor] Highest "crest of its rectifier's open-circuit voltage, for information" "supply";
    "reverse-voltage" VOLTAGE [Capacitor, Diode] Highest "largest voltage against its polarity" "operating point and supply";
    "surge-voltage" VOLTAGE [Capacitor] Highest "largest voltage across it on the way from switch-on to the steady state" "switch-on transient";
    "ripple-current" CURRENT [Capacitor] Highest "rms alternating current through it" "supply";
    "stored-energy" ENERGY [Capacitor] Highest "½·C·V² at the peak voltage" "operating point and supply";
    "discharge-time" TIME [Capacitor] Highest "time from mains off until it stays at or below 50 V, tubes cold; never, where nothing discharges it" "discharge";
    "discharge-time-hot" TIME [Capacitor] Highest "the same with the tubes still hot, for information: what you meet when you only switch off" "discharge";
    "discharge-resistor" word [Capacitor] Highest "the resistor whose loss lengthens its discharge most, or none" "discharge";
    "discharge-time-if-open" TIME [Capacitor] Highest "time to 50 V with that resistor burnt open; never, where nothing else discharges it" "discharge";
    "leakage-current" CURRENT [Capacitor] Highest "2πfCV at high mains, of a capacitor from the mains to earth" "stated";
    "mains-discharge-time" TIME [Capacitor] Highest "time from pulling the plug until it stays at or below 60 V, every switch open; never, where nothing stays across it" "discharge";
    "in-series" flag [Capacitor] Highest "whether it shares a voltage with another polarised capacitor in series, with nothing but resistors at the joint" "connectivity";
    "sharing-resistance" RESISTANCE [Capacitor] Highest "resistance straight across a capacitor that stands in series" "connectivity";
    "grid-rise" VOLTAGE [Capacitor] Highest "what its leakage, taken by its kind, lifts the grid behind it by: leakage current times the resistance from there to the return" "operating point and estimate";
    "surge-time" TIME [Capacitor] Highest "when the surge voltage is met after switch-on; nought where the steady value is the largest" "switch-on transient";
    "discharge-path" word [Capacitor] Highest "the parts through which it discharges, or none" "connectivity";
    "corner-frequency" FREQUENCY [Capacitor] Highest "1/(2πRC) with the resistance that it really sees" "small signal";
    "corner-resistance" RESISTANCE [Capacitor] Lowest "the resistance that it really sees between its terminals, at its own corner" "small signal";

    // Resistors and potentiometers
    "dissipation" POWER [Resistor, Potentiometer, Diode, CurrentSource, Choke] Highest "power turned into heat, ripple current included" "operating point and supply";
    "voltage-across" VOLTAGE [Resistor, Diode, CurrentSource] Magnitude "voltage across it, ripple crest included" "operating point and supply";
    "forward-current" CURRENT [Diode] Highest "mean current from anode to cathode" "operating point and supply";
    "bleeds" flag [Resistor] Highest "whether it is the permanent path that discharges a capacitor charged above 50 V" "connectivity";
    "carries-signal" flag [Potentiometer, Input, Output] Highest "whether signal passes through it: always for an input or output; for a potentiometer that sets a level or tone, not for one that sets a bias or balances hum" "connectivity";
    "fed-at-wiper" flag [Potentiometer] Highest "whether signal comes in at the wiper of a control that has ground at one end: input at the wiper, output at the top, or a grid at the top and what comes through a capacitor at the wiper" "connectivity";
    "direct-voltage" VOLTAGE [Potentiometer, Input, Output] Magnitude "direct voltage across the track of a potentiometer, or between hot and cold of an input or output" "operating point";

    // Tube sections
    "plate-voltage" VOLTAGE [Tube] Highest "plate to cathode while the tube conducts" "operating point";
    "cold-plate-voltage" VOLTAGE [Tube] Highest "plate to cathode while the tube is cold" "operating point";
    "screen-voltage" VOLTAGE [Tube] Highest "screen to cathode while the tube conducts" "operating point";
    "bias" VOLTAGE [Tube] Highest "grid minus cathode at rest" "operating point";
    "plate-current" CURRENT [Tube] Highest "plate current at rest" "operating point";
    "screen-current" CURRENT [Tube] Highest "screen current at rest" "operating point";
    "cathode-current" CURRENT [Tube] Highest "cathode current at rest" "operating point";
    "plate-dissipation" POWER [Tube] Highest "plate voltage times plate current" "operating point";
    "screen-dissipation" POWER [Tube] Highest "screen voltage times screen current" "operating point";
    "transconductance" CONDUCTANCE [Tube] Lowest "change of plate current with grid voltage at rest" "operating point";
    "amplification" NONE [Tube] Lowest "transconductance times plate resistance at rest" "operating point";
    "plate-resistance" RESISTANCE [Tube] Highest "change of plate voltage with plate current at rest" "operating point";
    "supply-ripple" VOLTAGE [Tube] Highest "ripple, peak to peak, of the rail that feeds its plate load" "supply";
    "plate-rest" NONE [Tube] Highest "plate voltage to ground over the voltage that feeds its load resistor" "operating point";
    "resistance-loaded" flag [Tube] Highest "whether the plate is fed through a resistor" "connectivity";
    "plate-is-output" flag [Tube] Lowest "whether the plate gives a signal of its stage: not that of a follower, whose cathode carries more of what its grid gets while its plate drives nothing else, nor one that feeds another section's cathode; recorded where a resistor feeds it" "connectivity and small signal";
    "heater-cathode-voltage" VOLTAGE [Tube] Magnitude "mean potential of the heater minus that of the cathode" "operating point";
    "heater-cathode-crest" VOLTAGE [Tube] Highest "largest voltage between heater and cathode, the crest of half the heater voltage included" "operating point";
    "grid-leak" RESISTANCE [Tube] Highest "direct-current resistance from the grid pin to its return, stopper included" "connectivity";
    "held-without-wiper" flag [Tube] Lowest "whether the grid keeps a direct-current path to its return when the wiper of any one control lifts: to its negative rail, where one biases it" "connectivity";
    "grid-leak-without-wiper" RESISTANCE [Tube] Highest "the direct-current resistance that the grid then sees" "connectivity";
    "grid-drive" VOLTAGE [Tube] Highest "crest of the signal between grid and cathode at the stated level of the input, in the first stage that it meets" "small signal";
    "load-ratio" NONE [Tube] Lowest "alternating-current load on a resistance-loaded plate over the plate resistance, at 1 kHz" "small signal";
    "feed-decoupled" flag [Tube] Lowest "whether a capacitor, regulator or supply holds the net that feeds its plate resistor; recorded where another section shares that net or it is a rail" "connectivity";
    "grid-return" flag [Tube] Lowest "whether the grid has a direct-current path to its return" "connectivity";
    "grid-stopper" RESISTANCE [Tube] Lowest "resistance of the one resistor at the grid pin, zero where there is none" "connectivity";
    "grid-stopper-corner" FREQUENCY [Tube] Lowest "corner of the stopper with the input capacitance, Miller effect included" "small signal";
    "bias-kind" word [Tube] Highest "cathode, fixed or none: how the section gets its bias" "connectivity";
    "bypassed" flag [Tube] Highest "whether the cathode stands still for signals: at ground, held by a capacitor, or by the diodes, LEDs or zener that set its bias" "connectivity";
    "left-unused" flag [Tube] Highest "whether the section is said to be left out" "stated";
    "electrodes-joined" NONE [Tube] Lowest "how many of its electrodes are joined to anything" "connectivity";
    "plate-voltage-limit" VOLTAGE [Tube] Lowest "published" "catalogue";
    "cold-plate-voltage-limit" VOLTAGE [Tube] Lowest "published" "catalogue";
    "plate-dissipation-limit" POWER [Tube] Lowest "published" "catalogue";
    "screen-voltage-limit" VOLTAGE [Tube] Lowest "published" "catalogue";
    "screen-dissipation-limit" POWER [Tube] Lowest "published" "catalogue";
    "cathode-current-limit" CURRENT [Tube] Lowest "published" "catalogue";
    "grid-leak-limit" RESISTANCE [Tube] Lowest "published for the section's kind of bias" "catalogue";
    "heater-cathode-limit" VOLTAGE [Tube] Lowest "published for the polarity that stands there, peak" "catalogue";
    "heater-cathode-direct-limit" VOLTAGE [Tube] Lowest "published for the direct part where the heater is positive" "catalogue";

    // Heaters and windings
    "heater-current" CURRENT [Heater] Highest "published current at its connection" "catalogue";
    "heater-referenced" flag [Heater] Lowest "whether a direct-current path fixes the heater's potential" "connectivity";
    "reference-resistance" RESISTANCE [Heater] Highest "resistance of that path to ground" "connectivity";
    "reference-decoupled" flag [Heater] Lowest "whether a capacitor joins the heater supply to ground or a rail" "connectivity";
    "shares-rectifier-cathode" flag [Winding] Highest "whether it heats a rectifier whose cathode is its filament or joined to it, and a tube that does not rectify" "connectivity";
    "feeds-heaters" flag [Winding] Highest "whether it heats tubes" "connectivity";
    "references-disagree" flag [Winding] Highest "whether two places of the winding are held, each through less than 10 Ω, at potentials that its own voltage between them contradicts: a grounded centre and a grounded leg" "connectivity";
    "dc-reference" flag [Winding] Lowest "whether a direct-current path fixes its potential" "connectivity";
    "reference-count" NONE [Winding] Highest "how many places of the winding are tied to a fixed potential by less than 1 kΩ" "connectivity";
    "rms-current" CURRENT [Winding] Highest "rms current, of each half when centre-tapped" "supply and heaters";
    "apparent-power" POWER [Winding] Highest "rms current times rated voltage, of a centre-tapped winding that of both halves" "supply and heaters";
    "open-circuit-voltage" VOLTAGE [Winding] Highest "rms voltage with nothing connected, end to end" "stated or estimated";
    "winding-load" NONE [Winding, Heater] Highest "rms current over rated current of the winding, or of the winding that feeds the heater" "supply and heaters";

    // Rectifiers and chokes
    "peak-inverse-voltage" VOLTAGE [Rectifier] Highest "peak inverse voltage of each plate or diode" "supply";
    "peak-current" CURRENT [Rectifier] Highest "peak current of each plate or diode" "supply";
    "direct-current" CURRENT [Rectifier, Choke] Highest "mean current: of a rectifier in total" "supply";
    "first-capacitor" CAPACITANCE [Rectifier] Highest "capacitance that the rectifier charges directly" "connectivity";
    "plate-supply-resistance" RESISTANCE [Rectifier] Lowest "winding half, reflected primary and added resistance of each plate" "stated or estimated";
    "peak-inverse-voltage-limit" VOLTAGE [Rectifier] Lowest "published" "catalogue";
    "peak-current-limit" CURRENT [Rectifier] Lowest "published" "catalogue";
    "direct-current-limit" CURRENT [Rectifier] Lowest "published" "catalogue";
    "first-capacitor-limit" CAPACITANCE [Rectifier] Lowest "published" "catalogue";
    "plate-supply-resistance-limit" RESISTANCE [Rectifier] Highest "published at the plate's transformer voltage" "catalogue";
    "hot-switch-current" CURRENT [Rectifier] Highest "crest of the first gulps into empty capacitors of each plate or diode, switched on hot at the worst instant" "switch-on transient";
    "hot-switch-current-limit" CURRENT [Rectifier] Lowest "published" "catalogue";
    "alternating-voltage" VOLTAGE [Choke] Highest "rms alternating voltage across it" "supply";
    "regulator-current" CURRENT [Regulator] Highest "largest current through a struck regulator, ripple included" "supply";
    "regulator-current-limit" CURRENT [Regulator] Lowest "published" "catalogue";
    "least-regulator-current" CURRENT [Regulator] Lowest "least current through it, ripple included" "supply";
    "least-regulator-current-limit" CURRENT [Regulator] Highest "published" "catalogue";
    "held-voltage" VOLTAGE [Regulator] Highest "mean voltage across it" "supply";
    "open-voltage" VOLTAGE [Regulator] Lowest "what would stand across it if it did not strike" "operating point and supply";
    "struck" flag [Regulator] Lowest "whether it strikes at nominal mains: the open voltage reaches what its sheet asks for" "supply";
    "least-supply-limit" VOLTAGE [Regulator] Highest "published" "catalogue";
    "capacitance-beside" CAPACITANCE [Regulator] Highest "capacitance straight across it" "connectivity";
    "capacitance-beside-limit" CAPACITANCE [Regulator] Lowest "published" "catalogue";
    "critical-inductance" INDUCTANCE [Choke] Highest "inductance that keeps an input choke's current from stopping, R/(6πf)" "supply";
    "choke-input" flag [Choke] Highest "whether it stands between the rectifier and the first capacitor" "connectivity";

    // Mains
    "in-live" flag [Fuse, Switch] Lowest "whether it stands in the live conductor" "connectivity";
    "in-neutral" flag [Fuse, Switch] Highest "whether it stands in the neutral conductor" "connectivity";
    "on-mains-side" flag [Fuse, Switch] Highest "whether it stands between the inlet and the transformer" "connectivity";
    "speed" word [Fuse] Highest "slow or fast, as stated" "stated";
    "breaking-voltage" VOLTAGE [Fuse, Switch] Highest "largest voltage to ground at either end, of a contact behind the transformer" "operating point and supply";
    "is-first" flag [Fuse] Lowest "whether nothing but wire stands between it and the inlet" "connectivity";
    "fuse-ratio" NONE [Fuse, Design] Lowest "fuse rating over the mains current in running" "supply and heaters";
    "mains-powered" flag [Design] Highest "whether the design has an inlet or a mains transformer" "connectivity";
    "has-inlet" flag [Design] Lowest "whether the design has an inlet" "connectivity";
    "mains-fused" flag [Design] Lowest "whether every path from the inlet's live pin to a primary passes a fuse" "connectivity";
    "mains-switched-live" flag [Design] Lowest "whether every path from the inlet's live pin to a primary passes a switch" "connectivity";
    "mains-apart" flag [Design] Lowest "whether nothing but capacitors leads from the mains to ground, chassis and earth, or to what stands behind the transformer" "connectivity";
    "mains-bridge" word [Design] Highest "the part that joins the mains to what must be kept apart from it" "connectivity";
    "chassis-earthed" flag [Design] Lowest "whether the chassis is joined to protective earth by wire" "connectivity";
    "ground-tied" flag [Design] Lowest "whether 0 V has a direct-current path to the chassis" "connectivity";
    "ground-joined" flag [Design] Lowest "whether every rectifier's output and every bench supply has a direct-current path to the net ground" "connectivity";
    "mains-current" CURRENT [Design] Highest "rms current drawn from the mains" "supply and heaters";
    "inrush" CURRENT [Design] Highest "crest of the primary current at the worst instant of switching, capacitors empty; heaters at their hot resistance, the core not saturated" "switch-on transient";
    "mains-voltage" VOLTAGE [Design] Highest "nominal mains voltage" "stated";
    "low-limit" FREQUENCY [Design] Highest "low end of the band that the design promises" "stated";
    "high-limit" FREQUENCY [Design] Lowest "high end of the band that the design promises" "stated";
    "highest-voltage" VOLTAGE [Design] Highest "largest voltage to ground of any net" "operating point and supply";

    // Wiring
    "voltage" VOLTAGE [Net, Terminal, Heater] Magnitude "mean voltage to ground; of a heater the rms (or direct) voltage across it under the load of all heaters" "operating point, supply and heaters";
    "ripple" VOLTAGE [Net] Highest "ripple, peak to peak" "supply";
    "connections" NONE [Net] Lowest "how many terminals meet here" "connectivity";
    "dangling" flag [Net, Terminal] Highest "whether it leads nowhere: a reference used once, or an electrode that nothing is joined to" "connectivity";
    "dc-path-to-ground" flag [Net] Lowest "whether something that conducts direct current fixes its potential" "connectivity";
    "on-mains" flag [Net] Highest "whether it belongs to the mains side, whose potential the building fixes" "connectivity";
    "floats" flag [Net] Highest "whether it is the first of a group of nets that nothing fixes, and no grid or heater winding, which have rules of their own" "connectivity";
    "short-circuited" flag [Winding, BenchSupply, Rectifier] Highest "whether nothing but wire, contacts, links of 0.1 Ω and less and, of a winding, its own rectifiers lies between its ends; of a rectifier between a plate and its cathode" "connectivity";
    "short-circuited-by" word [Winding, BenchSupply, Rectifier] Highest "the parts on that way, or wire" "connectivity";
    "feeds-a-short" flag [Design] Highest "whether any winding, rectifier or bench supply of it is short-circuited" "connectivity";
    "mains-short-circuited" flag [Design] Highest "whether nothing but wire, fuses and switches lies between live and neutral, or between live and earth, chassis or ground" "connectivity";
    "shorted" flag [Capacitor, Resistor, Choke, Diode, Tube, Rectifier, Regulator, Heater, Winding, CurrentSource, Fuse, Switch, Input, Output] Highest "whether wire joins its ends" "connectivity";
    "repeats" flag [Wire] Highest "whether it joins what other wire has already joined" "connectivity";
    "stated-voltage" VOLTAGE [Reading] Highest "what was printed or measured" "stated";
    "computed-voltage" VOLTAGE [Reading] Highest "what the analysis gives in running" "operating point and supply";
    "allowed-difference" NONE [Reading] Highest "tolerance of the reading, 0.2 where not stated (common practice)" "stated";

    // Signal
    "gain" NONE [Output] Lowest "output voltage over the open-circuit voltage of the source at 1 kHz, from the input that reaches it most strongly or the one that it names" "small signal";
    "low-corner" FREQUENCY [Output] Highest "where the response is 3 dB below that at 1 kHz at the low end; 0 Hz where it never falls" "small signal";
    "high-corner" FREQUENCY [Output] Lowest "where the response is 3 dB below that at 1 kHz at the high end, with source, cable, load, the capacitances inside tubes, and volume controls as set or half-way, whichever is worse" "small signal";
    "source-impedance" RESISTANCE [Output] Highest "magnitude of the impedance that the load sees at 1 kHz, volume controls as set or half-way, whichever is worse" "small signal";
    "loading-ratio" NONE [Output] Lowest "load over source impedance" "small signal";
    "source-resistance" RESISTANCE [Input] Highest "impedance of what drives it" "stated";
    "input-impedance" RESISTANCE [Input] Lowest "magnitude of the impedance that the source sees at 1 kHz" "small signal";
    "driven-level" VOLTAGE [Output] Lowest "level of its input times the gain, rms" "small signal";
    "heard-input" word [Output] Highest "the input that its gain is counted from" "small signal";
    "wanted-gain" NONE [Output] Highest "gain that the output should have" "stated";
    "wanted-power" POWER [Output] Highest "power that the output should bring into its load" "stated";
    "wanted-distortion" NONE [Output] Lowest "largest distortion that the design allows itself" "stated";
    "wanted-level" VOLTAGE [Output] Highest "level that the output should reach, rms" "stated";
    "wanted-hum" VOLTAGE [Output] Lowest "largest hum that the design allows itself, rms" "stated";
    "wanted-noise" VOLTAGE [Output] Lowest "largest noise that the design allows itself, rms" "stated";
    "wanted-source-impedance" RESISTANCE [Output] Lowest "largest source impedance that the design allows itself" "stated";
    "wanted-low-corner" FREQUENCY [Output] Lowest "low corner that the output should have, where it states one" "stated";
    "load" RESISTANCE [Output] Lowest "load that is plugged in" "stated";
    "riaa-deviation" NONE [Output] Highest "largest departure of the response from the RIAA replay curve of IEC 60098, in decibels about 1 kHz, within 20 Hz to 20 kHz" "small signal";
    "basing-agrees" flag [Heater] Lowest "whether the tube in this socket has its electrodes and its heater at the pins where the tube as drawn has them" "catalogue";
    "heater-agrees" flag [Heater] Lowest "whether the tube in this socket has a heater connection for the voltage that the socket is wired for" "catalogue";
    "screen-stopper" RESISTANCE [Tube] Lowest "resistance of the resistor at the screen pin, zero where there is none" "connectivity";
    "screen-tap" word [Tube] Highest "own or other: the half of a centre-tapped primary on whose tap the screen hangs, against the half that the plate works" "connectivity";
    "stage-gain" NONE [Tube] Lowest "voltage at its plate over that at its grid, 1 kHz driven at the input with any feedback at work; of a stage driven at the cathode from there, of a follower to the cathode" "small signal";
    "supply-rejection" NONE [Tube] Highest "share of the ripple of the net that feeds its plate resistor which reaches the plate, at twice the mains frequency" "small signal";
    "main-voltage" VOLTAGE [Transistor] Magnitude "drain to source or collector to emitter, ripple crest included" "operating point and supply";
    "main-current" CURRENT [Transistor] Magnitude "drain or collector current at rest" "operating point and supply";
    "control-voltage" VOLTAGE [Transistor] Magnitude "gate to source or base to emitter" "operating point";
    "transistor-dissipation" POWER [Transistor] Highest "power turned into heat" "operating point and supply";
    "main-voltage-limit" VOLTAGE [Transistor] Lowest "published" "catalogue";
    "main-current-limit" CURRENT [Transistor] Lowest "published" "catalogue";
    "control-voltage-limit" VOLTAGE [Transistor] Lowest "published, of a gate either way" "catalogue";
    "transistor-dissipation-limit" POWER [Transistor] Lowest "published at 25 °C: of the case of a power type, of the air of a small one" "catalogue";
    "signal-level" VOLTAGE [Output] Lowest "level at which distortion is judged, rms at 1 kHz: the one that the output states, else what its input's level makes of it" "large signal";
    "distortion" NONE [Output] Highest "all harmonics of 1 kHz at the signal level, as a share of the fundamental; capacitances inside tubes left out" "large signal";
    "distortion-second" NONE [Output] Highest "the second harmonic as a share of the fundamental" "large signal";
    "distortion-third" NONE [Output] Highest "the third harmonic as a share of the fundamental" "large signal";
    "distortion-limit" NONE [Output] Lowest "distortion at which a level counts as the largest: as the output states, else 10 % behind an output transformer and 5 % elsewhere (custom of the tube makers)" "stated or custom";
    "largest-level" VOLTAGE [Output] Lowest "level at which 1 kHz is distorted to the limit, rms" "large signal";
    "headroom" NONE [Output, Tube] Lowest "of an output the largest level over the one it states, or the largest drive over its input's level; of a tube the drive at which it begins to clip (grid current, cut-off, a pentode's knee) over that of the signal level" "large signal";
    "clips-first" word [Output] Highest "the tube with the least headroom on the way to this output" "large signal";
    "load-power" POWER [Output] Lowest "power into the load at the signal level" "large signal";
    "largest-power" POWER [Output] Lowest "power into the load at the largest level" "large signal";
    "signal-swing" VOLTAGE [Tube] Highest "swing of its plate or cathode at the signal level, peak to peak" "large signal";
    "grid-crest" VOLTAGE [Tube] Highest "largest voltage of its grid over its cathode at the signal level" "large signal";
    "signal-plate-current" CURRENT [Tube] Highest "mean plate current at full drive: the largest level, or the signal level where that is more" "large signal";
    "signal-screen-current" CURRENT [Tube] Highest "mean screen current at full drive" "large signal";
    "signal-cathode-current" CURRENT [Tube] Highest "mean cathode current at full drive" "large signal";
    "signal-plate-dissipation" POWER [Tube] Highest "largest mean plate dissipation with a signal of any level up to full drive" "large signal";
    "signal-screen-dissipation" POWER [Tube] Highest "largest mean screen dissipation with a signal of any level up to full drive" "large signal";
    "works-transformer" flag [Tube] Highest "whether its plate works on a coil of an output transformer" "connectivity";
    "works-paired" flag [Tube] Highest "whether another tube works on another coil of the same core" "connectivity";
    "cuts-off" flag [Tube] Highest "whether its plate current stops for a part of the period at full drive or less" "large signal";
    "transformer-power" POWER [Output] Lowest "rated power of the output transformer that it hangs on" "stated";
    "core-direct-current" CURRENT [Output] Magnitude "direct current that magnetises the core of its output transformer, as though it flowed through the whole primary: of a push-pull pair half the difference" "operating point and supply";
    "core-direct-current-limit" CURRENT [Output] Lowest "largest direct current of the primary" "stated";
    "open-load-crest" VOLTAGE [Tube] Highest "crest between plate and cathode at full drive with nothing across the secondary" "large signal";
    "matched-load" RESISTANCE [Output] Highest "rated impedance of the secondary that it hangs on" "stated";
    "power-at-half-load" POWER [Output] Highest "largest power into half the load's resistance" "large signal";
    "power-at-double-load" POWER [Output] Highest "largest power into twice the load's resistance" "large signal";
    "load-direct-current" CURRENT [Output] Highest "direct current through the load at rest" "operating point";
    "loop-gain" NONE [Output] Lowest "gain around the strongest negative feedback loop about this output at 1 kHz, the loop opened at its resistor" "small signal";
    "positive-feedback" flag [Output] Highest "whether that loop gives back in step with the input, and more than it gets: it oscillates" "small signal";
    "feedback-through" word [Output] Highest "the resistor at which that loop is opened" "connectivity";
    "phase-margin" NONE [Output] Lowest "degrees short of half a turn where the loop gain falls to one, at the treble or bass end, whichever is less" "small signal";
    "phase-margin-frequency" FREQUENCY [Output] Highest "where that is met: below 1 kHz at the bass end, above it at the treble end" "small signal";
    "gain-margin" NONE [Output] Lowest "one over the loop gain where its phase has turned by half a turn, at the treble or bass end, whichever is less" "small signal";
    "gain-margin-frequency" FREQUENCY [Output] Highest "where that is met" "small signal";
    "noise" VOLTAGE [Output] Highest "noise at the output, rms, 20 Hz to 20 kHz: thermal of every resistance, shot and partition noise; flicker of tubes by estimate" "noise";
    "noise-a-weighted" VOLTAGE [Output] Highest "the same, weighted by curve A of IEC 61672-1" "noise";
    "input-noise" VOLTAGE [Output] Highest "noise at the output over the gain at 1 kHz" "noise";
    "supply-hum" VOLTAGE [Output] Highest "ripple of the supply that is heard at the output, rms" "supply and small signal";
    "heater-hum" VOLTAGE [Output] Highest "hum that leaks from heaters into cathodes, at the output, rms: an estimate" "small signal";
    "hum" VOLTAGE [Output] Highest "supply hum and heater hum together, rms" "supply and small signal";
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_is_kebab_case_and_stands_once() {
        for (index, definition) in FACTS.iter().enumerate() {
            assert!(definition.name.chars().all(|c| c.is_ascii_lowercase() || c == '-'), "{}", definition.name);
            assert!(FACTS[..index].iter().all(|other| other.name != definition.name), "{} twice", definition.name);
            assert!(!definition.subjects.is_empty());
        }
    }
}
