//! What could not be solved is counted and told, and the rules that wanted it are not judged; nothing passes silently.

use super::bench::{Bench, OPTIONS, of_rule};
use coldcheck::catalogue::{Catalogue, Devices, DiodeEntry, DiodeModel, LedEntry, TubeEntry};
use coldcheck::units::{Quantity, Volts};

/// The built-in catalogue, where some zeners have a model that no circuit can be solved with.
struct Brittle {
    /// Whether a zener of so many volts is one of them.
    breaks: fn(f64) -> bool,
}

impl Devices for Brittle {
    fn tube(&self, name: &str) -> Option<&TubeEntry> {
        Catalogue::built_in().tube(name)
    }
    fn diode(&self, name: &str) -> Option<&DiodeEntry> {
        Catalogue::built_in().diode(name)
    }
    fn led(&self, colour: &str) -> Option<&LedEntry> {
        Catalogue::built_in().led(colour)
    }
    fn zener_model(&self, voltage: Volts) -> DiodeModel {
        let sound = Catalogue::built_in().zener_model(voltage);
        if (self.breaks)(voltage.base()) { DiodeModel { is: f64::NAN, ..sound } } else { sound }
    }
    fn tube_names(&self) -> Vec<&str> {
        Vec::new()
    }
    fn diode_names(&self) -> Vec<&str> {
        Vec::new()
    }
    fn led_names(&self) -> Vec<&str> {
        Vec::new()
    }
}

/// 10 V of zener over 1 kΩ from 20 V. With the zener high the voltage across R1 is low, and that across R2 high: R2 turns
/// 58 mW into heat as drawn and 64 mW with the zener 5 % high; at 60 % its rating of 100 mW bears 60 mW.
const ZENER: &str = r#"
bench-supply B1 "20V" plus=bplus minus=ground
resistor R1 "1k" from=bplus to=a power="1W" tolerance="0%"
zener D1 "10V" anode=ground cathode=a
resistor R2 "1k72" from=a to=ground power="100mW" tolerance="0%"
"#;

#[test]
fn a_quantity_that_can_be_solved_at_neither_limit_is_told() {
    let upper = Bench::with(ZENER, &Brittle { breaks: |volts| volts > 10.0 }).report(OPTIONS);
    // The lower limit can be solved, so that the slope is known: nothing is told of it.
    assert!(!of_rule(&upper, "circuit/unsolved").iter().any(|one| one.message.contains("at a limit")));
    let report = Bench::with(ZENER, &Brittle { breaks: |volts| volts != 10.0 }).report(OPTIONS);
    let told: Vec<&str> = of_rule(&report, "circuit/unsolved").iter().map(|one| one.message.as_str()).collect();
    assert!(told.iter().any(|one| one.starts_with("with the voltage of D1 at a limit of its tolerance")), "{told:?}");
    assert!(told.iter().any(|one| one.starts_with("100 of 100 builds could not be solved")), "{told:?}");
    assert_eq!(report.spread.unwrap().unsolved_builds, 100);
}

#[test]
fn builds_that_cannot_be_solved_are_counted() {
    let report = Bench::with(ZENER, &Brittle { breaks: |volts| volts > 10.4 }).report(OPTIONS);
    let summary = report.spread.as_ref().unwrap();
    // A tenth of the builds lies above 10.4 V of 9.5 V to 10.5 V.
    assert!((2..25).contains(&summary.unsolved_builds), "{summary:?}");
    let told = of_rule(&report, "circuit/unsolved");
    let count = format!("{} of 100 builds could not be solved, the first in running", summary.unsolved_builds);
    assert!(told.iter().any(|one| one.message.starts_with(&count)), "{told:#?}");
    assert!(summary.told().contains(&format!("{} of 100 builds could not be solved", summary.unsolved_builds)));
}

#[test]
fn a_rule_whose_worst_corner_cannot_be_solved_is_not_judged() {
    let sound = Bench::of(ZENER).report(OPTIONS);
    assert!(of_rule(&sound, "resistor/dissipation")[0].by_tolerance.as_ref().unwrap().only);
    // No build comes so near to the limit, so that only the corner could show it.
    let report = Bench::with(ZENER, &Brittle { breaks: |volts| volts > 10.499 })
        .report(coldcheck::spread::SpreadOptions { builds: 0, seed: 1 });
    assert!(of_rule(&report, "resistor/dissipation").is_empty(), "{:#?}", report.findings);
    let open: Vec<_> =
        report.not_judged.iter().filter(|gap| gap.part == "R2" && gap.rule == "resistor/dissipation").collect();
    assert!(
        open.len() == 1 && open[0].reason.starts_with("at its worst corner of the tolerances: running"),
        "{open:?}"
    );
    assert_eq!(report.spread.as_ref().unwrap().unsolved_corners, report.spread.as_ref().unwrap().corners);
    assert!(
        of_rule(&report, "circuit/unsolved")[0].message.contains("worst corners of the tolerances could not be solved")
    );
}
