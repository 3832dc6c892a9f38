//! Remedies that can be done by an edit, each tried out on a copy before it is offered.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

use crate::findings::Finding;
use crate::source::FileId;

use super::answer::{Action, Edit};
use super::diagnostics::{of_finding, place};
use super::index::Index;
use super::mend::{Candidate, applied, candidates};
use super::sheet::{Sheet, is_error};

/// So many findings of one request are looked at: each edit costs an inspection.
const FINDING_LIMIT: usize = 8;

/// What offers the sheet of a design as it would be with some texts changed.
pub(super) type Trial<'a> = dyn Fn(BTreeMap<PathBuf, String>) -> Option<Sheet> + 'a;

/// The actions for the findings in a stretch of a file.
pub(super) fn actions(
    sheet: &Sheet,
    index: &Index,
    file: FileId,
    stretch: (usize, usize),
    trial: &Trial<'_>,
) -> Vec<Action> {
    let here = |finding: &&Finding| {
        finding.span.file == file
            && finding.waived.is_none()
            && finding.span.start < stretch.1.max(stretch.0 + 1)
            && stretch.0 <= finding.span.end
    };
    let mut offered: Vec<Action> = Vec::new();
    for finding in sheet.report.findings.iter().filter(here).take(FINDING_LIMIT) {
        for group in candidates(finding, sheet, index) {
            // A stage that is fitted twice has each finding twice, and one edit for both.
            if group.iter().any(|candidate| offered.iter().any(|known| known.edits == candidate.edits)) {
                continue;
            }
            let Some(good) = group.into_iter().find(|candidate| clears(candidate, finding, sheet, trial)) else {
                continue;
            };
            offered.push(Action {
                title: good.title,
                notice: of_finding(finding, sheet),
                edits: good.edits,
                preferred: !good.waives,
            });
        }
    }
    offered
}

/// Whether an edit clears its finding and brings nothing as serious.
fn clears(candidate: &Candidate, finding: &Finding, sheet: &Sheet, trial: &Trial<'_>) -> bool {
    // A waiver does nothing before its reason is filled in.
    let reasoned = |edit: &Edit| Edit { text: edit.text.replace("because=\"\"", "because=\"tried\""), ..edit.clone() };
    let edits = if candidate.waives { candidate.edits.iter().map(reasoned).collect() } else { candidate.edits.clone() };
    let Some(texts) = changed(&edits, sheet) else { return false };
    let Some(after) = trial(texts) else { return false };
    let open = |sheet: &Sheet| -> BTreeSet<String> {
        let unwaived = sheet.report.findings.iter().filter(|finding| finding.waived.is_none());
        unwaived.map(Finding::identity).collect()
    };
    let before = open(sheet);
    let errors = |sheet: &Sheet| sheet.report.complaints.iter().filter(|complaint| is_error(complaint)).count();
    let fresh = |new: &&Finding| new.waived.is_none() && !before.contains(&new.identity());
    let as_serious = after.report.findings.iter().filter(fresh).any(|new| new.class.reaches(finding.class));
    // A rating that is still too low for another rule would be bought twice.
    let value_changed = candidate.edits.iter().any(|edit| edit.place == place(&sheet.sources, finding.span));
    let same_value = |other: &&Finding| value_changed && other.span == finding.span && other.waived.is_none();
    let still = open(&after);
    let half_done = sheet.report.findings.iter().filter(same_value).any(|other| still.contains(&other.identity()));
    // What can no longer be judged has not been cleared.
    let judged = !after.report.not_judged.iter().any(|open| open.rule == finding.rule && open.part == finding.part);
    let cleared = !still.contains(&finding.identity()) && !half_done;
    cleared && judged && !as_serious && errors(&after) <= errors(sheet)
}

/// The texts that edits change.
pub(super) fn changed(edits: &[Edit], sheet: &Sheet) -> Option<BTreeMap<PathBuf, String>> {
    let mut by_path: BTreeMap<&PathBuf, Vec<&Edit>> = BTreeMap::new();
    for edit in edits {
        by_path.entry(&edit.place.path).or_default().push(edit);
    }
    let texts = sheet.texts();
    by_path
        .into_iter()
        .map(|(path, edits)| Some((path.clone(), applied(texts.get(path.as_path())?, &edits)?)))
        .collect()
}
