//! The workshop file: every setting reaches its place, every unknown one is told with its nearest spelling.

use coldcheck::design::{Workshop, read_design, read_workshop};
use coldcheck::source::Sources;

use crate::bench::{Drawer, Folder, told};

fn workshop(text: &str) -> (Workshop, String) {
    let mut sources = Sources::default();
    let file = sources.add("coldcheck.kdl", text);
    let (workshop, complaints) = read_workshop(&sources, file);
    (workshop, told(&sources, &complaints))
}

const WHOLE: &str = r#"
gate malfunction
rules "rules/" "more-rules/"
catalogue "tubes/"
derating "space-agency"
adjust "capacitor/working-voltage" share=0.8
adjust "supply/bleeder" wait="60s" down="50V"
quiet "resistor/preferred-value" because="we wind our own"
mains "120V" "60Hz" tolerance="5%"
stock {
    capacitor-voltage 450 "400V" 160 250 350 500
    resistor-power 0.25 "500m" 1 2 3 5
    fuse-current "250mA" "500mA" 1
}
"#;

#[test]
fn every_setting_is_read() {
    let (workshop, said) = workshop(WHOLE);
    assert_eq!(said, "");
    assert_eq!(workshop.gate.as_ref().unwrap().value, "malfunction");
    let rules: Vec<&str> = workshop.rules.iter().map(|rule| rule.value.as_str()).collect();
    assert_eq!(rules, ["rules/", "more-rules/"]);
    assert_eq!(workshop.derating.as_ref().unwrap().value, "space-agency");
    let adjusts: Vec<(&str, &str, &str)> = workshop
        .adjusts
        .iter()
        .map(|a| (a.rule.value.as_str(), a.limit.value.as_str(), a.value.value.as_str()))
        .collect();
    assert_eq!(
        adjusts,
        [
            ("capacitor/working-voltage", "share", "0.8"),
            ("supply/bleeder", "wait", "60s"),
            ("supply/bleeder", "down", "50V")
        ]
    );
    assert_eq!(workshop.quiets[0].because, "we wind our own");
    assert_eq!(workshop.mains.as_ref().unwrap().voltage.value.0, 120.0);
    assert_eq!(workshop.shelf("capacitor-voltage"), Some(&[160.0, 250.0, 350.0, 400.0, 450.0, 500.0][..]));
    assert_eq!(workshop.shelf("resistor-power").unwrap()[1], 0.5);
    assert_eq!(workshop.shelf("diode-voltage"), None);
}

#[test]
fn an_unknown_or_empty_setting_is_told() {
    let (_, said) = workshop(
        r#"
gat overstress
gate overstres
gate hazard
rules
adjust "capacitor/working-voltage"
adjust "capacitor/working-voltage" share=#true
quiet "resistor/preferred-value"
mains "120V"
stock { capacitor-volts 400; resistor-power "5V"; fuse-current; }
shelf 5
"#,
    );
    insta::assert_snapshot!(said);
}

#[test]
fn a_derating_set_is_chosen_once() {
    let (workshop, said) = workshop("derating \"naval\"\nderating \"workshop\"\nderating\n");
    assert_eq!(workshop.derating.unwrap().value, "naval");
    assert_eq!(said.matches("`derating` is set twice").count(), 2, "{said}");
    let (workshop, said) = self::workshop("derating\n");
    assert_eq!(workshop.derating, None);
    assert!(said.contains("derating \"space-agency\""), "{said}");
}

#[test]
fn the_mains_of_the_workshop_are_those_of_a_design_that_states_none() {
    let (workshop, _) = workshop(WHOLE);
    let mains = |text: &str| {
        let mut sources = Sources::default();
        let root = sources.add("a.kdl", text);
        let folder = Folder::default();
        let reading = read_design(&mut sources, root, &folder, &Drawer::new(), Some(&workshop));
        reading.design.unwrap().mains.unwrap().voltage.value.0
    };
    assert_eq!(mains("design \"x\"\n"), 120.0);
    assert_eq!(mains("design \"x\"\nmains \"230V\" \"50Hz\"\n"), 230.0);
}

#[test]
fn the_spread_is_turned_on_with_its_builds_and_seed() {
    let (alone, said) = workshop("spread\n");
    assert_eq!(said, "");
    let setting = alone.spread.unwrap();
    assert!(setting.builds.is_none() && setting.seed.is_none());
    let text = "spread builds=250 seed=77\n";
    let (full, said) = workshop(text);
    assert_eq!(said, "");
    let setting = full.spread.unwrap();
    let (builds, seed) = (setting.builds.unwrap(), setting.seed.unwrap());
    assert_eq!((builds.value, seed.value), (250, 77));
    assert_eq!(&text[builds.span.start..builds.span.end], "250");
    assert_eq!(&text[seed.span.start..seed.span.end], "77");
    assert_eq!(&text[setting.span.start..setting.span.end], "spread builds=250 seed=77");
    assert_eq!(workshop("gate hazard\n").0.spread, None);
}

#[test]
fn a_spread_that_is_no_whole_number_or_comes_twice_is_told() {
    let (workshop, said) = workshop("spread builds=2.5 seed=-1 build=3 9\nspread builds=\"many\"\n");
    assert!(workshop.spread.is_some_and(|setting| setting.builds.is_none() && setting.seed.is_none()));
    insta::assert_snapshot!(said);
}
