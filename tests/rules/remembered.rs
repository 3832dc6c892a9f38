//! What has been solved before is found again bit for bit, and only where the problem is the same.

use std::sync::Arc;

use coldcheck::catalogue::Catalogue;
use coldcheck::circuit::Circuit;
use coldcheck::design::{Design, read_fragment};
use coldcheck::facts::{FactTable, Memory, facts_of, facts_remembered};
use coldcheck::source::Sources;

const STAGE: &str = r#"
design "Remembered" revision="A"
mains "230V" "50Hz" tolerance="10%"
inlet J1 live=line neutral=neutral earth=earth
fuse F1 "315mA" from=line to=line-fused speed=slow voltage="250V"
switch S1 from=line-fused to=line-switched voltage="250V" current="2A"
wire chassis earth
wire ground chassis
transformer T1 {
    primary "230V" start=line-switched finish=neutral resistance="28"
    winding ht "220V" start=ht1 finish=ht2 current="100mA" resistance="240"
    winding heaters "3.15-0-3.15V" start=h1 centre=ground finish=h2 current="4A" resistance="0.09"
}
bridge D1 "1N4007" ac1=ht1 ac2=ht2 plus=raw minus=ground
capacitor C90 "47uF" plus=raw minus=ground voltage="450V" kind=electrolytic
resistor R90 "2.2k" from=raw to=bplus power="5W" kind=wirewound
capacitor C91 "47uF" plus=bplus minus=ground voltage="450V" kind=electrolytic
resistor R91 "220k" from=bplus to=ground power="3W" kind=metal-oxide voltage="500V"
tube V1 "12AX7" { heater "6.3V" from=h1 to=h2; alternates "5751"; }
wire V1b.grid ground
wire V1b.cathode ground
wire V1b.plate ground
resistor R3 "100k" from=bplus to=V1a.plate power="2W" kind=metal-film
resistor R4 "1.5k" from=V1a.cathode to=ground power="0.5W" kind=metal-film
capacitor C1 "220uF" plus=V1a.cathode minus=ground voltage="25V" kind=electrolytic
resistor R1 "1M" from=in to=ground power="0.5W" kind=metal-film
resistor R2 "1k" from=in to=V1a.grid power="0.5W" kind=metal-film
capacitor C2 "0.47uF" from=V1a.plate to=out voltage="630V" kind=film
resistor R5 "470k" from=out to=ground power="0.5W" kind=metal-film
input IN hot=in cold=ground source="600" level="0.5V"
output OUT hot=out cold=ground load="47k" cable="1m"
"#;

fn design(text: &str) -> Design {
    let mut sources = Sources::default();
    let file = sources.add("stage.kdl", text);
    let reading = read_fragment(&sources, file, Catalogue::built_in());
    assert!(reading.complaints.is_empty(), "{:#?}", reading.complaints);
    reading.design.unwrap()
}

/// Every subject, fact, sample and condition without a solution, to the last bit.
fn told(table: &FactTable) -> String {
    let entries = table.iter().map(|(subject, name, entry)| format!("{:?} {name} {entry:?}", table.subject(subject)));
    entries.chain([format!("{:?}", table.unsolved)]).collect::<Vec<_>>().join("\n")
}

/// The facts of a changed text after the first, found again where they may be, and from the ground up.
fn both(from: &str, to: &str, keeps: bool) -> (String, String) {
    let catalogue = Catalogue::built_in();
    let first = design(STAGE);
    let memory = Memory::keeping();
    let before = facts_remembered(&first, &Circuit::of(&first), catalogue, &memory);
    assert_eq!(told(&before), told(&facts_of(&first, &Circuit::of(&first), catalogue)));
    let memory = Arc::new(memory);
    let memory = if keeps { Memory::keeping_after(memory) } else { Memory::of(memory) };
    assert_eq!(STAGE.matches(from).count(), 1);
    let changed = design(&STAGE.replace(from, to));
    let again = facts_remembered(&changed, &Circuit::of(&changed), catalogue, &memory);
    (told(&again), told(&facts_of(&changed, &Circuit::of(&changed), catalogue)))
}

#[test]
fn a_rating_changes_no_solution() {
    for keeps in [false, true] {
        let (again, anew) =
            both("R90 \"2.2k\" from=raw to=bplus power=\"5W\"", "R90 \"2.2k\" from=raw to=bplus power=\"7W\"", keeps);
        assert_eq!(again, anew);
    }
}

#[test]
fn a_value_changes_what_it_changes() {
    for (from, to) in
        [("R91 \"220k\"", "R91 \"100k\""), ("C2 \"0.47uF\"", "C2 \"0.22uF\""), ("R4 \"1.5k\"", "R4 \"2.2k\"")]
    {
        let (again, anew) = both(from, to, false);
        assert_eq!(again, anew);
        assert_ne!(again, told(&facts_of(&design(STAGE), &Circuit::of(&design(STAGE)), Catalogue::built_in())));
    }
}
