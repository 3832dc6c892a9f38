//! One circuit drawn in the several ways that builders draw it: from which leg of a filament the supply is taken, whether
//! a tap is used, how a line is balanced. What is found must not hang on the way.

use coldcheck::facts::{State, Value};

use crate::figures::{inspected_text, inspection};

/// A supply with a directly heated or joined-cathode rectifier, from what `OUT` stands for.
const FILAMENT: &str = r#"
design "Supply"
mains "230V" "50Hz" tolerance="10%"
inlet J1 live=line neutral=neutral earth=earth
fuse F1 "250mA" from=line to=fused speed=slow voltage="250V"
switch S1 from=fused to=switched voltage="250V" current="4A"
transformer T1 {
    primary "230V" start=switched finish=neutral resistance="20"
    winding ht "250-0-250V" start=ht1 centre=ground finish=ht2 current="90mA" resistance="300"
    winding rectifier "2.5-0-2.5V" start=r1 centre=middle finish=r2 current="2A" resistance="0.1"
}
wire chassis earth
wire ground chassis
tube V1 "TUBE" { heater "5V" from=r1 to=r2; }
wire V1.plate1 ht1
wire V1.plate2 ht2
FIRST
choke L1 "10H" from=OUT to=bplus resistance="200" current="100mA"
capacitor C2 "47uF" plus=bplus minus=ground voltage="500V" kind=electrolytic
resistor R1 "22k" from=bplus to=ground power="15W" kind=wirewound voltage="700V"
"#;

fn filament(tube: &str, out: &str, first: &str) -> String {
    FILAMENT.replace("FIRST", first).replace("TUBE", tube).replace("OUT", out)
}

const FIRST: &str = r#"capacitor C1 "33uF" plus=OUT minus=ground voltage="500V" kind=electrolytic"#;

const STACK: &str = r#"capacitor C1 "100uF" plus=OUT minus=joint voltage="350V" kind=electrolytic
capacitor C3 "100uF" plus=joint minus=ground voltage="350V" kind=electrolytic
resistor R2 "220k" from=OUT to=joint power="2W"
resistor R3 "220k" from=joint to=ground power="2W""#;

fn told(text: &str) -> Vec<(String, String)> {
    inspection(text).report.findings.into_iter().map(|finding| (finding.rule, finding.part)).collect()
}

fn has(found: &[(String, String)], rule: &str, part: &str) -> bool {
    found.iter().any(|(other, of)| other == rule && of == part)
}

fn quantity(text: &str, subject: &str, fact: &str, state: Option<State>) -> Option<f64> {
    let facts = inspection(text).facts.unwrap_or_default();
    facts.named(subject).find_map(|id| facts.value(id, fact, 0, state)).and_then(|value| value.number())
}

fn near(found: Option<f64>, expected: f64) {
    assert!(found.is_some_and(|found| (found / expected - 1.0).abs() < 0.01), "{found:?} instead of {expected}");
}

#[test]
fn the_first_capacitor_is_the_same_from_the_cathode_a_leg_or_the_tap_between() {
    for tube in ["5Y3", "GZ34"] {
        for out in ["V1.cathode", "r1", "r2", "middle"] {
            let text = filament(tube, out, FIRST);
            near(quantity(&text, "V1", "first-capacitor", None), 33e-6);
            assert_eq!(has(&told(&text), "supply/first-capacitor", "V1"), tube == "5Y3", "{tube} from {out}");
        }
    }
}

#[test]
fn a_rectifier_whose_output_nothing_takes_leads_nowhere() {
    for tube in ["5Y3", "GZ34"] {
        let taken = told(&filament(tube, "r1", FIRST));
        assert!(!has(&taken, "wiring/dangling", "V1.cathode"), "{tube}: {taken:?}");
        let left = told(&filament(tube, "elsewhere", FIRST));
        assert!(has(&left, "wiring/dangling", "V1.cathode"), "{tube}: {left:?}");
    }
}

#[test]
fn stacked_capacitors_are_one_of_half_their_value() {
    near(quantity(&filament("GZ34", "V1.cathode", STACK), "V1", "first-capacitor", None), 50e-6);
}

#[test]
fn a_choke_right_behind_a_filament_is_a_choke_input() {
    for (tube, out) in [("GZ34", "V1.cathode"), ("5Y3", "r2"), ("5Y3", "V1.cathode")] {
        let text = filament(tube, out, "");
        let found = told(&text);
        // R/(6πf) of 22 kΩ at 50 Hz is 23 H, and of what the choke's own resistance adds a little more.
        near(quantity(&text, "L1", "critical-inductance", Some(State::Running)), 22e3 / 942.5);
        assert!(has(&found, "supply/critical-inductance", "L1"), "{tube} from {out}: {found:?}");
        // The data sheet's least resistance is for a capacitor that is charged in gulps.
        assert!(!has(&found, "supply/plate-supply-resistance", "V1"), "{tube} from {out}: {found:?}");
        // The rectifier's heater rides on the supply: nothing of it is weak or held twice.
        assert!(!found.iter().any(|(rule, _)| rule.starts_with("heater/reference")), "{tube} from {out}: {found:?}");
    }
}

#[test]
fn a_choke_behind_stacked_capacitors_is_none() {
    let found = told(&filament("GZ34", "V1.cathode", STACK));
    assert!(!has(&found, "supply/critical-inductance", "L1"), "{found:?}");
}

#[test]
fn a_tap_that_is_not_used_leaves_the_winding_whole() {
    let design = r#"
design "Taps"
mains "230V" "50Hz" tolerance="10%"
inlet J1 live=line neutral=neutral earth=earth
fuse F1 "63mA" from=line to=fused speed=slow voltage="250V"
switch S1 from=fused to=switched voltage="250V" current="4A"
transformer T1 {
    primary "230V" start=switched finish=neutral resistance="50"
    winding ht HT start=ht1 finish=ht2 current="80mA" resistance="200"
    winding heaters HEATERS start=h1 finish=h2 current="600mA" resistance="0.2"
}
wire chassis earth
wire ground chassis
bridge D1 "1N4007" ac1=ht1 ac2=ht2 plus=bplus minus=ground
capacitor C1 "47uF" plus=bplus minus=ground voltage="450V" kind=electrolytic
resistor R1 "47k" from=bplus to=ground power="10W" kind=wirewound
resistor R2 "100" from=h1 to=ground power="0.5W"
resistor R3 "100" from=h2 to=ground power="0.5W"
tube V1 "12AU7" { heater "6.3V" from=h1 to=h2; }
unused V1a
unused V1b
"#;
    let tapped = design.replace("HT", "\"110-0-110V\"").replace("HEATERS", "\"3.15-0-3.15V\"");
    let whole = design.replace("HT", "\"220V\"").replace("HEATERS", "\"6.3V\"");
    for (subject, fact) in [("bplus", "voltage"), ("V1.heater", "voltage"), ("design", "mains-current")] {
        let expected = quantity(&whole, subject, fact, Some(State::Running));
        near(quantity(&tapped, subject, fact, Some(State::Running)), expected.unwrap_or_default());
    }
    assert_eq!(told(&tapped), told(&whole));
}

const STAGE: &str = r#"
design "Stage"
bench-supply B1 "250V" plus=raw minus=ground
bench-supply B2 "6.3V" plus=h1 minus=ground
tube V1 "12AU7" { heater "6.3V" from=h1 to=ground; }
unused V1b
resistor R1 "470k" from=in to=ground power="0.25W"
resistor R2 "1k" from=in to=V1a.grid power="0.25W"
resistor R4 "1k5" from=V1a.cathode to=ground power="0.25W"
input IN hot=in cold=ground source="600" level="0.1V"
output OUT hot=out cold=ground load="100k"
"#;

#[test]
fn a_film_capacitor_drawn_with_plus_and_minus_is_film() {
    let drawn = |ends: &str| {
        format!(
            "{STAGE}resistor R3 \"47k\" from=raw to=V1a.plate power=\"2W\"\n\
             capacitor C2 \"470n\" {ends} voltage=\"300V\" kind=film\n\
             resistor R5 \"470k\" from=out to=ground power=\"0.25W\"\n"
        )
    };
    // 250 V on 300 V is 83 %: past the share of film, within that of an electrolytic.
    for ends in ["from=V1a.plate to=out", "plus=V1a.plate minus=out", "plus=out minus=V1a.plate"] {
        let found = told(&drawn(ends));
        assert!(has(&found, "capacitor/working-voltage", "C2"), "{ends}: {found:?}");
        assert!(!has(&found, "capacitor/polarity", "C2"), "{ends}: {found:?}");
    }
}

#[test]
fn a_balanced_line_is_held_by_what_is_plugged_in_and_a_loudspeaker_by_nothing() {
    let microphone = r#"
output-transformer T1 power="0.1W" {
    primary "150" start=m1 finish=m2 resistance="10" inductance="2H"
    secondary "15k" start=in finish=ground resistance="600"
}
input MIC hot=m1 cold=m2 source="150" level="2mV"
"#;
    let stage = STAGE.replace("input IN hot=in cold=ground source=\"600\" level=\"0.1V\"\n", microphone);
    let line = |load: &str| {
        let stage = stage.replace("output OUT hot=out cold=ground load=\"100k\"\n", "");
        format!(
            "{stage}output-transformer T2 power=\"2W\" {{\n\
                 primary \"15k\" start=V1a.plate finish=raw resistance=\"800\" inductance=\"100H\"\n\
                 secondary \"{load}\" start=o1 finish=o2 resistance=\"1\"\n\
             }}\n\
             output OUT hot=o1 cold=o2 load=\"{load}\"\n"
        )
    };
    let balanced = inspection(&line("600")).report;
    assert!(!balanced.findings.iter().any(|finding| finding.rule == "wiring/floating"), "{:?}", balanced.findings);
    assert!(!balanced.not_judged.iter().any(|open| open.rule == "coupling/blocking"), "{:?}", balanced.not_judged);
    assert!(told(&line("8")).iter().any(|(rule, _)| rule == "wiring/floating"));
}

#[test]
fn a_filament_is_biased_beyond_its_hum_balance() {
    let drawn = |bias: &str| {
        format!(
            "design \"Filament\"\n\
             bench-supply B1 \"420V\" plus=bplus minus=ground\n\
             mains \"230V\" \"50Hz\"\n\
             transformer T1 {{\n\
                 primary \"230V\" resistance=\"40\"\n\
                 winding filament \"5V\" start=f1 finish=f2 current=\"1.2A\" resistance=\"0.2\"\n\
             }}\n\
             tube V1 \"300B\" {{ heater \"5V\" from=f1 to=f2; }}\n\
             potentiometer P1 \"100\" top=f1 wiper=foot bottom=f2 power=\"2W\" setting=\"50%\"\n\
             {bias}\n\
             resistor R2 \"220k\" from=drive to=return power=\"0.25W\"\n\
             resistor R3 \"1k\" from=drive to=V1.grid power=\"0.25W\"\n\
             resistor R4 \"3k\" from=bplus to=V1.plate power=\"50W\" kind=wirewound\n"
        )
    };
    let itself = drawn(
        "resistor R1 \"1k\" from=foot to=ground power=\"15W\" kind=wirewound\n\
         capacitor C1 \"100uF\" plus=foot minus=ground voltage=\"160V\" kind=electrolytic\n\
         wire return ground",
    );
    let fixed = drawn("wire foot ground\nbench-supply B3 \"80V\" plus=ground minus=return");
    let word = |text: &str, subject: &str, fact: &str| {
        let facts = inspection(text).facts.unwrap_or_default();
        facts.named(subject).find_map(|id| facts.value(id, fact, 0, None)).cloned()
    };
    assert_eq!(word(&itself, "V1", "bias-kind"), Some(Value::Word("cathode".to_owned())));
    assert_eq!(word(&itself, "V1", "bypassed"), Some(Value::Flag(true)));
    assert_eq!(word(&itself, "C1", "role"), Some(Value::Word("cathode-bypass".to_owned())));
    assert_eq!(word(&fixed, "V1", "bias-kind"), Some(Value::Word("fixed".to_owned())));
    assert!(!has(&told(&itself), "grid/leak-limit", "V1"));
    assert!(has(&told(&fixed), "grid/leak-limit", "V1"));
}

#[test]
fn a_forgotten_unit_is_told_and_not_believed() {
    for (part, told) in [
        ("capacitor C9 \"0.47\" from=raw to=ground voltage=\"400V\" kind=film", "without a unit `0.47` is 470 mF"),
        ("capacitor C9 22 from=raw to=ground voltage=\"400V\" kind=film", "beyond anything that is built"),
        ("choke L9 \"10H\" from=raw to=smooth resistance=\"200\" current=\"60\"", "beyond anything that is built"),
    ] {
        let complaints = inspected_text(&format!("{STAGE}{part}\n"));
        assert!(complaints.iter().any(|complaint| complaint.contains(told)), "{part}: {complaints:?}");
    }
    let plain = inspected_text(&format!("{STAGE}capacitor C9 0.00000047 from=raw to=ground voltage=\"400V\"\n"));
    assert!(plain.is_empty(), "{plain:?}");
}

#[test]
fn a_dip_on_the_way_to_a_band_that_is_heard_is_no_corner() {
    // The bass goes through 220 kΩ and 470 kΩ, the treble through 1 nF: between them, near 250 Hz, some 9 dB are missing.
    let tone = r#"
design "Tone"
resistor R1 "220k" from=in to=bass power="0.25W"
capacitor C1 "4.7nF" from=bass to=ground voltage="100V" kind=film
resistor R2 "470k" from=bass to=out power="0.25W"
capacitor C2 "1nF" from=in to=out voltage="100V" kind=film
resistor R3 "10M" from=out to=ground power="0.25W"
resistor R4 "1M" from=in to=ground power="0.25W"
input IN hot=in cold=ground source="600" level="0.1V"
output OUT hot=out cold=ground
"#;
    assert_eq!(quantity(tone, "OUT", "low-corner", Some(State::Running)), Some(0.0));
    // Where the bass is lost for good the corner is where it begins.
    let thin = tone.replace("resistor R2 \"470k\" from=bass to=out", "resistor R2 \"470k\" from=bass to=ground");
    let lost = quantity(&thin, "OUT", "low-corner", Some(State::Running));
    // 10 MΩ and 1 nF have theirs at 15.9 Hz.
    near(lost, 15.9);
}

#[test]
fn the_resistor_that_filters_a_followers_rail_is_no_plate_load() {
    let follower = |plate: &str| {
        STAGE.replace("bench-supply B1 \"250V\" plus=raw minus=ground\n", "").replace(
            "output OUT",
            &format!(
                "mains \"230V\" \"50Hz\"\n\
                 transformer T1 {{\n\
                     primary \"230V\" resistance=\"40\"\n\
                     winding ht \"200V\" start=ht1 finish=ht2 current=\"60mA\" resistance=\"150\"\n\
                 }}\n\
                 bridge D1 \"1N4007\" ac1=ht1 ac2=ht2 plus=reservoir minus=ground\n\
                 capacitor C1 \"10uF\" plus=reservoir minus=ground voltage=\"400V\" kind=electrolytic\n\
                 resistor R5 \"4k7\" from=reservoir to=rail power=\"3W\"\n\
                 capacitor C2 \"100uF\" plus=rail minus=ground voltage=\"400V\" kind=electrolytic\n\
                 {plate}\n\
                 resistor R6 \"220k\" from=out to=ground power=\"0.25W\"\n\
                 capacitor C3 \"1uF\" from=V1a.cathode to=out voltage=\"400V\" kind=film\n\
                 output OUT"
            ),
        )
    };
    let straight = told(&follower("wire V1a.plate rail"));
    assert!(!has(&straight, "supply/ripple", "V1a"), "{straight:?}");
    let unfiltered = told(&follower("resistor R7 \"10k\" from=reservoir to=V1a.plate power=\"3W\""));
    assert!(has(&unfiltered, "supply/ripple", "V1a"), "{unfiltered:?}");
}
