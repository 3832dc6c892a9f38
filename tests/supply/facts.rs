//! Facts of the supply by themselves: switching on, running down, what a winding bears, what a regulator does.

use coldcheck::facts::{State, Value};

use super::bench::{Bench, near};

const BRIDGE: &str = r#"
    mains "230V" "50Hz"
    transformer T1 {
        primary "230V" resistance="20"
        winding ht "240V" start=ht1 finish=ht2 current="150mA" resistance="40"
    }
    bridge D1 "1N4007" ac1=ht1 ac2=ht2 plus=raw minus=ground
    capacitor C10 "100uF" plus=raw minus=ground voltage="450V" kind=electrolytic
    resistor R11 "10k" from=raw to=ground power="25W" kind=wirewound
"#;

#[test]
fn the_first_gulp_is_what_the_windings_let_through() {
    // Switched at the crest at high mains: an empty capacitor is a short, 1.1·√2·E less two junctions over the resistance.
    let bench = Bench::of(BRIDGE);
    let ratio = 240.0 / 230.0;
    let ohms = 40.0 + 20.0 * ratio * ratio;
    let crest = 1.1 * std::f64::consts::SQRT_2 * (240.0 + 0.15 * ohms);
    let gulp = bench.quantity("D1", "hot-switch-current", State::SwitchOn);
    near(gulp, (crest - 2.0) / ohms, 0.03);
    near(bench.quantity("design", "inrush", State::SwitchOn), gulp * ratio, 0.01);
}

#[test]
fn a_winding_is_loaded_by_its_rms_current() {
    let bench = Bench::of(BRIDGE);
    let amperes = bench.quantity("T1.ht", "rms-current", State::Running);
    near(bench.quantity("T1.ht", "apparent-power", State::Running), 240.0 * amperes, 1e-9);
}

#[test]
fn one_open_resistor_leaves_the_reservoir_charged() {
    let bench = Bench::of(BRIDGE);
    assert_eq!(bench.value("C10", "discharge-resistor", None), Some(&Value::Word("R11".to_owned())));
    let never = bench.quantity("C10", "discharge-time-if-open", State::SwitchedOff);
    assert!(never.is_infinite(), "{never}");
    let cold = bench.quantity("C10", "discharge-time", State::SwitchedOff);
    assert!((1.5..2.5).contains(&cold), "{cold}");
}

#[test]
fn two_bleeders_leave_the_other_one() {
    let both = format!("{BRIDGE}\nresistor R12 \"22k\" from=raw to=ground power=\"25W\"");
    let bench = Bench::of(&both);
    let volts = bench.quantity("C10", "working-voltage", State::HighMains);
    assert_eq!(bench.value("C10", "discharge-resistor", None), Some(&Value::Word("R11".to_owned())));
    // V·exp(−t/RC) falls to 50 V after R·C·ln(V/50 V), R the 22 kΩ that is left.
    let left = bench.quantity("C10", "discharge-time-if-open", State::SwitchedOff);
    near(left, 22e3 * 100e-6 * (volts / 50.0).ln(), 0.02);
}

#[test]
fn hot_tubes_empty_a_supply_sooner() {
    let bench = Bench::of(include_str!("designs/several-windings-at-once.kdl"));
    let cold = bench.quantity("C11", "discharge-time", State::SwitchedOff);
    let hot = bench.quantity("C11", "discharge-time-hot", State::SwitchedOff);
    assert!(hot < cold, "{hot} against {cold}");
}

#[test]
fn a_choke_rings_with_its_capacitor_and_tells_when() {
    let bench = Bench::of(
        r#"
        mains "230V" "50Hz"
        transformer T1 {
            primary "230V" resistance="20"
            winding ht "180V" start=ht1 finish=ht2 current="100mA" resistance="40"
        }
        bridge D1 "1N4007" ac1=ht1 ac2=ht2 plus=raw minus=ground
        choke L1 "20H" from=raw to=bplus resistance="60"
        capacitor C10 "47uF" plus=bplus minus=ground
        resistor R11 "4k7" from=bplus to=ground
        "#,
    );
    let (crest, settled) = (
        bench.quantity("C10", "surge-voltage", State::SwitchOn),
        bench.quantity("C10", "peak-voltage", State::SwitchOn),
    );
    assert!(crest > 1.3 * settled, "{crest} against {settled}");
    // Half a period of the ring, π·√(L·C) = 96 ms.
    let after = bench.quantity("C10", "surge-time", State::SwitchOn);
    assert!((0.08..0.12).contains(&after), "{after}");
    // Over the choke lies all that the rectified sine is above and below its mean: rms² less mean², about 0.48 of it.
    let across = bench.quantity("L1", "alternating-voltage", State::Running);
    near(across, 0.48 * bench.quantity("bplus", "voltage", State::Running), 0.1);
}

#[test]
fn a_regulator_holds_passes_and_strikes() {
    let bench = Bench::of(include_str!("designs/two-gas-regulators-in-series.kdl"));
    assert_eq!(bench.value("V3", "struck", None), Some(&Value::Flag(true)));
    let volts = bench.quantity("V3", "held-voltage", State::Running);
    let amperes = bench.quantity("V3", "regulator-current", State::Running);
    near(volts, 149.6 + 80.0 * amperes, 0.002);
    let dark = Bench::of(
        r#"
        bench-supply B1 "170V" plus=bplus minus=ground
        resistor R1 "1k" from=bplus to=held
        tube V3 "VR150"
        wire V3.anode held
        wire V3.cathode ground
        "#,
    );
    assert_eq!(dark.value("V3", "struck", None), Some(&Value::Flag(false)));
}

#[test]
fn a_capacitor_to_earth_leaks() {
    // 2π · 50 Hz · 4.7 nF · 253 V.
    let bench = Bench::of(
        r#"
        mains "230V" "50Hz" tolerance="10%"
        inlet J1 live=line neutral=neutral earth=earth
        transformer T1 {
            primary "230V" start=line finish=neutral resistance="20"
            winding low "6.3V" start=l1 finish=ground current="1A" resistance="0.1"
        }
        wire chassis earth
        wire ground chassis
        resistor R1 "10" from=l1 to=ground
        capacitor C1 "4.7n" from=line to=earth class=Y2
        "#,
    );
    near(bench.quantity("C1", "leakage-current", State::HighMains), 373.6e-6, 0.002);
}
