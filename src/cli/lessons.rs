//! A rule made into the sheet that explains it.

use crate::report::{DeratingSheet, LessonSheet, Limit, ReferenceRule, SourceNote};
use crate::rules::{Advice, DeratingSet, Rule, RuleSource, Verdict};
use crate::source::Scalar;
use crate::units::format_quantity;

/// The sheet of a rule; `original` is the rule before the workshop adjusted it.
pub(super) fn lesson_sheet(rule: &Rule, original: Option<&Rule>) -> LessonSheet {
    let mut sheet = LessonSheet {
        name: rule.name.clone(),
        class: rule.class,
        about: "design".to_owned(),
        when: None,
        demand: rule.demand_text.clone(),
        raised: Vec::new(),
        limits: Vec::new(),
        lesson: rule.lesson.clone(),
        sources: notes(&rule.sources),
        examples: Vec::new(),
    };
    for (word, holds) in [("holds", true), ("breaks", false)] {
        let first = rule.examples.iter().find(|example| example.holds == holds);
        sheet.examples.extend(first.map(|example| (word.to_owned(), example.design.clone())));
    }
    let Verdict::Demand(check) = &rule.verdict else { return sheet };
    sheet.about = check.about.iter().map(|kind| kind.word()).collect::<Vec<_>>().join(", ");
    sheet.when = check.when.as_ref().map(|when| when.text().to_owned());
    sheet.raised = check.raises.iter().map(|raise| (raise.class, raise.when.text().to_owned())).collect();
    let built_in = original.and_then(Rule::check);
    sheet.limits = check
        .limits
        .iter()
        .map(|limit| {
            let before = built_in.and_then(|check| check.limits.iter().find(|known| known.name == limit.name));
            let adjusted = before.filter(|known| (known.value - limit.value).abs() > 1e-12 * known.value.abs());
            Limit {
                name: limit.name.clone(),
                value: format_quantity(limit.value, limit.dimension),
                adjusted_from: adjusted.map(|known| format_quantity(known.value, known.dimension)),
                derated: limit.derated.as_ref().map(|derated| (derated.by.clone(), notes(&derated.sources))),
                meaning: limit.meaning.clone(),
            }
        })
        .collect();
    sheet
}

/// The entry of a rule in the reference.
pub(super) fn reference_rule(rule: &Rule, original: Option<&Rule>) -> ReferenceRule {
    let remedies = rule.remedies.iter().map(Advice::written).collect();
    ReferenceRule { sheet: lesson_sheet(rule, original), remedies }
}

/// The built-in derating sets.
pub(super) fn derating_sheets() -> Vec<DeratingSheet> {
    let sheet = |set: &DeratingSet| DeratingSheet {
        name: set.name.clone(),
        about: set.about.clone(),
        settings: set
            .settings
            .iter()
            .map(|setting| {
                let value = match &setting.value.value {
                    Scalar::Number(number) => number.to_string(),
                    Scalar::Text(text) => text.clone(),
                    Scalar::Flag(_) | Scalar::Null => String::new(),
                };
                (setting.rule.value.clone(), setting.limit.value.clone(), value, notes(&setting.sources))
            })
            .collect(),
    };
    DeratingSet::built_in().iter().map(sheet).collect()
}

fn notes(sources: &[RuleSource]) -> Vec<SourceNote> {
    let note = |source: &RuleSource| SourceNote {
        title: source.document.clone(),
        detail: source.clause.clone(),
        from_memory: source.from_memory,
    };
    sources.iter().map(note).collect()
}
