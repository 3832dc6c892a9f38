//! The catalogue: what is known of every device that a design can name. Reading merges; a later file adds or replaces.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use include_dir::{Dir, include_dir};

use crate::source::{Complaint, FileId, Span, Statement, parse_text};
use crate::units::{Volts, Watts};

use super::fields::unknown;
use super::names::key;
use super::read_small::{ElementVoltages, read_base, read_diode, read_element_voltage, read_led, read_shelf};
use super::read_transistor::read_transistor;
use super::read_tube::read_tube;
use super::register::{Named, Register};
use super::zener::zener_model;
use super::{
    DeviceSource, Devices, DiodeEntry, DiodeModel, LedEntry, Pin, TransistorEntry, TransistorFamily, TubeEntry,
};

static BUILT_IN_FILES: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/rules/catalogue");

static BUILT_IN: LazyLock<(Catalogue, Vec<Complaint>)> = LazyLock::new(|| {
    let mut catalogue = Catalogue::default();
    let mut statements = Vec::new();
    let mut complaints = Vec::new();
    for (id, (_, text)) in (0u32..).zip(built_in_files()) {
        let (more, wrong) = parse_text(FileId(id), text);
        statements.extend(more);
        complaints.extend(wrong);
    }
    complaints.extend(catalogue.read(&statements));
    (catalogue, complaints)
});

/// The files of the built-in catalogue by name, in the order of their names: the order of [`FileId`] in what
/// [`Catalogue::built_in_complaints`] gives.
#[must_use]
pub fn built_in_files() -> Vec<(&'static str, &'static str)> {
    let mut files: Vec<(&str, &str)> =
        BUILT_IN_FILES.files().filter_map(|file| Some((file.path().to_str()?, file.contents_utf8()?))).collect();
    files.sort_unstable();
    files
}

/// Devices by name, bases, shelves: everything that the judged design may refer to without saying it.
#[derive(Clone, Debug, Default)]
pub struct Catalogue {
    tubes: Register<TubeEntry>,
    diodes: Register<DiodeEntry>,
    leds: Register<LedEntry>,
    mosfets: Register<TransistorEntry>,
    bjts: Register<TransistorEntry>,
    jfets: Register<TransistorEntry>,
    bases: BTreeMap<String, (String, Vec<Pin>)>,
    shelves: BTreeMap<String, Vec<f64>>,
    element_voltages: BTreeMap<String, ElementVoltages>,
}

/// Who claimed a name in one reading, and where.
type Claims = BTreeMap<String, (String, Span)>;

impl Catalogue {
    /// The catalogue inside the program.
    #[must_use]
    pub fn built_in() -> &'static Self {
        &BUILT_IN.0
    }

    /// What could not be read of the catalogue inside the program: nothing, as a test proves.
    #[must_use]
    pub fn built_in_complaints() -> &'static [Complaint] {
        &BUILT_IN.1
    }

    /// Reads the statements of one or more catalogue files that belong together.
    ///
    /// Within one reading each name and alias has one owner, and a second claim is a complaint; an entry of an earlier
    /// reading is replaced by one of the same name, and a later entry takes over the names that it claims.
    /// What is complained of as an error is left out, the rest is read.
    pub fn read(&mut self, statements: &[Statement]) -> Vec<Complaint> {
        let mut out = Vec::new();
        // Bases first: a tube may stand in an earlier file than its base.
        for statement in statements.iter().filter(|s| s.name.value == "base") {
            if let Some((name, pins)) = read_base(statement, &mut out) {
                self.bases.insert(key(&name), (name, pins));
            }
        }
        let (mut tubes, mut diodes, mut leds, mut transistors) =
            (Claims::new(), Claims::new(), Claims::new(), Claims::new());
        for statement in statements {
            match statement.name.value.as_str() {
                "base" => {}
                "tube" => {
                    let entry = read_tube(statement, &self.bases, &mut out);
                    put(&mut self.tubes, entry, statement, &mut tubes, &mut out);
                }
                "diode" => {
                    let entry = read_diode(statement, &mut out);
                    put(&mut self.diodes, entry, statement, &mut diodes, &mut out);
                }
                "led" => {
                    let entry = read_led(statement, &mut out);
                    put(&mut self.leds, entry, statement, &mut leds, &mut out);
                }
                "mosfet" | "bjt" | "jfet" => {
                    if let Some(entry) = read_transistor(statement, &mut out) {
                        let register = self.transistors_mut(entry.family);
                        put(register, Some(entry), statement, &mut transistors, &mut out);
                    }
                }
                "shelf" => self.shelves.extend(read_shelf(statement, &mut out)),
                "element-voltage" => self.element_voltages.extend(read_element_voltage(statement, &mut out)),
                other => {
                    let known = ["base", "tube", "diode", "led", "mosfet", "bjt", "jfet", "shelf", "element-voltage"];
                    let span = statement.name.span;
                    unknown(span, "statement of a catalogue file", other, &known, &mut out);
                }
            }
        }
        out
    }

    /// The tube of a name or alias, in any spelling (`6sn7-gtb`).
    #[must_use]
    pub fn tube(&self, name: &str) -> Option<&TubeEntry> {
        self.tubes.get(name)
    }

    /// The diode of a name or alias.
    #[must_use]
    pub fn diode(&self, name: &str) -> Option<&DiodeEntry> {
        self.diodes.get(name)
    }

    /// The LED of a colour.
    #[must_use]
    pub fn led(&self, colour: &str) -> Option<&LedEntry> {
        self.leds.get(colour)
    }

    fn transistors_mut(&mut self, family: TransistorFamily) -> &mut Register<TransistorEntry> {
        match family {
            TransistorFamily::Mosfet => &mut self.mosfets,
            TransistorFamily::Bipolar => &mut self.bjts,
            TransistorFamily::JunctionFet => &mut self.jfets,
        }
    }

    fn transistors(&self, family: TransistorFamily) -> &Register<TransistorEntry> {
        match family {
            TransistorFamily::Mosfet => &self.mosfets,
            TransistorFamily::Bipolar => &self.bjts,
            TransistorFamily::JunctionFet => &self.jfets,
        }
    }

    /// The model of a zener, estimated from its voltage (see [`zener_model`]).
    #[must_use]
    pub fn zener_model(&self, breakdown: Volts) -> DiodeModel {
        zener_model(breakdown)
    }

    /// All tubes, in the order in which they were read.
    #[must_use]
    pub fn tubes(&self) -> &[TubeEntry] {
        self.tubes.entries()
    }

    /// Every name and alias of a tube, sorted.
    #[must_use]
    pub fn tube_names(&self) -> Vec<&str> {
        self.tubes.names()
    }

    /// Every name and alias of a diode, sorted.
    #[must_use]
    pub fn diode_names(&self) -> Vec<&str> {
        self.diodes.names()
    }

    /// Every colour of an LED, sorted.
    #[must_use]
    pub fn led_names(&self) -> Vec<&str> {
        self.leds.names()
    }

    /// The values of a shelf, ascending, in base SI units: `capacitor-voltage` (V), `resistor-power` (W),
    /// `fuse-current` (A). Empty where there is none of that name.
    #[must_use]
    pub fn shelf(&self, name: &str) -> &[f64] {
        self.shelves.get(name).map_or(&[], Vec::as_slice)
    }

    /// The limiting element voltage (direct or rms) of a kind of resistor and its document; a power between two
    /// published sizes takes the smaller size. `None` where the kind, or a size that small, has no published figure.
    #[must_use]
    pub fn element_voltage(&self, kind: &str, power: Watts) -> Option<(Volts, &DeviceSource)> {
        let voltages = self.element_voltages.get(kind)?;
        let fits = |size: &Watts| size.0 <= power.0 * (1.0 + 1e-9);
        let row = voltages.rows.iter().rfind(|(size, _)| fits(size))?;
        Some((row.1, &voltages.source))
    }
}

impl Devices for Catalogue {
    fn tube(&self, name: &str) -> Option<&TubeEntry> {
        self.tube(name)
    }

    fn diode(&self, name: &str) -> Option<&DiodeEntry> {
        self.diode(name)
    }

    fn led(&self, colour: &str) -> Option<&LedEntry> {
        self.led(colour)
    }

    fn zener_model(&self, voltage: Volts) -> DiodeModel {
        zener_model(voltage)
    }

    fn transistor(&self, family: TransistorFamily, name: &str) -> Option<&TransistorEntry> {
        self.transistors(family).get(name)
    }

    fn transistor_names(&self, family: TransistorFamily) -> Vec<&str> {
        self.transistors(family).names()
    }

    fn tube_names(&self) -> Vec<&str> {
        self.tube_names()
    }

    fn diode_names(&self) -> Vec<&str> {
        self.diode_names()
    }

    fn led_names(&self) -> Vec<&str> {
        self.led_names()
    }

    fn element_voltage(&self, kind: &str, power: Watts) -> Option<Volts> {
        self.element_voltage(kind, power).map(|(voltage, _)| voltage)
    }
}

/// Puts an entry into its register unless another entry of this reading has one of its names already.
fn put<T: Named>(
    register: &mut Register<T>,
    entry: Option<T>,
    statement: &Statement,
    claims: &mut Claims,
    out: &mut Vec<Complaint>,
) {
    let Some(entry) = entry else { return };
    let span = statement.argument(0).map_or(statement.name.span, |a| a.span);
    let names = std::iter::once(entry.name()).chain(entry.aliases().iter().map(String::as_str));
    for name in names.clone() {
        if let Some((owner, first)) = claims.get(&key(name)) {
            let message = format!("{} and {owner} both claim the name {name}", entry.name());
            out.push(Complaint::at(span, message, "claimed again here").also(*first, "first claimed here"));
            return;
        }
    }
    for name in names {
        claims.insert(key(name), (entry.name().to_owned(), span));
    }
    register.put(entry);
}
