//! Designs made up from a number: the same number gives the same design in every run, and neighbours differ.
//!
//! They are for measuring time, not for building: nobody chose their values with care.

use std::fmt::Write;

/// IEC 60063, E12.
const E12: [&str; 12] = ["1", "1.2", "1.5", "1.8", "2.2", "2.7", "3.3", "3.9", "4.7", "5.6", "6.8", "8.2"];

/// Twin triodes, with another that goes into the same socket.
const TWINS: [(&str, &str); 5] =
    [("12AX7", "5751"), ("12AT7", "12AY7"), ("12AU7", "12BH7A"), ("6SN7", "6SN7GT"), ("6DJ8", "6922")];

/// A sequence of numbers that look random (the splitmix64 generator, Steele, Lea and Flood, 2014).
struct Dice(u64);

impl Dice {
    fn throw(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, count: usize) -> usize {
        (self.throw() % count as u64) as usize
    }

    fn one_of<'a>(&mut self, from: &[&'a str]) -> &'a str {
        from[self.below(from.len())]
    }

    /// A value of the series, from one of its places to another, with a prefix.
    fn value(&mut self, from: usize, to: usize, prefix: &str) -> String {
        format!("{}{prefix}", E12[from + self.below(to + 1 - from)])
    }
}

/// One design of a repository: a supply of one of five kinds, one to six twin triodes in stages of three kinds.
pub fn varied(number: u64) -> String {
    let mut dice = Dice(number);
    let stages = 1 + dice.below(6);
    let mut text = opening(&format!("Generated {number}"));
    let mut heaters = String::new();
    let rectifier = dice.below(5);
    supply(&mut text, &mut dice, rectifier);
    for stage in 1..=stages {
        let (twin, other) = TWINS[dice.below(TWINS.len())];
        let alternates = if dice.below(4) == 0 { format!(" alternates \"{other}\";") } else { String::new() };
        let _ = writeln!(heaters, "tube V{stage} \"{twin}\" {{ heater \"6.3V\" from=h1 to=h2;{alternates} }}");
    }
    text += &heaters;
    for stage in 1..=stages {
        let rail = rail(&mut text, &mut dice, stage);
        for section in ["a", "b"] {
            circuit(&mut text, &mut dice, stage, section, &rail);
        }
    }
    text
}

/// One design with about so many parts, for the growth of time with size: a bridge supply and as many stages as it takes.
pub fn large(parts: usize) -> String {
    let mut dice = Dice(parts as u64);
    let mut text = opening(&format!("Generated with {parts} parts"));
    supply(&mut text, &mut dice, 3);
    let supply_parts = 10;
    // A twin triode with its two circuits, a resistor and a capacitor of its own rail.
    let stage_parts = 17;
    let stages = (parts.saturating_sub(supply_parts) / stage_parts).max(1);
    for stage in 1..=stages {
        let _ = writeln!(text, "tube V{stage} \"12AX7\" {{ heater \"6.3V\" from=h1 to=h2; }}");
        let rail = rail(&mut text, &mut dice, stage);
        for section in ["a", "b"] {
            common_cathode(&mut text, &mut dice, stage, section, &rail);
        }
    }
    text
}

fn opening(title: &str) -> String {
    format!(
        "design \"{title}\" revision=\"A\"
mains \"230V\" \"50Hz\" tolerance=\"10%\"
inlet J1 live=line neutral=neutral earth=earth
fuse F1 \"315mA\" from=line to=line-fused speed=slow voltage=\"250V\"
switch S1 from=line-fused to=line-switched voltage=\"250V\" current=\"2A\"
wire chassis earth
wire ground chassis
"
    )
}

fn supply(text: &mut String, dice: &mut Dice, kind: usize) {
    let volts = ["200", "220", "240", "250"][dice.below(4)];
    let tapped = kind < 3;
    let (winding, centre) =
        if tapped { (format!("{volts}-0-{volts}V"), " centre=ground") } else { (format!("{volts}V"), "") };
    let _ = write!(
        text,
        "transformer T1 {{
    primary \"230V\" start=line-switched finish=neutral resistance=\"28\"
    winding ht \"{winding}\" start=ht1{centre} finish=ht2 current=\"100mA\" resistance=\"240\"
    winding heaters \"3.15-0-3.15V\" start=h1 centre=ground finish=h2 current=\"4A\" resistance=\"0.09\"
}}
"
    );
    match kind {
        0..=2 => {
            let tube = ["EZ80", "EZ81", "6X4"][kind];
            let _ = write!(
                text,
                "tube V90 \"{tube}\" {{ heater \"6.3V\" from=h1 to=h2; }}\nwire V90.plate1 ht1\nwire V90.plate2 ht2\nwire V90.cathode raw\n"
            );
        }
        3 => *text += "bridge D1 \"1N4007\" ac1=ht1 ac2=ht2 plus=raw minus=ground\n",
        _ => *text += "wire ht2 ground\ndiode D1 \"1N4007\" anode=ht1 cathode=raw\n",
    }
    let first = dice.one_of(&["10uF", "22uF", "33uF", "47uF"]);
    let _ = writeln!(text, "capacitor C90 \"{first}\" plus=raw minus=ground voltage=\"500V\" kind=electrolytic");
    if dice.below(2) == 0 && kind != 4 {
        *text += "choke L90 \"10H\" from=raw to=bplus resistance=\"270\" current=\"100mA\"\n";
    } else {
        let ohms = dice.value(0, 6, "k");
        let _ = writeln!(text, "resistor R90 \"{ohms}\" from=raw to=bplus power=\"5W\" kind=wirewound");
    }
    let _ = writeln!(
        text,
        "capacitor C91 \"47uF\" plus=bplus minus=ground voltage=\"500V\" kind=electrolytic
resistor R91 \"{}\" from=bplus to=ground power=\"3W\" kind=metal-oxide voltage=\"500V\" note=\"bleeder\"",
        dice.value(0, 5, "00k")
    );
}

/// The decoupled rail of a stage.
fn rail(text: &mut String, dice: &mut Dice, stage: usize) -> String {
    let rail = format!("rail{stage}");
    let _ = writeln!(
        text,
        "resistor R{stage}0 \"{}\" from=bplus to={rail} power=\"1W\" kind=metal-film
capacitor C{stage}0 \"22uF\" plus={rail} minus=ground voltage=\"500V\" kind=electrolytic",
        dice.value(4, 11, "k")
    );
    rail
}

fn circuit(text: &mut String, dice: &mut Dice, stage: usize, section: &str, rail: &str) {
    match dice.below(3) {
        0 => common_cathode(text, dice, stage, section, rail),
        1 => lit_cathode(text, dice, stage, section, rail),
        _ => follower(text, dice, stage, section, rail),
    }
}

fn common_cathode(text: &mut String, dice: &mut Dice, stage: usize, section: &str, rail: &str) {
    let n = format!("{stage}{section}");
    let _ = writeln!(
        text,
        "resistor R{n}3 \"{}\" from={rail} to=V{n}.plate power=\"2W\" kind=metal-film
resistor R{n}4 \"{}\" from=V{n}.cathode to=ground power=\"0.5W\" kind=metal-film
capacitor C{n}1 \"220uF\" plus=V{n}.cathode minus=ground voltage=\"25V\" kind=electrolytic",
        dice.value(4, 11, "0k"),
        dice.value(0, 6, "k"),
    );
    ends(text, dice, &n, &format!("V{n}.plate"));
}

fn lit_cathode(text: &mut String, dice: &mut Dice, stage: usize, section: &str, rail: &str) {
    let n = format!("{stage}{section}");
    let _ = writeln!(
        text,
        "resistor R{n}3 \"{}\" from={rail} to=V{n}.plate power=\"2W\" kind=metal-film
led D{n}1 red anode=V{n}.cathode cathode=ground",
        dice.value(4, 11, "0k"),
    );
    ends(text, dice, &n, &format!("V{n}.plate"));
}

fn follower(text: &mut String, dice: &mut Dice, stage: usize, section: &str, rail: &str) {
    let n = format!("{stage}{section}");
    let _ = writeln!(
        text,
        "wire {rail} V{n}.plate
resistor R{n}3 \"{}\" from=V{n}.cathode to=ground power=\"2W\" kind=metal-film",
        dice.value(4, 11, "0k"),
    );
    ends(text, dice, &n, &format!("V{n}.cathode"));
}

/// Grid leak, stopper, input, coupling and output of one section.
fn ends(text: &mut String, dice: &mut Dice, n: &str, out: &str) {
    let _ = writeln!(
        text,
        "resistor R{n}1 \"{}\" from=in-{n} to=ground power=\"0.5W\" kind=metal-film
resistor R{n}2 \"1k\" from=in-{n} to=V{n}.grid power=\"0.5W\" kind=metal-film
capacitor C{n}2 \"{}uF\" from={out} to=out-{n} voltage=\"630V\" kind=film
resistor R{n}5 \"470k\" from=out-{n} to=ground power=\"0.5W\" kind=metal-film
input IN-{n} hot=in-{n} cold=ground source=\"600\" level=\"0.5V\"
output OUT-{n} hot=out-{n} cold=ground load=\"47k\" cable=\"1m\"",
        dice.value(4, 11, "00k"),
        dice.one_of(&["0.22", "0.47", "1", "2.2"]),
    );
}
