//! Where the commands meet the rest of the house: rules, catalogue and workshop files opened once, designs inspected.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::design::{DesignReading, Workshop, read_design, read_fragment, read_workshop};
use crate::facts::FactTable;
use crate::findings::{Class, DesignReport};
use crate::inspection::{Inspection, inspect};
use crate::report::{LessonSheet, Proofs};
use crate::rules;
use crate::source::{Complaint, FileId, Severity, Sources, parse_text};
use crate::substitution::{Roll, roll};

use super::bench::Bench;
use super::files::{read_text, unreadable};
use super::lessons::lesson_sheet;
use super::options::Grounds;
use super::project::Project;

/// The least class that fails a run where neither the command line nor a workshop file says.
const DEFAULT_GATE: Class = Class::Overstress;

/// Everything that designs are judged against.
pub(super) struct House {
    /// Workshop and rule files; the sources of every design begin with them, so that spans into them hold in both.
    sources: Sources,
    complaints: Vec<Complaint>,
    /// What designs without a workshop file are judged against.
    plain: Bench,
    workshops: BTreeMap<PathBuf, (Workshop, Bench)>,
    /// The workshop file that the command line names.
    named_workshop: Option<PathBuf>,
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

/// The tubes of a design rolled.
pub(super) struct Rolled {
    /// Every file that was read on the way.
    pub(super) sources: Sources,
    /// What could not be read.
    pub(super) complaints: Vec<Complaint>,
    /// The design's title.
    pub(super) name: String,
    /// The sockets; none where the design could not be read or has no such socket.
    pub(super) roll: Option<Roll>,
}

impl House {
    /// Opens what these designs are judged against.
    pub(super) fn open(grounds: &Grounds, designs: &[PathBuf]) -> Self {
        let mut sources = Sources::default();
        let mut complaints = Vec::new();
        let plain = Bench::built_in(grounds.rules.as_deref(), &mut sources, &mut complaints);
        let mut house =
            Self { sources, complaints, plain, workshops: BTreeMap::new(), named_workshop: grounds.workshop.clone() };
        if let Some(jobs) = grounds.jobs {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(usize::from(jobs));
            if let Err(error) = pool.build_global() {
                house.complaints.push(Complaint::general(format!("`--jobs {jobs}` has no effect: {error}")).warning());
            }
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
                let bench = self.plain.under(&workshop, file, &mut self.sources, &mut self.complaints);
                self.workshops.insert(file.to_owned(), (workshop, bench));
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
        let (workshop, bench) = self.for_design(path);
        let (sources, reading) = self.read(path, workshop, bench);
        let Inspection { report, facts } = inspect(path, reading, bench.grounds());
        Inspected { sources, report, facts, gate: gate_of(workshop) }
    }

    /// Puts other tubes into the sockets of a design, or into one of them.
    pub(super) fn roll(&self, path: &Path, socket: Option<&str>) -> Rolled {
        let (workshop, bench) = self.for_design(path);
        let (sources, reading) = self.read(path, workshop, bench);
        let name = reading.design.as_ref().map(|design| design.title.value.clone()).unwrap_or_default();
        let roll = reading.design.as_ref().and_then(|design| roll(path, design, socket, bench.grounds()));
        Rolled { sources, complaints: reading.complaints, name, roll }
    }

    fn for_design(&self, path: &Path) -> (Option<&Workshop>, &Bench) {
        let own = Project::of(path).workshop;
        let found = self.named_workshop.as_ref().or(own.as_ref()).and_then(|file| self.workshops.get(file));
        match found {
            Some((workshop, bench)) => (Some(workshop), bench),
            None => (None, &self.plain),
        }
    }

    fn read(&self, path: &Path, workshop: Option<&Workshop>, bench: &Bench) -> (Sources, DesignReading) {
        let mut sources = self.sources.clone();
        let reading = match read_text(path) {
            Ok(text) => {
                let file = sources.add(path, text);
                let mut reading = read_design(&mut sources, file, &Project::of(path), bench.catalogue(), workshop);
                reading.complaints.extend(reading.fragment.take());
                reading
            }
            Err(reason) => DesignReading { complaints: vec![unreadable(path, &reason)], ..DesignReading::default() },
        };
        (sources, reading)
    }

    /// The bench of the workshop file that the command line names, or else the plain one.
    fn bench(&self) -> &Bench {
        let named = self.named_workshop.as_ref().and_then(|file| self.workshops.get(file));
        named.map_or(&self.plain, |(_, bench)| bench)
    }

    /// The names of all rules, in order.
    pub(super) fn rule_names(&self) -> Vec<&str> {
        self.bench().rules.rules().map(|rule| rule.name.as_str()).collect()
    }

    /// The lesson of a rule.
    pub(super) fn lesson(&self, name: &str) -> Option<LessonSheet> {
        let rule = self.bench().rules.rule(name)?;
        Some(lesson_sheet(rule, self.plain.rules.rule(name)))
    }

    /// Runs the examples of these rules.
    pub(super) fn prove(&self, rules: &[&str]) -> Proofs {
        let bench = self.bench();
        let names: Vec<String> = rules.iter().map(|name| (*name).to_owned()).collect();
        let run = |fragment: &str| {
            let mut sources = Sources::default();
            let file = sources.add("example.kdl", fragment);
            let reading = read_fragment(&sources, file, bench.catalogue());
            let Inspection { report, facts } = inspect(Path::new("example.kdl"), reading, bench.grounds());
            rules::Inspected { report, facts: facts.unwrap_or_default() }
        };
        let report = rules::prove(&bench.rules, &names, &run);
        let failures = report.failures.into_iter().flat_map(|failure| {
            let kind = if failure.holds { "holds" } else { "breaks" };
            let number = failure.number;
            let rule = failure.rule;
            failure
                .reasons
                .into_iter()
                .map(move |reason| (rule.clone(), format!("example {number} ({kind}): {reason}")))
        });
        Proofs { rules: report.rules, examples: report.examples, failures: failures.collect() }
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
