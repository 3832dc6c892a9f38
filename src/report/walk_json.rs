//! A rule walked through with a design's own numbers, for machines.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::facts::State;
use crate::findings::Class;
use crate::rules::{Figure, Standing, Step, Walk};
use crate::source::{Complaint, Sources};

use super::json::{ComplaintEntry, VERSION, complaint_entries, schema, sorted};
use super::json_list::written;
use super::place::{Region, region};
use super::walk::WalkSheet;

/// The walk as one JSON document, ending in a line break.
#[must_use]
pub fn walk_as_json(sheet: &WalkSheet<'_>, complaints: &[Complaint]) -> String {
    written(&WalkDocument {
        version: VERSION,
        path: sheet.path.display().to_string(),
        name: sheet.design.to_owned(),
        rule: sheet.rule.to_owned(),
        class: sheet.class,
        quiet: sheet.quiet.map(str::to_owned),
        found: sheet.spoken.clone(),
        walks: sheet.walks.iter().map(|walk| walk_entry(walk, sheet)).collect(),
        others: sheet
            .others
            .iter()
            .map(|one| OtherEntry { part: one.name.clone(), verdict: verdict(&one.standing) })
            .collect(),
        complaints: complaint_entries(complaints, sheet.sources),
    })
}

/// The JSON Schema of [`walk_as_json`].
#[must_use]
pub fn walk_schema() -> String {
    schema::<WalkDocument>()
}

/// What `why RULE --in DESIGN --as json` prints.
#[derive(Serialize, schemars::JsonSchema)]
#[schemars(title = "coldcheck why")]
struct WalkDocument {
    /// Version of this shape.
    version: u32,
    path: String,
    name: String,
    rule: String,
    /// Its class, where nothing raises it.
    class: Class,
    /// Why the workshop keeps the rule quiet, where it does.
    quiet: Option<String>,
    /// For a rule that no formula decides: what the program has found in its name.
    found: Option<Vec<String>>,
    walks: Vec<WalkEntry>,
    /// The other subjects, nearest to their limit first.
    others: Vec<OtherEntry>,
    /// What could not be read of this design.
    complaints: Vec<ComplaintEntry>,
}

/// The rule put to one subject. Values are shown as people read them; `facts --as json` has them as numbers.
#[derive(Serialize, schemars::JsonSchema)]
struct WalkEntry {
    part: String,
    kind: &'static str,
    #[serde(flatten)]
    verdict: Verdict,
    /// The reason, where the finding is waived.
    waived: Option<String>,
    state: Option<State>,
    /// The socket that is empty in state `socket-empty`.
    empty_socket: Option<String>,
    /// The tubes that differ from the design as drawn.
    lineup: BTreeMap<String, String>,
    figures: Vec<FigureEntry>,
    limits: Vec<LimitEntry>,
    /// The condition under which the rule applies, worked out.
    condition: Vec<StepEntry>,
    /// The demand, worked out.
    demand: Vec<StepEntry>,
    /// What has made it more serious, worked out.
    raised: Vec<StepEntry>,
    /// What each fact would have to be, everything else as it is, for the verdict to turn.
    turns: Vec<TurnEntry>,
}

#[derive(Serialize, schemars::JsonSchema)]
struct OtherEntry {
    part: String,
    #[serde(flatten)]
    verdict: Verdict,
}

#[derive(Serialize, schemars::JsonSchema)]
struct Verdict {
    verdict: VerdictWord,
    /// The class of a broken rule.
    broken_as: Option<Class>,
    /// The message of the finding, or why nothing was judged.
    message: Option<String>,
    /// How far a comparison is from turning, as a share of its larger side.
    margin: Option<f64>,
}

#[derive(Serialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
enum VerdictWord {
    Broken,
    Kept,
    DoesNotApply,
    NotJudged,
}

#[derive(Serialize, schemars::JsonSchema)]
struct FigureEntry {
    fact: &'static str,
    value: Option<String>,
    /// Why there is no value.
    unknown: Option<String>,
    meaning: &'static str,
    analysis: &'static str,
    state: Option<State>,
    /// Whether it is the whole design's.
    of_design: bool,
    places: Vec<Region>,
    /// What was estimated or assumed.
    assumptions: Vec<String>,
}

#[derive(Serialize, schemars::JsonSchema)]
struct LimitEntry {
    name: String,
    value: String,
    meaning: String,
    /// Where the workshop has adjusted it.
    adjusted_at: Option<Region>,
    /// What the rule itself has, where the workshop has adjusted it.
    in_the_rule: Option<String>,
}

#[derive(Serialize, schemars::JsonSchema)]
struct StepEntry {
    formula: String,
    numbers: String,
    result: Option<String>,
    unknown: Option<String>,
    holds: Option<bool>,
}

#[derive(Serialize, schemars::JsonSchema)]
struct TurnEntry {
    fact: &'static str,
    /// In base SI units.
    value: f64,
    /// Whether the demand is kept above it; else below.
    kept_above: bool,
}

fn walk_entry(walk: &Walk, sheet: &WalkSheet<'_>) -> WalkEntry {
    let waived = sheet.waived.iter().find(|(part, _)| *part == walk.part);
    let steps = |steps: &[Step]| steps.iter().map(step_entry).collect();
    WalkEntry {
        part: walk.part.clone(),
        kind: walk.kind.word(),
        verdict: verdict(&walk.standing),
        waived: waived.map(|(_, because)| (*because).to_owned()),
        state: walk.state,
        empty_socket: walk.empty_socket.clone(),
        lineup: sorted(&walk.lineup),
        figures: walk.figures.iter().map(|figure| figure_entry(figure, sheet.sources)).collect(),
        limits: walk
            .limits
            .iter()
            .map(|limit| {
                let source = sheet.limits.iter().find(|source| source.limit == limit.name);
                LimitEntry {
                    name: limit.name.clone(),
                    value: limit.value.clone(),
                    meaning: limit.meaning.clone(),
                    adjusted_at: source.map(|source| region(sheet.sources, source.span)),
                    in_the_rule: source.and_then(|source| source.before.clone()),
                }
            })
            .collect(),
        condition: steps(&walk.guard),
        demand: steps(&walk.demand),
        raised: steps(&walk.raised),
        turns: walk
            .turnings
            .iter()
            .map(|one| TurnEntry { fact: one.fact, value: one.edge, kept_above: one.above })
            .collect(),
    }
}

fn verdict(standing: &Standing) -> Verdict {
    let plain = |verdict| Verdict { verdict, broken_as: None, message: None, margin: None };
    match standing {
        Standing::Broken { class, message } => {
            Verdict { broken_as: Some(*class), message: Some(message.clone()), ..plain(VerdictWord::Broken) }
        }
        Standing::Kept { margin } => {
            Verdict { margin: margin.filter(|margin| margin.is_finite()), ..plain(VerdictWord::Kept) }
        }
        Standing::Elsewhere => plain(VerdictWord::DoesNotApply),
        Standing::Open(reason) => Verdict { message: Some(reason.clone()), ..plain(VerdictWord::NotJudged) },
    }
}

fn figure_entry(figure: &Figure, sources: &Sources) -> FigureEntry {
    FigureEntry {
        fact: figure.name,
        value: figure.value.clone().ok(),
        unknown: figure.value.clone().err(),
        meaning: figure.meaning,
        analysis: figure.analysis,
        state: figure.state,
        of_design: figure.of_design,
        places: figure.origins.iter().map(|origin| region(sources, origin.span)).collect(),
        assumptions: figure.assumptions.clone(),
    }
}

fn step_entry(step: &Step) -> StepEntry {
    StepEntry {
        formula: step.formula.clone(),
        numbers: step.numbers.clone(),
        result: step.result.clone().ok(),
        unknown: step.result.clone().err(),
        holds: step.holds,
    }
}
