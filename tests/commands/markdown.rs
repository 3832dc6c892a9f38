//! The summary for a pull request.

use coldcheck::findings::Class;
use coldcheck::report::{DesignOutcome, Style, Writing, report_as};
use coldcheck::source::Sources;

use super::fixtures::{Case, design, find, finding, line_stage};

fn written(case: &Case) -> String {
    case.with_outcome(|outcome| report_as(Style::Markdown, outcome, &[]))
}

#[test]
fn the_report_as_markdown() {
    insta::assert_snapshot!(written(&line_stage()));
}

#[test]
fn a_clean_report_claims_nothing_it_cannot_know() {
    let text = written(&Case { sources: Sources::default(), report: design(Vec::new()), general: Vec::new() });
    insta::assert_snapshot!(text);
    assert!(!text.to_lowercase().contains("safe"));
}

#[test]
fn what_a_design_says_is_no_markup_and_calls_nobody() {
    let mut sources = Sources::default();
    let file = sources.add("a|b`c.kdl", "design \"x\"\n");
    let message = "C1 <img src=x> @somebody | **bold** [link](x) `code`";
    let found = finding("x/y", Class::Hazard, "C1", message, find(&sources, file, "design"));
    let text = written(&Case { sources, report: design(vec![found]), general: Vec::new() });
    let item = text.lines().find(|line| line.contains("&lt;img src=x&gt; &#64;somebody")).unwrap();
    assert!(item.contains(r"\| \*\*bold\*\* \[link\](x) \`code\`"), "{item}");
}

#[test]
fn ten_thousand_designs_fit_a_comment_and_are_counted_right() {
    let mut sources = Sources::default();
    let file = sources.add("row.kdl", "design \"x\"\n");
    let found: Vec<_> = (0..20)
        .map(|n| finding("x/y", Class::Malfunction, &format!("R{n}"), "too small", find(&sources, file, "design")))
        .collect();
    let report = design(found);
    let mut writing = Writing::new(Style::Markdown, &[], &[], &sources);
    for _ in 0..10_000 {
        let piece = writing.piece(DesignOutcome { report: &report, sources: &sources });
        assert_eq!(writing.add(piece), "");
    }
    let text = writing.closing();
    assert!(text.chars().count() < 65_536, "{}", text.len());
    assert!(text.starts_with("## Cold check: 200000 malfunction\n\n10000 designs inspected."));
    assert!(text.contains("the other formats show them all"));
    assert!(text.contains("Caution:"));
}
