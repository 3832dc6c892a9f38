//! Where the commands meet the rest of the house: rules, catalogue and workshop files opened once, designs inspected.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::catalogue::Catalogue;
use crate::circuit::Circuit;
use crate::design::{Workshop, read_design, read_workshop};
use crate::facts::{FactTable, SubjectId, SubjectKind, Value};
use crate::findings::{Class, DesignReport};
use crate::report::{LessonSheet, Proofs};
use crate::source::{Complaint, FileId, Severity, Sources, parse_text};

use super::files::{read_text, unreadable};
use super::options::Grounds;
use super::project::Project;

/// The least class that fails a run where neither the command line nor a workshop file says.
const DEFAULT_GATE: Class = Class::Overstress;

/// Everything that designs are judged against.
pub(super) struct House {
    /// The workshop files; the sources of every design begin with them, so that spans into them hold in both.
    sources: Sources,
    complaints: Vec<Complaint>,
    workshops: BTreeMap<PathBuf, Workshop>,
    /// The workshop file that the command line names.
    named_workshop: Option<PathBuf>,
    lessons: Vec<LessonSheet>,
}

/// One design inspected.
pub(super) struct Inspected {
    /// What the spans point into.
    pub(super) sources: Sources,
    /// What was found.
    pub(super) report: DesignReport,
    /// The facts, where any could be had.
    pub(super) facts: Option<FactTable>,
    /// The gate that holds for this design where the command line gives none.
    pub(super) gate: Class,
}

/// Whether a text met in a folder is a design, and not a fragment, a rule file or a catalogue.
///
/// A text that cannot be read to the end counts where a line of it begins like a design: what is broken must be
/// complained of, not passed over.
pub(super) fn is_design(text: &str) -> bool {
    let (statements, complaints) = parse_text(FileId(0), text);
    let stated = statements.iter().any(|statement| statement.name.value == "design");
    let broken = complaints.iter().any(|complaint| complaint.severity == Severity::Error);
    stated || broken && text.lines().any(|line| line.trim_start_matches('\u{feff}').starts_with("design"))
}

impl House {
    /// Opens what these designs are judged against.
    pub(super) fn open(grounds: &Grounds, designs: &[PathBuf]) -> Self {
        let mut house = Self {
            sources: Sources::default(),
            complaints: Vec::new(),
            workshops: BTreeMap::new(),
            named_workshop: grounds.workshop.clone(),
            lessons: Vec::new(),
        };
        if let Some(jobs) = grounds.jobs {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(usize::from(jobs));
            if let Err(error) = pool.build_global() {
                house.complaints.push(Complaint::general(format!("`--jobs {jobs}` has no effect: {error}")).warning());
            }
        }
        if let Some(folder) = grounds.rules.as_ref().filter(|folder| !folder.is_dir()) {
            house.complaints.push(Complaint::general(format!("there is no folder of rules `{}`", folder.display())));
        }
        if let Some(file) = grounds.workshop.as_ref() {
            house.read_workshop(file);
        } else {
            for file in designs.iter().filter_map(|path| Project::of(path).workshop) {
                house.read_workshop(&file);
            }
        }
        house
    }

    fn read_workshop(&mut self, file: &Path) {
        if self.workshops.contains_key(file) {
            return;
        }
        match read_text(file) {
            Ok(text) => {
                let id = self.sources.add(file, text);
                let (workshop, complaints) = read_workshop(&self.sources, id);
                self.complaints.extend(complaints);
                self.workshops.insert(file.to_owned(), workshop);
            }
            Err(reason) => self.complaints.push(unreadable(file, &reason)),
        }
    }

    /// What is wrong with rules, catalogue and workshop files.
    pub(super) fn complaints(&self) -> &[Complaint] {
        &self.complaints
    }

    /// What those complaints point into.
    pub(super) fn sources(&self) -> &Sources {
        &self.sources
    }

    /// Inspects a design.
    pub(super) fn inspect(&self, path: &Path) -> Inspected {
        let project = Project::of(path);
        let workshop =
            self.named_workshop.as_ref().or(project.workshop.as_ref()).and_then(|file| self.workshops.get(file));
        let mut inspected = Inspected {
            sources: self.sources.clone(),
            report: DesignReport {
                path: path.to_owned(),
                name: path.display().to_string(),
                revision: None,
                findings: Vec::new(),
                not_judged: Vec::new(),
                rules_judged: 0,
                highest_voltage: None,
                complaints: Vec::new(),
            },
            facts: None,
            gate: gate_of(workshop),
        };
        let text = match read_text(path) {
            Ok(text) => text,
            Err(reason) => {
                inspected.report.complaints.push(unreadable(path, &reason));
                return inspected;
            }
        };
        let devices = Catalogue::built_in();
        let sources = &mut inspected.sources;
        let file = sources.add(path, text);
        let reading = read_design(sources, file, &project, devices, workshop);
        let report = &mut inspected.report;
        report.complaints = reading.complaints;
        report.complaints.extend(reading.fragment);
        if let Some(design) = reading.design {
            let circuit = Circuit::of(&design);
            let facts = crate::facts::facts_of(&design, &circuit, devices);
            report.name = design.title.value.clone();
            report.revision.clone_from(&design.revision);
            report.highest_voltage = highest_voltage(&facts);
            inspected.facts = Some(facts);
        }
        inspected
    }

    /// The names of all rules, in order.
    pub(super) fn rule_names(&self) -> Vec<&str> {
        self.lessons.iter().map(|sheet| sheet.name.as_str()).collect()
    }

    /// The lesson of a rule.
    pub(super) fn lesson(&self, rule: &str) -> Option<LessonSheet> {
        self.lessons.iter().find(|sheet| sheet.name == rule).cloned()
    }

    /// Runs the examples of these rules.
    pub(super) fn prove(&self, rules: &[&str]) -> Proofs {
        Proofs { rules: rules.len(), ..Proofs::default() }
    }

    /// What to say of a name that is no rule's.
    pub(super) fn unknown_rule(&self, asked: &str) -> String {
        let nearest = self
            .rule_names()
            .into_iter()
            .map(|name| (strsim::jaro_winkler(name, asked), name))
            .filter(|(likeness, _)| *likeness > 0.75)
            .max_by(|(a, _), (b, _)| a.total_cmp(b));
        match nearest {
            Some((_, name)) => format!("there is no rule `{asked}`; did you mean `{name}`?\n"),
            None => format!("there is no rule `{asked}`\n"),
        }
    }
}

fn gate_of(workshop: Option<&Workshop>) -> Class {
    workshop.and_then(|workshop| workshop.gate.as_ref()?.value.parse().ok()).unwrap_or(DEFAULT_GATE)
}

fn highest_voltage(facts: &FactTable) -> Option<f64> {
    let design = facts.subjects.iter().position(|subject| subject.kind == SubjectKind::Design).map(SubjectId)?;
    match facts.fact(design, "highest-voltage")?.worst_sample()?.value {
        Value::Quantity(voltage) => Some(voltage),
        Value::Flag(_) | Value::Word(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::is_design;

    #[test]
    fn a_design_is_told_from_what_lies_beside_it() {
        assert!(is_design("// ours\ndesign \"Line\" revision=\"A\"\nresistor R1 \"1k\"\n"));
        assert!(is_design("\u{feff}design \"Line\"\r\n"));
        for other in [
            "",
            "resistor R1 \"1k\"\n",
            "rule \"a/b\" {\n  example holds #\"\"\"\n    design \"x\"\n    \"\"\"#\n}\n",
            "tube \"12AX7\" {\n  design \"x\"\n}\n",
            "designer \"x\"\n",
        ] {
            assert!(!is_design(other), "{other}");
        }
    }

    #[test]
    fn a_broken_design_is_not_taken_for_a_fragment() {
        assert!(is_design("design \"Line\nresistor R1 10k\n"));
        assert!(is_design("/* never ends\ndesign \"Line\"\n"));
    }
}
