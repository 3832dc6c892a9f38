//! Worked examples: each names its source and the tolerance that its printed digits allow.

use coldcheck::facts::State;

use crate::bench::{Bench, near};

/// NEETS Module 6, NAVEDTRA 14178, assignment 1, Q1-30: 350 V, 25 kΩ, 4 mA leave 250 V at the plate.
#[test]
fn a_plate_resistor_drops_its_current() {
    let bench = Bench::of(
        r#"
        bench-supply B1 "350V" plus=bplus minus=ground
        resistor R1 "25k" from=bplus to=plate
        current-source S1 "4mA" from=plate to=ground
        "#,
    );
    near(bench.quantity("plate", "voltage", State::Running), 250.0, 0.005);
}

/// NEETS Module 6, page 1-33: 300 V, 10 kΩ, 2 mA and 20 V at the cathode: 280 V to ground, 260 V to the cathode.
#[test]
fn cathode_bias_takes_its_share_of_the_plate_voltage() {
    let bench = Bench::of(
        r#"
        bench-supply B1 "300V" plus=bplus minus=ground
        resistor R1 "10k" from=bplus to=plate
        current-source S1 "2mA" from=plate to=cathode
        resistor R2 "10k" from=cathode to=ground
        "#,
    );
    near(bench.quantity("plate", "voltage", State::Running), 280.0, 0.005);
    near(bench.quantity("S1", "voltage-across", State::Running), 260.0, 0.005);
}

/// FCC Element 3, question 3-15B1: 220 µF twice and 1 MΩ twice in parallel make 220 s; from 300 V, 50 V is reached
/// after 220 s × ln 6.
#[test]
fn parts_in_parallel_discharge_with_their_published_time_constant() {
    let bench = Bench::of(
        r#"
        bench-supply B1 "300V" plus=bplus minus=ground
        capacitor C1 "220uF" plus=bplus minus=ground
        capacitor C2 "220uF" plus=bplus minus=ground
        resistor R1 "1M" from=bplus to=ground
        resistor R2 "1M" from=bplus to=ground
        "#,
    );
    near(bench.quantity("C1", "discharge-time", State::SwitchedOff), 220.0 * 6f64.ln(), 0.005);
}

/// NEC (NFPA 70) 460.6 limit of 50 V within a minute; the capacitor and voltage are chosen here: 450 V on 100 µF need
/// 273 kΩ or less.
#[test]
fn the_largest_bleeder_takes_a_minute() {
    let bench = Bench::of(
        r#"
        bench-supply B1 "450V" plus=bplus minus=ground
        capacitor C1 "100uF" plus=bplus minus=ground
        resistor R1 "273k" from=bplus to=ground
        "#,
    );
    near(bench.quantity("C1", "discharge-time", State::SwitchedOff), 60.0, 0.005);
}

/// NEETS Module 6, assignment 3, Q3-19 and Q3-20: 240 V end to end, full wave, no filter: peak 169.7 V, mean 108.1 V.
/// The diodes are made nearly ideal, as the example takes them.
#[test]
fn a_full_wave_rectifier_without_filter() {
    let bench = Bench::of(
        r#"
        mains "230V" "50Hz"
        transformer T1 {
            primary "230V" resistance="1m"
            winding ht "120-0-120V" start=a centre=ground finish=b current="1mA" resistance="2"
        }
        diode D1 "1N4007" anode=a cathode=out { model n=0.02 }
        diode D2 "1N4007" anode=b cathode=out { model n=0.02 }
        resistor R1 "100k" from=out to=ground
        "#,
    );
    near(bench.quantity("R1", "voltage-across", State::Running), 169.7, 0.003);
    near(bench.quantity("out", "voltage", State::Running), 108.1, 0.003);
}

/// US Army TC 9-62, paragraphs 4-10 and 4-11: 115 V, half wave, no filter: peak 162.6 V, mean 51.7 V.
#[test]
fn a_half_wave_rectifier_without_filter() {
    let bench = Bench::of(
        r#"
        mains "230V" "60Hz"
        transformer T1 {
            primary "230V" resistance="1m"
            winding ht "115V" start=a finish=ground current="1mA" resistance="2"
        }
        diode D1 "1N4007" anode=a cathode=out { model n=0.02 }
        resistor R1 "100k" from=out to=ground
        "#,
    );
    near(bench.quantity("R1", "voltage-across", State::Running), 162.6, 0.003);
    near(bench.quantity("out", "voltage", State::Running), 51.7, 0.003);
}

/// FCC Element 6, question 6A310: peak inverse voltage 10 kV allows 7070 V end to end; at any voltage the ratio is √2.
#[test]
fn a_centre_tapped_rectifier_blocks_root_two_times_the_whole_winding() {
    let bench = Bench::of(
        r#"
        mains "230V" "50Hz"
        transformer T1 {
            primary "230V" resistance="1m"
            winding ht "353.5-0-353.5V" start=a centre=ground finish=b current="1uA" resistance="2"
        }
        diode D1 "1N4007" anode=a cathode=out { model n=0.02 }
        diode D2 "1N4007" anode=b cathode=out { model n=0.02 }
        capacitor C1 "10uF" plus=out minus=ground
        resistor R1 "10M" from=out to=ground
        "#,
    );
    near(bench.quantity("D1", "peak-inverse-voltage", State::Running), 1000.0, 0.003);
}

/// Critical inductance R/(2π·3f), divisors 1131 at 60 Hz and 942 at 50 Hz (stored encyclopedia text on ripple); the
/// 5 kΩ load is chosen here: 5.31 H at 50 Hz, 4.42 H at 60 Hz.
#[test]
fn the_critical_inductance_of_an_input_choke() {
    for (frequency, henries) in [("50Hz", 5.31), ("60Hz", 4.42)] {
        let bench = Bench::of(&format!(
            r#"
            mains "230V" "{frequency}"
            transformer T1 {{
                primary "230V" resistance="10"
                winding ht "300-0-300V" start=a centre=ground finish=b current="100mA" resistance="100"
            }}
            diode D1 "1N4007" anode=a cathode=raw
            diode D2 "1N4007" anode=b cathode=raw
            choke L1 "10H" from=raw to=out resistance="100"
            capacitor C1 "47uF" plus=out minus=ground
            resistor R1 "5k" from=out to=ground
            "#
        ));
        near(bench.quantity("L1", "critical-inductance", State::Running), henries, 0.003);
    }
}

/// Heater-supply article (valvewizard.co.uk/heater.html): three ECC83 take 0.9 A, two EL34 a further 3 A: 3.9 A.
#[test]
fn a_heater_winding_carries_the_sum_of_its_heaters() {
    let tubes = ["ECC83", "ECC83", "ECC83", "EL34", "EL34"];
    let lines: String = tubes
        .iter()
        .enumerate()
        .map(|(i, tube)| format!("tube V{i} \"{tube}\" {{ heater \"6.3V\" from=h1 to=ground; }}\n"))
        .collect();
    let bench = Bench::of(&format!(
        r#"
        mains "230V" "50Hz"
        transformer T1 {{
            primary "230V" resistance="20"
            winding heaters "6.3V" start=h1 finish=ground current="4A" resistance="0.1"
        }}
        {lines}
        "#
    ));
    near(bench.quantity("T1.heaters", "rms-current", State::Running), 3.9, 0.005);
}

/// Audio forum worked example: 2 µF into 10 kΩ turn over at 7.95 Hz.
#[test]
fn a_coupling_capacitor_turns_over_where_the_formula_says() {
    let bench = Bench::of(
        r#"
        bench-supply B1 "1V" plus=driven minus=ground
        capacitor C1 "2uF" from=driven to=out
        resistor R1 "10k" from=out to=ground
        "#,
    );
    near(bench.quantity("C1", "corner-frequency", State::Running), 7.95, 0.005);
}

/// I/(2fC), the usual handbook upper bound for a reservoir's ripple (from memory): 100 mA, 50 Hz, 47 µF give 21.3 V. The
/// computed ripple lies below it by the share of the period in which the rectifier recharges, a fifth to a third.
#[test]
fn the_ripple_of_a_reservoir_stays_under_the_handbook_bound() {
    let bench = Bench::of(
        r#"
        mains "230V" "50Hz"
        transformer T1 {
            primary "230V" resistance="10"
            winding ht "250-0-250V" start=a centre=ground finish=b current="100mA" resistance="80"
        }
        diode D1 "1N4007" anode=a cathode=out
        diode D2 "1N4007" anode=b cathode=out
        capacitor C1 "47uF" plus=out minus=ground
        current-source S1 "100mA" from=out to=ground
        "#,
    );
    let ripple = bench.quantity("out", "ripple", State::Running);
    assert!((0.65 * 21.3..21.3).contains(&ripple), "{ripple}");
}
