//! Rule files that are not right, and what is said of them where.

use coldcheck::rules::RuleBook;
use coldcheck::source::Sources;

use super::tables::{drawn, read};

const GOOD: &str = r##"rule "own/good" class=overstress {
    about capacitor
    demand "peak-voltage <= rated-voltage"
    say "{name} can see {peak-voltage}"
    mark rated-voltage "rated"
}
"##;

#[test]
fn a_workshop_rule_needs_no_lesson() {
    let (book, complaints, _) = read(GOOD);
    assert!(complaints.is_empty(), "{complaints:?}");
    assert!(book.rule("own/good").is_some());
}

#[test]
fn a_built_in_rule_without_lesson_source_and_examples_is_refused() {
    let mut sources = Sources::default();
    let file = sources.add("own.kdl", GOOD);
    let mut book = RuleBook::default();
    let complaints = book.read_strictly(&sources, file);
    assert!(book.rule("own/good").is_none());
    insta::assert_snapshot!(drawn(&complaints, &sources));
}

fn with(from: &str, to: &str) -> String {
    assert!(GOOD.contains(from), "{from}");
    GOOD.replace(from, to)
}

#[test]
fn each_mistake_is_told_at_its_place() {
    let broken = [
        ("a dimension", with("<= rated-voltage\"", "<= rated-ripple\"")),
        ("an unknown fact", with("\"peak-voltage <=", "\"peek-voltage <=")),
        ("a fact of another subject", with("\"peak-voltage <=", "\"plate-voltage <=")),
        ("a raw string", with("\"peak-voltage <= rated-voltage\"", "#\"peak-voltage <= 5W\"#")),
        ("an escape", with("\"peak-voltage <=", "\"\\u{70}eek-voltage <=")),
        ("no demand", with("    demand \"peak-voltage <= rated-voltage\"\n", "")),
        ("no subject", with("    about capacitor\n", "")),
        ("an unknown subject", with("about capacitor", "about capacitator")),
        ("two subjects, one without the fact", with("about capacitor", "about capacitor resistor")),
        ("no class", with(" class=overstress", "")),
        ("a wrong class", with("class=overstress", "class=danger")),
        ("a wrong name", with("own/good", "Own Good")),
        ("an unknown child", with("    say", "    demnad \"true\"\n    say")),
        ("two demands", with("    say", "    demand \"true\"\n    say")),
        ("a hole in a sentence", with("see {peak-voltage}", "see {peek-voltage}")),
        ("an open brace", with("see {peak-voltage}", "see {peak-voltage")),
        ("a share that is none", with("see {peak-voltage}", "see {percent(peak-voltage)}")),
        ("a state of nothing", with("see {peak-voltage}", "see {plate-voltage.state}")),
        ("a mark that is no fact", with("mark rated-voltage", "mark rated-volts")),
        ("no mark", with("    mark rated-voltage \"rated\"\n", "")),
        ("a limit without a unit that means anything", with("    say", "    limit most \"5M\" \"the most\"\n    say")),
        ("a limit called like a fact", with("    say", "    limit kind 5 \"the kind\"\n    say")),
        ("a limit without meaning", with("    say", "    limit most 5\n    say")),
        ("a raise without a class", with("    say", "    raise \"loud\" \"true\"\n    say")),
        ("a remedy with a slip", with("    say", "    remedy \"fit {shelf(rated-voltage, 5W)}\"\n    say")),
        ("an example of neither kind", with("    say", "    example maybe \"x\"\n    say")),
        ("an example that breaks nowhere", with("    say", "    example breaks \"x\"\n    say")),
        ("a second rule of the name", format!("{GOOD}{GOOD}")),
        ("no rule at all", "resistor R1 \"1k\" from=a to=b\n".to_owned()),
        ("a property that is none", with("class=overstress", "class=overstress clas=hazard")),
    ];
    let mut told = String::new();
    for (what, text) in &broken {
        let (_, complaints, sources) = read(text);
        assert!(!complaints.is_empty(), "{what} was accepted");
        told.push_str(&format!("# {what}\n{}\n", drawn(&complaints, &sources)));
    }
    insta::assert_snapshot!(told);
}

#[test]
fn a_rule_file_cut_off_anywhere_is_complained_of() {
    let whole = GOOD.trim_end().len();
    for end in (5..whole).filter(|end| GOOD.is_char_boundary(*end)) {
        let (_, complaints, _) = read(&GOOD[..end]);
        assert!(!complaints.is_empty(), "cut at {end}");
    }
}

#[test]
fn braces_that_are_meant_to_be_seen_are_doubled() {
    let (_, complaints, _) = read(&with("{name} can", "{{{name}}} can"));
    assert!(complaints.is_empty(), "{complaints:?}");
}
