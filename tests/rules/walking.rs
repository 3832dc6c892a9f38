//! Rules walked through with numbers that were made by hand: every step can be done with a pencil.

use coldcheck::facts::{FactTable, State, SubjectKind};
use coldcheck::rules::{Shelves, Standing, Walk, appraise, walk};

use super::tables::{book, flagged, lineup, record, sample, stated, subject};

const WORKING: &str = r#"
rule "own/working" class=overstress {
    about capacitor
    when "known(rated-voltage)"
    limit wet 0.9 "largest share, electrolytic"
    limit dry 0.8 "largest share, others"
    let share "pick(polarised, wet, dry)"
    demand "peak-voltage <= share * rated-voltage and (abs(working-voltage) + 10V) / 2 >= 5V"
    say "{name} can see {peak-voltage}"
    mark rated-voltage "rated {rated-voltage}"
}
"#;

fn capacitor(table: &mut FactTable, name: &str, rated: f64, peaks: &[(State, f64)]) {
    let one = subject(table, SubjectKind::Capacitor, name, 10);
    stated(table, one, "rated-voltage", 20, rated);
    flagged(table, one, "polarised", true);
    let samples = peaks.iter().map(|(state, value)| sample(0, Some(*state), *value)).collect();
    record(table, one, "peak-voltage", 30, samples);
    stated(table, one, "working-voltage", 40, -100.0);
}

fn table(rated: f64, peak: f64) -> FactTable {
    let mut table = FactTable::default();
    table.lineups = vec![lineup("12AX7")];
    capacitor(&mut table, "C1", rated, &[(State::Running, peak - 50.0), (State::SwitchOn, peak)]);
    table
}

fn walks(table: &FactTable) -> Vec<Walk> {
    let book = book(WORKING);
    let rule = book.rule("own/working").unwrap();
    let shelves = Shelves::default();
    let all = appraise(rule, table, &shelves);
    all.iter().filter_map(|one| walk(rule, table, &shelves, one)).collect()
}

#[test]
fn steps_follow_one_another_and_leave_out_what_does_not_matter() {
    let walks = walks(&table(350.0, 390.0));
    let steps: Vec<(&str, &str, &str)> = walks[0]
        .demand
        .iter()
        .map(|step| (step.formula.as_str(), step.numbers.as_str(), step.result.as_deref().unwrap()))
        .collect();
    assert_eq!(
        steps,
        [
            ("polarised", "", "yes"),
            ("wet * rated-voltage", "0.9 * 350 V", "315 V"),
            ("peak-voltage <= wet * rated-voltage", "390 V <= 315 V", "no"),
        ]
    );
    assert_eq!(walks[0].state, Some(State::SwitchOn), "the worst state is walked through");
    assert_eq!(walks[0].limits.iter().map(|limit| limit.name.as_str()).collect::<Vec<_>>(), ["wet"]);
    let kept = self::walks(&table(500.0, 390.0));
    let formulas: Vec<&str> = kept[0].demand.iter().map(|step| step.formula.as_str()).collect();
    assert!(formulas.contains(&"abs(working-voltage) + 10 V"), "{formulas:?}");
    assert!(formulas.contains(&"(abs(working-voltage) + 10 V) / 2"), "{formulas:?}");
    assert_eq!(kept[0].demand.last().unwrap().holds, Some(true));
}

#[test]
fn what_would_turn_the_verdict_turns_it() {
    let near = |a: f64, b: f64| (a - b).abs() < 1e-6 * b.abs();
    let broken = &walks(&table(350.0, 390.0))[0];
    assert!(matches!(broken.standing, Standing::Broken { .. }));
    let turning = |walk: &Walk, fact: &str| walk.turnings.iter().find(|one| one.fact == fact).cloned();
    // 390 V over 0.9, and 0.9 of 350 V.
    let rated = turning(broken, "rated-voltage").unwrap();
    assert!(near(rated.edge, 390.0 / 0.9) && rated.above);
    let peak = turning(broken, "peak-voltage").unwrap();
    assert!(near(peak.edge, 315.0) && !peak.above);
    assert!(turning(broken, "working-voltage").is_none(), "that side holds");
    for (rated, peak, kept) in
        [(433.4, 390.0, true), (433.3, 390.0, false), (350.0, 314.9, true), (350.0, 315.1, false)]
    {
        let again = &walks(&table(rated, peak))[0];
        assert_eq!(matches!(again.standing, Standing::Kept { .. }), kept, "{rated} {peak}");
    }
}

#[test]
fn the_worst_comes_first_and_then_what_is_nearest() {
    let mut table = FactTable::default();
    table.lineups = vec![lineup("12AX7")];
    for (name, rated) in [("C1", 1000.0), ("C2", 440.0), ("C3", 300.0), ("C4", 350.0)] {
        capacitor(&mut table, name, rated, &[(State::Running, 390.0)]);
    }
    let bare = subject(&mut table, SubjectKind::Capacitor, "C5", 10);
    flagged(&mut table, bare, "polarised", true);
    let book = book(WORKING);
    let all = appraise(book.rule("own/working").unwrap(), &table, &Shelves::default());
    let names: Vec<&str> = all.iter().map(|one| one.name.as_str()).collect();
    assert_eq!(names, ["C3", "C4", "C2", "C1", "C5"]);
    assert_eq!(all[4].standing, Standing::Elsewhere);
    // 440 V × 0.9 = 396 V against 390 V.
    let Standing::Kept { margin: Some(margin) } = all[2].standing else { panic!("{:?}", all[2]) };
    assert!((margin - 6.0 / 396.0).abs() < 1e-9);
}
