//! `rules/README.md`: the reference as the program prints it, with what the matrix finds. To write it anew:
//! `COLDCHECK_WRITE=1 cargo test --test mistakes reference`.

use std::path::Path;
use std::process::Command;

use assert_cmd::cargo::CommandCargoExt;

use super::matrix::{Expected, Row};
use super::outcome::{Outcome, Verdict, kinds};

/// The whole page.
pub fn page(outcomes: &[Outcome]) -> String {
    let output = Command::cargo_bin("coldcheck").unwrap().args(["prove", "--reference"]).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap() + &coverage(outcomes)
}

/// Compares the page with the file, or writes it.
pub fn keep_in_step(page: &str) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("rules/README.md");
    if std::env::var_os("COLDCHECK_WRITE").is_some() {
        std::fs::write(&file, page).unwrap();
    }
    let kept = std::fs::read_to_string(&file).unwrap_or_default();
    let first = kept.lines().zip(page.lines()).position(|(kept, new)| kept != new);
    assert!(kept == page, "rules/README.md is out of step from line {:?} on", first.map(|line| line + 1));
}

fn coverage(outcomes: &[Outcome]) -> String {
    let mut text = "\n## Detection coverage\n\nTypical mistakes of the bench and the drawing board \
        (`tests/mistakes/matrix.kdl`), each put into a sound design of `examples/alder-street` by itself. Found means that \
        the expected rule speaks; the right line is the one that was changed, or the one where what is missing belongs. \
        The sound designs themselves give no finding of any class.\n\n\
        | kind of mistake | tried | found | in the right class | at the right line |\n|---|---|---|---|---|\n"
        .to_owned();
    for totals in kinds(outcomes) {
        let cells = [totals.tried, totals.found, totals.right_class, totals.right_line].map(|count| count.to_string());
        text.push_str(&format!("| {} | {} |\n", totals.kind, cells.join(" | ")));
    }
    text.push_str("\n### Not found\n\nWhat a drawing without more words cannot tell:\n\n");
    for outcome in outcomes.iter().filter(|outcome| outcome.verdict == Verdict::Missed) {
        let Row { title, design, expected, .. } = &outcome.row;
        if let Expected::Missed(because) = expected {
            text.push_str(&format!("- {title} ({design}): {because}\n"));
        }
    }
    text.push_str("\n### Which rule finds what\n\n| mistake | design | rule | class |\n|---|---|---|---|\n");
    for Row { title, design, expected, .. } in outcomes.iter().map(|outcome| &outcome.row) {
        if let Expected::Found { rule, class, .. } = expected {
            text.push_str(&format!("| {title} | {design} | {rule} | {} |\n", class.word()));
        }
    }
    text
}
