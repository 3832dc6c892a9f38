//! What findings say: which only the spread gives, how many builds share those of the design as drawn.

use super::bench::{Bench, OPTIONS, near, of_rule};
use coldcheck::findings::Class;
use coldcheck::spread::SpreadOptions;

/// 100 V across 10 kΩ, between two supplies: 1 W as drawn. At 60 % a rating of 1.75 W bears 1.05 W, which 9524 Ω reach.
fn across(rating: &str) -> Bench<'static> {
    Bench::of(&format!(
        "bench-supply B1 \"200V\" plus=a minus=ground\nbench-supply B2 \"100V\" plus=b minus=ground\n\
         resistor R1 \"10k\" from=a to=b power=\"{rating}\" tolerance=\"10%\"\n"
    ))
}

#[test]
fn a_resistor_that_only_its_tolerance_overloads_is_told_so() {
    let bench = across("1.75W");
    let report = bench.report(SpreadOptions { builds: 400, seed: 1 });
    let [finding] = of_rule(&report, "resistor/dissipation")[..] else { panic!("{:#?}", report.findings) };
    let spread = finding.by_tolerance.as_ref().unwrap();
    assert!(spread.only && finding.class == Class::Overstress);
    near(spread.nominal.as_ref().unwrap().value.number().unwrap(), 1.0, 1e-6);
    near(finding.facts[0].value.number().unwrap(), 1e4 / 9000.0, 1e-6);
    let [departure] = &spread.departures[..] else { panic!("{spread:?}") };
    assert_eq!((departure.part.as_str(), departure.quantity, departure.share), ("R1", "resistance", -0.1));
    // Uniform between 9 kΩ and 11 kΩ, below 9524 Ω: 26.2 % of the builds, with a standard error of 2.2 %.
    let share = spread.broken as f64 / spread.judged as f64;
    assert!(spread.judged == 400 && (share - 0.262).abs() < 0.066, "{spread:?}");
    assert_eq!(
        finding.message,
        format!(
            "R1 turns 1.111 W into heat, 63 % of its rating of 1.75 W; 60 % is the most (only by tolerance: \
             dissipation 1 W as drawn holds; {} of 400 builds break it)",
            spread.broken
        )
    );
    assert_eq!(finding.labels.last().unwrap().text, "resistance of R1 10 % low in the worst corner");
}

#[test]
fn a_resistor_that_bears_the_worst_corner_is_not_mentioned() {
    // 1.111 W at 60 % of 2 W.
    assert!(of_rule(&across("2W").report(OPTIONS), "resistor/dissipation").is_empty());
}

#[test]
fn a_finding_of_the_design_as_drawn_stays_and_is_counted() {
    // At 60 % a rating of 1.65 W bears 0.99 W: three builds in five or so are over it.
    let report = across("1.65W").report(OPTIONS);
    let [finding] = of_rule(&report, "resistor/dissipation")[..] else { panic!("{:#?}", report.findings) };
    let spread = finding.by_tolerance.as_ref().unwrap();
    assert!(!spread.only && spread.broken > 30 && spread.broken < 80 && spread.judged == 100, "{spread:?}");
    near(finding.facts[0].value.number().unwrap(), 1.0, 1e-6);
    assert!(finding.message.ends_with(&format!("(in {} of 100 builds)", spread.broken)), "{}", finding.message);
}

#[test]
fn a_finding_that_becomes_graver_in_a_corner_takes_that_class_and_says_so() {
    // 1 W of a rating of 1.05 W is over 60 %; with the resistor 10 % low it is over the rating itself.
    let report = across("1.05W").report(OPTIONS);
    let [finding] = of_rule(&report, "resistor/dissipation")[..] else { panic!("{:#?}", report.findings) };
    let spread = finding.by_tolerance.as_ref().unwrap();
    assert_eq!((finding.class, spread.only, spread.drawn_class), (Class::Hazard, false, Some(Class::Overstress)));
    assert_eq!(
        finding.message,
        "R1 turns 1 W into heat, 95 % of its rating of 1.05 W; 60 % is the most (as drawn overstress; by tolerance \
         hazard: R1 turns 1.111 W into heat and is rated 1.05 W: it burns)"
    );
}

#[test]
fn a_finding_that_every_build_shares_says_nothing_more() {
    let report = across("0.5W").report(OPTIONS);
    let [finding] = of_rule(&report, "resistor/dissipation")[..] else { panic!("{:#?}", report.findings) };
    assert_eq!(finding.by_tolerance.as_ref().unwrap().broken, 100);
    assert!(!finding.message.contains("builds"), "{}", finding.message);
}

#[test]
fn what_only_builds_between_the_corners_show_is_told_as_that() {
    // The matched divider: 1.05191 W is more than any corner gives (1.05186 W) and less than the most between (1.05263 W).
    let report = Bench::of(
        r#"
bench-supply B1 "200V" plus=bplus minus=ground
resistor R1 "10k" from=bplus to=middle power="5W" tolerance="5%"
resistor R2 "10k" from=middle to=ground power="1.75319W" tolerance="10%"
resistor R3 "100k" from=bplus to=ground power="5W"
"#,
    )
    .report(SpreadOptions { builds: 3000, seed: 1 });
    let [finding] = of_rule(&report, "resistor/dissipation")[..] else { panic!("{:#?}", report.findings) };
    let spread = finding.by_tolerance.as_ref().unwrap();
    assert!(spread.only && spread.broken > 0 && spread.departures.is_empty(), "{spread:?}");
    assert!(finding.message.contains("builds break it, and none of the corners tried)"), "{}", finding.message);
}

#[test]
fn values_as_drawn_are_what_preferred_numbers_and_published_limits_are_held_against() {
    // 10 kΩ is a preferred number whatever comes out of the bag.
    let report = across("5W").report(OPTIONS);
    assert!(of_rule(&report, "resistor/preferred-value").is_empty(), "{:#?}", report.findings);
}

#[test]
fn a_waiver_covers_what_only_the_spread_gives_and_is_not_called_unused() {
    let bench = Bench::of(
        "bench-supply B1 \"200V\" plus=a minus=ground\nbench-supply B2 \"100V\" plus=b minus=ground\n\
         resistor R1 \"10k\" from=a to=b power=\"1.75W\" tolerance=\"10%\" {\n    \
         waive \"resistor/dissipation\" because=\"we measure every one\"\n}\n",
    );
    let report = bench.report(OPTIONS);
    let [finding] = of_rule(&report, "resistor/dissipation")[..] else { panic!("{:#?}", report.findings) };
    assert_eq!(finding.waived.as_ref().unwrap().because, "we measure every one");
    assert!(of_rule(&report, "waiver/unused").is_empty());
}

#[test]
fn a_stated_reading_has_its_own_tolerance() {
    let bench = Bench::of(
        "bench-supply B1 \"100V\" plus=a minus=ground\n\
         resistor R1 \"10k\" from=a to=b power=\"5W\" tolerance=\"10%\"\n\
         resistor R2 \"10k\" from=b to=ground power=\"5W\" tolerance=\"10%\"\n\
         reading b \"50V\" tolerance=\"2%\"\n",
    );
    assert!(of_rule(&bench.report(OPTIONS), "reading/disagrees").is_empty());
}
