//! Published operating conditions of rectifier tubes and the filter formulas of the handbooks, from designs.
//!
//! The rows are those of the makers' sheets as carried over in the project's reference (all from memory): transformer
//! voltage and total resistance per plate, direct current drawn, direct voltage at the input of the filter. The winding
//! is given its printed voltage without load and the printed resistance; the load is a current source. RCA rows are for
//! 60 Hz, Philips and Mullard rows for 50 Hz.

use coldcheck::facts::State;

use crate::bench::{Bench, near};

struct Row {
    tube: &'static str,
    /// V, rms, each plate.
    volts: f64,
    input: Input,
    /// mA.
    load: f64,
    /// V, as printed.
    printed: f64,
    hertz: u32,
}

enum Input {
    /// Microfarads, and ohms of each plate.
    Capacitor(f64, f64),
    /// Henries; the sheets print no resistance.
    Choke(f64),
}

use Input::{Capacitor, Choke};

const fn row(tube: &'static str, volts: f64, input: Input, load: f64, printed: f64, hertz: u32) -> Row {
    Row { tube, volts, input, load, printed, hertz }
}

const ROWS: [Row; 19] = [
    row("5U4GB", 300.0, Capacitor(40.0, 21.0), 150.0, 335.0, 60),
    row("5U4GB", 450.0, Capacitor(40.0, 67.0), 137.5, 520.0, 60),
    row("5U4GB", 550.0, Capacitor(40.0, 97.0), 81.0, 680.0, 60),
    row("5U4GB", 550.0, Capacitor(40.0, 97.0), 162.0, 630.0, 60),
    row("5U4GB", 550.0, Choke(10.0), 275.0, 440.0, 60),
    row("5Y3GT", 350.0, Capacitor(20.0, 50.0), 62.5, 390.0, 60),
    row("5Y3GT", 500.0, Choke(10.0), 125.0, 390.0, 60),
    row("5AR4", 300.0, Capacitor(60.0, 50.0), 250.0, 330.0, 50),
    row("5AR4", 400.0, Capacitor(60.0, 100.0), 250.0, 430.0, 50),
    row("5AR4", 500.0, Capacitor(60.0, 150.0), 200.0, 560.0, 50),
    row("5AR4", 550.0, Capacitor(60.0, 175.0), 160.0, 640.0, 50),
    row("5AR4", 550.0, Choke(10.0), 225.0, 465.0, 60),
    row("6V4", 250.0, Capacitor(50.0, 125.0), 90.0, 265.0, 50),
    row("6V4", 300.0, Capacitor(50.0, 215.0), 90.0, 310.0, 50),
    row("6CA4", 250.0, Capacitor(50.0, 150.0), 160.0, 245.0, 50),
    row("6CA4", 350.0, Capacitor(50.0, 240.0), 150.0, 347.0, 50),
    row("6X4", 325.0, Capacitor(10.0, 525.0), 70.0, 310.0, 60),
    row("6X5GT", 325.0, Capacitor(10.0, 525.0), 70.0, 310.0, 60),
    row("5V4G", 375.0, Capacitor(10.0, 100.0), 175.0, 415.0, 60),
];

/// Rows further than 5 % from their print, with the reason.
const OUTSIDE: &[(&str, f64, f64, &str)] = &[];

impl Row {
    fn solved(&self) -> f64 {
        let (half, ohms) = match self.input {
            Capacitor(_, ohms) => (self.volts, 2.0 * ohms),
            Choke(_) => (self.volts, 0.02),
        };
        let filter = match self.input {
            Capacitor(farads, _) => format!("capacitor C10 \"{farads}uF\" from=out to=ground"),
            Choke(henries) => format!(
                "choke L1 \"{henries}H\" from=raw to=out resistance=\"1m\"\nresistor R9 \"1M\" from=raw to=out\n\
                 capacitor C10 \"40uF\" from=out to=ground"
            ),
        };
        let raw = if matches!(self.input, Choke(_)) { "raw" } else { "out" };
        let (heater, far) = if self.tube.starts_with('5') { (5.0, "h2") } else { (6.3, "ground") };
        let bench = Bench::of(&format!(
            "mains \"230V\" \"{hertz}Hz\"
            transformer T1 {{
                primary \"230V\" resistance=\"1m\"
                winding ht \"{half}-0-{half}V\" start=a centre=ground finish=b no-load=\"{whole}V\" resistance=\"{ohms}\"
                winding heaters \"{heater}V\" start=h1 finish={far} no-load=\"{heater}V\" resistance=\"1m\"
            }}
            tube V2 \"{tube}\" {{ heater \"{heater}V\" from=h1 to={far}; }}
            wire V2.plate1 a
            wire V2.plate2 b
            wire V2.cathode {raw}
            {filter}
            current-source S1 \"{load}mA\" from=out to=ground",
            hertz = self.hertz,
            whole = 2.0 * half,
            tube = self.tube,
            load = self.load,
        ));
        bench.quantity("out", "voltage", State::Running)
    }
}

#[test]
fn operating_conditions_of_the_makers_sheets() {
    let mut outside = Vec::new();
    let mut inside = 0;
    for row in &ROWS {
        let found = row.solved();
        let share = found / row.printed - 1.0;
        println!(
            "{} {} V {} mA: {found:.1} V against {} V, {:+.1} %",
            row.tube,
            row.volts,
            row.load,
            row.printed,
            100.0 * share
        );
        if share.abs() <= 0.05 {
            inside += 1;
        } else {
            outside.push((row.tube, row.volts, row.load));
        }
    }
    println!("{inside} of {} rows within 5 %", ROWS.len());
    let expected: Vec<_> = OUTSIDE.iter().map(|(tube, volts, load, _)| (*tube, *volts, *load)).collect();
    assert_eq!(outside, expected);
}

/// The handbook's choke input (Radio Designer's Handbook, 4th edition, chapter 30, from memory): 0.9 × rms, less the
/// drops of winding, choke and rectifier.
#[test]
fn a_choke_input_gives_nine_tenths_less_its_drops() {
    let bench = Bench::of(
        r#"
        mains "230V" "50Hz"
        transformer T1 {
            primary "230V" resistance="1m"
            winding ht "300-0-300V" start=a centre=ground finish=b no-load="600V" resistance="120"
        }
        diode D1 "1N4007" anode=a cathode=raw
        diode D2 "1N4007" anode=b cathode=raw
        choke L1 "20H" from=raw to=out resistance="150"
        resistor R9 "1M" from=raw to=out
        capacitor C1 "47uF" plus=out minus=ground
        current-source S1 "100mA" from=out to=ground
        "#,
    );
    let drops = 0.1 * (60.0 + 150.0) + 0.8;
    near(bench.quantity("out", "voltage", State::Running), 0.9 * 300.0 - drops, 0.005);
}

/// O. H. Schade (Proc. IRE 31, 1943) draws the direct voltage of a full-wave supply over its crest against Rs/RL; for a
/// large ωCR his curves run into cos θ with tan θ − θ = π·Rs/(2·RL), which follows from his own assumptions (an ideal
/// rectifier behind Rs, a steady capacitor voltage).
#[test]
fn large_reservoirs_reach_the_ends_of_the_published_curves() {
    for (share, angle) in [(0.01, 0.355_02), (0.05, 0.587_72), (0.10, 0.720_02)] {
        let wanted = std::f64::consts::PI * share / 2.0;
        let left: f64 = f64::tan(angle) - angle - wanted;
        assert!(left.abs() < 1e-4, "{share}: {left}");
        let bench = Bench::of(&format!(
            r#"
            mains "230V" "50Hz"
            transformer T1 {{
                primary "230V" resistance="1m"
                winding ht "300-0-300V" start=a centre=ground finish=b no-load="600V" resistance="{}"
            }}
            diode D1 "1N4007" anode=a cathode=out {{ model n=0.02 }}
            diode D2 "1N4007" anode=b cathode=out {{ model n=0.02 }}
            capacitor C1 "470uF" plus=out minus=ground
            resistor R1 "5k" from=out to=ground
            "#,
            2.0 * share * 5000.0
        ));
        let expected = 300.0 * std::f64::consts::SQRT_2 * f64::cos(angle);
        near(bench.quantity("out", "voltage", State::Running), expected, 0.01);
    }
}
