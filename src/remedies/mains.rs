//! The mains side: fuse and switch put where they belong, rated for it, and the chassis joined to earth.
//!
//! Only where the inlet and the part stand at the top level of one file; what is spread further is left to the builder.

use crate::design::{Kind, word};
use crate::facts::{SubjectKind, Value};
use crate::findings::Edit;
use crate::source::{Span, Statement, parse};
use crate::units::{Dimension, as_written};

use super::Candidate;
use super::bench::{Bench, quoted};
use super::parts::references;
use super::scale::scale;

/// The statements of the file that the inlet stands in, and the nets that it is joined to.
struct Side {
    statements: Vec<Statement>,
    inlet: Statement,
    live: String,
}

fn end(statement: &Statement, name: &str) -> Option<String> {
    word(&statement.property(name)?.value).map(|word| word.value)
}

fn within(span: Span, one: &Statement) -> bool {
    one.span.start <= span.start && span.end <= one.span.end
}

impl Side {
    /// A part at the top level that stands between the inlet and the transformer.
    fn part(&self, bench: &Bench<'_>, keyword: &str) -> Option<&Statement> {
        let facts = bench.drawn.facts?;
        self.statements.iter().filter(|one| one.name.value == keyword && !one.broken).find(|one| {
            let name = one.argument(0).and_then(word).map(|name| name.value).unwrap_or_default();
            facts.named(&name).any(|id| facts.value(id, "on-mains-side", 0, None) == Some(&Value::Flag(true)))
        })
    }

    /// The edits that rename a net everywhere but in what delivers it.
    fn renamed(&self, old: &str, new: &str, besides: Option<&Statement>, edits: &mut Vec<Edit>) {
        let delivers = |one: &&Statement| {
            matches!(one.name.value.as_str(), "fuse" | "switch") && end(one, "to").as_deref() == Some(old)
        };
        let kept: Vec<&Statement> =
            self.statements.iter().filter(delivers).chain([&self.inlet]).chain(besides).collect();
        references(&self.statements, old, &mut |span| {
            if !kept.iter().any(|one| within(span, one)) {
                edits.push(Bench::replace(span, quoted(new)));
            }
        });
    }

    /// A part taken out of where it stands, its two nets made one there, and put behind the net `at`.
    fn moved(&self, part: &Statement, at: &str, behind: &str) -> Option<Vec<Edit>> {
        let (from, to) = (end(part, "from")?, end(part, "to")?);
        let at_inlet = |net: &str| {
            let mut found = false;
            references(std::slice::from_ref(&self.inlet), net, &mut |_| found = true);
            found
        };
        let (kept, dropped) = if at_inlet(&to) { (to, from) } else { (from, to) };
        if at_inlet(&dropped) {
            return None;
        }
        let mut edits = Vec::new();
        self.renamed(at, behind, Some(part), &mut edits);
        let kept = if kept == at { behind } else { &kept };
        references(&self.statements, &dropped, &mut |span| {
            if !within(span, part) {
                edits.push(Bench::replace(span, quoted(kept)));
            }
        });
        edits.push(Bench::replace(part.property("from")?.value.span, quoted(at)));
        edits.push(Bench::replace(part.property("to")?.value.span, quoted(behind)));
        Some(edits)
    }
}

impl Bench<'_> {
    fn mains_side(&self) -> Option<Side> {
        let design = self.drawn.design?;
        let inlet = design.parts.iter().find(|part| matches!(part.kind, Kind::Inlet(_)))?;
        let (statements, _) = parse(self.drawn.sources, inlet.span.file);
        let inlet = statements.iter().find(|one| one.span == inlet.span && !one.broken)?.clone();
        let live = end(&inlet, "live")?;
        Some(Side { statements, inlet, live })
    }

    /// The fuse that there is moved into the live lead, or one put there.
    pub(super) fn fuse(&self) -> Vec<Candidate> {
        let Some(side) = self.mains_side() else { return Vec::new() };
        let behind = self.free_net(&None, &format!("{}-fused", side.live));
        if let Some(fuse) = side.part(self, "fuse") {
            let name = fuse.argument(0).and_then(word).map(|name| name.value).unwrap_or_default();
            let edits = side.moved(fuse, &side.live, &behind);
            let title = format!("move {name} into the live lead, behind the inlet");
            return edits.into_iter().map(|edits| Self::one(title.clone(), "", edits)).collect();
        }
        let Some(current) = self.of_design("mains-current") else { return Vec::new() };
        let shelf = (SubjectKind::Fuse, "rated-current");
        let name = self.drawn.index.free(&None, "F");
        let rated = |amperes: f64| {
            let value = as_written(amperes, Dimension::CURRENT);
            let mut edits = Vec::new();
            side.renamed(&side.live, &behind, None, &mut edits);
            let line =
                format!("fuse {name} \"{value}\" from={} to={behind} speed=slow voltage=\"250V\"", quoted(&side.live));
            edits.push(self.lines_behind(&side.inlet, &[line]));
            Self::one(format!("put a slow fuse of {value} into the live lead, behind the inlet"), &value, edits)
        };
        scale(self.drawn.shelves, shelf, 1.6 * current, None).into_iter().map(rated).collect()
    }

    /// The switch that there is moved into the live lead, behind the fuse.
    pub(super) fn live_switch(&self) -> Vec<Candidate> {
        let Some(side) = self.mains_side() else { return Vec::new() };
        let Some(switch) = side.part(self, "switch") else { return Vec::new() };
        let name = switch.argument(0).and_then(word).map(|name| name.value).unwrap_or_default();
        let fuse = side.part(self, "fuse").filter(|fuse| end(fuse, "from").as_ref() == Some(&side.live));
        let at = fuse.and_then(|fuse| end(fuse, "to")).unwrap_or_else(|| side.live.clone());
        let behind = self.free_net(&None, &format!("{}-switched", side.live));
        let edits = side.moved(switch, &at, &behind);
        let title = format!("move {name} into the live lead, behind the fuse");
        edits.into_iter().map(|edits| Self::one(title.clone(), "", edits)).collect()
    }

    /// Ratings that a small amplifier's mains switch has.
    pub(super) fn switch_rated(&self) -> Vec<Candidate> {
        let Some((statement, _)) = self.part_statement() else { return Vec::new() };
        let edits = self.set(&statement, &[("voltage", "\"250V\""), ("current", "\"2A\"")]);
        vec![Self::one(format!("fit a switch rated 250 V and 2 A for {}", self.finding.part), "250 V and 2 A", edits)]
    }

    /// The chassis joined to protective earth, and ground to the chassis: as much of it as is missing.
    pub(super) fn earth(&self) -> Vec<Candidate> {
        let Some(side) = self.mains_side() else { return Vec::new() };
        let earth = end(&side.inlet, "earth").unwrap_or_else(|| "earth".to_owned());
        let chassis = format!("wire chassis {}", quoted(&earth));
        let ground = "wire ground chassis".to_owned();
        let ways = [vec![chassis.clone()], vec![ground.clone()], vec![chassis, ground]];
        ways.into_iter()
            .map(|lines| {
                let title = format!("add `{}`", lines.join("` and `"));
                Self::one(title, "", vec![self.lines_behind(&side.inlet, &lines)])
            })
            .collect()
    }

    /// A capacitor of a safety class, of at most so many farads where that matters.
    pub(super) fn safety_class(&self, class: &str, most: Option<f64>) -> Vec<Candidate> {
        let Some((statement, _)) = self.part_statement() else { return Vec::new() };
        let mut edits = self.set(&statement, &[("class", class), ("kind", "safety")]);
        let mut title = format!("fit one of class {class} for {}", self.finding.part);
        let value = statement.argument(1);
        let farads = self.of_part(SubjectKind::Capacitor, "capacitance");
        if let (Some(most), Some(value)) = (most.filter(|most| farads.is_some_and(|farads| farads > *most)), value) {
            let written = as_written(most, Dimension::CAPACITANCE);
            edits.push(Self::replace(value.span, format!("\"{written}\"")));
            title = format!("fit one of {written} and class {class} for {}", self.finding.part);
        }
        vec![Self::one(title, class, edits)]
    }
}
