//! Findings that the program makes itself and tells in the name of a rule: its class, remedies and lesson are in the rule file.

use crate::findings::{Finding, Remedy, Spoken};

use super::book::RuleBook;
use super::rule::Verdict;

impl RuleBook {
    /// The finding that is told in a rule's name. `None` where the rule is kept quiet, where no rule is called so, or where the
    /// rule is judged by a demand and nobody else may speak for it.
    #[must_use]
    pub fn speak(&self, spoken: Spoken) -> Option<Finding> {
        let rule = self.rule(&spoken.rule)?;
        if self.is_quiet(&rule.name) || !matches!(rule.verdict, Verdict::FoundBy(_)) {
            return None;
        }
        let remedies =
            rule.remedies.iter().map(|remedy| Remedy::untried(remedy.text.fill_plainly(&spoken.part))).collect();
        let span = spoken.labels.first()?.span;
        Some(Finding {
            rule: rule.name.clone(),
            class: rule.class,
            part: spoken.part,
            message: spoken.message,
            remedies,
            state: spoken.state,
            empty_socket: None,
            lineup: spoken.lineup,
            span,
            labels: spoken.labels,
            facts: Vec::new(),
            excess: 0.0,
            waived: None,
            by_tolerance: None,
        })
    }
}
