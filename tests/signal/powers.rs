//! Every published output stage as a whole design, its figures at full drive beside the printed ones.
//!
//! Full drive is where the grid's crest meets the cathode (class A, AB1 and B): the makers' peak drive equal to the bias.
//! A stage that is distorted there by more than 10 %, and by more than is printed, is driven to that distortion only. Class
//! AB2 is driven as far into grid current as its row prints.

use std::fmt::Write as _;

use coldcheck::catalogue::{Catalogue, Heating, SectionKind};
use coldcheck::facts::{State, Value};

use crate::bench::Bench;
use crate::table::{keep, rows, spread};

/// Distortion beyond which no stage counts as undistorted (custom of the tube makers) unless its row prints more, %.
const MOST: f64 = 10.0;
/// A level, V, and a distortion, %, that every stage passes.
const LITTLE: f64 = 1e-3;
/// Rounds in which the drive comes to the edge of grid current, the bias moving with it.
const ROUNDS: usize = 5;
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

    /// Distortion up to which its power counts, %.
    fn most(&self) -> f64 {
        self.number(12).unwrap_or(0.0).max(MOST)
    }

    /// `fit` where the knees of the pentodes were chosen on this row among others (`../published/fit`), else `score`.
    fn role(&self) -> &'a str {
        self.word(18)
    }

    /// Crest of the grid over the cathode at full drive, V.
    fn edge(&self) -> f64 {
        let printed = self.word(17).strip_suffix(" V from grid to grid");
        printed.map_or(0.0, |volts| volts.parse::<f64>().unwrap() / 2.0 + self.number(4).unwrap())
    }

    /// The plate supply: what is printed stands between plate and cathode, unless the note says otherwise.
    fn supply(&self, printed: f64) -> f64 {
        let at_rest = self.number(7).unwrap_or(0.0) + self.number(9).unwrap_or(0.0);
        if self.word(17).contains("supply voltage") {
            return printed;
        }
        match (self.number(4), self.number(5)) {
            (None, Some(ohms)) => printed + ohms * at_rest / 1e3,
            (Some(bias), Some(_)) if self.says("distributed") => printed - bias,
            // A fixed bias, or a single-ended stage whose resistor is printed beside the bias that stands for it.
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

/// The resistor that feeds the screens where the note names one, and the supply behind it. No capacitor is named beside it.
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
         resistor R3 \"{ohms}\" from=screen-supply to=screens power=\"5W\"\n"
    )
}

/// The stage with an input of so many volts, rms, and an output that allows itself so much distortion, in per cent.
fn design(row: &Published<'_>, level: f64, distortion: f64) -> String {
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
        text += "input IN hot=in cold=ground source=\"1\"";
    } else {
        text += &tube_text(row, "V1", "plate1", "");
        write!(
            text,
            "output-transformer T2 {{ primary \"{load}k\" start=bplus finish=plate1 inductance=\"100H\" current=\"1A\"; secondary \"8\" start=ground finish=out; }}\n\
             resistor R8 \"1M\" from=V1-grid to=bias power=\"0.25W\"\n\
             input IN hot=V1-grid cold=bias source=\"1\""
        )
        .unwrap();
    }
    writeln!(text, " level=\"{level}V\"\noutput OUT hot=out cold=ground load=\"8\" distortion=\"{distortion}%\"")
        .unwrap();
    text
}

struct Computed {
    rest: [f64; 2],
    full: [f64; 2],
    power: f64,
    distortion: f64,
}

/// The stage at full drive.
fn at_full_drive(row: &Published<'_>) -> Bench {
    let edge = row.edge();
    let number = |bench: &Bench, subject: &str, fact: &str| bench.quantity(subject, fact, State::Running);
    let mut bench = Bench::of(&design(row, LITTLE, LITTLE));
    let tube = section(&bench, "V1");
    let mut level = -number(&bench, &tube, "bias") / std::f64::consts::SQRT_2;
    for _ in 0..ROUNDS {
        bench = Bench::of(&design(row, level, LITTLE));
        level += (edge - number(&bench, &tube, "grid-crest")) / std::f64::consts::SQRT_2;
    }
    let most = row.most();
    if number(&bench, "OUT", "distortion") > most / 100.0 { Bench::of(&design(row, LITTLE, most)) } else { bench }
}

/// The section that amplifies of a tube.
fn section(bench: &Bench, name: &str) -> String {
    let whole = bench.value(name, "plate-current", State::Running).is_some();
    if whole { name.to_owned() } else { format!("{name}p") }
}

fn compute(row: &Published<'_>) -> Computed {
    let bench = at_full_drive(row);
    let of = |subject: &str, fact: &str| bench.value(subject, fact, State::Running).and_then(Value::number);
    let names = if row.pair() { vec!["V1", "V2"] } else { vec!["V1"] };
    let both = |fact: &str| 1e3 * names.iter().filter_map(|name| of(&section(&bench, name), fact)).sum::<f64>();
    let driven = of("OUT", "signal-level").unwrap() > of("OUT", "largest-level").unwrap_or(0.0);
    Computed {
        rest: [both("plate-current"), both("screen-current")],
        full: [both("signal-plate-current"), both("signal-screen-current")],
        power: of("OUT", if driven { "load-power" } else { "largest-power" }).unwrap(),
        distortion: of("OUT", if driven { "distortion" } else { "distortion-limit" }).unwrap(),
    }
}

#[test]
fn published_output_stages_at_full_drive() {
    let mut text = String::from(
        "tube,configuration,plate_V,load_kohm,confidence,role,published_rest_mA,computed_rest_mA,published_full_mA,computed_full_mA,\
         published_screen_rest_mA,computed_screen_rest_mA,published_screen_full_mA,computed_screen_full_mA,\
         published_distortion_percent,computed_distortion_percent,published_W,computed_W,error_percent\n",
    );
    let mut errors: Vec<(bool, &str, f64)> = Vec::new();
    for row in rows(include_str!("power-stage.csv")).map(Published) {
        let found = compute(&row);
        let shown = |value: f64| if value == 0.0 { String::new() } else { format!("{value:.1}") };
        let published = row.number(11).unwrap();
        let error = found.power / published - 1.0;
        errors.push((row.pair(), row.role(), error));
        let columns = [
            row.tube().to_owned(),
            row.word(1).to_owned(),
            row.word(2).to_owned(),
            row.word(6).to_owned(),
            row.word(15).to_owned(),
            row.role().to_owned(),
            row.word(7).to_owned(),
            shown(found.rest[0]),
            row.word(8).to_owned(),
            shown(found.full[0]),
            row.word(9).to_owned(),
            shown(found.rest[1]),
            row.word(10).to_owned(),
            shown(found.full[1]),
            row.word(12).to_owned(),
            shown(100.0 * found.distortion),
            row.word(11).to_owned(),
            format!("{:.2}", found.power),
            format!("{:.0}", 100.0 * error),
        ];
        writeln!(text, "{}", columns.join(",")).unwrap();
    }
    let counted = [
        ("single-ended, fit", Some((Some(false), "fit"))),
        ("single-ended, score", Some((Some(false), "score"))),
        ("push-pull, fit", Some((Some(true), "fit"))),
        ("push-pull, score", Some((Some(true), "score"))),
        ("all, score", Some((None, "score"))),
        ("all", None),
    ];
    for (name, wanted) in counted {
        let counts = |pair: bool, role: &str| {
            wanted.is_none_or(|(ends, wanted)| ends.is_none_or(|ends| ends == pair) && role == wanted)
        };
        let some: Vec<f64> =
            errors.iter().filter(|(pair, role, _)| counts(*pair, role)).map(|(_, _, error)| *error).collect();
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
