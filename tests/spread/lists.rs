//! What varies, by how much, and what of it is assumed.

use super::bench::Bench;
use coldcheck::spread::{Varied, spreading};

const PARTS: &str = r#"
bench-supply B1 "250V" plus=bplus minus=ground
resistor R1 "10k" from=bplus to=a power="5W"
resistor R2 "10k" from=a to=ground power="5W" tolerance="1%"
resistor R3 "10k" from=a to=ground power="5W" kind=carbon-composition
capacitor C1 "1uF" from=a to=ground voltage="400V" kind=film
capacitor C2 "10uF" plus=a minus=ground voltage="400V" tolerance="30%"
capacitor C3 "1uF" from=a to=ground voltage="400V" kind=film tolerance="2%"
capacitor C4 "10uF" plus=a minus=ground voltage="400V"
potentiometer P1 "100k" top=a wiper=b bottom=ground
potentiometer P2 "100k" top=a wiper=b bottom=ground tolerance="10%"
led D1 red anode=a cathode=c
zener D2 "5.6V" anode=ground cathode=c
"#;

#[test]
fn what_a_part_states_wins_over_what_is_assumed_of_its_kind() {
    let bench = Bench::of(PARTS);
    let found = spreading(&bench.design);
    let shares: Vec<(String, Varied, f64)> =
        found.variations.iter().map(|one| (bench.design.part(one.part).name.clone(), one.what, one.high)).collect();
    let wanted = [
        ("R1", Varied::Resistance, 0.05),
        ("R2", Varied::Resistance, 0.01),
        ("R3", Varied::Resistance, 0.1),
        ("C1", Varied::Capacitance, 0.1),
        ("C2", Varied::Capacitance, 0.3),
        ("C3", Varied::Capacitance, 0.02),
        ("C4", Varied::Capacitance, 0.2),
        ("P1", Varied::Resistance, 0.2),
        ("P2", Varied::Resistance, 0.1),
        ("D1", Varied::Voltage(0), 0.1),
        ("D2", Varied::Voltage(0), 0.05),
    ];
    assert_eq!(shares, wanted.map(|(name, what, share)| (name.to_owned(), what, share)));
    assert_eq!(
        found.assumptions,
        [
            "carbon composition resistors ±10 %",
            "electrolytic capacitors ±20 %",
            "film and paper capacitors ±10 %",
            "forward voltage of LEDs ±10 %",
            "potentiometers ±20 %",
            "resistors ±5 %",
            "zener voltages ±5 %",
        ]
    );
}

#[test]
fn a_tube_spreads_in_current_and_amplification_and_a_section_left_out_does_not() {
    let bench = Bench::of(include_str!("triode-stage.kdl"));
    let found = spreading(&bench.design);
    let tube: Vec<(Varied, f64)> = found
        .variations
        .iter()
        .filter(|one| bench.design.part(one.part).name == "V1")
        .map(|one| (one.what, one.high))
        .collect();
    assert_eq!(tube, [(Varied::Current(0), 0.2), (Varied::Amplification(0), 0.1)]);
}

#[test]
fn each_quantity_moves_what_it_is_said_to_move() {
    use coldcheck::spread::SpreadOptions;
    let none = SpreadOptions { builds: 0, seed: 1 };
    // A red LED and a zener fed through resistors: the band of each voltage is about its own tolerance.
    let bench = Bench::of(
        r#"
bench-supply B1 "200V" plus=bplus minus=ground
resistor R1 "20k" from=bplus to=a power="5W" tolerance="0%"
led D1 red anode=a cathode=ground
resistor R2 "20k" from=bplus to=b power="5W" tolerance="0%"
zener D2 "100V" anode=ground cathode=b
current-source I1 "1mA" from=bplus to=c
resistor R3 "10k" from=c to=ground power="1W" tolerance="0%"
"#,
    );
    let share = |subject, fact| {
        let band = bench.band(subject, fact, none).unwrap();
        (band.high - band.low) / (band.high + band.low)
    };
    // The series resistance of the LED keeps its own value, so that its voltage moves by a little less than 10 %.
    assert!((0.08..=0.1001).contains(&share("a", "voltage")), "{}", share("a", "voltage"));
    assert!((0.045..=0.0501).contains(&share("b", "voltage")), "{}", share("b", "voltage"));
    assert!((share("c", "voltage") - 0.1).abs() < 1e-4, "{}", share("c", "voltage"));
    assert_eq!(bench.ohms("R1"), 20e3);
}
