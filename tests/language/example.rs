//! The complete example of the language reads without a complaint and means what it says.

use coldcheck::catalogue::Catalogue;
use coldcheck::design::{Kind, Reference, read_design};
use coldcheck::source::Sources;
use coldcheck::units::Volts;

use crate::bench::{Folder, read, sound, told};

pub const EXAMPLE: &str = include_str!("good/reading-room.kdl");

#[test]
fn the_complete_example_reads_without_a_complaint() {
    let (sources, reading) = read(EXAMPLE);
    assert_eq!(told(&sources, &reading.complaints), "");
    let design = reading.design.unwrap();
    assert_eq!(design.title.value, "Reading-room line stage");
    assert_eq!(design.revision.as_deref(), Some("B"));
    assert_eq!(design.author.as_deref(), Some("Alder Street listening club"));
    let mains = design.mains.as_ref().unwrap();
    assert_eq!((mains.voltage.value.0, mains.frequency.value.0, mains.tolerance.0), (230.0, 50.0, 0.1));
    // Fourteen parts at the top level and two copies of eight.
    assert_eq!(design.parts.len(), 14 + 2 * 8);
}

#[test]
fn a_centre_tapped_winding_has_two_halves() {
    let (_, design) = sound(EXAMPLE);
    let id = design.find("T1").unwrap();
    let Kind::Transformer(transformer) = &design.part(id).kind else {
        panic!("T1 is a transformer");
    };
    let ht = &transformer.windings[0];
    assert_eq!(ht.voltage.value, Volts(500.0));
    assert_eq!(ht.halves, Some((Volts(250.0), Volts(250.0))));
    assert_eq!(transformer.primary.halves, None);
}

fn joined(design: &coldcheck::design::Design, part: &str, terminal: &str) -> String {
    let part = design.part(design.find(part).unwrap());
    let join = part.connections.iter().find(|join| join.terminal == terminal).unwrap();
    match &join.to.value {
        Reference::Net(net) => net.clone(),
        Reference::Terminal(terminal) => design.terminal_label(terminal),
    }
}

#[test]
fn a_stage_sees_its_ports_its_own_nets_and_the_reserved_nets() {
    let (_, design) = sound(EXAMPLE);
    assert_eq!(joined(&design, "left.R3", "from"), "bplus");
    assert_eq!(joined(&design, "left.R3", "to"), "V1a.plate");
    assert_eq!(joined(&design, "right.R3", "to"), "V1b.plate");
    assert_eq!(joined(&design, "left.P1", "wiper"), "left.volume");
    assert_eq!(joined(&design, "right.P1", "wiper"), "right.volume");
    assert_eq!(joined(&design, "left.P1", "top"), "in-left");
    assert_eq!(joined(&design, "left.P1", "bottom"), "ground");
    assert_eq!(joined(&design, "C10", "plus"), "V2.cathode");
    assert_eq!(joined(&design, "V1", "heater.from"), "h1");
}

#[test]
fn every_part_knows_where_its_name_was_written() {
    let (sources, design) = sound(EXAMPLE);
    for part in &design.parts {
        let last = part.name.rsplit('.').next().unwrap();
        assert_eq!(sources.text(part.name_span), last);
        assert!(sources.text(part.span).contains(last), "{}", part.name);
        assert!(!sources.text(part.span).ends_with(char::is_whitespace));
        let copies = usize::from(part.name.contains('.'));
        assert_eq!(part.copied_by.len(), copies, "{}", part.name);
        for fit in &part.copied_by {
            assert!(sources.text(*fit).starts_with("fit line"));
        }
        for join in &part.connections {
            let text = sources.text(join.to.span);
            assert!(!text.is_empty() && !text.contains([' ', '"', '=']), "{text}");
        }
    }
}

#[test]
fn the_complete_example_is_known_to_the_built_in_catalogue_too() {
    let mut sources = Sources::default();
    let root = sources.add("reading-room.kdl", EXAMPLE);
    let reading = read_design(&mut sources, root, &Folder::default(), Catalogue::built_in(), None);
    assert_eq!(told(&sources, &reading.complaints), "");
    assert_eq!(reading.design.unwrap().parts.len(), 14 + 2 * 8);
}

#[test]
fn a_name_in_quotes_is_marked_without_them() {
    let (sources, design) = sound("design \"x\"\nresistor \"R1\" \"1k\" from=\"a\" to=#\"b\"#\n");
    let part = &design.parts[0];
    assert_eq!(sources.text(part.name_span), "R1");
    assert_eq!(sources.text(part.connections[0].to.span), "a");
    assert_eq!(sources.text(part.span), "resistor \"R1\" \"1k\" from=\"a\" to=#\"b\"#");
    assert_eq!(sources.text(design.title.span), "x");
}
