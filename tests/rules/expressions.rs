//! The expression language: what it reads, what it refuses and where, and what it makes of things that are not known.

use std::collections::HashMap;

use coldcheck::facts::{State, SubjectKind, Value};
use coldcheck::rules::{Expression, FactUse, Gap, Scope, Shelves, Vocabulary};
use coldcheck::units::Dimension;

fn capacitor() -> Vocabulary {
    let mut vocabulary = Vocabulary::about(vec![SubjectKind::Capacitor]);
    vocabulary.limits.push(("share".to_owned(), Dimension::NONE));
    vocabulary.limits.push(("longest".to_owned(), Dimension::TIME));
    vocabulary
}

#[derive(Default)]
struct Known {
    facts: HashMap<&'static str, Result<Value, Gap>>,
    shelves: Shelves,
}

impl Known {
    fn with(mut self, name: &'static str, value: f64) -> Self {
        self.facts.insert(name, Ok(Value::Quantity(value)));
        self
    }
    fn flag(mut self, name: &'static str, value: bool) -> Self {
        self.facts.insert(name, Ok(Value::Flag(value)));
        self
    }
    fn word(mut self, name: &'static str, value: &str) -> Self {
        self.facts.insert(name, Ok(Value::Word(value.to_owned())));
        self
    }
    fn failed(mut self, name: &'static str) -> Self {
        let gap = Gap::Failed(name, "the circuit could not be solved".to_owned());
        self.facts.insert(name, Err(gap));
        self
    }
}

impl Scope for Known {
    fn fact(&self, fact: &FactUse) -> Result<Value, Gap> {
        let name = fact.definition.name;
        self.facts.get(name).cloned().unwrap_or(Err(Gap::Absent(name)))
    }
    fn limit(&self, name: &str) -> Option<f64> {
        match name {
            "share" => Some(0.9),
            "longest" => Some(60.0),
            _ => None,
        }
    }
    fn state(&self) -> Option<State> {
        Some(State::Running)
    }
    fn subject(&self) -> Option<SubjectKind> {
        Some(SubjectKind::Capacitor)
    }
    fn shelves(&self) -> &Shelves {
        &self.shelves
    }
}

fn value(text: &str, known: &Known) -> Result<Value, Gap> {
    Expression::read(text, &capacitor()).unwrap_or_else(|error| panic!("{text}: {error:?}")).evaluate(known)
}

fn number(text: &str) -> f64 {
    match value(text, &Known::default()) {
        Ok(Value::Quantity(number)) => number,
        other => panic!("{text}: {other:?}"),
    }
}

fn answer(text: &str, known: &Known) -> Result<bool, Gap> {
    match value(text, known)? {
        Value::Flag(flag) => Ok(flag),
        other => panic!("{text}: {other:?}"),
    }
}

#[test]
fn numbers_carry_units_and_are_held_in_base_units() {
    for (text, base) in [
        ("50V", 50.0),
        ("1.5W", 1.5),
        ("10Hz", 10.0),
        ("60s", 60.0),
        ("2.2Mohm", 2.2e6),
        ("4.7kΩ", 4700.0),
        ("50uA", 5e-5),
        ("5mS", 5e-3),
        ("44nF", 44e-9),
        ("10J", 10.0),
        ("5%", 0.05),
        ("1e-3V", 1e-3),
    ] {
        let read = number(text);
        assert!((read - base).abs() <= base * 1e-12, "{text}: {read}");
    }
}

#[test]
fn arithmetic_binds_as_on_paper() {
    for (text, result) in [
        ("2 + 3 * 4", 14.0),
        ("(2 + 3) * 4", 20.0),
        ("2 - 3 - 4", -5.0),
        ("12 / 3 / 2", 2.0),
        ("-2 * 3", -6.0),
        ("2 * -3", -6.0),
        ("abs(2 - 5)", 3.0),
        ("min(3, 1, 2) + max(1, 2)", 3.0),
        ("sqrt(2W * 8ohm) / 1V", 4.0),
        ("ln(2.718281828459045 * 1V / 1V)", 1.0),
        ("pick(1 < 2, 10, 20)", 10.0),
    ] {
        assert!((number(text) - result).abs() < 1e-12, "{text}");
    }
}

#[test]
fn and_binds_tighter_than_or_and_not_tighter_than_both() {
    let none = Known::default();
    assert_eq!(answer("true or false and false", &none), Ok(true));
    assert_eq!(answer("(true or false) and false", &none), Ok(false));
    assert_eq!(answer("not false and false", &none), Ok(false));
    assert_eq!(answer("not (false and false)", &none), Ok(true));
    assert_eq!(answer("not 1 < 2", &none), Ok(false));
}

#[test]
fn a_minus_within_a_name_is_part_of_the_name_and_one_with_spaces_subtracts() {
    let known = Known::default().with("peak-voltage", 30.0).with("rated-voltage", 50.0);
    assert_eq!(value("rated-voltage - peak-voltage", &known), Ok(Value::Quantity(20.0)));
    let error = Expression::read("rated-voltage-peak-voltage", &capacitor()).unwrap_err();
    assert_eq!((error.start, error.end), (0, 26));
}

#[test]
fn words_are_compared_with_words() {
    let known = Known::default().word("kind", "film");
    assert_eq!(answer("kind == 'film'", &known), Ok(true));
    assert_eq!(answer("kind != 'film'", &known), Ok(false));
    assert_eq!(answer("state == 'running'", &known), Ok(true));
    assert_eq!(answer("subject == 'resistor'", &known), Ok(false));
}

#[test]
fn what_is_wrong_is_told_at_its_place() {
    let texts = [
        "peak-voltage <= 2W",
        "peak-voltage + capacitance > 1V",
        "peak-voltge <= 50V",
        "plate-voltage <= 50V",
        "shre * rated-voltage > 1V",
        "peak-voltage <= share * rated-volts",
        "peak-voltage",
        "kind == film",
        "kind < 'film'",
        "kind == 50V",
        "polarised and peak-voltage",
        "not peak-voltage",
        "-polarised",
        "peak-voltage <= 2.2M",
        "peak-voltage <= 50X",
        "peak-voltage = 50V",
        "polarised && polarised",
        "polarised || polarised",
        "!polarised",
        "kind == \"film\"",
        "kind == 'film",
        "50V < peak-voltage < 60V",
        "peak-voltage <=",
        "<= 50V",
        "(peak-voltage <= 50V",
        "peak-voltage <= 50V)",
        "peak-voltage 50V",
        "sqrt(peak-voltage) > 1",
        "ln(peak-voltage) > 1",
        "minimum(peak-voltage, 1V) > 1V",
        "min(peak-voltage) > 1V",
        "min(peak-voltage, 1W) > 1V",
        "known(50V)",
        "known(peak-voltage, kind)",
        "pick(peak-voltage, 1, 2) > 1",
        "pick(polarised, 1V, 2W) > 1V",
        "shelf(rated-voltage, 5W) > 5W",
        "shelf(5V, 5V) > 5V",
        "",
        "漢 > 1V",
    ];
    let mut told = String::new();
    for text in texts {
        let error = Expression::read_flag(text, &capacitor()).expect_err(text);
        let marked = text.get(error.start..error.end).unwrap_or("OUTSIDE");
        told.push_str(&format!("{text}\n    `{marked}`: {} [{}]", error.message, error.label));
        if let Some(help) = error.help {
            told.push_str(&format!(" help: {help}"));
        }
        told.push('\n');
    }
    insta::assert_snapshot!(told);
}

#[test]
fn nesting_and_length_are_bounded() {
    for text in [
        "(".repeat(10_000),
        "not ".repeat(10_000),
        "-".repeat(10_000),
        "abs(".repeat(10_000),
        format!("1{}", "+ 1".repeat(10_000)),
    ] {
        assert!(Expression::read(&text, &capacitor()).is_err());
    }
}

#[test]
fn a_missing_fact_is_neither_true_nor_false() {
    let none = Known::default();
    assert_eq!(answer("peak-voltage <= 50V", &none), Err(Gap::Absent("peak-voltage")));
    assert_eq!(answer("not peak-voltage <= 50V", &none), Err(Gap::Absent("peak-voltage")));
    assert_eq!(answer("known(peak-voltage)", &none), Ok(false));
}

#[test]
fn and_and_or_answer_where_one_side_settles_it() {
    let known = Known::default().flag("polarised", true);
    let unknown = "peak-voltage <= 50V";
    let gap = Err(Gap::Absent("peak-voltage"));
    for (text, outcome) in [
        (format!("{unknown} and not polarised"), Ok(false)),
        (format!("not polarised and {unknown}"), Ok(false)),
        (format!("{unknown} and polarised"), gap.clone()),
        (format!("polarised and {unknown}"), gap.clone()),
        (format!("{unknown} or polarised"), Ok(true)),
        (format!("polarised or {unknown}"), Ok(true)),
        (format!("{unknown} or not polarised"), gap.clone()),
        (format!("known(peak-voltage) and {unknown}"), Ok(false)),
        (format!("pick(polarised, true, {unknown})"), Ok(true)),
        (format!("pick(polarised, {unknown}, true)"), gap),
    ] {
        assert_eq!(answer(&text, &known), outcome, "{text}");
    }
}

#[test]
fn a_fact_that_failed_is_not_the_same_as_one_that_is_absent() {
    let known = Known::default().failed("peak-voltage");
    assert!(matches!(answer("known(peak-voltage)", &known), Err(Gap::Failed("peak-voltage", _))));
}

#[test]
fn nothing_divided_by_nothing_is_unknown() {
    let known = Known::default().with("peak-voltage", 0.0).with("rated-voltage", 0.0);
    assert_eq!(answer("peak-voltage / rated-voltage <= 1", &known), Err(Gap::NoAnswer));
}

#[test]
fn never_is_longer_than_any_limit() {
    let known = Known::default().with("discharge-time", f64::INFINITY);
    assert_eq!(answer("discharge-time <= longest", &known), Ok(false));
}

#[test]
fn the_shelf_gives_the_next_rating_or_what_is_needed() {
    let mut known = Known::default();
    known.shelves.stock(SubjectKind::Capacitor, "rated-voltage", [450.0, 350.0, 400.0]);
    assert_eq!(value("shelf(rated-voltage, 360V)", &known), Ok(Value::Quantity(400.0)));
    assert_eq!(value("shelf(rated-voltage, 400V)", &known), Ok(Value::Quantity(400.0)));
    assert_eq!(value("shelf(rated-voltage, 460V)", &known), Ok(Value::Quantity(460.0)));
    let Ok(Value::Quantity(farads)) = value("shelf(capacitance, 5uF)", &known) else {
        panic!("no capacitance");
    };
    // IEC 60063, E6: 4.7, then 6.8.
    assert!((farads - 6.8e-6).abs() < 1e-12);
}

#[test]
fn an_answer_stands_the_more_firmly_the_further_it_is_from_turning() {
    let firmness = |text: &str, known: &Known| Expression::read_flag(text, &capacitor()).unwrap().firmness(known);
    let known = Known::default().with("peak-voltage", 300.0).with("rated-voltage", 400.0).flag("polarised", true);
    let (ratio, below) = ((400.0_f64 / 300.0).ln(), (300.0_f64 / 400.0).ln());
    assert_eq!(firmness("peak-voltage <= rated-voltage", &known), Ok(ratio));
    assert_eq!(firmness("peak-voltage >= rated-voltage", &known), Ok(below));
    assert_eq!(firmness("not (peak-voltage < rated-voltage)", &known), Ok(-ratio));
    // Equal sides are a yes or a no, and nearly the other.
    assert!(firmness("peak-voltage >= 300V", &known).unwrap() > 0.0);
    assert!(firmness("peak-voltage > 300V", &known).unwrap() < 0.0);
    // Against zero there is no ratio: the difference stands for it.
    assert_eq!(firmness("peak-voltage > 0V", &known), Ok(300.0));
    assert_eq!(firmness("polarised", &known), Ok(f64::INFINITY));
    // The weaker side decides an `and`, the stronger an `or`.
    assert_eq!(firmness("polarised and peak-voltage <= rated-voltage", &known), Ok(ratio));
    assert_eq!(firmness("not polarised or peak-voltage <= rated-voltage", &known), Ok(ratio));
    // What is unknown counts only where the other side does not settle it.
    assert_eq!(firmness("peak-voltage > rated-voltage and peak-voltage <= ripple-current * 1ohm", &known), Ok(below));
    assert!(firmness("peak-voltage <= rated-voltage and peak-voltage <= ripple-current * 1ohm", &known).is_err());
}
