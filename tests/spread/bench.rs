//! Designs inspected with their parts varied.

use std::path::Path;

use coldcheck::catalogue::{Catalogue, Devices};
use coldcheck::circuit::Circuit;
use coldcheck::design::{Design, DesignReading, read_fragment};
use coldcheck::facts::{FactTable, Memory, facts_of};
use coldcheck::findings::{DesignReport, Finding};
use coldcheck::inspection::Grounds;
use coldcheck::rules::{RuleBook, Shelves};
use coldcheck::source::Sources;
use coldcheck::spread::{Band, Bands, SpreadOptions, bands, inspect_spread};
use coldcheck::units::Quantity;

pub const OPTIONS: SpreadOptions = SpreadOptions { builds: 100, seed: 1 };

/// A design with the devices that it is judged with.
pub struct Bench<'d> {
    pub design: Design,
    devices: &'d dyn Devices,
}

impl Bench<'_> {
    pub fn of(text: &str) -> Self {
        Bench::with(text, Catalogue::built_in())
    }
}

impl<'d> Bench<'d> {
    pub fn with(text: &str, devices: &'d dyn Devices) -> Self {
        let mut sources = Sources::default();
        let file = sources.add("bench.kdl", text);
        let reading = read_fragment(&sources, file, devices);
        assert!(reading.complaints.is_empty(), "{:#?}", reading.complaints);
        Self { design: reading.design.unwrap(), devices }
    }

    fn asked<T>(&self, ask: impl FnOnce(Grounds<'_>) -> T) -> T {
        let shelves = Shelves::filled_by(&|name| Catalogue::built_in().shelf(name).to_vec());
        let today = jiff::civil::date(2026, 11, 25);
        ask(Grounds { rules: RuleBook::built_in(), devices: self.devices, shelves: &shelves, today })
    }

    /// The report with the parts varied.
    pub fn report(&self, options: SpreadOptions) -> DesignReport {
        let reading = DesignReading { design: Some(self.design.clone()), ..DesignReading::default() };
        self.asked(|grounds| {
            inspect_spread(Path::new("bench.kdl"), reading, grounds, &Memory::default(), options).report
        })
    }

    pub fn facts(&self) -> FactTable {
        facts_of(&self.design, &Circuit::of(&self.design), self.devices)
    }

    pub fn bands(&self, options: SpreadOptions) -> (FactTable, Bands) {
        let facts = self.facts();
        let found = self.asked(|grounds| bands(&self.design, &facts, None, grounds, options));
        (facts, found)
    }

    /// The band of a fact where it is worst.
    pub fn band(&self, subject: &str, fact: &'static str, options: SpreadOptions) -> Option<Band> {
        let (facts, bands) = self.bands(options);
        facts.named(subject).find_map(|id| {
            let worst = facts.fact(id, fact)?.worst_sample()?;
            bands.of(id, fact, worst).cloned()
        })
    }

    /// The resistance of a part as drawn.
    pub fn ohms(&self, part: &str) -> f64 {
        match &self.design.part(self.design.find(part).unwrap()).kind {
            coldcheck::design::Kind::Resistor(resistor) => resistor.resistance.value.base(),
            other => panic!("{other:?} is no resistor"),
        }
    }
}

/// The findings of a rule.
pub fn of_rule<'r>(report: &'r DesignReport, rule: &str) -> Vec<&'r Finding> {
    report.findings.iter().filter(|finding| finding.rule == rule).collect()
}

/// Asserts agreement within a share.
pub fn near(found: f64, expected: f64, share: f64) {
    assert!((found / expected - 1.0).abs() <= share, "{found} is not within {share} of {expected}");
}
