//! The built-in rules can be read, teach, and name their sources.

use coldcheck::rules::RuleBook;

#[test]
fn every_built_in_rule_file_reads_without_a_complaint() {
    let (book, complaints, sources) = RuleBook::read_built_in();
    let told: Vec<String> = complaints
        .iter()
        .map(|complaint| {
            let place = complaint.span.map(|span| {
                let file = sources.get(span.file).map(|f| f.line_column(span.start));
                format!("{}:{:?} `{}`", sources.path(span.file).display(), file, sources.text(span))
            });
            format!("{place:?} {} ({:?})", complaint.message, complaint.help)
        })
        .collect();
    assert!(told.is_empty(), "{}", told.join("\n"));
    assert!(book.rules().count() > 40);
}
