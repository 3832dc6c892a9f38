//! The built-in catalogue: it reads without complaint, names resolve, limits and pins are the published ones.

use std::collections::BTreeSet;

use coldcheck::catalogue::{Catalogue, Heating, SectionKind, TubeEntry, TubeModel, built_in_files};
use coldcheck::units::{Amperes, Farads, Ohms, Volts, Watts};

fn tube(name: &str) -> &'static TubeEntry {
    Catalogue::built_in().tube(name).unwrap_or_else(|| panic!("{name} is not in the catalogue"))
}

fn pin<'a>(tube: &'a TubeEntry, terminal: &str) -> Vec<&'a str> {
    tube.pins.iter().filter(|p| p.terminal == terminal).map(|p| p.number.as_str()).collect()
}

fn near(found: Option<Farads>, published: f64) -> bool {
    found.is_some_and(|farads| (farads.0 / published - 1.0).abs() < 1e-9)
}

#[test]
fn it_reads_without_complaint() {
    assert!(built_in_files().len() >= 6);
    assert!(Catalogue::built_in_complaints().is_empty(), "{:#?}", Catalogue::built_in_complaints());
}

#[test]
fn it_knows_at_least_sixty_tubes() {
    assert!(Catalogue::built_in().tubes().len() >= 60);
}

#[test]
fn two_spellings_of_one_tube_are_one_entry() {
    for (one, other) in [
        ("12AX7", "ECC83"),
        ("12AX7", "7025"),
        ("12AX7", "12ax7"),
        ("12AT7", "ECC81"),
        ("12AU7", "ecc 82"),
        ("6SN7", "6SN7-GTB"),
        ("6SL7", "6SL7GT"),
        ("6DJ8", "ECC88"),
        ("6922", "E88CC"),
        ("6CG7", "6FQ7"),
        ("EZ80", "6V4"),
        ("6CA4", "EZ81"),
        ("5AR4", "GZ34"),
        ("5Y3", "5Y3GT"),
        ("6X5", "6X5GT"),
        ("EF86", "6267"),
        ("EL84", "6BQ5"),
        ("EL34", "6CA7"),
        ("6BM8", "ECL82"),
        ("6GW8", "ECL86"),
    ] {
        assert_eq!(tube(one), tube(other), "{one} and {other}");
    }
    let names = Catalogue::built_in().tube_names();
    assert!(names.contains(&"12AX7") && names.contains(&"ECC83"));
    assert_eq!(names.iter().collect::<BTreeSet<_>>().len(), names.len());
}

#[test]
fn a_bare_6sn7_is_the_gtb_and_the_older_one_is_its_own_entry() {
    // RCA Receiving Tube Manual, 6SN7GTB: 450 V, 5 W, 7.5 W both; 6SN7-GT: 300 V, 3.5 W (from memory).
    let (new, old) = (tube("6SN7"), tube("6SN7GT"));
    assert_eq!(new.sections[0].limits.plate_voltage, Some(Volts(450.0)));
    assert_eq!(new.sections[0].limits.plate_dissipation, Some(Watts(5.0)));
    assert_eq!(new.total_plate_dissipation, Some(Watts(7.5)));
    assert_eq!(old.sections[0].limits.plate_voltage, Some(Volts(300.0)));
    assert_eq!(old.sections[0].limits.plate_dissipation, Some(Watts(3.5)));
    assert_eq!(new.base, old.base);
}

#[test]
fn where_documents_differ_the_stricter_limit_is_carried_and_all_are_named() {
    let limits = &tube("12AX7").sections[0].limits;
    // General Electric 12AX7 and Philips ECC83 (design-centre) against RCA 12AX7A (design-maximum: 330 V, 1.2 W, 200 V).
    assert_eq!(limits.plate_voltage, Some(Volts(300.0)));
    assert_eq!(limits.plate_dissipation, Some(Watts(1.0)));
    assert_eq!(limits.heater_positive, Some(Volts(180.0)));
    assert_eq!(limits.heater_negative, Some(Volts(180.0)));
    assert_eq!(limits.heater_positive_direct, Some(Volts(100.0)));
    // Philips ECC83 prints 2 MΩ in one place and 2.2 MΩ in another.
    assert_eq!(limits.grid_leak_cathode_bias, Some(Ohms(2e6)));
    let documents: Vec<&str> = limits.sources.iter().map(|s| s.document.as_str()).collect();
    for wanted in ["General Electric 12AX7", "RCA Receiving Tube Manual, 12AX7A", "Philips data handbook, ECC83"] {
        assert!(documents.iter().any(|d| d.starts_with(wanted)), "{wanted} in {documents:?}");
    }
}

#[test]
fn an_unpublished_limit_is_left_out() {
    // No 12AY7 sheet gives a grid leak; the 5T4 summary gives no inverse voltage.
    assert_eq!(tube("12AY7").sections[0].limits.grid_leak_cathode_bias, None);
    assert_eq!(tube("5T4").sections[0].rectifier.as_ref().unwrap().inverse_voltage, None);
}

#[test]
fn rectifier_limits_are_the_published_ones() {
    // Philips data handbook, EZ80.
    let limits = tube("EZ80").sections[0].rectifier.clone().unwrap();
    assert_eq!(limits.inverse_voltage, Some(Volts(1000.0)));
    assert_eq!(limits.peak_current, Some(Amperes(0.27)));
    assert_eq!(limits.direct_current, Some(Amperes(0.09)));
    assert!(near(limits.first_capacitor, 50e-6));
    let points: Vec<(f64, f64)> = limits.plate_supply.iter().map(|p| (p.voltage.0, p.resistance.0)).collect();
    assert_eq!(points, [(250.0, 125.0), (300.0, 215.0), (350.0, 300.0)]);
    // RCA 5U4-GB: 21 Ω at 300 V, 67 Ω at 450 V, 97 Ω at 550 V.
    let points: Vec<f64> =
        tube("5U4GB").sections[0].rectifier.as_ref().unwrap().plate_supply.iter().map(|p| p.resistance.0).collect();
    assert_eq!(points, [21.0, 67.0, 97.0]);
}

#[test]
fn every_plate_supply_table_rises_with_the_voltage() {
    for tube in Catalogue::built_in().tubes() {
        for limits in tube.sections.iter().filter_map(|s| s.rectifier.as_ref()) {
            for pair in limits.plate_supply.windows(2) {
                assert!(pair[0].voltage < pair[1].voltage, "{}", tube.name);
                assert!(pair[0].resistance <= pair[1].resistance, "{}", tube.name);
            }
        }
    }
}

#[test]
fn section_a_is_unit_one_of_the_sheet() {
    // General Electric 12AX7 data sheet: unit 1 on pins 6, 7, 8, unit 2 on pins 1, 2, 3.
    let tube = tube("12AX7");
    for (terminal, number) in
        [("a.plate", "6"), ("a.grid", "7"), ("a.cathode", "8"), ("b.plate", "1"), ("b.grid", "2"), ("b.cathode", "3")]
    {
        assert_eq!(pin(tube, terminal), [number]);
    }
}

#[test]
fn a_tapped_heater_is_wired_for_the_voltage_that_feeds_it() {
    // 9A: 12.6 V across pins 4 and 5; 6.3 V with 4 and 5 joined against 9.
    let tube = tube("12AU7");
    let wired = |volts: f64, terminal: &str| -> Vec<String> {
        tube.pins_with_heater(Volts(volts))
            .iter()
            .filter(|p| p.terminal == terminal)
            .map(|p| p.number.clone())
            .collect()
    };
    assert_eq!(wired(6.3, "heater.from"), ["4", "5"]);
    assert_eq!(wired(6.3, "heater.to"), ["9"]);
    assert!(wired(6.3, "heater.tap").is_empty());
    for series in [12.0, 12.6] {
        assert_eq!(wired(series, "heater.from"), ["4"]);
        assert_eq!(wired(series, "heater.to"), ["5"]);
        assert_eq!(wired(series, "heater.tap"), ["9"]);
    }
    assert_eq!(tube.heater_connection(Volts(6.0)).unwrap().current, Amperes(0.3));
    assert_eq!(tube.heater_connection(Volts(12.6)).unwrap().current, Amperes(0.15));
    assert_eq!(tube.heater_connection(Volts(0.0)), None);
    // A 6922 on the like-looking base 9AJ has no tap: pin 9 is its shield.
    let other = Catalogue::built_in().tube("6922").unwrap();
    assert_eq!(other.pins_with_heater(Volts(6.3)), other.pins);
    assert_ne!(other.base, tube.base);
}

#[test]
fn pins_cover_each_terminal_of_each_section() {
    // Terminals that a base brings to two pins (EIA basing): the doubled grids and plates of single small tubes.
    let doubled =
        [("9AG", "grid"), ("7BD", "cathode"), ("7BZ", "grid"), ("7CV", "grid"), ("6BG", "plate"), ("5BO", "anode")];
    for tube in Catalogue::built_in().tubes() {
        let heated: &[&str] = if tube.heating == Heating::Cold { &[] } else { &["heater.from", "heater.to"] };
        let mut wanted: BTreeSet<String> = heated.iter().map(|end| (*end).to_owned()).collect();
        if tube.heaters.len() == 2 {
            wanted.insert("heater.tap".into());
        }
        for section in &tube.sections {
            let mut terminals = match section.kind {
                SectionKind::Triode => vec!["plate", "grid"],
                SectionKind::Pentode => vec!["plate", "grid", "screen"],
                SectionKind::Rectifier { .. } => vec!["plate1", "plate2"],
                SectionKind::Regulator => vec!["anode"],
            };
            if tube.heating != Heating::Direct {
                terminals.push("cathode");
            }
            let dot = if section.suffix.is_empty() { "" } else { "." };
            wanted.extend(terminals.iter().map(|t| format!("{}{dot}{t}", section.suffix)));
        }
        for terminal in &wanted {
            let tripled = tube.base == "5BO" && terminal == "cathode";
            let count =
                1 + 2 * usize::from(tripled) + usize::from(doubled.contains(&(tube.base.as_str(), terminal.as_str())));
            assert_eq!(pin(tube, terminal).len(), count, "{terminal} of the {}", tube.name);
        }
        let carried = tube.pins.iter().map(|p| p.terminal.clone()).collect::<BTreeSet<_>>();
        let rest: BTreeSet<String> = ["none", "shield", "internal", "suppressor"].map(String::from).into();
        assert!(carried.is_subset(&(&wanted | &rest)), "{}: {carried:?}", tube.name);
    }
}

#[test]
fn cathodes_joined_to_the_heater_share_its_pin() {
    let tube = tube("GZ34");
    assert_eq!(tube.heating, Heating::JoinedCathode);
    assert_eq!(pin(tube, "cathode"), pin(tube, "heater.to"));
    assert_eq!(self::tube("5Y3").heating, Heating::Direct);
}

#[test]
fn every_amplifying_section_has_a_plate_rating_and_every_rectifier_a_current() {
    for tube in Catalogue::built_in().tubes() {
        for section in &tube.sections {
            match &section.rectifier {
                Some(limits) => assert!(limits.direct_current.is_some(), "{}", tube.name),
                None => {
                    let limits = &section.limits;
                    // RCA gives neither the 71-A nor the 6SC7 a dissipation.
                    let unrated = ["71A", "6SC7"].contains(&tube.name.as_str());
                    assert!(limits.plate_voltage.is_some(), "{}", tube.name);
                    assert_eq!(limits.plate_dissipation.is_none(), unrated, "{}", tube.name);
                }
            }
        }
    }
}

#[test]
fn every_figure_has_a_document() {
    for tube in Catalogue::built_in().tubes() {
        assert!(!tube.sources.is_empty(), "{}", tube.name);
        for section in &tube.sections {
            let bare = coldcheck::catalogue::SectionLimits { sources: vec![], ..section.limits.clone() };
            if bare != Default::default() {
                assert!(!section.limits.sources.is_empty(), "{}", tube.name);
            }
        }
    }
}

/// Forward voltage at a current, at 300 K (kT/q = 25.85 mV).
fn forward(model: coldcheck::catalogue::DiodeModel, amperes: f64) -> f64 {
    model.n * 0.025_85 * (amperes / model.is + 1.0).ln() + amperes * model.rs
}

#[test]
fn leds_stand_at_their_typical_voltages() {
    // Common practice and typical data sheets, from memory.
    let catalogue = Catalogue::built_in();
    for (colour, amperes, low, high) in [
        ("red", 0.01, 1.65, 1.75),
        ("infra-red", 0.01, 1.15, 1.25),
        ("infra-red", 0.02, 1.2, 1.3),
        ("green", 0.01, 2.0, 2.1),
        ("yellow", 0.01, 1.95, 2.1),
        ("blue", 0.01, 2.9, 3.2),
    ] {
        let volts = forward(catalogue.led(colour).unwrap().model, amperes);
        assert!((low..=high).contains(&volts), "{colour}: {volts}");
    }
    assert_eq!(catalogue.led("infrared"), catalogue.led("infra-red"));
    assert!(catalogue.led_names().contains(&"red"));
}

#[test]
fn the_plain_rectifier_diode_is_the_one_of_the_design_language() {
    let diode = Catalogue::built_in().diode("1n4007").unwrap();
    assert_eq!((diode.model.is, diode.model.n, diode.model.rs), (7e-9, 1.8, 0.034));
    assert_eq!(diode.inverse_voltage, Some(Volts(1000.0)));
    assert_eq!(diode.direct_current, Some(Amperes(1.0)));
    assert_eq!(Catalogue::built_in().diode("1N4001").unwrap().inverse_voltage, Some(Volts(50.0)));
    assert!(Catalogue::built_in().diode_names().contains(&"UF4007"));
}

#[test]
fn a_zener_has_the_dynamic_resistance_of_its_voltage_within_a_factor_of_two() {
    // 1N4728A to 1N4764A, largest dynamic resistance at the test current (maker's data, from memory).
    for (volts, published) in
        [(3.3, 10.0), (5.1, 7.0), (6.2, 2.0), (10.0, 7.0), (24.0, 25.0), (51.0, 95.0), (100.0, 350.0)]
    {
        let model = Catalogue::built_in().zener_model(Volts(volts));
        assert_eq!(model.breakdown, Some(volts));
        assert!((0.5..=2.0).contains(&(model.rs / published)), "{volts} V: {}", model.rs);
    }
}

#[test]
fn the_shelf_is_ascending_and_has_the_usual_ratings() {
    let catalogue = Catalogue::built_in();
    for (name, some) in [
        ("capacitor-voltage", [350.0, 450.0, 500.0, 630.0]),
        ("resistor-power", [0.25, 0.5, 2.0, 5.0]),
        ("fuse-current", [0.1, 0.315, 1.25, 3.15]),
    ] {
        let shelf = catalogue.shelf(name);
        assert!(shelf.windows(2).all(|pair| pair[0] < pair[1]), "{name}");
        assert!(some.iter().all(|value| shelf.contains(value)), "{name}: {shelf:?}");
    }
    assert!(catalogue.shelf("tube-count").is_empty());
}

#[test]
fn a_resistor_bears_the_limiting_element_voltage_of_its_body() {
    // Limiting element voltages, makers' data for bodies of normal size.
    let volts = |kind: &str, watts: f64| Catalogue::built_in().element_voltage(kind, Watts(watts)).map(|(v, _)| v.0);
    assert_eq!(volts("carbon-film", 0.25), Some(250.0));
    assert_eq!(volts("carbon-film", 0.5), Some(350.0));
    assert_eq!(volts("metal-film", 1.0), Some(350.0));
    assert_eq!(volts("carbon-composition", 1.0), Some(500.0));
    // Between two sizes the smaller one's; above the largest the largest one's.
    assert_eq!(volts("metal-film", 0.6), Some(300.0));
    assert_eq!(volts("carbon-film", 3.0), Some(500.0));
    // No figure: smaller than any published size, or a kind that no document covers.
    assert_eq!(volts("carbon-composition", 0.125), None);
    assert_eq!(volts("wirewound", 5.0), None);
}

#[test]
fn capacitances_are_the_published_ones() {
    // General Electric 12AX7 data sheet, without shield.
    let section = &tube("12AX7").sections[0];
    assert!(near(section.input_capacitance, 1.6e-12));
    assert!(near(section.grid_plate_capacitance, 1.7e-12));
    assert!(near(section.output_capacitance, 0.46e-12));
    assert!(matches!(section.model, TubeModel::Triode(m) if m.rgi == Some(2000.0)));
}
