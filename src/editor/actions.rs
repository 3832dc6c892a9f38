//! Remedies that can be done by an edit, each tried out on a copy before it is offered.

use crate::design::Index;
use crate::findings::{Edit as SpanEdit, Finding};
use crate::remedies::{Candidate, Drawn, Texts, candidates, changed, clears, waivers};
use crate::source::FileId;

use super::answer::{Action, Edit};
use super::diagnostics::{of_finding, place};
use super::sheet::Sheet;

/// So many findings of one request are looked at: each edit costs an inspection.
const FINDING_LIMIT: usize = 8;

/// What offers the sheet of a design as it would be with some texts changed.
pub(super) type Trial<'a> = dyn Fn(Texts) -> Option<Sheet> + 'a;

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
    let drawn = Drawn {
        sources: &sheet.sources,
        design: sheet.design.as_ref(),
        facts: sheet.facts.as_deref(),
        report: &sheet.report,
        index,
        shelves: &sheet.bench.shelves,
    };
    let mut offered: Vec<Action> = Vec::new();
    for finding in sheet.report.findings.iter().filter(here).take(FINDING_LIMIT) {
        for (group, mends) in [(candidates(finding, drawn), true), (waivers(finding, drawn), false)] {
            let edits = |candidate: &Candidate| -> Vec<Edit> {
                candidate.edits.iter().map(|edit| in_file(edit, sheet)).collect()
            };
            // A stage that is fitted twice has each finding twice, and one edit for both.
            if group.iter().any(|candidate| offered.iter().any(|known| known.edits == edits(candidate))) {
                continue;
            }
            let good = group.into_iter().find(|candidate| works(&candidate.edits, finding, sheet, trial));
            let Some(good) = good else { continue };
            let notice = of_finding(finding, sheet);
            offered.push(Action { edits: edits(&good), title: good.title, notice, preferred: mends });
        }
    }
    offered
}

fn in_file(edit: &SpanEdit, sheet: &Sheet) -> Edit {
    Edit { place: place(&sheet.sources, edit.span), text: edit.text.clone() }
}

/// Whether an edit clears its finding and brings nothing as serious.
fn works(edits: &[SpanEdit], finding: &Finding, sheet: &Sheet, trial: &Trial<'_>) -> bool {
    // A waiver does nothing before its reason is filled in.
    let reasoned =
        |edit: &SpanEdit| SpanEdit { text: edit.text.replace("because=\"\"", "because=\"tried\""), ..edit.clone() };
    let edits: Vec<SpanEdit> = edits.iter().map(reasoned).collect();
    let after = changed(&edits, &sheet.sources).and_then(trial);
    after.is_some_and(|after| clears(&edits, finding, &sheet.report, &after.report))
}
