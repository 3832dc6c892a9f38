//! Two revisions compared, for people at a terminal.

use crate::facts::Value;
use crate::findings::{Moved, Turn};
use crate::units::format_quantity;

use super::compare_stream::Compared;
use super::place::region_text;
use super::presentation::{Presentation, one_line, plural};
use super::text::told;

/// So many moved facts are shown in a text; JSON shows all.
const MOVED_SHOWN: usize = 12;

/// What has changed in one design; empty where there is nothing to tell.
pub(super) fn compared_as_text(compared: Compared<'_>, presentation: Presentation) -> String {
    if compared.is_silent() {
        return String::new();
    }
    let report = compared.new.or(compared.old).map(|(report, _)| report);
    let name = report.map_or("", |report| report.name.as_str());
    let revisions = compared.revisions().map(|text| format!(", {}", one_line(&text))).unwrap_or_default();
    let mut output = format!("{}{revisions} ({})", presentation.strong(&one_line(name)), compared.path);
    if let Some(standing) = compared.standing() {
        output.push_str(&format!(": {standing}"));
    }
    output.push('\n');
    let mut add = |text: &str, indent: usize| {
        output.push_str(&presentation.paragraph(&one_line(text), indent));
        output.push('\n');
    };
    for change in &compared.comparison.changes {
        let (Some(finding), Some(sources)) = (change.finding(), compared.sources(change.turn)) else { continue };
        let waived = if finding.waived.is_some() && change.turn != Turn::Waived { ", waived" } else { "" };
        let place = region_text(sources, finding.span);
        let words = change.turn.words();
        let told = told(finding);
        add(&format!("{words}{waived}: {} {} at {place}: {told}", finding.class.word(), finding.rule), 2);
        for because in &change.because {
            add(because, 6);
        }
        if let Some(remedy) = finding.remedy_told().filter(|_| matches!(change.turn, Turn::New | Turn::Worse)) {
            add(&format!("remedy: {remedy}"), 6);
        }
    }
    for open in &compared.comparison.no_longer_judged {
        add(&format!("not judged now: {} {}: {}", open.rule, open.part, open.reason), 2);
    }
    for (word, parts) in [("added", &compared.comparison.added), ("removed", &compared.comparison.removed)] {
        if !parts.is_empty() {
            add(&format!("{word}: {}", parts.join(", ")), 2);
        }
    }
    let moved = by_distance(&compared.comparison.moved);
    for one in moved.iter().take(MOVED_SHOWN) {
        add(&format!("moved: {}", moved_text(one)), 2);
    }
    if moved.len() > MOVED_SHOWN {
        add(&format!("and {} more moved (`--as json` shows each)", moved.len() - MOVED_SHOWN), 2);
    }
    let unchanged = compared.comparison.unchanged;
    if unchanged > 0 {
        add(&format!("{unchanged} {} unchanged", plural(unchanged, "finding", "findings")), 2);
    }
    output.push('\n');
    output
}

/// Those that moved furthest first; those whose distance is no share before them, in order.
pub(super) fn by_distance(moved: &[Moved]) -> Vec<&Moved> {
    let mut moved: Vec<&Moved> = moved.iter().collect();
    let distance = |one: &Moved| one.share().map_or(f64::INFINITY, f64::abs);
    moved.sort_by(|a, b| distance(b).total_cmp(&distance(a)));
    moved
}

/// `C10 peak-voltage: 338.1 V → 389.2 V (+15 %)`.
pub(super) fn moved_text(moved: &Moved) -> String {
    let value = |value: &Value| match value {
        Value::Quantity(number) => format_quantity(*number, moved.dimension()),
        Value::Flag(flag) => if *flag { "yes" } else { "no" }.to_owned(),
        Value::Word(word) => word.clone(),
    };
    let share = moved.share().map(|share| {
        let percent = (share * 100.0).abs();
        let sign = if share < 0.0 { "−" } else { "+" };
        if percent >= 1000.0 { format!("{sign}{percent:.0e} %") } else { format!("{sign}{percent:.0} %") }
    });
    let share = share.map(|share| format!(" ({share})")).unwrap_or_default();
    format!("{} {}: {} → {}{share}", moved.subject, moved.fact.name, value(&moved.before), value(&moved.after))
}
