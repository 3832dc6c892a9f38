//! `coldcheck why RULE [--in DESIGN [--part PART]]`

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};

use crate::facts::FactTable;
use crate::report::{
    CAUTION, LimitSource, WalkSheet, lesson_as_text, nearest_subject, subjects_named, walk_as_json, walk_as_text,
    walk_schema,
};
use crate::rules::{Appraisal, Rule, Standing, Walk, appraise, walk};
use crate::units::format_quantity;

use super::Exit;
use super::complaints::{open, tell};
use super::house::{House, Inspected};
use super::options::{Grounds, Looks};
use super::terminal::{for_results, print, say};

/// So many subjects of one part are walked through; the rest are listed.
const WALKS: usize = 4;

/// How to write the result.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum WhyFormat {
    /// For people.
    #[default]
    Text,
    /// One JSON document; needs --in.
    Json,
}

#[derive(Args)]
pub(super) struct Arguments {
    /// The rule's name, such as `capacitor/working-voltage`
    #[arg(required_unless_present = "schema", value_name = "RULE")]
    rule: Option<String>,
    /// Put a design's own numbers through the rule, step by step
    #[arg(long = "in", value_name = "DESIGN")]
    design: Option<PathBuf>,
    /// A part (C10), tube section (V1a), winding (T1.ht), net (bplus) or stage copy (left); the worst where not given
    #[arg(long, value_name = "PART", requires = "design")]
    part: Option<String>,
    /// How to write the result
    #[arg(long = "as", value_enum, default_value_t, value_name = "FORMAT", requires = "design")]
    format: WhyFormat,
    /// Print the JSON Schema of `--as json` and do nothing else
    #[arg(long)]
    schema: bool,
    #[command(flatten)]
    grounds: Grounds,
    #[command(flatten)]
    looks: Looks,
}

pub(super) fn run(arguments: &Arguments) -> Exit {
    let Some(name) = arguments.rule.as_ref().filter(|_| !arguments.schema) else {
        return print(&walk_schema(), Exit::Clear);
    };
    let designs: Vec<PathBuf> = arguments.design.iter().cloned().collect();
    let (house, exit) = open(&arguments.grounds, &arguments.looks, &designs);
    if let Some(path) = &arguments.design {
        return in_design(name, path, &house, arguments, exit);
    }
    let Some(sheet) = house.lesson(name) else {
        say(&house.unknown_rule(name));
        return Exit::Unreadable;
    };
    print(&lesson_as_text(&sheet, for_results(&arguments.looks)), exit)
}

fn in_design(name: &str, path: &Path, house: &House, arguments: &Arguments, exit: Exit) -> Exit {
    let (_, _, bench) = house.around(path);
    let Some(rule) = bench.rules.rule(name) else {
        say(&house.unknown_rule(name));
        return Exit::Unreadable;
    };
    let inspected = house.inspect(path);
    let exit = exit.max(tell(&inspected.report.complaints, &inspected.sources, &arguments.looks));
    let Some(facts) = &inspected.facts else {
        say("no fact of this design could be computed\n");
        return Exit::Unreadable;
    };
    let shelves = bench.grounds(super::house::today()).shelves;
    let mut others = appraise(rule, facts, shelves);
    let chosen = match chosen(arguments.part.as_deref(), &others, rule, facts, path) {
        Ok(chosen) => chosen,
        Err(sentence) => {
            say(&sentence);
            return Exit::Unreadable;
        }
    };
    let walks: Vec<Walk> = chosen.iter().filter_map(|one| walk(rule, facts, shelves, one)).collect();
    others.retain(|one| !chosen.contains(one));
    let limits = limit_sources(rule, path, house);
    let spoken = spoken(rule, &inspected);
    let quiet = bench.rules.quieted().find(|(quiet, _)| *quiet == rule.name).map(|(_, because)| because);
    let waived = inspected.report.findings.iter().filter(|finding| finding.rule == rule.name);
    let waived: Vec<(&str, &str)> =
        waived.filter_map(|one| Some((one.part.as_str(), one.waived.as_ref()?.because.as_str()))).collect();
    let sheet = WalkSheet {
        rule: &rule.name,
        class: rule.class,
        path,
        design: &inspected.report.name,
        walks: &walks,
        others: &others,
        limits: &limits,
        spoken: &spoken,
        quiet,
        waived: &waived,
        sources: &inspected.sources,
    };
    let text = match arguments.format {
        WhyFormat::Text => walk_as_text(&sheet, for_results(&arguments.looks)),
        WhyFormat::Json => {
            say(&format!("{CAUTION}\n"));
            walk_as_json(&sheet, &inspected.report.complaints)
        }
    };
    print(&text, exit)
}

/// The subjects to walk through: those of the part that is named, or else the one that is worst or nearest its limit.
///
/// # Errors
/// A sentence for the user, where nothing of that name is judged by the rule.
fn chosen(
    part: Option<&str>,
    all: &[Appraisal],
    rule: &Rule,
    facts: &FactTable,
    path: &Path,
) -> Result<Vec<Appraisal>, String> {
    let Some(part) = part else { return Ok(all.iter().take(1).cloned().collect()) };
    let named = subjects_named(facts, part);
    let Some(first) = named.first().and_then(|id| facts.subject(*id)) else {
        let hint = nearest_subject(facts, part).map(|name| format!("; did you mean `{name}`?")).unwrap_or_default();
        return Err(format!("`{}` has no `{part}`{hint}\n", path.display()));
    };
    let judged: Vec<Appraisal> = all.iter().filter(|one| named.contains(&one.subject)).take(WALKS).cloned().collect();
    let Some(check) = rule.check().filter(|_| judged.is_empty()) else { return Ok(judged) };
    let about: Vec<&str> = check.about.iter().map(|kind| kind.word()).collect();
    let such = all.iter().filter(|one| !matches!(one.standing, Standing::Elsewhere));
    let names: Vec<&str> = such.take(6).map(|one| one.name.as_str()).collect();
    let there = if names.is_empty() { String::new() } else { format!("; here: {}", names.join(", ")) };
    Err(format!("{} is about each {}, and `{part}` is a {}{there}\n", rule.name, about.join(", "), first.kind.word()))
}

/// The limits that the workshop has adjusted, with where and from what.
fn limit_sources(rule: &Rule, path: &Path, house: &House) -> Vec<LimitSource> {
    let (_, workshop, _) = house.around(path);
    let adjusts = workshop.map(|workshop| workshop.adjusts.as_slice()).unwrap_or_default();
    adjusts
        .iter()
        .filter(|adjust| adjust.rule.value == rule.name)
        .map(|adjust| {
            let before = house.as_built_in(&rule.name).and_then(|rule| rule.check());
            let before = before.and_then(|check| check.limits.iter().find(|limit| limit.name == adjust.limit.value));
            LimitSource {
                limit: adjust.limit.value.clone(),
                before: before.map(|limit| format_quantity(limit.value, limit.dimension)),
                span: adjust.value.span,
            }
        })
        .collect()
}

/// What the program itself has found in the rule's name, where it is one that it speaks for.
fn spoken(rule: &Rule, inspected: &Inspected) -> Option<Vec<String>> {
    let own = inspected.report.findings.iter().filter(|finding| finding.rule == rule.name);
    rule.check().is_none().then(|| own.map(|finding| finding.message.clone()).collect())
}
