//! A grid bias taken from a winding through a resistor of any size, as builders without a bias winding take it: it stands
//! where hand calculation has it, and a signal does not take it away.

use std::f64::consts::{PI, SQRT_2};

use coldcheck::facts::State;

use crate::figures::inspection;

/// A single-ended pentode with fixed bias; `BIAS` stands for what makes the net `raw` negative.
const STAGE: &str = r#"
design "Fixed bias"
mains "230V" "50Hz" tolerance="10%"
inlet J1 live=line neutral=neutral earth=earth
fuse F1 "500mA" from=line to=fused speed=slow voltage="250V"
switch S1 from=fused to=switched voltage="250V" current="4A"
transformer T1 {
    primary "230V" start=switched finish=neutral resistance="12"
    winding ht "200-0-200V" start=ht1 centre=ground finish=ht2 current="150mA" resistance="120"
    winding bias "50V" start=low finish=ground current="50mA" resistance="30"
    winding heaters "3.15-0-3.15V" start=h1 centre=ground finish=h2 current="2A" resistance="0.1"
}
wire chassis earth
wire ground chassis
diode D1 "1N4007" anode=ht1 cathode=bplus
diode D2 "1N4007" anode=ht2 cathode=bplus
capacitor C1 "100uF" plus=bplus minus=ground voltage="450V" kind=electrolytic
resistor R1 "100k" from=bplus to=ground power="3W" kind=metal-oxide voltage="500V"
BIAS
capacitor C5 "47uF" plus=ground minus=raw voltage="160V" kind=electrolytic
resistor R5 "47k" from=raw to=bias power="0.5W"
resistor R6 "ROUT" from=bias to=ground power="0.5W"
capacitor C6 "47uF" plus=ground minus=bias voltage="63V" kind=electrolytic
tube V1 "EL84" { heater "6.3V" from=h1 to=h2; }
capacitor C7 "100nF" from=in to=grid voltage="400V" kind=film
resistor R7 "220k" from=grid to=bias power="0.5W"
resistor R8 "1k" from=grid to=V1.grid power="0.5W"
wire V1.cathode ground
resistor R9 "100" from=bplus to=V1.screen power="0.5W"
output-transformer T2 power="10W" {
    primary "5k2" start=bplus finish=V1.plate resistance="200" inductance="15H" current="60mA"
    secondary "8" start=out finish=ground resistance="0.4"
}
input IN hot=in cold=ground source="600" level="2V"
output OUT hot=out cold=ground load="8"
"#;

/// What feeds the bias, its open-circuit voltage (rms) with its inner resistance, and the lower resistor of the divider.
struct Fed {
    parts: &'static str,
    source: f64,
    inner: f64,
    lower: &'static str,
    lower_ohms: f64,
}

/// Open-circuit voltage and resistance of the bias winding: rated voltage and the drop of its rated current in its own
/// resistance and in the primary's, as the ratio of their voltages shows it.
const LOW_INNER: f64 = 30.0 + 12.0 * (50.0 / 230.0) * (50.0 / 230.0);
const LOW_SOURCE: f64 = 50.0 + 0.05 * LOW_INNER;
/// The same of half the high tension, whose resistance is stated from end to end. The rectifiers load the other half while
/// this one feeds the bias.
const HIGH_INNER: f64 = 60.0 + 12.0 * (200.0 / 230.0) * (200.0 / 230.0);
const HIGH_SOURCE: f64 = 200.0 + 0.15 * HIGH_INNER;

const FED: [Fed; 3] = [
    Fed {
        parts: r#"resistor R4 "1k" from=low to=feed power="1W"
diode D3 "1N4007" anode=raw cathode=feed"#,
        source: LOW_SOURCE,
        inner: LOW_INNER + 1e3,
        lower: "12k",
        lower_ohms: 12e3,
    },
    Fed {
        parts: r#"resistor R4 "10k" from=low to=feed power="1W"
diode D3 "1N4007" anode=raw cathode=feed"#,
        source: LOW_SOURCE,
        inner: LOW_INNER + 10e3,
        lower: "18k",
        lower_ohms: 18e3,
    },
    Fed {
        parts: r#"resistor R3 "47k" from=ht1 to=half power="1W" voltage="500V"
resistor R4 "47k" from=half to=feed power="1W" voltage="500V"
diode D3 "1N4007" anode=raw cathode=feed"#,
        source: HIGH_SOURCE,
        inner: HIGH_INNER + 94e3,
        lower: "15k",
        lower_ohms: 15e3,
    },
];

fn text(fed: &Fed) -> String {
    STAGE.replace("BIAS", fed.parts).replace("ROUT", fed.lower)
}

/// A fact in `running`; no number where it is not known.
fn quantity(text: &str, subject: &str, fact: &str) -> f64 {
    let facts = inspection(text).facts.unwrap_or_default();
    let found = facts.named(subject).find_map(|id| facts.value(id, fact, 0, Some(State::Running)));
    found.and_then(|value| value.number()).unwrap_or(f64::NAN)
}

/// Half-wave rectifier behind a resistance into a large capacitor: the mean of what exceeds the direct voltage, over the
/// resistance, is what the load takes. With 0.55 V across the diode (common practice for a milliampere).
fn raw_by_hand(fed: &Fed) -> f64 {
    let load = 47e3 + fed.lower_ohms;
    let crest = SQRT_2 * fed.source;
    let mean = |volts: f64| {
        let steps = 20_000;
        let over =
            (0..steps).map(|n| (crest * (2.0 * PI * f64::from(n) / f64::from(steps)).sin() - volts - 0.55).max(0.0));
        over.sum::<f64>() / f64::from(steps) / fed.inner
    };
    let (mut low, mut high) = (0.0, crest);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if mean(middle) > middle / load { low = middle } else { high = middle }
    }
    low
}

#[test]
fn the_bias_stands_where_hand_calculation_has_it() {
    for fed in &FED {
        let (found, expected) = (-quantity(&text(fed), "raw", "voltage"), raw_by_hand(fed));
        assert!((found / expected - 1.0).abs() < 0.02, "{found} for {expected}: {}", fed.parts);
    }
}

/// Through a capacitor instead, into two diodes.
const PUMPED: Fed = Fed {
    parts: r#"capacitor C3 "22nF" from=ht1 to=feed voltage="1000V" kind=film
diode D3 "1N4007" anode=feed cathode=ground
diode D4 "1N4007" anode=raw cathode=feed"#,
    source: HIGH_SOURCE,
    inner: HIGH_INNER,
    lower: "15k",
    lower_ohms: 15e3,
};

#[test]
fn a_capacitor_pumps_what_it_carries_in_a_period() {
    // In each period it carries its own swing, less two diodes and what stands there already. Upwards the winding swings no
    // further than to the reservoir, which it charges by then; downwards it is free.
    let fed = &PUMPED;
    let carried = 50.0 * 22e-9;
    let reservoir = quantity(&text(fed), "bplus", "voltage") + 0.8;
    let swing = reservoir + SQRT_2 * fed.source - 2.0 * 0.55;
    let expected = carried * swing / (carried + 1.0 / (47e3 + fed.lower_ohms));
    let found = -quantity(&text(fed), "raw", "voltage");
    assert!((found / expected - 1.0).abs() < 0.02, "{found} for {expected}");
}

#[test]
fn a_signal_leaves_it_there() {
    for fed in FED.iter().chain([&PUMPED]) {
        let drawn = text(fed);
        let raw = quantity(&drawn, "raw", "voltage");
        let held = STAGE
            .replace("BIAS", &format!("bench-supply B1 \"{}V\" plus=ground minus=raw", -raw))
            .replace("ROUT", fed.lower);
        for (subject, fact) in
            [("OUT", "largest-power"), ("OUT", "distortion"), ("V1", "signal-plate-dissipation"), ("V1", "bias")]
        {
            let (found, expected) = (quantity(&drawn, subject, fact), quantity(&held, subject, fact));
            assert!(
                (found / expected - 1.0).abs() < 0.02,
                "{fact} of {subject}: {found} for {expected}: {}",
                fed.parts
            );
        }
    }
}
