//! Edits that might clear a finding. Whether they do is tried out by `actions` before anybody sees them.

use crate::facts::{SubjectKind, Value};
use crate::findings::Finding;
use crate::source::{FileId, Property, Scalar, Span, Spanned, Statement, parse};
use crate::units::{Dimension, parse_value};

use super::answer::{Edit, Place};
use super::completion::{is_bare, written};
use super::diagnostics::place;
use super::index::{Index, word};
use super::sheet::Sheet;

/// An edit to try.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    pub(super) title: String,
    pub(super) edits: Vec<Edit>,
    /// Whether it accepts the finding instead of mending it.
    pub(super) waives: bool,
}

/// The edits for a finding, in groups: of each group the first that works is enough.
pub(super) fn candidates(finding: &Finding, sheet: &Sheet, index: &Index) -> Vec<Vec<Candidate>> {
    let (statements, _) = parse(&sheet.sources, finding.span.file);
    let bench = Bench { finding, sheet, index, statements: &statements };
    let mend = match finding.rule.as_str() {
        "grid/leak-present" => bench.grid_leak(),
        "supply/bleeder" => bench.bleeder(),
        "heater/reference" => bench.heater_pair(),
        "capacitor/polarity" => bench.swap(),
        _ => bench.rating(),
    };
    [mend, bench.waive()].into_iter().filter(|group| !group.is_empty()).collect()
}

struct Bench<'a> {
    finding: &'a Finding,
    sheet: &'a Sheet,
    index: &'a Index,
    /// The statements of the file that the finding points at.
    statements: &'a [Statement],
}

/// The statements around a span, outermost first.
fn around(statements: &[Statement], span: Span) -> Vec<&Statement> {
    let mut found = Vec::new();
    let mut here = statements;
    while let Some(statement) = here.iter().find(|one| one.span.start <= span.start && span.end <= one.span.end) {
        found.push(statement);
        here = &statement.children;
    }
    found
}

impl Bench<'_> {
    fn text(&self, file: FileId) -> &str {
        self.sheet.sources.get(file).map_or("", |source| source.text.as_str())
    }

    fn replace(&self, span: Span, text: impl Into<String>) -> Edit {
        Edit { place: place(&self.sheet.sources, span), text: text.into() }
    }

    fn insert(&self, file: FileId, at: usize, text: impl Into<String>) -> Edit {
        self.replace(Span::new(file, at, at), text)
    }

    /// The statement of the part that the finding is about, with the statement around it where it stands in a stage,
    /// and the name that it has there.
    fn part_statement(&self) -> Option<(Statement, Option<String>)> {
        let facts = self.sheet.facts.as_ref()?;
        let design = self.sheet.design.as_ref()?;
        let subject = facts.named(&self.finding.part).find_map(|id| facts.subject(id)?.part.clone());
        let full = subject.unwrap_or_else(|| self.finding.part.clone());
        let part = design.part(design.find(&full)?);
        let (statements, _) = parse(&self.sheet.sources, part.span.file);
        let chain = around(&statements, part.name_span);
        let position = chain.iter().position(|statement| statement.span == part.span)?;
        let stage = position
            .checked_sub(1)
            .and_then(|outer| chain.get(outer))
            .and_then(|outer| outer.argument(0))
            .and_then(word);
        let scope = stage.map(|name| name.value).or_else(|| self.index.files.get(&part.span.file).cloned().flatten());
        chain.get(position).filter(|statement| !statement.broken).map(|statement| ((*statement).clone(), scope))
    }

    /// Lines put behind a statement, indented as it is.
    fn lines_behind(&self, statement: &Statement, lines: &[String]) -> Edit {
        let text = self.text(statement.span.file);
        let before = text.get(..statement.span.start).unwrap_or("");
        let line = before.rsplit(['\n', '\r']).next().unwrap_or("");
        let indent: String = line.chars().take_while(|c| c.is_whitespace() && *c != '\u{feff}').collect();
        let rest = text.get(statement.span.end..).unwrap_or("");
        let rest_of_line = rest.split(['\n', '\r']).next().unwrap_or("");
        let free = rest_of_line.trim().is_empty() || rest_of_line.trim_start().starts_with("//");
        let at = statement.span.end + if free { rest_of_line.len() } else { 0 };
        let inserted: String = lines.iter().map(|line| format!("\n{indent}{line}")).collect();
        self.insert(statement.span.file, at, inserted)
    }

    fn one(title: impl Into<String>, edits: Vec<Edit>) -> Candidate {
        Candidate { title: title.into(), edits, waives: false }
    }

    /// A leak from the grid to ground beside the tube: 1 MΩ where the tube bears it, less where it does not.
    fn grid_leak(&self) -> Vec<Candidate> {
        let Some((statement, scope)) = self.part_statement() else { return Vec::new() };
        let section = self.finding.part.rsplit('.').next().unwrap_or(&self.finding.part);
        let name = self.index.free(&scope, "R");
        ["1M", "470k", "220k", "100k"]
            .iter()
            .map(|value| {
                let line = format!("resistor {name} \"{value}\" from={section}.grid to=ground power=\"0.5W\" kind=metal-film note=\"grid leak\"");
                Self::one(format!("add a grid leak of {value} at {section}"), vec![self.lines_behind(&statement, &[line])])
            })
            .collect()
    }

    /// A resistor across a reservoir, sized for four times what it turns into heat.
    fn bleeder(&self) -> Vec<Candidate> {
        let Some((statement, scope)) = self.part_statement() else { return Vec::new() };
        let Some(facts) = self.sheet.facts.as_ref() else { return Vec::new() };
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
        let name = self.index.free(&scope, "R");
        [470e3, 220e3, 100e3, 47e3]
            .iter()
            .map(|ohms| {
                let heat = peak * peak / ohms;
                let power = self.sheet.bench.shelves.at_or_above(&[SubjectKind::Resistor], "rated-power", (4.0 * heat).max(1.0));
                let kind = if power >= 3.0 { "wirewound" } else { "metal-oxide" };
                let value = written(*ohms, Dimension::RESISTANCE);
                let line = format!(
                    "resistor {name} \"{value}\" from={} to={} power=\"{}\" kind={kind} voltage=\"500V\" note=\"bleeder\"",
                    quoted(&plus.value),
                    quoted(&minus.value),
                    written(power, Dimension::POWER)
                );
                Self::one(format!("add a bleeder of {value} across {}", self.finding.part), vec![self.lines_behind(&statement, &[line])])
            })
            .collect()
    }

    /// Two resistors from the ends of a heater winding to ground.
    fn heater_pair(&self) -> Vec<Candidate> {
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
        let first = self.index.free(&scope, "R");
        let number = first.get(1..).and_then(|number| number.parse::<usize>().ok()).unwrap_or(1);
        let second = (number + 1..).map(|number| format!("R{number}")).find(|name| !self.index.taken(&scope, name));
        let line = |name: &str, end: String| {
            format!(
                "resistor {name} \"100\" from={end} to=ground power=\"0.5W\" kind=metal-film note=\"heater reference\""
            )
        };
        let lines = [line(&first, end("start")), line(&second.unwrap_or_default(), end("finish"))];
        vec![Self::one(
            format!("tie both ends of {} to ground through 100 Ω", self.finding.part),
            vec![self.lines_behind(&statement, &lines)],
        )]
    }

    /// The plus and minus of a capacitor changed about.
    fn swap(&self) -> Vec<Candidate> {
        let Some((statement, _)) = self.part_statement() else { return Vec::new() };
        let (Some(plus), Some(minus)) = (statement.property("plus"), statement.property("minus")) else {
            return Vec::new();
        };
        let text = |property: &Property| self.sheet.sources.text(property.value.span).to_owned();
        let edits = vec![self.replace(plus.value.span, text(minus)), self.replace(minus.value.span, text(plus))];
        vec![Self::one(format!("swap plus and minus of {}", self.finding.part), edits)]
    }

    /// The value that the remedy names, in place of the one that the finding marks; or the rating that is not stated.
    fn rating(&self) -> Vec<Candidate> {
        let Some(remedy) = &self.finding.remedy else { return Vec::new() };
        let words: Vec<&str> = remedy.split_whitespace().map(|word| word.trim_matches([',', ';', ':', '.'])).collect();
        let quantities = |dimension: Dimension| {
            words.windows(2).filter_map(move |pair| {
                let number = pair.concat();
                let first = number.starts_with(|c: char| c.is_ascii_digit());
                first.then(|| parse_value(&number, dimension).ok()).flatten()
            })
        };
        let mut found = Vec::new();
        for label in self.finding.labels.iter().filter(|label| label.span.file == self.finding.span.file) {
            let Some(statement) = around(self.statements, label.span).pop() else { continue };
            let Some((value, dimension)) = marked(statement, label.span) else { continue };
            let Some(old) = word(value) else { continue };
            for number in quantities(dimension) {
                let new = written(number, dimension);
                let title = format!("change `{}` to `{new}`", old.value);
                found.push(Self::one(title, vec![self.replace(value.span, format!("\"{new}\""))]));
            }
        }
        if let Some((statement, _)) = self.part_statement()
            && statement.property("power").is_none()
            && let Some(number) = quantities(Dimension::POWER).next()
        {
            let new = written(number, Dimension::POWER);
            let after = statement.properties.last().map_or(statement.name.span.end, |property| property.value.span.end);
            let edit = self.insert(statement.span.file, after, format!(" power=\"{new}\""));
            found.push(Self::one(format!("state a rating of `{new}`"), vec![edit]));
        }
        found
    }

    /// A waiver at the part, or else at the end of the design. Its reason is left empty: until the builder gives one, the
    /// waiver is complained of and the finding stands.
    fn waive(&self) -> Vec<Candidate> {
        let rule = &self.finding.rule;
        let title = format!("waive {rule} for {}, and say why", self.finding.part);
        let waiver = |edits| Candidate { title: title.clone(), edits, waives: true };
        let mut found = Vec::new();
        if let Some((statement, _)) = self.part_statement() {
            found.push(waiver(vec![self.inside(&statement, &format!("waive \"{rule}\" because=\"\""))]));
        }
        if let Some(design) = self.sheet.design.as_ref() {
            let text = self.text(design.file);
            let part = match self.finding.part.as_str() {
                "design" => String::new(),
                part => format!(" part={}", quoted(part)),
            };
            let newline = if text.is_empty() || text.ends_with(['\n', '\r']) { "" } else { "\n" };
            let line = format!("{newline}waive \"{rule}\"{part} because=\"\"\n");
            found.push(waiver(vec![self.insert(design.file, text.len(), line)]));
        }
        found
    }

    /// A statement put inside another, as its last child.
    fn inside(&self, statement: &Statement, child: &str) -> Edit {
        let text = self.sheet.sources.text(statement.span);
        let file = statement.span.file;
        let Some(body) = text.strip_suffix('}') else {
            return self.insert(file, statement.span.end, format!(" {{ {child}; }}"));
        };
        let trimmed = body.trim_end_matches([' ', '\t']);
        let at = statement.span.start + trimmed.len();
        if trimmed.ends_with('\n') {
            let closing = body.get(trimmed.len()..).unwrap_or("");
            return self.insert(file, at, format!("{closing}    {child}\n"));
        }
        let mark = if trimmed.ends_with(['{', ';']) { " " } else { "; " };
        self.insert(file, at, format!("{mark}{child};"))
    }
}

fn quoted(reference: &str) -> String {
    if is_bare(reference) { reference.to_owned() } else { format!("\"{reference}\"") }
}

/// The value of a statement that lies under a mark, and what it is a quantity of.
fn marked(statement: &Statement, mark: Span) -> Option<(&Spanned<Scalar>, Dimension)> {
    let under = |value: &&Spanned<Scalar>| value.span.start <= mark.start && mark.end <= value.span.end;
    if let Some(value) = statement.argument(1).filter(under) {
        let dimension = match statement.name.value.as_str() {
            "resistor" | "potentiometer" => Dimension::RESISTANCE,
            "capacitor" => Dimension::CAPACITANCE,
            "choke" => Dimension::INDUCTANCE,
            "fuse" => Dimension::CURRENT,
            _ => return None,
        };
        return Some((value, dimension));
    }
    let property = statement.properties.iter().find(|property| under(&&property.value))?;
    let dimension = match property.name.value.as_str() {
        "voltage" | "surge" => Dimension::VOLTAGE,
        "power" => Dimension::POWER,
        "current" | "ripple" => Dimension::CURRENT,
        _ => return None,
    };
    Some((&property.value, dimension))
}

/// A text with edits made; nothing where they overlap.
pub(super) fn applied(text: &str, edits: &[&Edit]) -> Option<String> {
    let mut sorted = edits.to_vec();
    sorted.sort_by_key(|edit| (edit.place.start, edit.place.end));
    let mut result = String::with_capacity(text.len());
    let mut at = 0;
    for Edit { place: Place { start, end, .. }, text: new } in sorted {
        result.push_str(text.get(at..*start)?);
        result.push_str(new);
        at = *end;
    }
    result.push_str(text.get(at..)?);
    Some(result)
}
