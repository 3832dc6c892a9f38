//! How a workshop's own catalogue files are read, and what is said of their mistakes.

use coldcheck::catalogue::{Catalogue, PentodeForm, TubeModel};
use coldcheck::source::{Complaint, Severity, Sources, parse_text};
use coldcheck::units::Volts;

const BASE: &str = r#"base "9A" {
    pin "1" b.plate; pin "2" b.grid; pin "3" b.cathode; pin "4" heater.from; pin "5" heater.to
    pin "6" a.plate; pin "7" a.grid; pin "8" a.cathode; pin "9" heater.tap
    source "EIA basing" from-memory=#true
}
"#;

/// A tube of the club's own, with one place to make a mistake in.
fn club_tube(name: &str, aliases: &str, limits: &str) -> String {
    format!(
        r#"tube "{name}" {{
    aliases {aliases}
    base "9A"
    heating indirect {{ heater "6.3V" "300mA"; source "Alder Street bench" from-memory=#false; }}
    section triode a b {{
        model mu=20 x=1.4 kg1=2000 kp=80 kvb=300 {{ source "Alder Street bench" from-memory=#false; }}
        limits {{ {limits}; source "Alder Street bench" from-memory=#false; }}
    }}
}}
"#
    )
}

fn read_into(catalogue: &mut Catalogue, text: &str) -> (Vec<Complaint>, Sources) {
    let mut sources = Sources::default();
    let file = sources.add("club.kdl", text);
    let (statements, mut complaints) = parse_text(file, text);
    complaints.extend(catalogue.read(&statements));
    (complaints, sources)
}

/// Reads a text into an empty catalogue: the only complaint, and the text at its span.
fn only_complaint(text: &str) -> (Complaint, String) {
    let (complaints, sources) = read_into(&mut Catalogue::default(), text);
    assert_eq!(complaints.len(), 1, "{complaints:#?}");
    let place = sources.text(complaints[0].span.unwrap()).to_owned();
    (complaints[0].clone(), place)
}

#[test]
fn a_sound_file_reads_in_silence_whatever_its_order() {
    let mut catalogue = Catalogue::default();
    let text = club_tube("CLUB-1", r#""club one""#, r#"plate-voltage "250V""#) + BASE;
    let (complaints, _) = read_into(&mut catalogue, &text);
    assert!(complaints.is_empty(), "{complaints:#?}");
    let tube = catalogue.tube("club1").unwrap();
    assert_eq!(tube.sections.len(), 2);
    assert_eq!(tube.sections[1].suffix, "b");
    assert_eq!(tube.sections[1].limits.plate_voltage, Some(Volts(250.0)));
}

#[test]
fn a_misspelt_limit_is_marked_and_the_right_word_offered() {
    let text = format!("{BASE}{}", club_tube("C1", r#""c""#, r#"plate-volatge "250V""#));
    let (complaint, place) = only_complaint(&text);
    assert_eq!(place, "plate-volatge");
    assert!(complaint.help.unwrap().contains("plate-voltage"));
}

#[test]
fn a_pentode_of_the_clubs_own_names_the_form_of_its_model() {
    let tube = |model: &str| {
        format!(
            r#"base "7BK" {{
    pin "1" grid; pin "2" suppressor; pin "3" heater.from; pin "4" heater.to; pin "5" plate; pin "6" screen; pin "7" cathode
    source "EIA basing" from-memory=#true
}}
tube "CLUB-5" {{
    base "7BK"
    heating indirect {{ heater "6.3V" "300mA"; warm-up "11s"; source "Alder Street bench" from-memory=#false; }}
    section pentode {{
        model {model} {{ source "Alder Street bench" from-memory=#false; }}
    }}
}}
"#
        )
    };
    let mut catalogue = Catalogue::default();
    let divided = "form=divided mu=40 x=1.4 kg1=500 kp=110 mup=5000 split=0.38 tilt=0.1 knee=2e-3";
    let (complaints, _) = read_into(&mut catalogue, &tube(divided));
    assert!(complaints.is_empty(), "{complaints:#?}");
    let entry = catalogue.tube("CLUB-5").unwrap();
    let TubeModel::Pentode(law) = &entry.sections[0].model else { panic!("{entry:?}") };
    assert_eq!((law.form(), law.key("knee"), entry.warm_up), (PentodeForm::Divided, Some(2e-3), Some(11.0)));

    // Without a word it is Koren's, which has other keys.
    let koren = "mu=40 x=1.4 kg1=2600 kg2=6000 kp=220 kvb=16";
    assert!(read_into(&mut Catalogue::default(), &tube(koren)).0.is_empty());
    assert_eq!(only_complaint(&tube("form=divine mu=40")).1, "divine");
    let (complaints, _) = read_into(&mut Catalogue::default(), &tube(&divided.replace(" tilt=0.1", "")));
    assert!(complaints.iter().any(|complaint| complaint.message.contains("`tilt`")), "{complaints:#?}");
}

#[test]
fn a_unit_of_the_wrong_kind_is_marked_at_the_value() {
    let text = format!("{BASE}{}", club_tube("C1", r#""c""#, r#"plate-voltage "250mA""#));
    let (complaint, place) = only_complaint(&text);
    assert_eq!(place, "\"250mA\"");
    assert!(complaint.message.contains("voltage"), "{}", complaint.message);
}

#[test]
fn a_limit_of_nothing_or_less_is_refused() {
    for value in ["\"0V\"", "\"-5V\"", "0"] {
        let text = format!("{BASE}{}", club_tube("C1", r#""c""#, &format!("plate-voltage {value}")));
        assert_eq!(only_complaint(&text).1, value);
    }
}

#[test]
fn a_figure_that_would_be_overlooked_is_a_complaint() {
    let sound = format!("{BASE}{}", club_tube("C1", r#""c""#, r#"plate-voltage "250V""#));
    let on_the_line = sound.replace("limits {", "limits plate-dissipation=\"1W\" {");
    assert_eq!(only_complaint(&on_the_line).1, "plate-dissipation");
    let twice = sound.replace("\"250V\"", "\"250V\"; plate-voltage \"300V\"");
    let (complaint, place) = only_complaint(&twice);
    assert_eq!(place, "plate-voltage");
    assert_eq!(complaint.others.len(), 1);
}

#[test]
fn two_entries_that_claim_one_alias_are_a_complaint_that_shows_both() {
    let limits = r#"plate-voltage "250V""#;
    let text = format!("{BASE}{}{}", club_tube("C1", r#""shared""#, limits), club_tube("C2", r#""sha-red""#, limits));
    let (complaint, place) = only_complaint(&text);
    assert_eq!(place, "\"C2\"");
    assert!(complaint.message.contains("C1") && complaint.message.contains("C2"));
    assert_eq!(complaint.others.len(), 1);
}

#[test]
fn an_unknown_base_is_marked() {
    let text = format!("{BASE}{}", club_tube("C1", r#""c""#, r#"plate-voltage "250V""#))
        .replace("base \"9A\"\n", "base \"9B\"\n");
    let (complaint, place) = only_complaint(&text);
    assert_eq!(place, "\"9B\"");
    assert!(complaint.help.unwrap().contains("9A"));
}

#[test]
fn a_base_without_a_pin_for_a_terminal_is_a_complaint() {
    let text =
        format!("{BASE}{}", club_tube("C1", r#""c""#, r#"plate-voltage "250V""#)).replace("pin \"6\" a.plate; ", "");
    let (complaint, _) = only_complaint(&text);
    assert!(complaint.message.contains("a.plate"), "{}", complaint.message);
}

#[test]
fn a_missing_model_key_is_named() {
    let text = format!("{BASE}{}", club_tube("C1", r#""c""#, r#"plate-voltage "250V""#)).replace("kp=80 ", "");
    let (complaint, _) = only_complaint(&text);
    assert!(complaint.message.contains("kp"), "{}", complaint.message);
}

#[test]
fn figures_without_a_document_are_read_with_a_warning() {
    let text = r#"diode "CLUB" { model is=1e-9 n=2 rs=1; }"#;
    let mut catalogue = Catalogue::default();
    let (complaints, _) = read_into(&mut catalogue, text);
    assert_eq!(complaints.len(), 1);
    assert_eq!(complaints[0].severity, Severity::Warning);
    assert!(catalogue.diode("club").is_some());
}

#[test]
fn a_workshop_replaces_an_entry_and_adds_its_own() {
    let mut catalogue = Catalogue::built_in().clone();
    let before = catalogue.tubes().len();
    let limits = r#"plate-voltage "200V""#;
    let (complaints, _) = read_into(&mut catalogue, &club_tube("12AU7", r#""ECC82""#, limits));
    assert!(complaints.is_empty(), "{complaints:#?}");
    assert_eq!(catalogue.tubes().len(), before);
    assert_eq!(catalogue.tube("ECC82").unwrap().sections[0].limits.plate_voltage, Some(Volts(200.0)));
    assert!(catalogue.tube("12AU7A").is_none(), "an alias that the replacement does not claim is gone");

    let (complaints, _) = read_into(&mut catalogue, &club_tube("CLUB-1", r#""7025""#, limits));
    assert!(complaints.is_empty(), "{complaints:#?}");
    assert_eq!(catalogue.tube("7025").unwrap().name, "CLUB-1");
    assert_eq!(catalogue.tube("ECC83").unwrap().name, "12AX7");
    assert_eq!(catalogue.tube_names().iter().filter(|name| **name == "7025").count(), 1);
}

#[test]
fn an_unknown_statement_offers_the_nearest() {
    let (complaint, place) = only_complaint(r#"tbe "12AX7" {}"#);
    assert_eq!(place, "tbe");
    assert!(complaint.help.unwrap().contains("tube"));
}

#[test]
fn a_file_cut_off_anywhere_is_read_as_far_as_it_goes() {
    for (name, text) in coldcheck::catalogue::built_in_files() {
        let whole: Vec<usize> = text.char_indices().map(|(at, _)| at).step_by(211).collect();
        for at in whole {
            let mut catalogue = Catalogue::default();
            let (complaints, sources) = read_into(&mut catalogue, &text[..at]);
            for complaint in complaints {
                let inside = complaint.span.is_none_or(|span| span.end <= at);
                assert!(inside && sources.iter().count() == 1, "{name} at {at}: {complaint:?}");
            }
        }
    }
}
