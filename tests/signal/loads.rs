//! An output stage on other loads than its own, over a range of values: a level that can be solved is solved.

use coldcheck::facts::State;

use crate::bench::{Bench, near};

const SCREENS: [&str; 5] = ["1", "47", "100", "470", "2k2"];
const LEVELS: [&str; 4] = ["0.5", "2", "5", "12"];

/// One EL84 in class A.
fn single(screen: &str, level: &str, load: &str, bleeder: &str) -> String {
    format!(
        r#"bench-supply B1 "265V" plus=bplus minus=ground
bench-supply B2 "6.3V" plus=h1 minus=ground
tube V1 "EL84" {{ heater "6.3V" from=h1 to=ground; }}
resistor R1 "470k" from=in to=ground power="0.25W"
resistor R2 "1k" from=in to=V1.grid power="0.25W"
resistor R3 "{screen}" from=bplus to=V1.screen power="2W"
resistor R4 "150" from=V1.cathode to=ground power="2W"
capacitor C1 "220uF" plus=V1.cathode minus=ground voltage="25V" kind=electrolytic
output-transformer T1 power="6W" {{
    primary "5k2" start=bplus finish=V1.plate resistance="300" inductance="14H" current="60mA"
    secondary "8" start=ground finish=out resistance="0.5"
}}
{bleeder}
input IN hot=in cold=ground source="600" level="{level}V"
output OUT hot=out cold=ground load="{load}"
"#
    )
}

/// Two 6L6GC in class AB.
fn pair(screen: &str, level: &str) -> String {
    format!(
        r#"bench-supply B1 "440V" plus=bplus minus=ground
bench-supply B2 "6.3V" plus=h1 minus=ground
bench-supply B3 "40V" plus=ground minus=bias
bench-supply B4 "400V" plus=screens minus=ground
tube V1 "6L6GC" {{ heater "6.3V" from=h1 to=ground; }}
tube V2 "6L6GC" {{ heater "6.3V" from=h1 to=ground; }}
output-transformer T1 {{
    primary "4k" start=g1 centre=bias finish=g2 resistance="400" inductance="100H" current="1mA"
    secondary "1k" start=ground finish=in resistance="50"
}}
resistor R1 "1k" from=g1 to=V1.grid power="0.25W"
resistor R2 "1k" from=g2 to=V2.grid power="0.25W"
wire V1.cathode ground
wire V2.cathode ground
resistor R3 "{screen}" from=screens to=V1.screen power="2W"
resistor R4 "{screen}" from=screens to=V2.screen power="2W"
output-transformer T2 power="50W" {{
    primary "5k6" start=V1.plate centre=bplus finish=V2.plate resistance="100" inductance="60H" current="60mA"
    secondary "8" start=ground finish=out resistance="0.4"
}}
input IN hot=in cold=ground source="600" level="{level}V"
output OUT hot=out cold=ground load="8"
"#
    )
}

fn number(bench: &Bench, subject: &str, fact: &str) -> f64 {
    bench.quantity(subject, fact, State::Running)
}

#[test]
fn a_stage_without_its_load_is_solved_over_a_range_of_screen_resistors_and_drives() {
    for screen in SCREENS {
        for level in LEVELS {
            let crest = number(&Bench::of(&single(screen, level, "8", "")), "V1", "open-load-crest");
            assert!((700.0..2500.0).contains(&crest), "{screen} {level}: {crest}");
        }
        for level in ["5", "25", "40"] {
            let crest = number(&Bench::of(&pair(screen, level)), "V1", "open-load-crest");
            assert!((600.0..6000.0).contains(&crest), "{screen} {level}: {crest}");
        }
    }
}

#[test]
fn the_power_into_another_load_is_that_of_a_design_with_that_load() {
    for screen in ["47", "1k"] {
        for level in ["2", "12"] {
            let bench = Bench::of(&single(screen, level, "8", ""));
            for (fact, load) in [("power-at-half-load", "4"), ("power-at-double-load", "16")] {
                let other = Bench::of(&single(screen, level, load, ""));
                near(number(&bench, "OUT", fact), number(&other, "OUT", "largest-power"), 0.015);
            }
        }
    }
}

#[test]
fn a_resistor_that_stays_across_the_secondary_holds_the_plate_down() {
    for screen in ["100", "1k"] {
        let crest = |bleeder: &str| number(&Bench::of(&single(screen, "2", "8", bleeder)), "V1", "open-load-crest");
        assert!(crest(r#"resistor R9 "82" from=out to=ground power="2W""#) < 0.97 * crest(""));
    }
}
