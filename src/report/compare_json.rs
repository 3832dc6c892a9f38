//! A comparison as one JSON document, and its schema. The shape is stable: a field is added, never renamed.

use serde::Serialize;

use crate::findings::{Change, Class, Moved, NotJudged, Turn};
use crate::source::{Complaint, Sources};

use super::compare_stream::Compared;
use super::json::{ComplaintEntry, FindingEntry, Measure, VERSION, complaint_entries, finding_entry, measure, schema};
use super::json_list::{LongList, indented};

/// The JSON Schema of a comparison.
#[must_use]
pub fn compare_schema() -> String {
    schema::<CompareDocument>()
}

/// The document of a comparison whose designs are yet to come.
pub(super) fn compare_list(threshold: f64, complaints: &[Complaint], sources: &Sources) -> LongList {
    let complaints = complaint_entries(complaints, sources);
    LongList::around(&CompareDocument { version: VERSION, threshold, designs: Vec::new(), complaints }, "designs", 4)
}

/// One design as it stands in the list of designs.
pub(super) fn compared_as_json(compared: Compared<'_>) -> String {
    indented(&design_entry(compared), 4)
}

/// What `compare --as json` prints.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(title = "coldcheck compare")]
struct CompareDocument {
    /// Version of this shape.
    version: u32,
    /// The share by which a value must move to be told of.
    threshold: f64,
    /// One for each design that either side has, in order of path.
    designs: Vec<DesignEntry>,
    /// What could not be read and belongs to no design.
    complaints: Vec<ComplaintEntry>,
}

#[derive(Serialize, schemars::JsonSchema)]
struct DesignEntry {
    path: String,
    name: String,
    standing: Standing,
    old_revision: Option<String>,
    new_revision: Option<String>,
    /// Whether a change of this design fails the gate.
    fails: bool,
    /// In order of turn, then of place.
    changes: Vec<ChangeEntry>,
    /// How many findings are in both revisions without a change worth telling.
    unchanged: usize,
    /// Facts whose worst value moved by more than the threshold.
    moved: Vec<MovedEntry>,
    /// Parts that only the newer revision has.
    added: Vec<String>,
    /// Parts that only the older revision has.
    removed: Vec<String>,
    /// What could be judged before and cannot be now.
    no_longer_judged: Vec<NotJudged>,
    /// What could not be read of the older revision.
    old_complaints: Vec<ComplaintEntry>,
    /// What could not be read of the newer revision.
    new_complaints: Vec<ComplaintEntry>,
}

/// Which revisions have the design.
#[derive(Serialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum Standing {
    Both,
    New,
    Removed,
}

#[derive(Serialize, schemars::JsonSchema)]
struct ChangeEntry {
    turn: Turn,
    /// The class in the older revision.
    old_class: Option<Class>,
    /// What has changed about it, in words.
    because: Vec<String>,
    /// The finding in the newer revision; in the older, where it is no longer found.
    finding: FindingEntry,
}

/// A fact that moved.
#[derive(Serialize, schemars::JsonSchema)]
struct MovedEntry {
    subject: String,
    /// The kind of subject: a net and a part may share a name.
    kind: &'static str,
    fact: &'static str,
    old: Measure,
    new: Measure,
    /// By which share its size grew; null where that is no number.
    share: Option<f64>,
}

fn design_entry(compared: Compared<'_>) -> DesignEntry {
    let comparison = compared.comparison;
    let complaints = |side: Option<(&crate::findings::DesignReport, &Sources)>| {
        side.map(|(report, sources)| complaint_entries(&report.complaints, sources)).unwrap_or_default()
    };
    let report = compared.new.or(compared.old).map(|(report, _)| report);
    DesignEntry {
        path: compared.path.to_owned(),
        name: report.map(|report| report.name.clone()).unwrap_or_default(),
        standing: match (compared.old, compared.new) {
            (None, _) => Standing::New,
            (Some(_), None) => Standing::Removed,
            (Some(_), Some(_)) => Standing::Both,
        },
        old_revision: compared.old.and_then(|(report, _)| report.revision.clone()),
        new_revision: compared.new.and_then(|(report, _)| report.revision.clone()),
        fails: compared.fails,
        changes: comparison.changes.iter().filter_map(|change| change_entry(change, compared)).collect(),
        unchanged: comparison.unchanged,
        moved: comparison.moved.iter().map(moved_entry).collect(),
        added: comparison.added.clone(),
        removed: comparison.removed.clone(),
        no_longer_judged: comparison.no_longer_judged.clone(),
        old_complaints: complaints(compared.old),
        new_complaints: complaints(compared.new),
    }
}

fn change_entry(change: &Change, compared: Compared<'_>) -> Option<ChangeEntry> {
    Some(ChangeEntry {
        turn: change.turn,
        old_class: change.before.as_ref().map(|before| before.class),
        because: change.because.clone(),
        finding: finding_entry(change.finding()?, compared.sources(change.turn)?),
    })
}

fn moved_entry(moved: &Moved) -> MovedEntry {
    MovedEntry {
        subject: moved.subject.clone(),
        kind: moved.kind.word(),
        fact: moved.fact.name,
        old: measure(&moved.before, moved.dimension()),
        new: measure(&moved.after, moved.dimension()),
        // Four digits: more than a share is worth, and few enough that the last bits of a solve never show.
        share: moved.share().and_then(|share| format!("{share:.3e}").parse().ok()),
    }
}
