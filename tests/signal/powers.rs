//! Every published output stage as a whole design: its power into the load at the published distortion, beside the printed one.

use std::fmt::Write as _;

use coldcheck::catalogue::{Catalogue, Devices, Heating, SectionKind};
use coldcheck::facts::State;

use crate::bench::Bench;
use crate::table::{keep, rows, spread};

/// Distortion at which a row that prints none is solved: single-ended and push-pull (custom of the tube makers).
const CUSTOM: [&str; 2] = ["10", "5"];
/// Screen taps of the one distributed-load row (common practice of that circuit).
const TAP: &str = "43%";

/// A published row by its columns.
struct Published<'a>(Vec<&'a str>);

impl<'a> Published<'a> {
    fn word(&self, place: usize) -> &'a str {
        self.0[place]
    }

    fn number(&self, place: usize) -> Option<f64> {
        self.0[place].parse().ok()
    }

    fn tube(&self) -> &'a str {
        self.word(0)
    }

    fn says(&self, words: &str) -> bool {
        self.word(1).contains(words)
    }

    fn pair(&self) -> bool {
        self.word(13) == "2"
    }

    fn distortion(&self) -> &'a str {
        if self.word(12).is_empty() { CUSTOM[usize::from(self.pair())] } else { self.word(12) }
    }

    /// The plate supply: what is printed stands between plate and cathode, unless the note says otherwise.
    fn supply(&self, printed: f64) -> f64 {
        let at_rest = self.number(7).unwrap_or(0.0) + self.number(9).unwrap_or(0.0);
        let is_supply = self.word(17).contains("supply voltage");
        match self.number(5) {
            Some(ohms) if self.number(4).is_none() && !is_supply => printed + ohms * at_rest / 1e3,
            _ => printed,
        }
    }
}

/// A tube of the row in its socket, with how its screen is fed.
fn tube_text(row: &Published<'_>, name: &str, plate: &str, screen_tap: &str) -> String {
    let entry = Catalogue::built_in().tube(row.tube()).unwrap();
    let volts = entry.heaters[0].voltage.0;
    let section = entry.sections.iter().find(|section| section.suffix != "t").unwrap();
    let unused = if entry.sections.len() > 1 { format!("unused {name}t\n") } else { String::new() };
    let body = format!("{name}{}", section.suffix);
    let mut text = format!("tube {name} \"{}\" {{ heater \"{volts}V\" from=h1 to=h2; }}\n{unused}", row.tube());
    writeln!(text, "wire {body}.plate {plate}\nwire {body}.grid {name}-grid").unwrap();
    if entry.heating == Heating::Direct {
        text += "wire V1.cathode cathode\n";
        if name == "V2" {
            text = text.replace("V1.cathode", "V2.cathode");
        }
    } else {
        writeln!(
            text,
            "wire {body}.cathode {}",
            if row.says("distributed") { format!("{name}-cathode") } else { "cathode".to_owned() }
        )
        .unwrap();
    }
    if section.kind == SectionKind::Pentode {
        let feed = if row.says("triode") {
            plate
        } else if row.says("distributed") {
            screen_tap
        } else {
            "screens"
        };
        let ohms = if row.says("distributed") { "1k" } else { "1" };
        writeln!(text, "resistor {name}-R2 \"{ohms}\" from={feed} to={body}.screen power=\"5W\"").unwrap();
    }
    text
}

/// The resistor that feeds the screens where the note names one, and the supply behind it.
fn screen_feed(row: &Published<'_>) -> String {
    let note = row.word(17);
    let (volts, ohms) = if note.contains("common 470 ohm") {
        (375.0, 470.0)
    } else if note.contains("common 1 kohm") {
        (425.0, 1000.0)
    } else if note.contains("265 V through 2 kohm") {
        (265.0, 2000.0)
    } else {
        (row.supply(row.number(3).unwrap_or(250.0)), 0.1)
    };
    format!(
        "bench-supply B2 \"{volts}V\" plus=screen-supply minus=ground\n\
         resistor R3 \"{ohms}\" from=screen-supply to=screens power=\"5W\"\n\
         capacitor C3 \"100uF\" plus=screens minus=ground voltage=\"500V\" kind=electrolytic\n"
    )
}

fn design(row: &Published<'_>) -> String {
    let supply = row.supply(row.number(2).unwrap());
    let load = row.word(6);
    let heater = Catalogue::built_in().tube(row.tube()).unwrap().heaters[0].voltage.0;
    let mut text = format!(
        "bench-supply B1 \"{supply}V\" plus=bplus minus=ground\nbench-supply B4 \"{heater}V\" plus=h1 minus=h2\nresistor R9 \"1M\" from=h2 to=ground power=\"1W\"\n"
    );
    if !row.says("triode") && !matches!(row.tube(), "2A3" | "45" | "300B") && !row.says("distributed") {
        text += &screen_feed(row);
    }
    match (row.number(4), row.number(5)) {
        // Separate cathode resistors, as the note of that row says.
        (_, Some(ohms)) if row.says("distributed") => {
            for name in ["V1", "V2"] {
                writeln!(text, "resistor {name}-R1 \"{ohms}\" from={name}-cathode to=ground power=\"10W\"").unwrap();
                writeln!(
                    text,
                    "capacitor {name}-C1 \"1000uF\" plus={name}-cathode minus=ground voltage=\"100V\" kind=electrolytic"
                )
                .unwrap();
            }
            text += "wire bias ground\n";
        }
        (Some(bias), _) => {
            writeln!(text, "bench-supply B3 \"{}V\" plus=ground minus=bias\nwire cathode ground", -bias).unwrap();
        }
        (None, Some(ohms)) => {
            writeln!(text, "resistor R1 \"{ohms}\" from=cathode to=ground power=\"10W\"\nwire bias ground").unwrap();
            text += "capacitor C1 \"1000uF\" plus=cathode minus=ground voltage=\"100V\" kind=electrolytic\n";
        }
        (None, None) => panic!("{} {} has no bias", row.tube(), row.word(1)),
    }
    if row.pair() {
        let taps = if row.says("distributed") {
            format!("tap \"{TAP}\" at=tap1; tap \"{TAP}\" at=tap2; ")
        } else {
            String::new()
        };
        write!(
            text,
            "{}{}\
             output-transformer T1 {{ primary \"4k\" start=V1-grid centre=bias finish=V2-grid inductance=\"1000H\"; secondary \"1k\" start=ground finish=in; }}\n\
             output-transformer T2 {{ primary \"{load}k\" start=plate1 centre=bplus finish=plate2 inductance=\"200H\" current=\"1A\"; {taps}secondary \"8\" start=ground finish=out; }}\n",
            tube_text(row, "V1", "plate1", "tap1"),
            tube_text(row, "V2", "plate2", "tap2"),
        )
        .unwrap();
        text += "input IN hot=in cold=ground source=\"1\"\n";
    } else {
        text += &tube_text(row, "V1", "plate1", "");
        writeln!(
            text,
            "output-transformer T2 {{ primary \"{load}k\" start=bplus finish=plate1 inductance=\"100H\" current=\"1A\"; secondary \"8\" start=ground finish=out; }}\n\
             input IN hot=V1-grid cold=bias source=\"1\""
        )
        .unwrap();
    }
    writeln!(text, "output OUT hot=out cold=ground load=\"8\" distortion=\"{}%\"", row.distortion()).unwrap();
    text
}

struct Computed {
    rest: [f64; 2],
    full: [Option<f64>; 2],
    power: Option<f64>,
}

fn compute(row: &Published<'_>) -> Computed {
    let bench = Bench::of(&design(row));
    let section = |name: &str| {
        if bench.value(name, "plate-current", State::Running).is_some() { name.to_owned() } else { format!("{name}p") }
    };
    let names: Vec<String> = if row.pair() { vec![section("V1"), section("V2")] } else { vec![section("V1")] };
    let both = |fact: &str| -> Option<f64> {
        let each =
            names.iter().map(|name| bench.value(name, fact, State::Running).and_then(coldcheck::facts::Value::number));
        each.sum::<Option<f64>>().map(|amperes| 1e3 * amperes)
    };
    Computed {
        rest: [both("plate-current").unwrap(), both("screen-current").unwrap_or(0.0)],
        full: [both("signal-plate-current"), both("signal-screen-current")],
        power: bench.value("OUT", "largest-power", State::Running).and_then(coldcheck::facts::Value::number),
    }
}

#[test]
fn power_of_the_published_stages() {
    let mut text = String::from(
        "tube,configuration,plate_V,load_kohm,distortion_percent,confidence,published_rest_mA,computed_rest_mA,published_full_mA,computed_full_mA,\
         published_screen_rest_mA,computed_screen_rest_mA,published_screen_full_mA,computed_screen_full_mA,published_W,computed_W,error_percent\n",
    );
    let mut errors: Vec<(bool, f64)> = Vec::new();
    for row in rows(include_str!("power-stage.csv")).map(Published) {
        let found = compute(&row);
        let shown = |value: Option<f64>| value.filter(|v| *v != 0.0).map_or_else(String::new, |v| format!("{v:.1}"));
        let published = row.number(11).unwrap();
        let error = found.power.map(|power| power / published - 1.0);
        errors.push((row.pair(), error.unwrap_or(-1.0)));
        writeln!(
            text,
            "{},{},{},{},{},{},{},{},{},{},{},{},{},{},{published},{},{}",
            row.tube(),
            row.word(1),
            row.word(2),
            row.word(6),
            row.distortion(),
            row.word(15),
            row.word(7),
            shown(Some(found.rest[0])),
            row.word(8),
            shown(found.full[0]),
            row.word(9),
            shown(Some(found.rest[1])),
            row.word(10),
            shown(found.full[1]),
            found.power.map_or_else(|| "none".to_owned(), |power| format!("{power:.2}")),
            error.map_or_else(String::new, |error| format!("{:.0}", 100.0 * error)),
        )
        .unwrap();
    }
    for (name, wanted) in [("single-ended", Some(false)), ("push-pull", Some(true)), ("all", None)] {
        let some: Vec<f64> =
            errors.iter().filter(|(pair, _)| wanted.is_none_or(|w| w == *pair)).map(|(_, e)| *e).collect();
        let (median, inside) = spread(&some, 0.15);
        writeln!(
            text,
            "# {name}: {} rows; median error {:.0} %; {:.0} % inside 15 %",
            some.len(),
            100.0 * median,
            100.0 * inside
        )
        .unwrap();
    }
    keep("power-stage-computed.csv", &text);
}
