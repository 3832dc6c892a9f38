//! Whether an edit does what it is for: the texts with it made, and the two inspections held side by side.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use crate::findings::{Class, DesignReport, Edit, Finding};
use crate::source::{Severity, Sources};

/// The texts that an edit changes, by path.
pub type Texts = BTreeMap<PathBuf, String>;

/// A text with stretches of bytes replaced; nothing where they overlap or lie outside.
#[must_use]
pub fn applied<'e>(text: &str, edits: impl IntoIterator<Item = (usize, usize, &'e str)>) -> Option<String> {
    let mut sorted: Vec<_> = edits.into_iter().collect();
    sorted.sort_by_key(|(start, end, _)| (*start, *end));
    let mut result = String::with_capacity(text.len());
    let mut at = 0;
    for (start, end, new) in sorted {
        result.push_str(text.get(at..start)?);
        result.push_str(new);
        at = end;
    }
    result.push_str(text.get(at..)?);
    Some(result)
}

/// The texts that edits change; nothing where they overlap.
#[must_use]
pub fn changed(edits: &[Edit], sources: &Sources) -> Option<Texts> {
    let files: BTreeSet<_> = edits.iter().map(|edit| edit.span.file).collect();
    files
        .into_iter()
        .map(|file| {
            let source = sources.get(file)?;
            let here = edits.iter().filter(|edit| edit.span.file == file);
            let here = here.map(|edit| (edit.span.start, edit.span.end, edit.text.as_str()));
            Some((source.path.clone(), applied(&source.text, here)?))
        })
        .collect()
}

/// Whether a report of the changed design clears a finding of the design as it was, and brings nothing as serious.
///
/// What another finding says of the very value that was changed must be cleared too, or it would be bought twice; and
/// what can no longer be judged has not been cleared.
#[must_use]
pub fn clears(edits: &[Edit], finding: &Finding, before: &DesignReport, after: &DesignReport) -> bool {
    let open = |report: &DesignReport| -> BTreeMap<String, Class> {
        let unwaived = report.findings.iter().filter(|one| one.waived.is_none());
        unwaived.map(|one| (one.identity(), one.class)).collect()
    };
    let (was, is) = (open(before), open(after));
    let same_rule = |one: &&Finding| one.waived.is_none() && one.rule == finding.rule && one.part == finding.part;
    let stands = after.findings.iter().any(|one| same_rule(&one));
    let as_serious = is
        .iter()
        .any(|(identity, class)| class.reaches(finding.class) && was.get(identity).is_none_or(|before| class < before));
    let value_changed = edits.iter().any(|edit| edit.span == finding.span);
    let same_value = |other: &&Finding| value_changed && other.span == finding.span && other.waived.is_none();
    let half_done = before.findings.iter().filter(same_value).any(|other| is.contains_key(&other.identity()));
    let unjudged = |report: &DesignReport| -> BTreeSet<(String, String)> {
        report.not_judged.iter().map(|open| (open.rule.clone(), open.part.clone())).collect()
    };
    let judged = unjudged(after).is_subset(&unjudged(before))
        && !after.not_judged.iter().any(|open| open.rule == finding.rule && open.part == finding.part);
    let errors = |report: &DesignReport| report.complaints.iter().filter(|c| c.severity == Severity::Error).count();
    !stands && !half_done && !as_serious && judged && errors(after) <= errors(before)
}

#[cfg(test)]
mod tests {
    use super::applied;

    #[test]
    fn edits_are_made_in_order_of_place_and_never_over_one_another() {
        assert_eq!(applied("abcdef", [(4, 5, "Z"), (0, 1, "Y"), (2, 2, "-")]).unwrap(), "Yb-cdZf");
        assert_eq!(applied("abcdef", [(0, 3, "x"), (2, 4, "y")]), None);
        assert_eq!(applied("abc", [(2, 9, "x")]), None);
    }
}
