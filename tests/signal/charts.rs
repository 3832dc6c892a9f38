//! Every published resistance-coupled stage as a design: its gain beside the printed one.

use std::fmt::Write as _;

use coldcheck::facts::State;

use crate::bench::Bench;
use crate::table::{keep, rows, spread};

struct Row<'a> {
    tube: &'a str,
    ebb: f64,
    screen: &'a str,
    role: &'a str,
    published: f64,
    computed: f64,
}

impl Row<'_> {
    fn error(&self) -> f64 {
        self.computed / self.published - 1.0
    }
}

fn design(tube: &str, ebb: &str, rp: &str, next: &str, rk: &str, screen: &str) -> String {
    let name = if screen.is_empty() { "V1a" } else { "V1" };
    let (unused, feed) = if screen.is_empty() {
        ("unused V1b".to_owned(), String::new())
    } else {
        let feed = format!(
            "resistor R6 {screen} from=bplus to=V1.screen power=\"1W\"\ncapacitor C3 \"10uF\" from=V1.screen to=V1.cathode kind=film"
        );
        (String::new(), feed)
    };
    // A row that does not say what follows is taken to end there.
    let load = if next.is_empty() { String::new() } else { format!("load={next}") };
    let volts = if tube.starts_with("12") { "12.6V" } else { "6.3V" };
    format!(
        r#"
bench-supply B1 "{ebb}V" plus=bplus minus=ground
bench-supply B2 "{volts}" plus=h1 minus=ground
tube V1 "{tube}" {{ heater "{volts}" from=h1 to=ground; }}
{unused}
resistor R1 "1M" from=in to=ground power="0.25W"
wire in {name}.grid
resistor R3 {rp} from=bplus to={name}.plate power="1W"
resistor R4 {rk} from={name}.cathode to=ground power="1W"
{feed}
capacitor C1 "1000uF" plus={name}.cathode minus=ground voltage="25V" kind=electrolytic
capacitor C2 "10uF" from={name}.plate to=out kind=film
input IN hot=in cold=ground
output OUT hot=out cold=ground {load}
"#
    )
}

fn computed() -> Vec<Row<'static>> {
    let all = rows(include_str!("resistance-coupled.csv"));
    all.filter_map(|row| {
        let [tube, ebb, rp, next, rk, screen, gain, _, role] = row[..] else { panic!("{row:?}") };
        // A row without a cathode resistor says how it is biased in words only.
        if rk.is_empty() {
            return None;
        }
        let bench = Bench::of(&design(tube, ebb, rp, next, rk, screen));
        let computed = bench.quantity("OUT", "gain", State::Running);
        let (ebb, published) = (ebb.parse().unwrap(), gain.parse().unwrap());
        Some(Row { tube, ebb, screen, role, published, computed })
    })
    .collect()
}

#[test]
fn gain_of_the_published_charts() {
    let all = computed();
    let mut text = String::from("tube,ebb_V,kind,role,published_gain,computed_gain,error_percent\n");
    for row in &all {
        let kind = if row.screen.is_empty() { "triode" } else { "pentode" };
        writeln!(
            text,
            "{},{},{kind},{},{},{:.1},{:.1}",
            row.tube,
            row.ebb,
            row.role,
            row.published,
            row.computed,
            100.0 * row.error()
        )
        .unwrap();
    }
    for (kind, low) in [("triode", true), ("triode", false), ("pentode", true), ("pentode", false)] {
        for role in ["fit", "score"] {
            let errors: Vec<f64> = all
                .iter()
                .filter(|row| {
                    row.role == role && (row.ebb < 180.0) == low && row.screen.is_empty() == (kind == "triode")
                })
                .map(Row::error)
                .collect();
            if errors.is_empty() {
                continue;
            }
            let (median, inside) = spread(&errors, 0.10);
            let band = if low { "below 180 V" } else { "180 V and more" };
            writeln!(
                text,
                "# {kind} {band} {role}: {} rows; median error {:.1} %; {:.0} % inside 10 %",
                errors.len(),
                100.0 * median,
                100.0 * inside
            )
            .unwrap();
        }
    }
    keep("resistance-coupled-computed.csv", &text);
}

/// The aim: nine rows of ten within 10 % at 180 V and more, every row within 20 % below.
#[test]
fn triodes_and_pentodes_reach_the_aim() {
    let (pentodes, triodes): (Vec<Row<'_>>, Vec<Row<'_>>) =
        computed().into_iter().partition(|row| !row.screen.is_empty());
    for kind in [&triodes, &pentodes] {
        for role in ["fit", "score"] {
            let of = |low: bool| kind.iter().filter(move |row| row.role == role && (row.ebb < 180.0) == low);
            let (high, low): (Vec<f64>, Vec<f64>) =
                (of(false).map(Row::error).collect(), of(true).map(Row::error).collect());
            assert!(spread(&high, 0.10).1 >= 0.9, "{role}: {high:?}");
            assert!(low.is_empty() || spread(&low, 0.20).1 >= 1.0, "{role}: {low:?}");
        }
    }
}
