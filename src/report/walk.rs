//! A rule walked through with a design's own numbers, for people with a pencil.

use std::path::Path;

use crate::findings::Class;
use crate::rules::{Appraisal, Figure, LimitUsed, Standing, Step, Turning, Walk};
use crate::source::{Sources, Span};
use crate::units::format_ratio;

use super::caution::CAUTION;
use super::place::region;
use super::presentation::{Presentation, one_line};

/// So many places are named of one figure.
const PLACES: usize = 3;
/// So many other subjects are named of one standing.
const NAMES: usize = 12;

/// A limit that a workshop file has adjusted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LimitSource {
    /// Its name.
    pub limit: String,
    /// The value that the rule itself has.
    pub before: Option<String>,
    /// Where it was adjusted.
    pub span: Span,
}

/// A rule put to a design.
#[derive(Clone, Copy, Debug)]
pub struct WalkSheet<'a> {
    /// The rule's name.
    pub rule: &'a str,
    /// Its class, where nothing raises it.
    pub class: Class,
    /// The design's path.
    pub path: &'a Path,
    /// The design's title.
    pub design: &'a str,
    /// The subjects that are walked through.
    pub walks: &'a [Walk],
    /// The other subjects that the rule is about, in order of how near they are.
    pub others: &'a [Appraisal],
    /// The limits that a workshop file has adjusted.
    pub limits: &'a [LimitSource],
    /// For a rule that the program judges itself: what it has found.
    pub spoken: &'a Option<Vec<String>>,
    /// Why the workshop keeps the rule quiet, where it does.
    pub quiet: Option<&'a str>,
    /// The subjects whose finding is waived, with the reason.
    pub waived: &'a [(&'a str, &'a str)],
    /// What the spans point into.
    pub sources: &'a Sources,
}

/// The walk as text.
#[must_use]
pub fn walk_as_text(sheet: &WalkSheet<'_>, presentation: Presentation) -> String {
    let mut pen = Pen { sheet, presentation, output: String::new() };
    let title = format!("{} in {}", sheet.rule, sheet.path.display());
    pen.output.push_str(&format!("{}\n", presentation.strong(&one_line(&title))));
    if let Some(because) = sheet.quiet {
        pen.line(0, &format!("the workshop keeps this rule quiet: {because}"));
    }
    if let Some(found) = sheet.spoken {
        pen.line(0, "no formula decides here: the program finds this by itself");
        for message in found {
            pen.line(2, message);
        }
        if found.is_empty() {
            pen.line(2, "nothing was found");
        }
    } else if sheet.walks.is_empty() {
        pen.line(0, "nothing in this design is of the kind that the rule is about");
    }
    for walk in sheet.walks {
        pen.output.push('\n');
        pen.walk(walk);
    }
    pen.others();
    pen.output.push('\n');
    pen.output.push_str(&presentation.warning(&presentation.wrap(CAUTION, 2)));
    pen.output.push('\n');
    pen.output
}

struct Pen<'a> {
    sheet: &'a WalkSheet<'a>,
    presentation: Presentation,
    output: String,
}

impl Pen<'_> {
    fn line(&mut self, indent: usize, text: &str) {
        self.output.push_str(&self.presentation.paragraph(&one_line(text), indent));
        self.output.push('\n');
    }

    fn walk(&mut self, walk: &Walk) {
        let choice = match &walk.standing {
            Standing::Broken { .. } => ", where it is worst",
            Standing::Kept { margin: Some(_) } => ", where it comes nearest to its limit",
            _ => "",
        };
        let whom = if walk.part == walk.kind.word() {
            format!("the {}", walk.part)
        } else {
            format!("{} ({})", walk.part, walk.kind.word())
        };
        let when = circumstances(walk);
        self.output.push_str(&format!("{} {when}{choice}\n", self.presentation.strong(&one_line(&whom))));
        self.figures(walk);
        if !walk.limits.is_empty() {
            self.line(2, "limits");
        }
        for limit in &walk.limits {
            self.limit(limit);
        }
        self.steps("judged where", &walk.guard);
        self.steps("the demand, step by step", &walk.demand);
        self.steps("more serious because", &walk.raised);
        self.verdict(walk);
        self.turnings(walk);
    }

    fn figures(&mut self, walk: &Walk) {
        if !walk.figures.is_empty() {
            self.line(2, "figures");
        }
        for figure in &walk.figures {
            let owner = if figure.of_design { ", of the design" } else { "" };
            let state = figure.state.map(|state| format!(" in {}", state.name())).unwrap_or_default();
            let whence = self.whence(figure);
            match &figure.value {
                Ok(value) => self.line(4, &format!("{} = {value}{state}{owner} ({whence})", figure.name)),
                Err(reason) => self.line(4, &format!("{}{owner} is not known: {reason} ({whence})", figure.name)),
            }
            self.line(8, figure.meaning);
            for assumption in &figure.assumptions {
                self.line(8, &format!("~ {assumption}"));
            }
        }
    }

    /// The analysis that gives a figure, and the places that it came from.
    fn whence(&self, figure: &Figure) -> String {
        let mut places: Vec<String> = Vec::new();
        for origin in &figure.origins {
            let place = self.place(origin.span);
            if !places.contains(&place) {
                places.push(place);
            }
        }
        let more = places.len().saturating_sub(PLACES);
        places.truncate(PLACES);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        let places = if places.is_empty() { String::new() } else { format!("; {}", places.join(", ")) };
        format!("{}{places}{more}", figure.analysis)
    }

    /// `line 18` of the design itself, `shared/supply.kdl:18` of another file.
    fn place(&self, span: Span) -> String {
        let region = region(self.sheet.sources, span);
        if Path::new(&region.file) == self.sheet.path {
            format!("line {}", region.line)
        } else {
            format!("{}:{}", region.file, region.line)
        }
    }

    fn limit(&mut self, limit: &LimitUsed) {
        let adjusted = self.sheet.limits.iter().find(|source| source.limit == limit.name);
        let whence = match adjusted {
            None => "the rule's own".to_owned(),
            Some(source) => {
                let before = source.before.as_ref().map(|before| format!("; {before} in the rule")).unwrap_or_default();
                format!("adjusted by the workshop at {}{before}", self.place(source.span))
            }
        };
        self.line(4, &format!("{} = {} ({whence}): {}", limit.name, limit.value, limit.meaning));
    }

    fn steps(&mut self, title: &str, steps: &[Step]) {
        if !steps.is_empty() {
            self.line(2, title);
        }
        for step in steps {
            self.line(4, &step_text(step));
        }
    }

    fn verdict(&mut self, walk: &Walk) {
        let text = match &walk.standing {
            Standing::Broken { class, message } => {
                let waived = self.sheet.waived.iter().find(|(part, _)| *part == walk.part);
                let waived = waived.map(|(_, because)| format!(" (waived: {because})")).unwrap_or_default();
                format!("verdict: broken, {}: {message}{waived}", class.word())
            }
            Standing::Kept { margin: Some(margin) } => format!("verdict: kept{}", margin_text(*margin)),
            Standing::Kept { margin: None } => "verdict: kept".to_owned(),
            Standing::Elsewhere => "verdict: the rule does not apply here, its condition is not met".to_owned(),
            Standing::Open(reason) => format!("verdict: not judged, because {reason}; that is not a pass"),
        };
        self.line(2, &text);
    }

    fn turnings(&mut self, walk: &Walk) {
        let broken = matches!(walk.standing, Standing::Broken { .. });
        // What is written in the design comes first: that is what can be chosen.
        let written = |one: &&Turning| {
            let figure = walk.figures.iter().find(|figure| figure.name == one.fact);
            figure.is_some_and(|figure| figure.analysis.starts_with("stated"))
        };
        let (first, then): (Vec<&Turning>, Vec<&Turning>) = walk.turnings.iter().partition(written);
        let said: Vec<String> = first.into_iter().chain(then).map(|one| turning_text(one, broken)).collect();
        if said.is_empty() {
            return;
        }
        let alone =
            if said.len() > 1 { "; each by itself, everything else as it is" } else { ", everything else as it is" };
        let text = if broken {
            format!("it would be kept with {}{alone}", said.join(", or with "))
        } else {
            format!("it stays kept as long as {}{alone}", said.join(", and as long as "))
        };
        self.line(2, &text);
    }

    fn others(&mut self) {
        if self.sheet.others.is_empty() {
            return;
        }
        self.output.push_str("\nthe same rule elsewhere in this design\n");
        let named = |pick: &dyn Fn(&Standing) -> Option<String>| -> Vec<String> {
            let all = self.sheet.others.iter().filter_map(|one| Some(format!("{}{}", one.name, pick(&one.standing)?)));
            all.collect()
        };
        let lists = [
            (
                "broken",
                named(&|standing| match standing {
                    Standing::Broken { class, .. } => Some(format!(" ({})", class.word())),
                    _ => None,
                }),
            ),
            (
                "kept",
                named(&|standing| match standing {
                    Standing::Kept { margin } => {
                        Some(margin.map(|margin| format!(" ({})", share(margin))).unwrap_or_default())
                    }
                    _ => None,
                }),
            ),
            ("not judged", named(&|standing| matches!(standing, Standing::Open(_)).then(String::new))),
            ("does not apply", named(&|standing| matches!(standing, Standing::Elsewhere).then(String::new))),
        ];
        for (word, mut names) in lists {
            let more = names.len().saturating_sub(NAMES);
            names.truncate(NAMES);
            if !names.is_empty() {
                let more = if more > 0 { format!(" and {more} more") } else { String::new() };
                self.line(2, &format!("{word}: {}{more}", names.join(", ")));
            }
        }
    }
}

fn circumstances(walk: &Walk) -> String {
    let state = match (walk.state, &walk.empty_socket) {
        (Some(state), Some(socket)) => format!("in {} {socket}", state.name()),
        (Some(state), None) => format!("in {}", state.name()),
        (None, _) => "in every state".to_owned(),
    };
    let tubes: Vec<String> = walk.lineup.iter().map(|(socket, tube)| format!("{socket} = {tube}")).collect();
    if tubes.is_empty() { format!("{state}, tubes as drawn") } else { format!("{state}, with {}", tubes.join(", ")) }
}

/// `share * rated-voltage = 0.9 * 350 V = 315 V`, `known(role): yes`.
fn step_text(step: &Step) -> String {
    let result = match (&step.result, step.holds) {
        (_, Some(true)) => "yes".to_owned(),
        (_, Some(false)) => "no".to_owned(),
        (Ok(result), None) => result.clone(),
        (Err(reason), _) => format!("unknown: {reason}"),
    };
    match (step.numbers.as_str(), step.holds) {
        ("", _) => format!("{}: {result}", step.formula),
        (numbers, None) if step.result.is_err() => format!("{}: {numbers}: {result}", step.formula),
        (numbers, Some(_)) => format!("{}: {numbers}? {result}", step.formula),
        (numbers, None) => format!("{} = {numbers} = {result}", step.formula),
    }
}

fn turning_text(one: &Turning, broken: bool) -> String {
    match (broken, one.above) {
        (true, true) => format!("{} of {} or more", one.fact, one.shown),
        (true, false) => format!("{} of {} or less", one.fact, one.shown),
        (false, true) => format!("{} is {} or more", one.fact, one.shown),
        (false, false) => format!("{} is {} or less", one.fact, one.shown),
    }
}

fn share(margin: f64) -> String {
    if margin.is_infinite() {
        "without bound".to_owned()
    } else {
        format!("{} % to spare", format_ratio((margin * 100.0).round()))
    }
}

fn margin_text(margin: f64) -> String {
    format!(", {}", share(margin))
}
