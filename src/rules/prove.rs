//! Every rule proves itself: its examples are inspected, and what comes out is compared with what they claim.

use rayon::prelude::*;

use crate::facts::FactTable;
use crate::findings::{Class, DesignReport, Finding, UNSOLVED};
use crate::source::Span;

use super::book::RuleBook;
use super::rule::{Example, Rule};

/// An inspected fragment.
#[derive(Clone, Debug)]
pub struct Inspected {
    /// What was found.
    pub report: DesignReport,
    /// The facts it rests on.
    pub facts: FactTable,
}

/// An example that does not show what it claims.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ProofFailure {
    /// The rule.
    pub rule: String,
    /// Whether the example claims that the rule holds.
    pub holds: bool,
    /// Which example of the rule, from 1.
    pub number: usize,
    /// Where it stands in the rule file.
    pub span: Span,
    /// What is wrong, each in a sentence.
    pub reasons: Vec<String>,
}

/// The outcome of proving.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ProofReport {
    /// How many rules were proved.
    pub rules: usize,
    /// How many examples were run.
    pub examples: usize,
    /// What failed, by rule and example.
    pub failures: Vec<ProofFailure>,
}

/// Runs the examples of the rules that are named, or of all where none is; a name may be a topic (`capacitor`).
///
/// `run` inspects a fragment with this book.
pub fn prove(book: &RuleBook, names: &[String], run: &(dyn Fn(&str) -> Inspected + Sync)) -> ProofReport {
    let wanted = |rule: &Rule| names.is_empty() || names.iter().any(|n| *n == rule.name || n == rule.topic());
    let rules: Vec<&Rule> = book.rules().filter(|rule| wanted(rule)).collect();
    let examples: Vec<(&Rule, usize, &Example)> = rules
        .iter()
        .flat_map(|rule| {
            let numbered = rule.examples.iter().enumerate();
            numbered.map(move |(index, example)| (*rule, index + 1, example))
        })
        .collect();
    let failures = examples
        .par_iter()
        .filter_map(|(rule, number, example)| {
            let reasons = shortcomings(rule, example, &run(&example.design));
            (!reasons.is_empty()).then(|| ProofFailure {
                rule: rule.name.clone(),
                holds: example.holds,
                number: *number,
                span: example.span,
                reasons,
            })
        })
        .collect();
    ProofReport { rules: rules.len(), examples: examples.len(), failures }
}

fn shortcomings(rule: &Rule, example: &Example, inspected: &Inspected) -> Vec<String> {
    let report = &inspected.report;
    let mut reasons: Vec<String> = report
        .complaints
        .iter()
        .map(|complaint| format!("the fragment cannot be read: {}", complaint.message))
        .collect();
    let (own, others): (Vec<&Finding>, Vec<&Finding>) =
        report.findings.iter().partition(|finding| finding.rule == rule.name);
    reasons.extend(
        report
            .not_judged
            .iter()
            .filter(|open| open.rule == rule.name)
            .map(|open| format!("not judged for {}: {}", open.part, open.reason)),
    );
    reasons.extend(
        others
            .iter()
            .filter(|finding| finding.class.reaches(Class::Overstress))
            // The very mistake that an example shows may leave it without a solution.
            .filter(|finding| example.holds || finding.rule != UNSOLVED)
            .map(|finding| format!("{} speaks too: {}", finding.rule, finding.message)),
    );
    if example.holds {
        reasons.extend(own.iter().map(|finding| format!("it should be silent, and says: {}", finding.message)));
        return reasons;
    }
    match own.as_slice() {
        [] => reasons.push("it should be broken, and nothing was found".to_owned()),
        [finding] => reasons.extend(misplaced(example, finding, &inspected.facts)),
        several => reasons.push(format!(
            "it should be broken once, and is broken {} times: {}",
            several.len(),
            several.iter().map(|finding| finding.part.as_str()).collect::<Vec<_>>().join(", ")
        )),
    }
    reasons
}

/// Whether the finding points where the fact named by `at=` came from.
fn misplaced(example: &Example, finding: &Finding, facts: &FactTable) -> Option<String> {
    let at = example.at.as_deref()?;
    let places: Vec<Span> = facts
        .named(&finding.part)
        .filter_map(|subject| match facts.fact(subject, at) {
            Some(fact) => fact.origins.first().map(|origin| origin.span),
            None => facts.subject(subject).map(|subject| subject.span),
        })
        .collect();
    if places.is_empty() {
        return Some(format!("nothing called {} has a place", finding.part));
    }
    (!places.contains(&finding.span)).then(|| format!("the finding about {} does not point at its {at}", finding.part))
}
