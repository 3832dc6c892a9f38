//! The remedies of a whole report, each tried out on a copy.
//!
//! In rounds: the next candidate of every finding that has none yet, all edits of a round at once and each only once, so
//! that threads change nothing and a stage that is fitted twice costs one trial.

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::findings::{Checked, DesignReport, Edit, Finding, Remedy};

use super::bench::Drawn;
use super::trial::{Texts, changed, clears};
use super::{Candidate, candidates};

/// So many copies of a small design are inspected at most, and so many of one that is itself long to inspect. What is left
/// stays untried, and says so by not saying checked.
const TRIALS: std::ops::RangeInclusive<usize> = 16..=96;
/// Parts to be inspected over all trials, between those bounds.
const PARTS: usize = 10_000;

/// Tries the remedies of the findings that no waiver covers, and gives the findings' remedies as they then read: checked
/// where an edit has cleared the finding, without the value where none of those tried has.
///
/// `trial` inspects the design with some texts changed; nothing where it cannot be read.
pub(crate) fn prove(drawn: Drawn<'_>, trial: &(dyn Fn(&Texts) -> Option<DesignReport> + Sync)) -> Vec<Vec<Remedy>> {
    let report = drawn.report;
    let parts = drawn.design.map_or(0, |design| design.parts.len());
    let most = (PARTS / parts.max(1)).clamp(*TRIALS.start(), *TRIALS.end());
    let mut open: Vec<Open<'_>> = report.findings.iter().map(|finding| Open::of(finding, drawn)).collect();
    let mut known: BTreeMap<Vec<Edit>, Option<DesignReport>> = BTreeMap::new();
    loop {
        let mut due: Vec<Vec<Edit>> = Vec::new();
        // The most serious first, should there be more than can be tried.
        let mut order: Vec<&Open<'_>> = open.iter().collect();
        order.sort_by_key(|one| one.finding.class);
        for edits in order.into_iter().filter_map(Open::next).map(|candidate| &candidate.edits) {
            if !known.contains_key(edits) && !due.contains(edits) && known.len() + due.len() < most {
                due.push(edits.clone());
            }
        }
        if due.is_empty() && open.iter().all(|one| one.next().is_none_or(|next| !known.contains_key(&next.edits))) {
            break;
        }
        let tried: Vec<Option<DesignReport>> =
            due.par_iter().map(|edits| changed(edits, drawn.sources).and_then(|texts| trial(&texts))).collect();
        known.extend(due.into_iter().zip(tried));
        for one in &mut open {
            one.look(report, &known);
        }
    }
    open.into_iter().map(Open::told).collect()
}

/// A finding whose candidates are being tried.
struct Open<'a> {
    finding: &'a Finding,
    candidates: Vec<Candidate>,
    tried: usize,
    good: Option<usize>,
}

impl<'a> Open<'a> {
    fn of(finding: &'a Finding, drawn: Drawn<'_>) -> Self {
        // A copy is inspected as it is drawn, which tells nothing of a finding that rests on tolerances.
        let triable = finding.waived.is_none() && finding.by_tolerance.is_none();
        let candidates = if triable { candidates(finding, drawn) } else { Vec::new() };
        Self { finding, candidates, tried: 0, good: None }
    }

    /// The candidate whose turn it is.
    fn next(&self) -> Option<&Candidate> {
        self.candidates.get(self.tried).filter(|_| self.good.is_none())
    }

    /// Takes note of a trial of the next candidate, where there was one.
    fn look(&mut self, before: &DesignReport, known: &BTreeMap<Vec<Edit>, Option<DesignReport>>) {
        let Some(next) = self.next() else { return };
        let Some(after) = known.get(&next.edits) else { return };
        let cleared = after.as_ref().is_some_and(|after| clears(&next.edits, self.finding, before, after));
        if cleared {
            self.good = Some(self.tried);
        }
        self.tried += 1;
    }

    fn told(self) -> Vec<Remedy> {
        let mut remedies = self.finding.remedies.clone();
        for (place, remedy) in remedies.iter_mut().enumerate() {
            let good = self.good.and_then(|good| self.candidates.get(good)).filter(|good| good.remedy == place);
            if let Some(good) = good {
                remedy.text = good.advice.clone().unwrap_or_else(|| remedy.text.clone());
                remedy.checked = Some(Checked { title: good.title.clone(), edits: good.edits.clone() });
                continue;
            }
            let own = self.candidates.iter().enumerate().filter(|(_, candidate)| candidate.remedy == place);
            let (tried, left): (Vec<_>, Vec<_>) = own.partition(|(number, _)| *number < self.tried);
            // A trial that was not had says nothing against a value.
            if !tried.is_empty() && left.is_empty() {
                let values: Vec<&str> = tried.iter().filter_map(|(_, one)| one.value.as_deref()).collect();
                remedy.text = in_vain(&remedy.text, &values);
            }
        }
        remedies
    }
}

/// An advice of which nothing that was tried has worked: without the value where it names one.
fn in_vain(advice: &str, values: &[&str]) -> String {
    match values {
        [] => format!("{advice} (tried on a copy: alone it does not clear this, or brings something as serious)"),
        values => {
            format!("no single value clears this without bringing something as serious; tried: {}", values.join(", "))
        }
    }
}
