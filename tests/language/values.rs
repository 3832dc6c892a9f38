//! Values as builders write them reach the typed parts, in base SI units.

use coldcheck::catalogue::PentodeForm;
use coldcheck::design::{Design, DiodeKind, Kind, PartId, Reference};
use coldcheck::units::Volts;

use crate::bench::{Drawer, read, sound, told};

fn kind<'a>(design: &'a Design, name: &str) -> &'a Kind {
    &design.part(design.find(name).expect(name)).kind
}

#[test]
fn every_spelling_of_a_resistance_is_the_same_resistance() {
    for written in
        ["\"4k7\"", "\"4.7k\"", "\"4,7k\"", "\"4700\"", "4700", "\"4.7 kΩ\"", "\"4700 ohm\"", "\"4K7\"", "4.7e3"]
    {
        let (_, design) = sound(&format!("design \"x\"\nresistor R1 {written} from=a to=b\n"));
        let Kind::Resistor(resistor) = kind(&design, "R1") else {
            panic!("R1 is a resistor");
        };
        assert!((resistor.resistance.value.0 - 4700.0).abs() < 1e-9, "{written}");
    }
}

#[test]
fn halves_of_a_winding_may_differ() {
    let (_, design) = sound(
        "design \"x\"
        transformer T1 {
            primary \"230V\" start=l finish=n
            winding ht \"250-0-200V\" start=a centre=ground finish=b no-load=\"480V\" current=\"50mA\"
            winding fil \"6.3V\" start=c centre=ground finish=d
            winding plain 5 start=e finish=f
        }",
    );
    let Kind::Transformer(transformer) = kind(&design, "T1") else {
        panic!("T1 is a transformer");
    };
    let halves: Vec<_> = transformer.windings.iter().map(|winding| (winding.voltage.value, winding.halves)).collect();
    assert_eq!(
        halves,
        [
            (Volts(450.0), Some((Volts(250.0), Volts(200.0)))),
            (Volts(6.3), Some((Volts(3.15), Volts(3.15)))),
            (Volts(5.0), None),
        ]
    );
    assert_eq!(transformer.windings[0].no_load.as_ref().unwrap().value, Volts(480.0));
    let terminals = &design.part(design.find("T1").unwrap()).terminals;
    assert!(terminals.contains(&"fil.centre".to_owned()));
    assert!(!terminals.contains(&"plain.centre".to_owned()));
}

#[test]
fn a_cable_is_a_length_or_a_capacitance() {
    // 100 pF a metre is the language's own rule.
    for (written, farads) in [("1m", 100e-12), ("2.5 m", 250e-12), ("150pF", 150e-12), ("1n", 1e-9)] {
        let (_, design) = sound(&format!("design \"x\"\noutput OUT hot=a cold=ground cable=\"{written}\"\n"));
        let Kind::Output(output) = kind(&design, "OUT") else {
            panic!("OUT is an output");
        };
        let cable = output.cable.as_ref().unwrap().value.0;
        assert!((cable - farads).abs() < 1e-18, "{written}: {cable}");
    }
}

#[test]
fn what_an_output_should_reach_is_read() {
    let (_, design) = sound(
        "design \"x\"
        input IN hot=a cold=ground source=600 level=\"0.5V\"
        output OUT hot=b cold=ground load=\"47k\" gain=\"20dB\" hum=\"1mV\" noise=\"0.1mV\" power=\"5W\" distortion=\"1%\" source-impedance=\"1k\" of=IN low-corner=\"10Hz\"
        band from=\"30Hz\" to=\"15kHz\"",
    );
    let Kind::Output(output) = kind(&design, "OUT") else {
        panic!("OUT is an output");
    };
    assert!((output.gain.as_ref().unwrap().value.0 - 10.0).abs() < 1e-12);
    assert_eq!(output.distortion.as_ref().unwrap().value.0, 0.01);
    assert_eq!(output.of.as_ref().unwrap().value, "IN");
    assert_eq!((design.band.from.0, design.band.to.0), (30.0, 15e3));
}

#[test]
fn what_is_not_said_has_its_usual_value() {
    let (_, design) = sound(
        "design \"x\"
        mains \"120V\" \"60Hz\"
        switch S1 from=a to=b
        switch S2 from=a to=b position=open
        potentiometer P1 \"10k\" top=a
        potentiometer P2 \"10k\" top=a setting=\"40%\"",
    );
    assert_eq!((design.band.from.0, design.band.to.0), (20.0, 20e3));
    assert_eq!(design.mains.as_ref().unwrap().tolerance.0, 0.1);
    let closed = |name| matches!(kind(&design, name), Kind::Switch(switch) if switch.closed);
    assert!(closed("S1") && !closed("S2"));
    let setting = |name| match kind(&design, name) {
        Kind::Potentiometer(pot) => pot.setting.0,
        _ => panic!("a potentiometer"),
    };
    assert_eq!((setting("P1"), setting("P2")), (1.0, 0.4));
}

#[test]
fn tubes_carry_what_the_catalogue_and_the_design_say() {
    let (_, design) = sound(
        "design \"x\"
        tube V1 \"ECC83\" { heater \"12.6V\" from=h1 to=h2 tap=ground; alternates \"ECC82\" \"12BH7A\"; unused b; model mu=100 cgp=\"1.7pF\"; }
        tube V2 \"5Y3\" { heater 5 from=f1 to=f2; }
        tube V3 \"6BM8\" { model p mu=10 kg2=\"4000\"; }
        tube V4 6267
        unused V3t
        wire V2.cathode V3p.screen V4.suppressor V1.heater.tap",
    );
    let Kind::Tube(tube) = kind(&design, "V1") else {
        panic!("V1 is a tube");
    };
    assert_eq!((tube.device.value.as_str(), tube.canonical.as_str()), ("ECC83", "12AX7"));
    let alternates: Vec<&str> = tube.alternates.iter().map(|name| name.value.as_str()).collect();
    assert_eq!(alternates, ["12AU7", "12BH7A"]);
    assert_eq!(tube.unused[0].value, "b");
    assert_eq!(tube.heater.as_ref().unwrap().voltage.value, Volts(12.6));
    let [(mu, value), (cgp, farads)] = tube.changes.keys.as_slice() else {
        panic!("two keys of the model");
    };
    assert_eq!((mu.as_str(), *value, cgp.as_str()), ("mu", 100.0, "cgp"));
    assert!((farads - 1.7e-12).abs() < 1e-18);
    let Kind::Tube(triode_pentode) = kind(&design, "V3") else {
        panic!("V3 is a tube");
    };
    assert_eq!(triode_pentode.unused[0].value, "t");
    assert_eq!(triode_pentode.changes.keys[0], ("p.mu".to_owned(), 10.0));
    let labels: Vec<String> = design.wires[0]
        .ends
        .iter()
        .map(|end| match &end.value {
            Reference::Terminal(terminal) => design.terminal_label(terminal),
            Reference::Net(net) => net.clone(),
        })
        .collect();
    assert_eq!(labels, ["V2.cathode", "V3p.screen", "V4.suppressor", "V1.heater.tap"]);
}

#[test]
fn a_pentode_is_given_another_form_of_model_whole_or_not_at_all() {
    let given = |model: &str| read(&format!("design \"x\"\ntube V3 \"6BM8\" {{ {model}; }}"));
    let (_, reading) =
        given("model p form=divided mu=10 x=1.5 kg1=900 kp=60 mup=160 split=0.19 tilt=0.1 knee=1.6e-3 rgi=1k");
    let design = reading.design.unwrap();
    let Kind::Tube(tube) = kind(&design, "V3") else { panic!("V3 is a tube") };
    assert_eq!(tube.form_of("p"), Some(PentodeForm::Divided));
    assert_eq!(tube.changes_of("p").find(|(key, _)| *key == "knee"), Some(("knee", 1.6e-3)));

    let complaint = |model: &str| {
        let (sources, reading) = given(model);
        let [only] = reading.complaints.as_slice() else { panic!("{:#?}", reading.complaints) };
        (sources.text(only.span.unwrap()).to_owned(), only.message.clone())
    };
    let half = given("model p form=divided mu=10 cgp=\"0.1p\"").1.design.unwrap();
    let Kind::Tube(tube) = kind(&half, "V3") else { panic!("V3 is a tube") };
    assert_eq!(tube.changes_of("p").map(|(key, _)| key).collect::<Vec<_>>(), ["cgp"]);
    // The drawer's pentodes are of Koren's form.
    assert_eq!(
        complaint("model p form=divided mu=10 x=1.5 kg1=900 kp=60 mup=160 split=0.19"),
        ("divided".to_owned(), "`form=divided` lacks tilt, knee".to_owned())
    );
    assert_eq!(
        complaint("model p mu=10 split=0.19"),
        (
            "split".to_owned(),
            "`split` is a key of `form=divided`, and the catalogue's model of the ECL82 is `form=koren`".to_owned()
        )
    );
    assert_eq!(complaint("model p form=divide mu=10").0, "divide");
}

#[test]
fn every_other_part_is_read() {
    let (_, design) = sound(
        "design \"x\"
        bench-supply B1 \"250V\" plus=a minus=ground resistance=0 current=\"100mA\"
        choke L1 \"10H\" from=a to=b resistance=\"200\" current=\"80mA\"
        current-source I1 \"5mA\" from=a to=b voltage=\"450V\" power=\"2W\"
        diode D1 \"UF4007\" anode=a cathode=b { model is=\"7nA\" n=1.8 rs=\"34m\"; }
        zener D2 \"12V\" anode=a cathode=b power=\"1.3W\"
        led D3 red anode=a cathode=b
        bridge D4 \"1N4007\" ac1=a ac2=b plus=c minus=d
        mosfet Q1 IRF820 drain=a gate=b source=c
        bjt Q2 \"2N3904\" collector=a base=b emitter=c
        jfet Q3 J113 drain=a gate=b source=c
        capacitor C1 \"1n\" from=a to=b kind=safety class=Y2 temperature=\"105C\" maker=\"club stock\" series=blue
        output-transformer T1 power=\"10W\" {
            primary \"5k\" start=a centre=b finish=c resistance=\"200\" inductance=\"20H\" current=\"50mA\" leakage=\"10mH\"
            tap \"43%\" at=s1
            tap 43 at=s2
            secondary \"8\" start=d finish=ground
            secondary \"4\" start=e finish=ground
        }",
    );
    assert!(
        matches!(kind(&design, "D1"), Kind::Diode(diode) if matches!(&diode.kind, DiodeKind::Plain(name) if name.value == "1N4007"))
    );
    assert!(
        matches!(kind(&design, "C1"), Kind::Capacitor(c) if c.temperature.as_ref().map(|t| t.value) == Some(105.0))
    );
    let Kind::OutputTransformer(transformer) = kind(&design, "T1") else {
        panic!("T1 is an output transformer");
    };
    assert!(transformer.centre_tapped);
    let part = design.part(design.find("T1").unwrap());
    assert_eq!(
        part.terminals,
        [
            "primary.start",
            "primary.centre",
            "primary.finish",
            "tap-43",
            "tap-43b",
            "secondary-8.start",
            "secondary-8.finish",
            "secondary-4.start",
            "secondary-4.finish"
        ]
    );
    assert_eq!(design.part(PartId(10)).maker.as_deref(), Some("club stock"));
}

#[test]
fn a_fragment_reads_as_a_design_for_the_examples_of_rules() {
    let mut sources = coldcheck::source::Sources::default();
    let file = sources.add(
        "rules/capacitor.kdl",
        "bench-supply B1 \"250V\" plus=a minus=ground\ncapacitor C1 \"1uF\" from=a to=ground\n",
    );
    let reading = coldcheck::design::read_fragment(&sources, file, &Drawer::new());
    assert_eq!(told(&sources, &reading.complaints), "");
    let design = reading.design.unwrap();
    assert_eq!((design.title.value.as_str(), design.parts.len()), ("example", 2));
    assert_eq!(design.mains, None);
}

#[test]
fn a_file_without_a_design_is_a_fragment_and_no_error_by_itself() {
    let (_, reading) = read("resistor R1 \"1k\" from=a to=V7.plate\n");
    assert!(reading.design.is_none());
    assert!(reading.fragment.is_some());
    assert!(reading.complaints.is_empty());
}

#[test]
fn forward_references_are_fine() {
    let (_, design) = sound(
        "resistor R1 \"1k\" from=R2.to to=V1a.plate\nresistor R2 \"1k\" from=a to=b\ntube V1 \"12AU7\"\ndesign \"last\"\n",
    );
    assert_eq!(design.title.value, "last");
}
