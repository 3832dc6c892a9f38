//! SARIF 2.1.0 (OASIS, 27 March 2020): findings for code-hosting services.
//!
//! Paths are as they were given, so that a run from a repository's root gives what such a service wants. Nothing that
//! could not be read or judged is lost: it stands among the notifications.

use std::collections::BTreeMap;
use std::path::{Component, Path};

use serde::Serialize;
use serde_json::{Map, Value, json};

use crate::findings::{Checked, Class, DesignReport, Finding};
use crate::source::{Complaint, FileId, Severity, Sources, Span};

use super::caution::CAUTION;
use super::json::sorted;
use super::json_list::{LongList, indented};
use super::lesson::{LessonSheet, paragraphs};
use super::outcome::DesignOutcome;
use super::place::{Region, region};
use super::presentation::one_line;
use super::summary::{gathered, spread_told};
use super::text::told;

const SCHEMA: &str = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";
/// What relative paths are relative to.
const BASE: &str = "%SRCROOT%";
/// Our own key: the hash of path, rule, part and line-up, which moved lines do not change.
const FINGERPRINT: &str = "coldcheckIdentity/v1";

/// The document of a run whose results are yet to come, with the notifications gathered so far.
pub(super) fn sarif_list(rules: &[LessonSheet], notifications: &[Value]) -> LongList {
    let unread = notifications.iter().any(|notification| notification["level"] == "error");
    let log = Log {
        schema: SCHEMA,
        version: "2.1.0",
        runs: [Run {
            tool: Tool {
                driver: Driver {
                    name: "coldcheck",
                    semantic_version: env!("CARGO_PKG_VERSION"),
                    short_description: Text::of(env!("CARGO_PKG_DESCRIPTION")),
                    rules: rules.iter().map(descriptor).collect(),
                },
            },
            column_kind: "unicodeCodePoints",
            original_uri_base_ids: json!({ BASE: { "description": { "text": "the folder where the program was started" } } }),
            results: [],
            invocations: [Invocation { execution_successful: !unread, tool_execution_notifications: notifications }],
        }],
    };
    LongList::around(&log, "results", 8)
}

/// The results of a design, each as it stands in the list of results.
pub(super) fn results(entry: DesignOutcome<'_>, rules: &[LessonSheet]) -> Vec<String> {
    let result = |finding| indented(&result(finding, entry, rules), 8);
    entry.report.findings.iter().map(result).collect()
}

/// What could not be read or judged of a design.
pub(super) fn design_notifications(entry: DesignOutcome<'_>) -> Vec<Value> {
    let (design, sources) = (entry.report, entry.sources);
    let mut found = complaint_notifications(&design.complaints, Some(design), sources);
    for ((rule, reason), parts) in gathered(design) {
        let text = one_line(&format!("not judged: {rule} ({}): {reason}", parts.join(", ")));
        found.push(json!({
            "level": "warning",
            "message": { "text": text },
            "locations": [{ "physicalLocation": { "artifactLocation": artifact(&design.path.display().to_string()) } }],
            "associatedRule": { "id": rule },
        }));
    }
    for line in spread_told(design) {
        found.push(json!({
            "level": "note",
            "message": { "text": one_line(&line) },
            "locations": [{ "physicalLocation": { "artifactLocation": artifact(&design.path.display().to_string()) } }],
        }));
    }
    found
}

/// What could not be read.
pub(super) fn complaint_notifications(
    complaints: &[Complaint],
    design: Option<&DesignReport>,
    sources: &Sources,
) -> Vec<Value> {
    complaints
        .iter()
        .map(|complaint| {
            let level = match complaint.severity {
                Severity::Error => "error",
                Severity::Warning => "warning",
            };
            let help = complaint.help.as_ref().map(|help| format!(" ({help})")).unwrap_or_default();
            let mut notification =
                json!({ "level": level, "message": { "text": one_line(&format!("{}{help}", complaint.message)) } });
            let place = match (complaint.span, design) {
                (Some(span), _) => Some(location(sources, span, None, "")),
                (None, Some(design)) => {
                    let file = artifact(&design.path.display().to_string());
                    Some(json!({ "physicalLocation": { "artifactLocation": file } }))
                }
                (None, None) => None,
            };
            if let (Some(place), Some(fields)) = (place, notification.as_object_mut()) {
                fields.insert("locations".to_owned(), json!([place]));
            }
            notification
        })
        .collect()
}

#[derive(Serialize)]
struct Log<'a> {
    #[serde(rename = "$schema")]
    schema: &'static str,
    version: &'static str,
    runs: [Run<'a>; 1],
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Run<'a> {
    tool: Tool,
    column_kind: &'static str,
    original_uri_base_ids: Value,
    results: [Value; 0],
    invocations: [Invocation<'a>; 1],
}

#[derive(Serialize)]
struct Tool {
    driver: Driver,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Driver {
    name: &'static str,
    semantic_version: &'static str,
    short_description: Text,
    rules: Vec<Descriptor>,
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Descriptor {
    id: String,
    short_description: Text,
    full_description: Text,
    default_configuration: Configuration,
    help: Text,
    properties: Value,
}

#[derive(Serialize)]
struct Configuration {
    enabled: bool,
    level: &'static str,
}

#[derive(Serialize)]
struct Text {
    text: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    markdown: Option<String>,
}

impl Text {
    fn of(text: impl Into<String>) -> Self {
        Self { text: text.into(), markdown: None }
    }
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Invocation<'a> {
    execution_successful: bool,
    tool_execution_notifications: &'a [Value],
}

#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Outcome<'a> {
    rule_id: &'a str,
    #[serde(skip_serializing_if = "Option::is_none")]
    rule_index: Option<usize>,
    level: &'static str,
    message: Text,
    locations: [Value; 1],
    #[serde(skip_serializing_if = "Vec::is_empty")]
    related_locations: Vec<Value>,
    partial_fingerprints: Map<String, Value>,
    suppressions: Vec<Value>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    fixes: Vec<Value>,
    properties: Value,
}

fn descriptor(rule: &LessonSheet) -> Descriptor {
    let prose = paragraphs(&rule.lesson);
    let first = prose.first().map(|text| text.trim().to_owned()).unwrap_or_else(|| rule.demand.clone());
    let sentence = first.split_once(". ").map_or(first.as_str(), |(sentence, _)| sentence).trim_end_matches('.');
    let mut help = vec![format!("Demands: {}", rule.demand)];
    let mut marked = vec![format!("**Demands:** `{}`", rule.demand)];
    for limit in &rule.limits {
        help.push(format!("Limit {} = {}: {}", limit.name, limit.value, limit.meaning));
        marked.push(format!("**Limit** `{}` = {}: {}", limit.name, limit.value, limit.meaning));
    }
    for paragraph in prose.iter().map(|text| text.trim().to_owned()) {
        help.push(paragraph.clone());
        marked.push(paragraph);
    }
    for source in &rule.sources {
        let detail = source.detail.as_ref().map(|detail| format!(": {detail}")).unwrap_or_default();
        let memory = if source.from_memory { " (from memory, not from the document)" } else { "" };
        let text = format!("Source: {}{detail}{memory}", source.title);
        help.push(text.clone());
        marked.push(format!("*{text}*"));
    }
    help.push(CAUTION.to_owned());
    marked.push(format!("**{CAUTION}**"));
    Descriptor {
        id: rule.name.clone(),
        short_description: Text::of(format!("{sentence}.")),
        full_description: Text::of(first.clone()),
        default_configuration: Configuration { enabled: true, level: level(rule.class) },
        help: Text { text: help.join("\n\n"), markdown: Some(marked.join("\n\n")) },
        properties: json!({ "class": rule.class.word(), "tags": [rule.class.word()] }),
    }
}

fn result<'a>(finding: &'a Finding, entry: DesignOutcome<'_>, rules: &[LessonSheet]) -> Outcome<'a> {
    let sources = entry.sources;
    let mut message = told(finding);
    if let Some(remedy) = finding.remedy_told() {
        message.push_str(&format!(". Remedy: {remedy}"));
    }
    let design = entry.report.path.display().to_string();
    let own = location(sources, finding.span, None, &design);
    let related = finding.labels.iter().enumerate();
    let fingerprint = Value::String(fingerprint(&entry.report.path, finding));
    Outcome {
        rule_id: &finding.rule,
        rule_index: rules.iter().position(|rule| rule.name == finding.rule),
        level: level(finding.class),
        message: Text::of(one_line(&message)),
        locations: [own],
        related_locations: related
            .map(|(index, label)| location(sources, label.span, Some((index + 1, &label.text)), &design))
            .collect(),
        partial_fingerprints: Map::from_iter([(FINGERPRINT.to_owned(), fingerprint)]),
        // A run that names suppressions must say of every result whether it has any (3.27.23).
        suppressions: finding
            .waived
            .iter()
            .map(|waived| {
                let until = waived.until.as_ref().map(|until| format!(" (until {until})")).unwrap_or_default();
                let because = one_line(&format!("{}{until}", waived.because));
                json!({ "kind": "inSource", "status": "accepted", "justification": because })
            })
            .collect(),
        fixes: finding.checked().map(|checked| fix(checked, sources)).into_iter().collect(),
        properties: properties(finding, entry),
    }
}

fn properties(finding: &Finding, entry: DesignOutcome<'_>) -> Value {
    let mut found = json!({
            "class": finding.class.word(),
            "part": finding.part,
            "state": finding.state.map(crate::facts::State::name),
            "lineup": sorted(&finding.lineup),
            "design": entry.report.name,
    });
    if let (Some(spread), Some(fields)) = (&finding.by_tolerance, found.as_object_mut()) {
        let (broken, judged) = (spread.broken, spread.judged);
        fields.insert("byTolerance".to_owned(), json!({ "only": spread.only, "broken": broken, "judged": judged }));
    }
    found
}

/// The edit that was tried out (3.55), its replacements by file.
fn fix(checked: &Checked, sources: &Sources) -> Value {
    let mut by_file: BTreeMap<FileId, Vec<Value>> = BTreeMap::new();
    for edit in &checked.edits {
        let deleted = sarif_region(&region(sources, edit.span));
        let replacement = json!({ "deletedRegion": deleted, "insertedContent": { "text": edit.text } });
        by_file.entry(edit.span.file).or_default().push(replacement);
    }
    let changes: Vec<Value> = by_file
        .into_iter()
        .map(|(file, replacements)| {
            let artifact = artifact(&sources.path(file).display().to_string());
            json!({ "artifactLocation": artifact, "replacements": replacements })
        })
        .collect();
    json!({ "description": { "text": one_line(&checked.title) }, "artifactChanges": changes })
}

fn sarif_region(region: &Region) -> Value {
    json!({
        "startLine": region.line,
        "startColumn": region.column,
        "endLine": region.end_line,
        "endColumn": region.end_column,
    })
}

/// A hazard that waits for nobody and a part past its rating are errors; what merely does not work is a warning.
fn level(class: Class) -> &'static str {
    match class {
        Class::Hazard | Class::Overstress => "error",
        Class::Malfunction => "warning",
        Class::Refinement => "note",
    }
}

/// `design` is the file to name where a span belongs to none.
fn location(sources: &Sources, span: Span, label: Option<(usize, &str)>, design: &str) -> Value {
    let region = region(sources, span);
    let file = if region.file.is_empty() { design } else { &region.file };
    let mut place = Map::new();
    if let Some((id, _)) = label {
        place.insert("id".to_owned(), json!(id));
    }
    place.insert(
        "physicalLocation".to_owned(),
        json!({
            "artifactLocation": artifact(file),
            "region": sarif_region(&region),
        }),
    );
    if let Some((_, text)) = label {
        place.insert("message".to_owned(), json!({ "text": one_line(text) }));
    }
    Value::Object(place)
}

fn artifact(path: &str) -> Value {
    let plain: String = slashed(Path::new(path));
    if plain.starts_with('/') {
        json!({ "uri": format!("file://{}", encoded(&plain)) })
    } else {
        json!({ "uri": encoded(&plain), "uriBaseId": BASE })
    }
}

/// A path with `/` between its folders and without `.`.
fn slashed(path: &Path) -> String {
    let components = path.components().filter(|component| *component != Component::CurDir);
    components.collect::<std::path::PathBuf>().to_string_lossy().replace('\\', "/")
}

/// Percent-encoding of what a path of a URI may not hold (RFC 3986, 2.3 and 3.3).
fn encoded(path: &str) -> String {
    let mut uri = String::new();
    for byte in path.bytes() {
        if byte.is_ascii_alphanumeric() || b"/-._~!$&'()*+,;=@".contains(&byte) {
            uri.push(char::from(byte));
        } else {
            uri.push_str(&format!("%{byte:02X}"));
        }
    }
    uri
}

/// FNV-1a of 64 bits (Fowler, Noll and Vo), because it is the same everywhere and for ever.
fn fingerprint(path: &Path, finding: &Finding) -> String {
    let text = format!("{}\0{}", slashed(path), finding.identity());
    let hash = text
        .bytes()
        .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0000_0100_0000_01b3));
    format!("{hash:016x}")
}
