//! Stages: what a word means inside one, what is seen from outside, and how copies nest.

use coldcheck::design::{Design, Reference};

use crate::bench::{read, sound, told};

fn joined(design: &Design, part: &str, terminal: &str) -> String {
    let part = design.part(design.find(part).expect(part));
    let join = part.connections.iter().find(|join| join.terminal == terminal).expect(terminal);
    shown(design, &join.to.value)
}

fn shown(design: &Design, reference: &Reference) -> String {
    match reference {
        Reference::Net(net) => format!("net {net}"),
        Reference::Terminal(terminal) => design.terminal_label(terminal),
    }
}

#[test]
fn a_word_means_a_port_then_a_part_then_an_own_net() {
    let (_, design) = sound(
        "design \"x\"
        tube V1 \"12AU7\"
        resistor R9 \"1k\" from=V1b.plate to=bplus
        stage s {
            port in R7
            resistor R1 \"1k\" from=in to=own
            resistor R2 \"1k\" from=R1.to to=R7
            resistor R3 \"1k\" from=V1a.plate to=R9.from
            resistor R4 \"1k\" from=ground to=chassis
            resistor R9 \"1k\" from=earth to=bplus
        }
        fit s left in=R9.to R7=x",
    );
    assert_eq!(joined(&design, "left.R1", "from"), "R9.to");
    assert_eq!(joined(&design, "left.R1", "to"), "net left.own");
    assert_eq!(joined(&design, "left.R2", "from"), "left.R1.to");
    assert_eq!(joined(&design, "left.R2", "to"), "net x");
    assert_eq!(joined(&design, "left.R3", "from"), "V1a.plate");
    // The stage's own R9 comes before that of the top level.
    assert_eq!(joined(&design, "left.R3", "to"), "left.R9.from");
    assert_eq!(joined(&design, "left.R4", "from"), "net ground");
    assert_eq!(joined(&design, "left.R4", "to"), "net chassis");
    assert_eq!(joined(&design, "left.R9", "from"), "net earth");
    // Only the reserved nets are the same inside and outside.
    assert_eq!(joined(&design, "left.R9", "to"), "net left.bplus");
}

#[test]
fn a_port_may_be_a_whole_part_or_a_section() {
    let (_, design) = sound(
        "design \"x\"
        tube V1 \"12AU7\" { heater \"6.3V\" from=h1 to=h2; }
        tube V2 \"EZ80\"
        transformer T1 { primary \"230V\"; winding ht \"275-0-250V\" start=a centre=ground finish=b; }
        potentiometer P1 \"100k\" top=x
        stage s {
            port tube rectifier pot iron
            wire tube.plate rectifier.cathode
            wire pot.wiper tube.grid
            wire iron.ht.centre pot.bottom
            wire tube.heater.from rectifier.heater.to
        }
        fit s left tube=V1b rectifier=V2 pot=P1 iron=T1",
    );
    let ends: Vec<Vec<String>> =
        design.wires.iter().map(|wire| wire.ends.iter().map(|end| shown(&design, &end.value)).collect()).collect();
    assert_eq!(
        ends,
        [
            ["V1b.plate", "V2.cathode"],
            ["P1.wiper", "V1b.grid"],
            ["T1.ht.centre", "P1.bottom"],
            ["V1.heater.from", "V2.heater.to"],
        ]
    );
}

#[test]
fn copies_nest_and_pass_their_ports_on() {
    let (sources, design) = sound(
        "design \"x\"
        tube V1 \"12AX7\"
        stage inner { port p q; resistor R1 \"1k\" from=p to=q.plate; resistor R2 \"1k\" from=p to=mid; }
        stage outer { port a tube; fit inner first p=a q=tube; fit inner second p=link q=tube; }
        fit outer left a=in tube=V1a
        fit outer right a=left.second.mid tube=V1b
        wire left.first.R2.to right.a left.first.p left.second.p",
    );
    let names: Vec<&str> = design.parts.iter().map(|part| part.name.as_str()).collect();
    assert_eq!(
        names,
        [
            "V1",
            "left.first.R1",
            "left.first.R2",
            "left.second.R1",
            "left.second.R2",
            "right.first.R1",
            "right.first.R2",
            "right.second.R1",
            "right.second.R2",
        ]
    );
    assert_eq!(joined(&design, "left.first.R1", "from"), "net in");
    assert_eq!(joined(&design, "left.first.R1", "to"), "V1a.plate");
    assert_eq!(joined(&design, "right.second.R1", "to"), "V1b.plate");
    assert_eq!(joined(&design, "left.second.R1", "from"), "net left.link");
    assert_eq!(joined(&design, "right.first.R1", "from"), "net left.second.mid");
    let wire: Vec<String> = design.wires[0].ends.iter().map(|end| shown(&design, &end.value)).collect();
    assert_eq!(wire, ["left.first.R2.to", "net left.second.mid", "net in", "net left.link"]);
    let part = design.part(design.find("right.second.R1").unwrap());
    let fits: Vec<&str> = part.copied_by.iter().map(|span| sources.text(*span)).collect();
    assert_eq!(fits, ["fit outer right a=left.second.mid tube=V1b", "fit inner second p=link q=tube"]);
}

#[test]
fn sixteen_levels_are_unfolded_and_the_seventeenth_is_not() {
    let nested = |levels: usize| {
        let mut text = String::from("design \"x\"\nstage s1 { port p; resistor R \"1k\" from=p to=ground; }\n");
        for level in 2..=levels {
            text += &format!("stage s{level} {{ port p; fit s{} c p=p; }}\n", level - 1);
        }
        text + &format!("fit s{levels} c p=a\n")
    };
    let (_, design) = sound(&nested(16));
    assert_eq!(design.parts.len(), 1);
    let (sources, reading) = read(&nested(17));
    let said = told(&sources, &reading.complaints);
    assert!(said.contains("more than 16 levels"), "{said}");
}

#[test]
fn waivers_readings_and_inputs_inside_a_stage_are_those_of_each_copy() {
    let (_, design) = sound(
        "design \"x\"
        stage s {
            port p
            resistor R1 \"1k\" from=p to=own { waive \"resistor/dissipation\" because=\"bench\"; }
            reading own \"5V\" by=meter tolerance=\"10%\"
            waive \"wiring/dangling\" because=\"bench\" part=own until=\"2027-06-30\"
            waive \"wiring/dangling\" because=\"bench\" part=R1
            input IN hot=own cold=ground
            output OUT hot=own cold=ground of=IN
        }
        fit s left p=a
        fit s right p=b",
    );
    let waived: Vec<&str> = design.waivers.iter().map(|waiver| waiver.part.as_ref().unwrap().value.as_str()).collect();
    assert_eq!(waived, ["left.R1", "right.R1", "left.own", "left.R1", "right.own", "right.R1"]);
    let read: Vec<String> = design.readings.iter().map(|reading| shown(&design, &reading.at.value)).collect();
    assert_eq!(read, ["net left.own", "net right.own"]);
}

#[test]
fn a_value_that_is_wrong_in_a_stage_is_told_once() {
    let (_, reading) = read(
        "design \"x\"
        stage s { port p; resistor R1 \"1V\" from=p to=q.plate; }
        fit s left p=a
        fit s right p=b
        wire left.R1.from right.R1.to",
    );
    assert_eq!(reading.complaints.len(), 1);
}

#[test]
fn a_waiver_may_speak_of_a_section_a_winding_a_heater_a_net_or_a_copy() {
    let (_, design) = sound(
        "design \"x\"
        tube V1 \"12AU7\" { heater \"6.3V\" from=h1 to=h2; }
        transformer T1 { primary \"230V\"; winding ht \"250V\" start=bplus finish=ground; }
        stage s { port p; resistor R1 \"1k\" from=p to=own; }
        fit s left p=V1a.plate
        waive \"a/b\" because=\"bench\" part=V1a
        waive \"a/b\" because=\"bench\" part=V1.heater
        waive \"a/b\" because=\"bench\" part=T1.ht
        waive \"a/b\" because=\"bench\" part=bplus
        waive \"a/b\" because=\"bench\" part=left
        waive \"a/b\" because=\"bench\" part=left.R1
        waive \"a/b\" because=\"bench\" part=left.own
        waive \"a/b\" because=\"bench\"",
    );
    let subjects: Vec<Option<&str>> =
        design.waivers.iter().map(|waiver| waiver.part.as_ref().map(|part| part.value.as_str())).collect();
    let named = ["V1a", "V1.heater", "T1.ht", "bplus", "left", "left.R1", "left.own"];
    assert_eq!(subjects, named.map(Some).into_iter().chain([None]).collect::<Vec<_>>());
}
