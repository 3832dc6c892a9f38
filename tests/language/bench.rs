//! A handful of devices and a folder of files in memory: all that the language needs to be tested.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use coldcheck::catalogue::{
    Catalogue, Devices, DiodeEntry, DiodeModel, HeaterConnection, Heating, LedEntry, PentodeModel, Pin, Section,
    SectionKind, SectionLimits, TransistorEntry, TransistorFamily, TriodeModel, TubeEntry, TubeModel, VacuumDiodeModel,
};
use coldcheck::design::{Design, DesignReading, ProjectFiles, read_design};
use coldcheck::source::{Complaint, Severity, Sources};
use coldcheck::units::{Amperes, Volts};

/// Devices with the sections and pins of the real ones; their figures are of no consequence here.
pub struct Drawer {
    tubes: Vec<TubeEntry>,
    diodes: Vec<DiodeEntry>,
    leds: Vec<LedEntry>,
}

fn section(suffix: &str, kind: SectionKind) -> Section {
    let model = match kind {
        SectionKind::Pentode => {
            let koren = PentodeModel { mu: 30.0, x: 1.4, kg1: 2000.0, kg2: 4000.0, kp: 200.0, kvb: 20.0, rgi: None };
            TubeModel::Pentode(koren.into())
        }
        SectionKind::Rectifier { .. } => TubeModel::VacuumDiode(VacuumDiodeModel { k: 1e-3 }),
        _ => TubeModel::Triode(TriodeModel { mu: 20.0, x: 1.3, kg1: 1000.0, kp: 80.0, kvb: 300.0, rgi: None }),
    };
    Section {
        suffix: suffix.to_owned(),
        kind,
        model,
        limits: SectionLimits::default(),
        rectifier: None,
        regulator: None,
        input_capacitance: None,
        grid_plate_capacitance: None,
        output_capacitance: None,
    }
}

fn tube(name: &str, aliases: &[&str], heating: Heating, pins: &[&str], sections: Vec<Section>) -> TubeEntry {
    TubeEntry {
        name: name.to_owned(),
        aliases: aliases.iter().map(|&alias| alias.to_owned()).collect(),
        base: "9A".to_owned(),
        pins: pins
            .iter()
            .enumerate()
            .map(|(index, terminal)| Pin { number: (index + 1).to_string(), terminal: (*terminal).to_owned() })
            .collect(),
        heating,
        heaters: vec![HeaterConnection { voltage: Volts(6.3), current: Amperes(0.3) }],
        warm_up: None,
        sections,
        total_plate_dissipation: None,
        sources: Vec::new(),
    }
}

impl Drawer {
    pub fn new() -> Self {
        let double = || vec![section("a", SectionKind::Triode), section("b", SectionKind::Triode)];
        // Basing of the double triodes: EIA 9A.
        let pins = [
            "a.plate",
            "a.grid",
            "a.cathode",
            "heater.from",
            "heater.to",
            "b.plate",
            "b.grid",
            "b.cathode",
            "heater.tap",
        ];
        let model = DiodeModel { is: 7e-9, n: 1.8, rs: 0.034, breakdown: None };
        let mut regulator = tube("0A2", &["150C4"], Heating::Indirect, &[], vec![section("", SectionKind::Regulator)]);
        regulator.heaters.clear();
        Self {
            tubes: vec![
                regulator,
                tube("12AU7", &["ECC82"], Heating::Indirect, &pins, double()),
                tube("12AX7", &["ECC83"], Heating::Indirect, &pins, double()),
                tube("12BH7A", &[], Heating::Indirect, &pins, double()),
                tube("EZ80", &["6V4"], Heating::Indirect, &[], vec![section("", SectionKind::Rectifier { plates: 2 })]),
                tube("5Y3GT", &["5Y3"], Heating::Direct, &[], vec![section("", SectionKind::Rectifier { plates: 2 })]),
                tube(
                    "EF86",
                    &["6267"],
                    Heating::Indirect,
                    &["screen", "none", "cathode", "heater.from", "heater.to", "plate", "none", "suppressor", "grid"],
                    vec![section("", SectionKind::Pentode)],
                ),
                tube(
                    "ECL82",
                    &["6BM8"],
                    Heating::Indirect,
                    &[
                        "t.grid",
                        "p.cathode",
                        "p.grid",
                        "heater.from",
                        "heater.to",
                        "p.plate",
                        "p.screen",
                        "t.cathode",
                        "t.plate",
                    ],
                    vec![section("t", SectionKind::Triode), section("p", SectionKind::Pentode)],
                ),
            ],
            diodes: vec![DiodeEntry {
                name: "1N4007".to_owned(),
                aliases: vec!["UF4007".to_owned()],
                model,
                inverse_voltage: Some(Volts(1000.0)),
                direct_current: Some(Amperes(1.0)),
                peak_current: None,
                sources: Vec::new(),
            }],
            leds: vec![LedEntry {
                colour: "red".to_owned(),
                aliases: Vec::new(),
                model,
                direct_current: None,
                sources: Vec::new(),
            }],
        }
    }
}

impl Devices for Drawer {
    fn tube(&self, name: &str) -> Option<&TubeEntry> {
        self.tubes.iter().find(|tube| tube.name == name || tube.aliases.iter().any(|alias| alias == name))
    }

    fn diode(&self, name: &str) -> Option<&DiodeEntry> {
        self.diodes.iter().find(|diode| diode.name == name || diode.aliases.iter().any(|alias| alias == name))
    }

    fn led(&self, colour: &str) -> Option<&LedEntry> {
        self.leds.iter().find(|led| led.colour == colour)
    }

    fn zener_model(&self, voltage: Volts) -> DiodeModel {
        DiodeModel { is: 1e-9, n: 1.5, rs: 5.0, breakdown: Some(voltage.0) }
    }

    fn transistor(&self, family: TransistorFamily, name: &str) -> Option<&TransistorEntry> {
        Devices::transistor(Catalogue::built_in(), family, name)
    }

    fn tube_names(&self) -> Vec<&str> {
        self.tubes
            .iter()
            .flat_map(|tube| std::iter::once(&tube.name).chain(&tube.aliases))
            .map(String::as_str)
            .collect()
    }

    fn diode_names(&self) -> Vec<&str> {
        self.diodes
            .iter()
            .flat_map(|diode| std::iter::once(&diode.name).chain(&diode.aliases))
            .map(String::as_str)
            .collect()
    }

    fn led_names(&self) -> Vec<&str> {
        self.leds.iter().map(|led| led.colour.as_str()).collect()
    }
}

/// The files of a project, in memory.
#[derive(Default)]
pub struct Folder {
    root: PathBuf,
    files: BTreeMap<PathBuf, String>,
}

impl Folder {
    pub fn with(root: &str, files: &[(&str, &str)]) -> Self {
        Self {
            root: root.into(),
            files: files.iter().map(|(path, text)| (PathBuf::from(path), (*text).to_owned())).collect(),
        }
    }
}

impl ProjectFiles for Folder {
    fn root(&self) -> &Path {
        &self.root
    }

    fn read(&self, path: &Path) -> Result<String, String> {
        self.files.get(path).cloned().ok_or_else(|| "there is no such file".to_owned())
    }
}

/// A text read as the design of a project without other files.
pub fn read(text: &str) -> (Sources, DesignReading) {
    read_among("design.kdl", text, &Folder::default())
}

/// A text read as a design at a path, among other files.
pub fn read_among(path: &str, text: &str, folder: &Folder) -> (Sources, DesignReading) {
    let mut sources = Sources::default();
    let root = sources.add(path, text);
    let reading = read_design(&mut sources, root, folder, &Drawer::new(), None);
    (sources, reading)
}

/// The design of a text that gives no complaint.
pub fn sound(text: &str) -> (Sources, Design) {
    let (sources, reading) = read(text);
    assert_eq!(told(&sources, &reading.complaints), "");
    (sources, reading.design.expect("a design"))
}

/// Complaints as plain lines: place, message, label, further places, help.
pub fn told(sources: &Sources, complaints: &[Complaint]) -> String {
    let place = |span: coldcheck::source::Span| {
        let (line, column) = sources.get(span.file).map_or((0, 0), |file| file.line_column(span.start));
        let path = sources.path(span.file).display().to_string();
        format!("{path}:{line}:{column} `{}`", sources.text(span))
    };
    let mut out = String::new();
    for complaint in complaints {
        let kind = match complaint.severity {
            Severity::Error => "",
            Severity::Warning => "(warning) ",
        };
        let at = complaint.span.map_or("nowhere".to_owned(), place);
        writeln!(out, "{at}\n  {kind}{}", complaint.message).unwrap();
        writeln!(out, "  ^ {}", complaint.label).unwrap();
        for (span, text) in &complaint.others {
            writeln!(out, "  + {} {text}", place(*span)).unwrap();
        }
        if let Some(help) = &complaint.help {
            writeln!(out, "  ? {help}").unwrap();
        }
    }
    out
}
