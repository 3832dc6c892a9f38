//! The pure core: a design in, facts and findings out. No files, no clock, no environment.

use std::path::Path;

use jiff::civil::Date;

use crate::catalogue::Devices;
use crate::circuit::Circuit;
use crate::design::{Design, DesignReading};
use crate::facts::{FactTable, Lineup, Memory, SubjectKind, Unsolved, Value, facts_remembered};
use crate::findings::{DesignReport, Finding, Label, Spoken, UNSOLVED, WaiverBench, agree, apply_waivers};
use crate::rules::{RuleBook, Shelves, judge};

/// What designs are judged against.
#[derive(Clone, Copy)]
pub struct Grounds<'a> {
    /// The rules, with the workshop's adjustments.
    pub rules: &'a RuleBook,
    /// The catalogue.
    pub devices: &'a dyn Devices,
    /// What remedies may choose from.
    pub shelves: &'a Shelves,
    /// The day, for waivers.
    pub today: Date,
}

/// One design inspected.
#[derive(Clone, Debug)]
pub struct Inspection {
    /// What was found.
    pub report: DesignReport,
    /// The facts it rests on; none where no design could be read.
    pub facts: Option<FactTable>,
}

/// Inspects what was read of a design.
#[must_use]
pub fn inspect(path: &Path, reading: DesignReading, grounds: Grounds<'_>) -> Inspection {
    inspect_remembered(path, reading, grounds, &Memory::default())
}

/// The same outcome, of which what has been solved before is not solved again.
#[must_use]
pub fn inspect_remembered(path: &Path, reading: DesignReading, grounds: Grounds<'_>, memory: &Memory) -> Inspection {
    inspect_further(path, reading, grounds, memory, |_, _, _| {})
}

/// The same, with something said of the design besides: `more` may change what the rules found, before the waivers are
/// put to it.
pub(crate) fn inspect_further(
    path: &Path,
    reading: DesignReading,
    grounds: Grounds<'_>,
    memory: &Memory,
    more: impl FnOnce(&Design, &FactTable, &mut DesignReport),
) -> Inspection {
    let mut report = DesignReport {
        path: path.to_owned(),
        name: path.display().to_string(),
        revision: None,
        findings: Vec::new(),
        not_judged: Vec::new(),
        rules_judged: 0,
        highest_voltage: None,
        complaints: reading.complaints,
        spread: None,
    };
    let Some(design) = reading.design else { return Inspection { report, facts: None } };
    let circuit = Circuit::of(&design);
    let facts = facts_remembered(&design, &circuit, grounds.devices, memory);
    report.name.clone_from(&design.title.value);
    report.revision.clone_from(&design.revision);
    report.highest_voltage = highest_voltage(&facts);
    let judgement = judge(grounds.rules, &facts, grounds.shelves);
    report.findings = judgement.findings;
    report.not_judged = judgement.not_judged;
    report.rules_judged = judgement.rules_judged;
    more(&design, &facts, &mut report);
    tell(&mut report.findings, unsolved(&design, &facts), grounds.rules);
    agree(&mut report.findings);
    let is_rule = |name: &str| grounds.rules.rule(name).is_some();
    let bench = WaiverBench { facts: &facts, not_judged: &report.not_judged, today: grounds.today, is_rule: &is_rule };
    let spoken = apply_waivers(&mut report.findings, &design.waivers, bench);
    tell(&mut report.findings, spoken, grounds.rules);
    report.findings.sort_by(Finding::order);
    Inspection { report, facts: Some(facts) }
}

fn tell(findings: &mut Vec<Finding>, spoken: Vec<Spoken>, rules: &RuleBook) {
    findings.extend(spoken.into_iter().filter_map(|each| rules.speak(each)));
}

/// One finding for each reason why conditions have no solution: what several line-ups and states share is told once.
fn unsolved(design: &Design, facts: &FactTable) -> Vec<Spoken> {
    let drawn = facts.lineups.first();
    let mut reasons: Vec<(&Unsolved, Vec<String>, Vec<usize>)> = Vec::new();
    for open in &facts.unsolved {
        let state = match &open.empty_socket {
            Some(socket) => format!("{} ({socket} pulled)", open.state.name()),
            None => open.state.name().to_owned(),
        };
        match reasons.iter_mut().find(|(known, ..)| known.reason == open.reason && known.span == open.span) {
            Some((_, states, lineups)) => {
                if !states.contains(&state) {
                    states.push(state);
                }
                if !lineups.contains(&open.lineup) {
                    lineups.push(open.lineup);
                }
            }
            None => reasons.push((open, vec![state], vec![open.lineup])),
        }
    }
    let spoken = reasons.into_iter().map(|(open, states, lineups)| {
        let others = match lineups.len() {
            0 | 1 => String::new(),
            2 => "; the same in another line-up".to_owned(),
            count => format!("; the same in {} other line-ups", count - 1),
        };
        let lineup: Lineup = facts
            .lineups
            .get(open.lineup)
            .into_iter()
            .flatten()
            .filter(|(socket, tube)| drawn.and_then(|drawn| drawn.get(*socket)) != Some(*tube))
            .map(|(socket, tube)| (socket.clone(), tube.clone()))
            .collect();
        Spoken {
            rule: UNSOLVED.to_owned(),
            part: "design".to_owned(),
            message: format!("the circuit could not be solved in {}: {}{others}", states.join(", "), open.reason),
            labels: vec![Label {
                span: open.span.unwrap_or(design.title.span),
                text: "this would not settle".to_owned(),
            }],
            state: Some(open.state),
            lineup,
        }
    });
    spoken.collect()
}

fn highest_voltage(facts: &FactTable) -> Option<f64> {
    let design = facts.subjects.iter().position(|subject| subject.kind == SubjectKind::Design)?;
    let fact = facts.fact(crate::facts::SubjectId(design), "highest-voltage")?;
    fact.worst_sample().and_then(|sample| Value::number(&sample.value))
}
