//! Corners and quantiles against hand calculation and against the same equations solved another way.

use serde_json::Value;

use super::bench::{Bench, near};
use coldcheck::spread::SpreadOptions;

const DIVIDER: &str = r#"
bench-supply B1 "200V" plus=bplus minus=ground
resistor R1 "10k" from=bplus to=middle power="5W" tolerance="5%"
resistor R2 "1k" from=middle to=ground power="5W" tolerance="10%"
"#;

#[test]
fn a_divider_lies_between_its_two_corners() {
    // By hand: 200 V · 0.9 / (10.5 + 0.9) and 200 V · 1.1 / (9.5 + 1.1), in kilohms.
    let band = Bench::of(DIVIDER).band("middle", "voltage", SpreadOptions { builds: 50, seed: 1 }).unwrap();
    near(band.low, 200.0 * 0.9 / 11.4, 1e-6);
    near(band.high, 200.0 * 1.1 / 10.6, 1e-6);
}

#[test]
fn power_in_the_upper_resistor_is_worst_with_both_low() {
    // By hand: 40000 V² · 9500 Ω / (9500 Ω + 900 Ω)².
    let band = Bench::of(DIVIDER).band("R1", "dissipation", SpreadOptions { builds: 0, seed: 1 }).unwrap();
    near(band.high, 4e4 * 9500.0 / (10_400.0 * 10_400.0), 1e-6);
    assert_eq!((band.quantiles, band.builds), (None, 0));
}

#[test]
fn a_part_of_no_tolerance_moves_nothing() {
    let exact =
        DIVIDER.replace("tolerance=\"5%\"", "tolerance=\"0%\"").replace("tolerance=\"10%\"", "tolerance=\"0%\"");
    assert_eq!(Bench::of(&exact).band("middle", "voltage", SpreadOptions { builds: 10, seed: 1 }), None);
}

#[test]
fn one_resistor_across_a_supply_spreads_its_power_as_the_reciprocal_of_a_uniform_number() {
    // P = V²/R with R uniform: the share of builds below P is the share of R above V²/P, so that the quantiles are those
    // of R turned round. 100 V across 10 kΩ within 10 %: R at a twentieth, half and nineteen twentieths is 9.1, 10, 10.9.
    let bench = Bench::of(
        "bench-supply B1 \"100V\" plus=a minus=ground\nresistor R1 \"10k\" from=a to=ground power=\"5W\" tolerance=\"10%\"\n",
    );
    let band = bench.band("R1", "dissipation", SpreadOptions { builds: 2000, seed: 5 }).unwrap();
    let [low, middle, high] = band.quantiles.unwrap();
    // The standard errors of these quantiles of 2000 uniform numbers are 0.1 %, 0.2 % and 0.1 % of R; three of each.
    near(low, 1e4 / 10_900.0, 0.003);
    near(middle, 1e4 / 10_000.0, 0.007);
    near(high, 1e4 / 9_100.0, 0.003);
    near(band.low, 1e4 / 11_000.0, 1e-6);
    near(band.high, 1e4 / 9_000.0, 1e-6);
}

#[test]
fn a_stage_agrees_with_the_same_equations_solved_by_bracketing_and_sampled_by_numpy() {
    let expected: Value = serde_json::from_str(include_str!("expected.json")).unwrap();
    let number = |name: &str| expected[name].as_f64().unwrap();
    let bench = Bench::of(include_str!("triode-stage.kdl"));
    let facts = bench.facts();
    let tube = facts.named("V1a").find(|id| facts.fact(*id, "plate-voltage").is_some()).unwrap();
    near(
        facts.fact(tube, "plate-voltage").unwrap().worst_sample().unwrap().value.number().unwrap(),
        number("nominal"),
        1e-5,
    );
    let builds = expected["builds"].as_u64().unwrap() as usize;
    let band = bench.band("V1a", "plate-voltage", SpreadOptions { builds, seed: 1 }).unwrap();
    near(band.low, number("lowest"), 1e-5);
    near(band.high, number("highest"), 1e-5);
    for (place, found) in band.quantiles.unwrap().into_iter().enumerate() {
        let (quantile, sampling) = (&expected["quantiles"][place], expected["sampling"][place].as_f64().unwrap());
        let off = (found - quantile.as_f64().unwrap()).abs();
        assert!(off < 3.0 * sampling, "{found} is {off} from {quantile}, with a sampling error of {sampling}");
    }
}

#[test]
fn what_is_not_worst_in_a_corner_is_met_between_by_the_builds() {
    // A matched divider: with R1 at 9.5 kΩ the power in R2 is largest where R2 is the same, and no corner is that.
    let bench = Bench::of(&DIVIDER.replace("R2 \"1k\"", "R2 \"10k\""));
    let corner = bench.band("R2", "dissipation", SpreadOptions { builds: 0, seed: 1 }).unwrap();
    near(corner.high, 4e4 * 9000.0 / (18_500.0 * 18_500.0), 1e-6);
    let sampled = bench.band("R2", "dissipation", SpreadOptions { builds: 2000, seed: 1 }).unwrap();
    assert!(sampled.high > corner.high && sampled.high <= 4e4 / (4.0 * 9500.0) * (1.0 + 1e-9));
}
