//! Rules put to facts that were made by hand.

use coldcheck::facts::{FactTable, State, SubjectKind, Value, find_definition};
use coldcheck::findings::{Class, Finding, Label, NotJudged, Spoken};
use coldcheck::rules::{Judgement, RuleBook, Shelves, judge};
use coldcheck::source::{Scalar, Spanned};

use super::tables::{book, flagged, lineup, place, record, sample, stated, subject};

const WORKING: &str = r#"
rule "own/working" class=overstress {
    about capacitor
    when "known(rated-voltage)"
    limit share 0.9 "largest share"
    demand "peak-voltage <= share * rated-voltage"
    say "{name} can see {peak-voltage}, {percent(peak-voltage / rated-voltage)} of {rated-voltage}"
    raise hazard "peak-voltage > 1.5 * rated-voltage" {
        say "{name} will burst at {peak-voltage}"
    }
    mark rated-voltage "rated {rated-voltage}"
    mark peak-voltage "{peak-voltage.state} with {peak-voltage.lineup}: {peak-voltage}"
    remedy "fit one rated {shelf(rated-voltage, peak-voltage / share)} or more"
}
"#;

fn judged(book: &RuleBook, table: &FactTable) -> Judgement {
    let mut shelves = Shelves::default();
    shelves.stock(SubjectKind::Capacitor, "rated-voltage", [350.0, 450.0, 630.0]);
    judge(book, table, &shelves)
}

fn reservoir(rated: Option<f64>, peaks: &[(usize, State, f64)]) -> FactTable {
    let mut table = FactTable::default();
    table.lineups = vec![lineup("12AX7"), lineup("12AU7")];
    let c10 = subject(&mut table, SubjectKind::Capacitor, "C10", 10);
    if let Some(rated) = rated {
        stated(&mut table, c10, "rated-voltage", 20, rated);
    }
    let samples = peaks.iter().map(|(lineup, state, value)| sample(*lineup, Some(*state), *value)).collect();
    record(&mut table, c10, "peak-voltage", 30, samples);
    table
}

fn only(judgement: &Judgement) -> &Finding {
    match judgement.findings.as_slice() {
        [finding] => finding,
        other => panic!("{other:#?}"),
    }
}

#[test]
fn one_finding_tells_of_the_worst_state_and_line_up() {
    let table = reservoir(
        Some(400.0),
        &[
            (0, State::Running, 340.0),
            (0, State::HighMains, 374.0),
            (0, State::SwitchOn, 389.2),
            (1, State::Running, 350.0),
            (1, State::SwitchOn, 395.0),
        ],
    );
    let judgement = judged(&book(WORKING), &table);
    let finding = only(&judgement);
    assert_eq!(finding.message, "C10 can see 395 V, 99 % of 400 V");
    assert_eq!(finding.class, Class::Overstress);
    assert_eq!(finding.state, Some(State::SwitchOn));
    assert_eq!(finding.identity(), "own/working|C10|V1=12AU7");
    assert_eq!(finding.remedy().as_deref(), Some("fit one rated 450 V or more"));
    assert_eq!(finding.span, place(20));
    assert_eq!(
        finding.labels,
        [
            Label { span: place(20), text: "rated 400 V".to_owned() },
            Label { span: place(30), text: "switch-on with 12AU7 in V1: 395 V".to_owned() },
        ]
    );
    let quoted: Vec<(&str, &Value)> = finding.facts.iter().map(|fact| (fact.name.as_str(), &fact.value)).collect();
    assert_eq!(quoted, [("peak-voltage", &Value::Quantity(395.0)), ("rated-voltage", &Value::Quantity(400.0)),]);
    assert_eq!(judgement.rules_judged, 1);
}

#[test]
fn the_design_as_drawn_comes_before_an_alternate_that_is_no_worse() {
    let table = reservoir(Some(400.0), &[(1, State::SwitchOn, 390.0), (0, State::SwitchOn, 390.0)]);
    let judgement = judged(&book(WORKING), &table);
    assert!(only(&judgement).lineup.is_empty());
}

#[test]
fn what_is_nothing_but_for_rounding_is_told_of_the_first_state() {
    let mut table = FactTable::default();
    table.lineups = vec![lineup("12AX7"), lineup("12AU7")];
    let c10 = subject(&mut table, SubjectKind::Capacitor, "C10", 10);
    let samples = |last: f64| {
        vec![
            sample(0, Some(State::Running), 2.8e-14),
            sample(0, Some(State::HighMains), 9.9e-12),
            sample(1, Some(State::Running), last),
        ]
    };
    record(&mut table, c10, "reverse-voltage", 30, samples(4e-11));
    assert_eq!(table.fact(c10, "reverse-voltage").unwrap().worst, 0);
    record(&mut table, c10, "reverse-voltage", 30, samples(4e-9));
    assert_eq!(table.fact(c10, "reverse-voltage").unwrap().worst, 2, "a few nanovolts are a figure");
}

#[test]
fn a_raise_makes_it_more_serious_and_may_say_so() {
    let table = reservoir(Some(400.0), &[(0, State::SwitchOn, 700.0)]);
    let judgement = judged(&book(WORKING), &table);
    let finding = only(&judgement);
    assert_eq!(finding.class, Class::Hazard);
    assert_eq!(finding.message, "C10 will burst at 700 V");
}

#[test]
fn a_demand_that_holds_and_a_guard_that_is_false_say_nothing() {
    for rated in [Some(450.0), None] {
        let table = reservoir(rated, &[(0, State::SwitchOn, 390.0)]);
        let judgement = judged(&book(WORKING), &table);
        assert!(judgement.findings.is_empty());
        assert!(judgement.not_judged.is_empty());
    }
}

#[test]
fn what_could_not_be_computed_is_not_judged() {
    let mut table = FactTable::default();
    let c10 = subject(&mut table, SubjectKind::Capacitor, "C10", 10);
    stated(&mut table, c10, "rated-voltage", 20, 400.0);
    let definition = find_definition("peak-voltage").unwrap();
    table.record_failure(c10, definition, "the net bplus would not settle");
    let judgement = judged(&book(WORKING), &table);
    assert!(judgement.findings.is_empty());
    assert_eq!(
        judgement.not_judged,
        [NotJudged {
            rule: "own/working".to_owned(),
            part: "C10".to_owned(),
            reason: "the net bplus would not settle".to_owned(),
        }]
    );
    assert_eq!(judgement.rules_judged, 0);
}

#[test]
fn what_is_absent_is_not_judged_either() {
    let mut table = FactTable::default();
    let c10 = subject(&mut table, SubjectKind::Capacitor, "C10", 10);
    stated(&mut table, c10, "rated-voltage", 20, 400.0);
    let judgement = judged(&book(WORKING), &table);
    assert_eq!(judgement.not_judged[0].reason, "no peak voltage is known");
}

#[test]
fn a_guard_that_could_not_be_computed_leaves_the_rule_open() {
    let mut table = reservoir(None, &[(0, State::SwitchOn, 390.0)]);
    let c10 = table.named("C10").next().unwrap();
    let definition = find_definition("rated-voltage").unwrap();
    table.record_failure(c10, definition, "the catalogue has no such part");
    let judgement = judged(&book(WORKING), &table);
    assert_eq!(judgement.not_judged[0].reason, "the catalogue has no such part");
}

const DISSIPATION: &str = r#"
rule "own/heat" class=overstress {
    about tube
    demand "plate-dissipation <= plate-dissipation-limit"
    say "{name}: {plate-dissipation} of {plate-dissipation-limit} with {plate-dissipation-limit.lineup}"
    mark plate-dissipation "{plate-dissipation.state}"
}
"#;

#[test]
fn each_line_up_is_judged_by_its_own_limit() {
    let mut table = FactTable::default();
    table.lineups = vec![lineup("12AU7"), lineup("12AX7")];
    let v1 = subject(&mut table, SubjectKind::Tube, "V1a", 10);
    let running = Some(State::Running);
    record(&mut table, v1, "plate-dissipation", 20, vec![sample(0, running, 2.0), sample(1, running, 1.2)]);
    record(&mut table, v1, "plate-dissipation-limit", 30, vec![sample(0, None, 2.75), sample(1, None, 1.0)]);
    let judgement = judged(&book(DISSIPATION), &table);
    assert_eq!(only(&judgement).message, "V1a: 1.2 W of 1 W with 12AX7 in V1");
}

#[test]
fn a_fact_of_one_line_up_is_never_judged_by_the_limit_of_another() {
    let mut table = FactTable::default();
    table.lineups = vec![lineup("12AU7"), lineup("12AX7")];
    let v1 = subject(&mut table, SubjectKind::Tube, "V1a", 10);
    // The empty-socket state was computed for the design as drawn only.
    record(
        &mut table,
        v1,
        "plate-dissipation",
        20,
        vec![
            sample(0, Some(State::Running), 2.0),
            sample(0, Some(State::SocketEmpty), 2.2),
            sample(1, Some(State::Running), 0.8),
        ],
    );
    record(&mut table, v1, "plate-dissipation-limit", 30, vec![sample(0, None, 2.75), sample(1, None, 1.0)]);
    let judgement = judged(&book(DISSIPATION), &table);
    assert!(judgement.findings.is_empty(), "{:#?}", judgement.findings);
    assert!(judgement.not_judged.is_empty());
}

#[test]
fn an_estimate_is_said_to_be_one() {
    let mut table = reservoir(Some(400.0), &[]);
    let c10 = table.named("C10").next().unwrap();
    let mut fact = table.fact(c10, "rated-voltage").unwrap().clone();
    fact.samples = vec![sample(0, Some(State::SwitchOn), 390.0)];
    fact.estimated = true;
    table.record(c10, find_definition("peak-voltage").unwrap(), fact);
    let judgement = judged(&book(WORKING), &table);
    let finding = only(&judgement);
    assert!(finding.message.ends_with("(estimated)"), "{}", finding.message);
    assert!(finding.facts[0].estimated);
}

#[test]
fn a_sentence_may_quote_a_fact_of_another_state_and_the_demand_may_not() {
    let rules = book(
        r#"rule "own/bleeder" class=hazard {
            about capacitor
            demand "discharge-time <= 60s"
            say "{name}: {discharge-time} from {peak-voltage} in {peak-voltage.state}"
            mark discharge-time "here"
        }
        rule "own/mixed" class=hazard {
            about capacitor
            demand "discharge-time <= 60s and peak-voltage <= 1000V"
            say "{name}"
            mark discharge-time "here"
        }"#,
    );
    let mut table = reservoir(Some(400.0), &[(0, State::Running, 340.0), (0, State::SwitchOn, 390.0)]);
    let c10 = table.named("C10").next().unwrap();
    record(&mut table, c10, "discharge-time", 40, vec![sample(0, Some(State::SwitchedOff), 30.0)]);
    let judgement = judged(&rules, &table);
    assert!(judgement.findings.is_empty());
    let [open] = judgement.not_judged.as_slice() else { panic!("{:#?}", judgement.not_judged) };
    assert_eq!(open.rule, "own/mixed");
    assert!(open.reason.ends_with("is not known in the same state and line-up as the rest"), "{}", open.reason);
    record(&mut table, c10, "discharge-time", 40, vec![sample(0, Some(State::SwitchedOff), f64::INFINITY)]);
    let judgement = judged(&rules, &table);
    assert_eq!(judgement.findings[0].message, "C10: never from 390 V in switch-on");
}

#[test]
fn facts_of_the_design_may_be_used_by_every_rule() {
    let rules = book(
        r#"rule "own/corner" class=malfunction {
            about capacitor
            demand "corner-frequency <= low-limit"
            say "{corner-frequency} above {low-limit}"
            mark corner-frequency "here"
            mark low-limit "promised"
        }"#,
    );
    let mut table = FactTable::default();
    let design = subject(&mut table, SubjectKind::Design, "design", 0);
    stated(&mut table, design, "low-limit", 5, 20.0);
    let c2 = subject(&mut table, SubjectKind::Capacitor, "C2", 10);
    record(&mut table, c2, "corner-frequency", 20, vec![sample(0, Some(State::Running), 50.0)]);
    let judgement = judged(&rules, &table);
    let finding = only(&judgement);
    assert_eq!(finding.message, "50 Hz above 20 Hz");
    assert_eq!(finding.labels[1].span, place(5));
}

#[test]
fn a_workshop_may_adjust_a_limit_and_keep_a_rule_quiet() {
    let spanned = |text: &str| Spanned::new(text.to_owned(), place(0));
    let table = reservoir(Some(400.0), &[(0, State::SwitchOn, 390.0)]);
    let mut rules = book(WORKING);
    let value = Spanned::new(Scalar::Text("98%".to_owned()), place(1));
    rules.adjust(&spanned("own/working"), &spanned("share"), &value).unwrap();
    assert!(judged(&rules, &table).findings.is_empty());

    let mut rules = book(WORKING);
    rules.quiet(&spanned("own/working"), "we know").unwrap();
    assert!(judged(&rules, &table).findings.is_empty());
    assert_eq!(rules.quieted().collect::<Vec<_>>(), [("own/working", "we know")]);
}

#[test]
fn an_adjustment_that_is_not_right_is_a_complaint_at_its_place() {
    let spanned = |text: &str| Spanned::new(text.to_owned(), place(text.len()));
    let mut rules = book(WORKING);
    let mut told = Vec::new();
    for (rule, limit, value) in [
        ("own/wroking", "share", Scalar::Number(0.8)),
        ("own/working", "shares", Scalar::Number(0.8)),
        ("own/working", "share", Scalar::Text("50V".to_owned())),
        ("own/working", "share", Scalar::Flag(true)),
        ("own/working", "share", Scalar::Number(f64::INFINITY)),
    ] {
        let value = Spanned::new(value, place(1));
        let complaint = rules.adjust(&spanned(rule), &spanned(limit), &value).unwrap_err();
        told.push(format!("{} [{:?}]", complaint.message, complaint.help));
    }
    let complaint = rules.quiet(&spanned("own/wroking"), "x").unwrap_err();
    told.push(complaint.message);
    insta::assert_snapshot!(told.join("\n"));
}

#[test]
fn the_program_may_speak_for_a_rule_that_it_judges_itself() {
    let label = Label { span: place(7), text: "would not settle".to_owned() };
    let spoken = |rule: &str| Spoken::new(rule, "bplus", "the net bplus would not settle", label.clone());
    let book = RuleBook::built_in();
    let finding = book.speak(spoken("circuit/unsolved")).unwrap();
    assert_eq!(finding.class, Class::Overstress);
    assert_eq!(finding.span, place(7));
    assert!(finding.remedy().is_some());
    assert_eq!(book.speak(spoken("supply/bleeder")), None);
    assert_eq!(book.speak(spoken("circuit/unsloved")), None);
}

#[test]
fn the_order_of_subjects_changes_nothing() {
    let rules = book(WORKING);
    let mut told = Vec::new();
    for order in [["C1", "C2", "C3"], ["C3", "C1", "C2"]] {
        let mut table = FactTable::default();
        for name in order {
            let start = 100 + usize::from(name.as_bytes()[1]);
            let id = subject(&mut table, SubjectKind::Capacitor, name, start);
            flagged(&mut table, id, "polarised", true);
            stated(&mut table, id, "rated-voltage", start, 100.0);
            record(&mut table, id, "peak-voltage", start, vec![sample(0, None, 95.0)]);
        }
        told.push(judged(&rules, &table).findings);
    }
    assert_eq!(told[0], told[1]);
    assert_eq!(told[0].len(), 3);
}
