//! Parts that are put in, and ends that are changed about.

use crate::design::word;
use crate::facts::{SubjectKind, Value};
use crate::source::{Property, Scalar, Span, Statement, parse};
use crate::units::{Dimension, as_written};

use super::Candidate;
use super::bench::{Bench, quoted};

impl Bench<'_> {
    /// A leak from the grid to ground beside the tube: 1 MΩ where the tube bears it, less where it does not.
    pub(super) fn grid_leak(&self) -> Vec<Candidate> {
        let Some((statement, scope)) = self.part_statement() else { return Vec::new() };
        let section = self.section();
        let name = self.drawn.index.free(&scope, "R");
        ["1M", "470k", "220k", "100k"]
            .iter()
            .map(|value| {
                let line = format!("resistor {name} \"{value}\" from={section}.grid to=ground power=\"0.5W\" kind=metal-film note=\"grid leak\"");
                Self::one(format!("add a grid leak of {value} at {section}"), value, vec![self.lines_behind(&statement, &[line])])
            })
            .collect()
    }

    /// The section of a tube that the finding is about, as its own scope names it.
    fn section(&self) -> &str {
        self.finding.part.rsplit('.').next().unwrap_or(&self.finding.part)
    }

    /// A resistor put between an electrode and everything that is joined to it.
    pub(super) fn stopper(&self, electrode: &str, values: &[&str]) -> Vec<Candidate> {
        // Inside a stage the electrode goes by the port's name, and a copy of the stage would be changed with the other.
        let Some((statement, scope @ None)) = self.part_statement() else { return Vec::new() };
        let section = self.section();
        let pin = format!("{section}.{electrode}");
        let net = self.free_net(&scope, &format!("{section}-{electrode}"));
        let mut edits = Vec::new();
        for file in self.drawn.index.files.keys() {
            let (statements, _) = parse(self.drawn.sources, *file);
            references(&statements, &pin, &mut |span| edits.push(Self::replace(span, quoted(&net))));
        }
        if edits.is_empty() {
            return Vec::new();
        }
        let name = self.drawn.index.free(&scope, "R");
        let behind = |value: &str| {
            let line = format!(
                "resistor {name} \"{value}\" from={net} to={pin} power=\"0.5W\" kind=metal-film note=\"stopper, at the socket pin\""
            );
            self.lines_behind(&statement, &[line])
        };
        values
            .iter()
            .map(|value| {
                let mut edits = edits.clone();
                edits.push(behind(value));
                Self::one(format!("add a stopper of {value} at {pin}"), value, edits)
            })
            .collect()
    }

    /// A name that no net of the scope has.
    pub(super) fn free_net(&self, scope: &Option<String>, wanted: &str) -> String {
        let numbered = (2..).map(|number| format!("{wanted}-{number}"));
        let mut names = std::iter::once(wanted.to_owned()).chain(numbered);
        names.find(|name| !self.drawn.index.taken(scope, name)).unwrap_or_default()
    }

    /// A resistor across a reservoir, sized for four times what it turns into heat.
    pub(super) fn bleeder(&self) -> Vec<Candidate> {
        let Some((statement, scope)) = self.part_statement() else { return Vec::new() };
        let Some(facts) = self.drawn.facts else { return Vec::new() };
        let subject = facts
            .named(&self.finding.part)
            .find(|id| facts.subject(*id).is_some_and(|s| s.kind == SubjectKind::Capacitor));
        let Some(subject) = subject else { return Vec::new() };
        let role = facts.value(subject, "role", 0, None);
        // Across a coupling capacitor a resistor would let the supply through.
        if !matches!(role, Some(Value::Word(role)) if role == "reservoir" || role == "decoupling") {
            return Vec::new();
        }
        let peak = ["no-load-peak", "peak-voltage"]
            .iter()
            .filter_map(|fact| facts.fact(subject, fact)?.worst_sample()?.value.number())
            .fold(0.0, f64::max);
        let end =
            |names: [&str; 2]| names.iter().find_map(|name| statement.property(name)).and_then(|end| word(&end.value));
        let (Some(plus), Some(minus)) = (end(["plus", "from"]), end(["minus", "to"])) else { return Vec::new() };
        let name = self.drawn.index.free(&scope, "R");
        [470e3, 220e3, 100e3, 47e3]
            .iter()
            .map(|ohms| {
                let heat = peak * peak / ohms;
                let power = self.drawn.shelves.at_or_above(&[SubjectKind::Resistor], "rated-power", (4.0 * heat).max(1.0));
                let kind = if power >= 3.0 { "wirewound" } else { "metal-oxide" };
                let value = as_written(*ohms, Dimension::RESISTANCE);
                let line = format!(
                    "resistor {name} \"{value}\" from={} to={} power=\"{}\" kind={kind} voltage=\"500V\" note=\"bleeder\"",
                    quoted(&plus.value),
                    quoted(&minus.value),
                    as_written(power, Dimension::POWER)
                );
                let title = format!("add a bleeder of {value} across {}", self.finding.part);
                Self::one(title, &value, vec![self.lines_behind(&statement, &[line])])
            })
            .collect()
    }

    /// Two resistors from the ends of a heater winding to ground.
    pub(super) fn heater_pair(&self) -> Vec<Candidate> {
        let Some((statement, scope)) = self.part_statement() else { return Vec::new() };
        let Some((_, winding)) = self.finding.part.rsplit_once('.') else { return Vec::new() };
        let child = statement.children.iter().find(|child| {
            child.name.value == "winding" && child.argument(0).and_then(word).is_some_and(|name| name.value == winding)
        });
        let part = statement.argument(0).and_then(word).map(|name| name.value).unwrap_or_default();
        let end = |name: &str| {
            let given = child.and_then(|child| child.property(name)).and_then(|end| word(&end.value));
            given.map_or_else(|| format!("{part}.{winding}.{name}"), |end| quoted(&end.value))
        };
        let index = self.drawn.index;
        let first = index.free(&scope, "R");
        let number = first.get(1..).and_then(|number| number.parse::<usize>().ok()).unwrap_or(1);
        let second = (number + 1..).map(|number| format!("R{number}")).find(|name| !index.taken(&scope, name));
        let line = |name: &str, end: String| {
            format!(
                "resistor {name} \"100\" from={end} to=ground power=\"0.5W\" kind=metal-film note=\"heater reference\""
            )
        };
        let lines = [line(&first, end("start")), line(&second.unwrap_or_default(), end("finish"))];
        vec![Self::one(
            format!("tie both ends of {} to ground through 100 Ω", self.finding.part),
            "100 Ω",
            vec![self.lines_behind(&statement, &lines)],
        )]
    }

    /// The plus and minus of a capacitor changed about.
    pub(super) fn swap(&self) -> Vec<Candidate> {
        let Some((statement, _)) = self.part_statement() else { return Vec::new() };
        let (Some(plus), Some(minus)) = (statement.property("plus"), statement.property("minus")) else {
            return Vec::new();
        };
        let text = |property: &Property| self.drawn.sources.text(property.value.span).to_owned();
        let edits = vec![Self::replace(plus.value.span, text(minus)), Self::replace(minus.value.span, text(plus))];
        vec![Self::one(format!("swap plus and minus of {}", self.finding.part), "", edits)]
    }
}

/// The places outside stages where a reference is written: ends of parts, wires, readings.
pub(super) fn references(statements: &[Statement], name: &str, found: &mut dyn FnMut(Span)) {
    for statement in statements.iter().filter(|statement| statement.name.value != "stage") {
        // A net may share its name with a part or a stage: of most statements the arguments are names and values.
        let named = if matches!(statement.name.value.as_str(), "wire" | "reading") { usize::MAX } else { 0 };
        let arguments = statement.arguments.iter().take(named);
        for value in arguments.chain(statement.properties.iter().map(|property| &property.value)) {
            if matches!(&value.value, Scalar::Text(text) if text == name) {
                found(value.span);
            }
        }
        references(&statement.children, name, found);
    }
}
