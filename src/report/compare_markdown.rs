//! A comparison as a summary for a pull request: what is new or worse first, the rest folded away.

use crate::findings::{Change, Class, Turn};
use crate::source::{Complaint, Sources};

use super::compare_stream::Compared;
use super::compare_text::moved_lines;
use super::markdown::{code, complaint_list, counted, ending, escaped, folded, headline};
use super::presentation::plural;

/// What a summary may hold, in bytes: a comment holds 65,536 characters, and the inspection's summary may stand beside it.
const MOST: usize = 56_000;
/// So many moved facts are shown of a design; JSON shows all.
const MOVED_SHOWN: usize = 40;

/// One design's comparison, rendered.
#[derive(Clone, Debug)]
pub(super) struct ComparedChapter {
    fresh: [usize; 4],
    turns: [usize; 6],
    fails: bool,
    body: String,
}

impl ComparedChapter {
    /// Renders the comparison of a design.
    pub(super) fn of(compared: Compared<'_>) -> Self {
        let comparison = compared.comparison;
        let fresh = |class: Class| {
            let counts = |change: &&Change| {
                change.after.as_ref().is_some_and(|after| after.class == class && after.waived.is_none())
            };
            comparison.turned(Turn::New).filter(counts).count()
        };
        Self {
            fresh: Class::ALL.map(fresh),
            turns: Turn::ALL.map(|turn| comparison.turned(turn).count()),
            fails: compared.fails,
            body: if compared.is_silent() { String::new() } else { body(compared) },
        }
    }
}

/// The summary of a comparison on its way: what fits is kept, the rest is counted.
#[derive(Clone, Debug, Default)]
pub(super) struct ComparedDigest {
    designs: usize,
    silent: usize,
    failing: usize,
    fresh: [usize; 4],
    turns: [usize; 6],
    bodies: String,
    left_out: usize,
}

impl ComparedDigest {
    /// Takes the next design.
    pub(super) fn add(&mut self, chapter: ComparedChapter) {
        self.designs += 1;
        self.failing += usize::from(chapter.fails);
        self.fresh.iter_mut().zip(chapter.fresh).for_each(|(total, count)| *total += count);
        self.turns.iter_mut().zip(chapter.turns).for_each(|(total, count)| *total += count);
        if chapter.body.is_empty() {
            self.silent += 1;
        } else if self.bodies.len() + chapter.body.len() < MOST {
            self.bodies.push_str(&chapter.body);
        } else {
            self.left_out += 1;
        }
    }

    /// The whole summary.
    pub(super) fn written(&self, complaints: &[Complaint], sources: &Sources, dangerous: bool) -> String {
        let fresh = if self.fresh.iter().sum::<usize>() == 0 {
            "no new findings".to_owned()
        } else {
            format!("new: {}", counted(self.fresh))
        };
        let mut output = format!("## Cold check compared: {fresh}\n\n");
        output.push_str(&complaint_list(complaints, sources));
        let head: Vec<&str> = Turn::ALL.map(Turn::words).to_vec();
        let counts: Vec<String> = self.turns.iter().map(usize::to_string).collect();
        output.push_str(&format!(
            "| {} |\n|--:|--:|--:|--:|--:|--:|\n| {} |\n\n",
            head.join(" | "),
            counts.join(" | ")
        ));
        output.push_str(&format!(
            "{} {} compared, {} without a change worth telling",
            self.designs,
            plural(self.designs, "design", "designs"),
            self.silent,
        ));
        if self.failing > 0 {
            let designs = plural(self.failing, "design brings", "designs bring");
            output.push_str(&format!("; **{} {designs} something at or above the gate**", self.failing));
        }
        output.push_str(".\n\n");
        output.push_str(&self.bodies);
        if self.left_out > 0 {
            let designs = plural(self.left_out, "design has", "designs have");
            output.push_str(&format!("{} more {designs} no room here; `--as json` shows them all.\n\n", self.left_out));
        }
        output.push_str(&ending(dangerous));
        output
    }
}

fn body(compared: Compared<'_>) -> String {
    let report = compared.new.or(compared.old).map(|(report, _)| report);
    let name = escaped(report.map_or("", |report| report.name.as_str()));
    let standing = compared.standing().map(|standing| format!(": {standing}")).unwrap_or_default();
    let revisions = compared.revisions().map(|text| format!(", {}", escaped(&text))).unwrap_or_default();
    let mut output = format!("### {name}{revisions}{standing}\n\n{}\n\n", code(compared.path));
    for (word, side) in [("older", compared.old), ("newer", compared.new)] {
        if let Some((report, sources)) = side.filter(|(report, _)| !report.complaints.is_empty()) {
            output.push_str(&format!("The {word} revision:\n\n{}", complaint_list(&report.complaints, sources)));
        }
    }
    let listed = |turns: &[Turn]| -> String {
        turns
            .iter()
            .flat_map(|turn| compared.comparison.turned(*turn))
            .map(|change| change_item(change, compared))
            .collect()
    };
    let open = listed(&[Turn::New, Turn::Worse, Turn::Unjudged]);
    if !open.is_empty() {
        output.push_str(&open);
        output.push('\n');
    }
    for (title, turn) in [("waived now", Turn::Waived), ("better", Turn::Better), ("cleared", Turn::Cleared)] {
        let count = compared.comparison.turned(turn).count();
        output.push_str(&folded(&format!("{count} {title}"), &listed(&[turn])));
    }
    let comparison = compared.comparison;
    let open: String = comparison
        .no_longer_judged
        .iter()
        .map(|open| format!("- {} {}: {}\n", code(&open.rule), escaped(&open.part), escaped(&open.reason)))
        .collect();
    output.push_str(&folded(&format!("{} not judged now", comparison.no_longer_judged.len()), &open));
    let mut parts = String::new();
    for (word, names) in [("added", &comparison.added), ("removed", &comparison.removed)] {
        if !names.is_empty() {
            parts.push_str(&format!("- {word}: {}\n", escaped(&names.join(", "))));
        }
    }
    output.push_str(&folded("Parts added and removed", &parts));
    let moved = moved_lines(&comparison.moved);
    let mut facts: String = moved.iter().take(MOVED_SHOWN).map(|line| format!("- {}\n", escaped(line))).collect();
    if moved.len() > MOVED_SHOWN {
        facts.push_str(&format!("- and {} more\n", moved.len() - MOVED_SHOWN));
    }
    let count = comparison.moved.len();
    output.push_str(&folded(&format!("{count} {} moved", plural(count, "fact", "facts")), &facts));
    output
}

fn change_item(change: &Change, compared: Compared<'_>) -> String {
    let (Some(finding), Some(sources)) = (change.finding(), compared.sources(change.turn)) else {
        return String::new();
    };
    let waived = if finding.waived.is_some() && change.turn != Turn::Waived { ", waived" } else { "" };
    let mut output = format!("- {}{waived}: {}\n", change.turn.words(), headline(finding, sources));
    for because in &change.because {
        output.push_str(&format!("  - {}\n", escaped(because)));
    }
    if let Some(remedy) = finding.remedy_told().filter(|_| matches!(change.turn, Turn::New | Turn::Worse)) {
        output.push_str(&format!("  - remedy: {}\n", escaped(&remedy)));
    }
    output
}
