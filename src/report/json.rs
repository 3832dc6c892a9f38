//! The machine-readable outputs and their schemas. The shapes are stable: a field is added, never renamed.
//!
//! Values are in base SI units. A value that no number can express is `null`, and a second field says why.

use std::collections::BTreeMap;
use std::path::Path;

use schemars::generate::SchemaSettings;
use serde::Serialize;

use crate::facts::{
    Entry, Fact, FactDefinition, FactTable, Lineup, State, SubjectId, Value, ValueKind, Worst, find_definition,
};
use crate::findings::{Class, Edit, FactValue, Finding, NotJudged, Waived};
use crate::source::{Complaint, Severity, Sources};
use crate::spread::Bands;
use crate::units::Dimension;

use super::json_list::{LongList, indented, written};
use super::json_spread::{BandEntry, ByToleranceEntry, SpreadEntry};
use super::outcome::{DesignOutcome, Outcome};
use super::place::{Region, region};

pub(super) const VERSION: u32 = 1;

/// The report of a run as one JSON document, ending in a line break.
#[must_use]
pub fn report_as_json(outcome: Outcome<'_>) -> String {
    report_list(outcome.complaints, outcome.sources).whole(outcome.designs.iter().map(|design| design_as_json(*design)))
}

/// The document of a run whose designs are yet to come.
pub(super) fn report_list(complaints: &[Complaint], sources: &Sources) -> LongList {
    let document =
        ReportDocument { version: VERSION, designs: Vec::new(), complaints: complaint_entries(complaints, sources) };
    LongList::around(&document, "designs", 4)
}

/// One design as it stands in the list of designs.
pub(super) fn design_as_json(design: DesignOutcome<'_>) -> String {
    indented(&design_entry(&design), 4)
}

/// The facts of a design as one JSON document, ending in a line break; only those of `subjects` where given.
#[must_use]
pub fn facts_as_json(
    path: &Path,
    name: &str,
    table: &FactTable,
    subjects: Option<&[SubjectId]>,
    complaints: &[Complaint],
    sources: &Sources,
    bands: Option<&Bands>,
) -> String {
    let facts = table
        .iter()
        .filter(|(id, _, _)| subjects.is_none_or(|wanted| wanted.contains(id)))
        .filter_map(|(id, fact, entry)| fact_entry(table, id, fact, entry, bands))
        .collect();
    written(&FactsDocument {
        version: VERSION,
        path: path.display().to_string(),
        name: name.to_owned(),
        facts,
        unsolved: table
            .unsolved
            .iter()
            .map(|condition| UnsolvedEntry {
                state: condition.state,
                empty_socket: condition.empty_socket.clone(),
                lineup: lineup_of(table, condition.lineup),
                reason: condition.reason.clone(),
                span: condition.span.map(|span| region(sources, span)),
            })
            .collect(),
        complaints: complaint_entries(complaints, sources),
        spread: bands.map(SpreadEntry::of_bands),
    })
}

/// The JSON Schema of [`report_as_json`].
#[must_use]
pub fn report_schema() -> String {
    schema::<ReportDocument>()
}

/// The JSON Schema of [`facts_as_json`].
#[must_use]
pub fn facts_schema() -> String {
    schema::<FactsDocument>()
}

pub(super) fn schema<T: schemars::JsonSchema>() -> String {
    let generator = SchemaSettings::draft2020_12().for_serialize().into_generator();
    written(&generator.into_root_schema_for::<T>())
}

/// What `inspect --as json` prints.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(title = "coldcheck inspect")]
struct ReportDocument {
    /// Version of this shape.
    version: u32,
    /// One for each design, in order of path.
    designs: Vec<DesignEntry>,
    /// What could not be read and belongs to no design.
    complaints: Vec<ComplaintEntry>,
}

#[derive(Serialize, schemars::JsonSchema)]
struct DesignEntry {
    path: String,
    name: String,
    revision: Option<String>,
    /// In order of file, place, rule.
    findings: Vec<FindingEntry>,
    /// Findings that are not waived, by class.
    counts: Counts,
    /// How many rules were judged.
    rules_judged: usize,
    /// Rules that could not be judged, and why.
    not_judged: Vec<NotJudged>,
    /// What could not be read of this design.
    complaints: Vec<ComplaintEntry>,
    /// What was varied, where the spread of the parts was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    spread: Option<SpreadEntry>,
}

#[derive(Serialize, schemars::JsonSchema)]
struct Counts {
    hazard: usize,
    overstress: usize,
    malfunction: usize,
    refinement: usize,
    /// Findings of any class that a waiver covers; they are counted nowhere else.
    waived: usize,
}

/// Something about the design that its builder should know.
#[derive(Serialize, schemars::JsonSchema)]
pub(super) struct FindingEntry {
    rule: String,
    class: Class,
    part: String,
    message: String,
    remedy: Option<String>,
    /// Whether an edit for it was tried on a copy, cleared the finding there and brought nothing as serious.
    remedy_checked: bool,
    /// That edit.
    remedy_edit: Option<CheckedEntry>,
    state: Option<State>,
    /// The socket that is empty in state `socket-empty`.
    empty_socket: Option<String>,
    /// The tubes that differ from the design as drawn.
    lineup: BTreeMap<String, String>,
    span: Region,
    labels: Vec<LabelEntry>,
    /// The facts it rests on, by name.
    facts: BTreeMap<String, QuotedFact>,
    waived: Option<Waived>,
    /// How it fares within the tolerances of the parts, where that was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    by_tolerance: Option<ByToleranceEntry>,
}

/// An edit that was tried out.
#[derive(Serialize, schemars::JsonSchema)]
struct CheckedEntry {
    /// In words.
    title: String,
    /// In no order; none overlaps another.
    edits: Vec<EditEntry>,
}

/// A stretch of a file and what stands there after the edit; the stretch is empty where something is put in.
#[derive(Serialize, schemars::JsonSchema)]
struct EditEntry {
    span: Region,
    text: String,
}

#[derive(Serialize, schemars::JsonSchema)]
struct LabelEntry {
    span: Region,
    text: String,
}

/// A fact as a finding quotes it, in the finding's state and line-up. `unit` is base SI, empty for ratios, flags and
/// words.
#[derive(Serialize, schemars::JsonSchema)]
struct QuotedFact {
    #[serde(flatten)]
    value: Measure,
    estimated: bool,
}

/// A value with its unit in base SI; `unit` is empty for ratios, flags and words.
#[derive(Serialize, schemars::JsonSchema)]
pub(super) struct Measure {
    value: Option<Scalar>,
    unit: String,
    /// For a time that never comes; the value is then null.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    never: bool,
    /// For any other value without bound; the value is then null.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    infinite: bool,
}

#[derive(Serialize, schemars::JsonSchema)]
#[serde(untagged)]
enum Scalar {
    Number(f64),
    Flag(bool),
    Word(String),
}

/// Something that could not be read (`error`), or was read and is worth saying (`warning`).
#[derive(Serialize, schemars::JsonSchema)]
pub(super) struct ComplaintEntry {
    severity: SeverityWord,
    message: String,
    span: Option<Region>,
    label: String,
    others: Vec<LabelEntry>,
    help: Option<String>,
}

#[derive(Serialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum SeverityWord {
    Error,
    Warning,
}

/// What `facts --as json` prints.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(title = "coldcheck facts")]
struct FactsDocument {
    /// Version of this shape.
    version: u32,
    path: String,
    name: String,
    facts: Vec<FactEntry>,
    /// Conditions that could not be solved: no value of theirs is among the facts.
    unsolved: Vec<UnsolvedEntry>,
    /// What could not be read of this design.
    complaints: Vec<ComplaintEntry>,
    /// What was varied, where the spread of the parts was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    spread: Option<SpreadEntry>,
}

/// A condition without a solution.
#[derive(Serialize, schemars::JsonSchema)]
struct UnsolvedEntry {
    state: State,
    /// The socket that is empty in state `socket-empty`.
    empty_socket: Option<String>,
    /// The whole line-up: which tube in which socket.
    lineup: BTreeMap<String, String>,
    /// Why, naming the nets.
    reason: String,
    span: Option<Region>,
}

/// A fact of a subject. `unit` is base SI, empty for ratios, flags and words.
#[derive(Serialize, schemars::JsonSchema)]
struct FactEntry {
    subject: String,
    /// The kind of subject: a net and a part may share a name.
    kind: &'static str,
    fact: &'static str,
    /// The worst over every state and line-up.
    #[serde(flatten)]
    value: Measure,
    /// The state of the worst value; null for what no state changes.
    state: Option<State>,
    /// The socket that is empty in state `socket-empty`.
    empty_socket: Option<String>,
    /// The whole line-up of the worst value: which tube in which socket.
    lineup: BTreeMap<String, String>,
    /// The value in each state with the tubes as drawn; for `socket-empty` that of the worst socket.
    by_state: BTreeMap<&'static str, Option<Scalar>>,
    estimated: bool,
    /// What was estimated or assumed.
    assumptions: Vec<String>,
    /// Why there is no value, where there should be one.
    #[serde(skip_serializing_if = "Option::is_none")]
    failed: Option<String>,
    /// Where it lies in this state when the parts are within their tolerances, where that was asked for and moves it.
    #[serde(skip_serializing_if = "Option::is_none")]
    band: Option<BandEntry>,
}

fn design_entry(entry: &DesignOutcome<'_>) -> DesignEntry {
    let (design, sources) = (entry.report, entry.sources);
    DesignEntry {
        path: design.path.display().to_string(),
        name: design.name.clone(),
        revision: design.revision.clone(),
        findings: design.findings.iter().map(|finding| finding_entry(finding, sources)).collect(),
        counts: counts(&design.findings),
        rules_judged: design.rules_judged,
        not_judged: design.not_judged.clone(),
        complaints: complaint_entries(&design.complaints, sources),
        spread: design.spread.as_ref().map(SpreadEntry::of),
    }
}

fn counts(findings: &[Finding]) -> Counts {
    let of = |class| findings.iter().filter(|finding| finding.class == class && finding.waived.is_none()).count();
    Counts {
        hazard: of(Class::Hazard),
        overstress: of(Class::Overstress),
        malfunction: of(Class::Malfunction),
        refinement: of(Class::Refinement),
        waived: findings.iter().filter(|f| f.waived.is_some()).count(),
    }
}

pub(super) fn finding_entry(finding: &Finding, sources: &Sources) -> FindingEntry {
    FindingEntry {
        rule: finding.rule.clone(),
        class: finding.class,
        part: finding.part.clone(),
        message: finding.message.clone(),
        remedy: finding.remedy(),
        remedy_checked: finding.checked().is_some(),
        remedy_edit: finding.checked().map(|checked| CheckedEntry {
            title: checked.title.clone(),
            edits: checked.edits.iter().map(|edit| edit_entry(edit, sources)).collect(),
        }),
        state: finding.state,
        empty_socket: finding.empty_socket.clone(),
        lineup: sorted(&finding.lineup),
        span: region(sources, finding.span),
        labels: finding
            .labels
            .iter()
            .map(|label| LabelEntry { span: region(sources, label.span), text: label.text.clone() })
            .collect(),
        facts: finding.facts.iter().map(quoted).collect(),
        waived: finding.waived.clone(),
        by_tolerance: finding.by_tolerance.as_ref().map(ByToleranceEntry::of),
    }
}

fn edit_entry(edit: &Edit, sources: &Sources) -> EditEntry {
    EditEntry { span: region(sources, edit.span), text: edit.text.clone() }
}

fn quoted(fact: &FactValue) -> (String, QuotedFact) {
    (fact.name.clone(), QuotedFact { value: measure(&fact.value, fact.dimension), estimated: fact.estimated })
}

pub(super) fn complaint_entries(complaints: &[Complaint], sources: &Sources) -> Vec<ComplaintEntry> {
    complaints
        .iter()
        .map(|complaint| ComplaintEntry {
            severity: match complaint.severity {
                Severity::Error => SeverityWord::Error,
                Severity::Warning => SeverityWord::Warning,
            },
            message: complaint.message.clone(),
            span: complaint.span.map(|span| region(sources, span)),
            label: complaint.label.clone(),
            others: complaint
                .others
                .iter()
                .map(|(span, text)| LabelEntry { span: region(sources, *span), text: text.clone() })
                .collect(),
            help: complaint.help.clone(),
        })
        .collect()
}

fn fact_entry(
    table: &FactTable,
    id: SubjectId,
    name: &'static str,
    entry: &Entry,
    bands: Option<&Bands>,
) -> Option<FactEntry> {
    let subject = table.subject(id)?;
    let definition = find_definition(name)?;
    let dimension = dimension_of(definition);
    let unknown = FactEntry {
        subject: subject.name.clone(),
        kind: subject.kind.word(),
        fact: name,
        value: Measure { value: None, unit: unit(dimension), never: false, infinite: false },
        state: None,
        empty_socket: None,
        lineup: BTreeMap::new(),
        by_state: BTreeMap::new(),
        estimated: false,
        assumptions: Vec::new(),
        failed: None,
        band: None,
    };
    Some(match entry {
        Entry::Failed { reason } => FactEntry { failed: Some(reason.clone()), ..unknown },
        Entry::Known(fact) => {
            let worst = fact.worst_sample()?;
            FactEntry {
                value: measure(&worst.value, dimension),
                state: worst.state,
                empty_socket: worst.empty_socket.clone(),
                lineup: lineup_of(table, worst.lineup),
                by_state: by_state(fact, definition),
                estimated: fact.estimated,
                assumptions: fact.assumptions.clone(),
                band: bands.and_then(|bands| bands.of(id, name, worst)).map(BandEntry::of),
                ..unknown
            }
        }
    })
}

fn by_state(fact: &Fact, definition: &FactDefinition) -> BTreeMap<&'static str, Option<Scalar>> {
    let mut values: BTreeMap<&'static str, &Value> = BTreeMap::new();
    for sample in fact.samples.iter().filter(|sample| sample.lineup == 0) {
        let Some(state) = sample.state else { continue };
        values
            .entry(state.name())
            .and_modify(|kept| {
                if worse(&sample.value, kept, definition.worst) {
                    *kept = &sample.value;
                }
            })
            .or_insert(&sample.value);
    }
    values.into_iter().map(|(state, value)| (state, scalar(value))).collect()
}

fn worse(value: &Value, than: &Value, worst: Worst) -> bool {
    match (value, than, worst) {
        (Value::Quantity(a), Value::Quantity(b), Worst::Highest) => a > b,
        (Value::Quantity(a), Value::Quantity(b), Worst::Lowest) => a < b,
        (Value::Quantity(a), Value::Quantity(b), Worst::Magnitude) => a.abs() > b.abs(),
        (Value::Flag(a), Value::Flag(b), Worst::Lowest) => !*a && *b,
        (Value::Flag(a), Value::Flag(b), _) => *a && !*b,
        _ => false,
    }
}

pub(super) fn measure(value: &Value, dimension: Dimension) -> Measure {
    let boundless = value.number().is_some_and(f64::is_infinite);
    Measure {
        value: scalar(value),
        unit: match value {
            Value::Quantity(_) => unit(dimension),
            Value::Flag(_) | Value::Word(_) => String::new(),
        },
        never: boundless && dimension == Dimension::TIME,
        infinite: boundless && dimension != Dimension::TIME,
    }
}

fn scalar(value: &Value) -> Option<Scalar> {
    Some(match value {
        Value::Quantity(number) => Scalar::Number(six_digits(*number)?),
        Value::Flag(flag) => Scalar::Flag(*flag),
        Value::Word(word) => Scalar::Word(word.clone()),
    })
}

/// Six significant digits: more than any part's tolerance is worth, and few enough that the last bits of a solve,
/// which may differ between machines, never show.
pub(super) fn six_digits(number: f64) -> Option<f64> {
    if !number.is_finite() {
        return None;
    }
    // A zero is written without a sign.
    format!("{number:.5e}").parse().ok().map(|n: f64| n + 0.0)
}

fn dimension_of(definition: &FactDefinition) -> Dimension {
    match definition.value {
        ValueKind::Quantity(dimension) => dimension,
        ValueKind::Flag | ValueKind::Word => Dimension::NONE,
    }
}

fn unit(dimension: Dimension) -> String {
    dimension.unit().map_or_else(|| dimension.to_string(), str::to_owned)
}

fn lineup_of(table: &FactTable, index: usize) -> BTreeMap<String, String> {
    table.lineups.get(index).map(sorted).unwrap_or_default()
}

pub(super) fn sorted(lineup: &Lineup) -> BTreeMap<String, String> {
    lineup.iter().map(|(socket, tube)| (socket.clone(), tube.clone())).collect()
}
