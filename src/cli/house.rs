//! Where the commands meet the rest of the house: rules, catalogue and workshop opened once, designs inspected.

use std::path::Path;

use crate::facts::FactTable;
use crate::findings::{Class, DesignReport};
use crate::report::{LessonSheet, Proofs};
use crate::source::{Complaint, FileId, Severity, Sources, parse_text};

use super::files::{read_text, unreadable};
use super::options::Grounds;

/// The least class that fails a run where neither the command line nor a workshop file says.
const DEFAULT_GATE: Class = Class::Overstress;

/// Everything that designs are judged against.
pub(super) struct House {
    sources: Sources,
    complaints: Vec<Complaint>,
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
    let stated = statements
        .iter()
        .any(|statement| statement.name.value == "design");
    let broken = complaints
        .iter()
        .any(|complaint| complaint.severity == Severity::Error);
    stated
        || broken
            && text
                .lines()
                .any(|line| line.trim_start_matches('\u{feff}').starts_with("design"))
}

impl House {
    /// Opens the rules, the catalogue and the workshop file.
    pub(super) fn open(grounds: &Grounds) -> Self {
        let mut house = Self {
            sources: Sources::default(),
            complaints: Vec::new(),
            lessons: Vec::new(),
        };
        if let Some(jobs) = grounds.jobs {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(usize::from(jobs));
            if let Err(error) = pool.build_global() {
                house.complaints.push(
                    Complaint::general(format!("`--jobs {jobs}` has no effect: {error}")).warning(),
                );
            }
        }
        if let Some(folder) = grounds.rules.as_ref().filter(|folder| !folder.is_dir()) {
            house.complaints.push(Complaint::general(format!(
                "there is no folder of rules `{}`",
                folder.display()
            )));
        }
        if let Some(file) = &grounds.workshop {
            match read_text(file) {
                Ok(text) => {
                    house.sources.add(file, text);
                }
                Err(reason) => house.complaints.push(unreadable(file, &reason)),
            }
        }
        house
    }

    /// What is wrong with rules, catalogue and workshop file.
    pub(super) fn complaints(&self) -> &[Complaint] {
        &self.complaints
    }

    /// What those complaints point into.
    pub(super) fn sources(&self) -> &Sources {
        &self.sources
    }

    /// Inspects a design.
    pub(super) fn inspect(&self, path: &Path) -> Inspected {
        let mut sources = Sources::default();
        let complaint = match read_text(path) {
            Ok(text) => {
                sources.add(path, text);
                Complaint::general(format!(
                    "`{}` was read, and this build has nothing to judge it with",
                    path.display()
                ))
            }
            Err(reason) => unreadable(path, &reason),
        };
        Inspected {
            sources,
            report: DesignReport {
                path: path.to_owned(),
                name: path.display().to_string(),
                revision: None,
                findings: Vec::new(),
                not_judged: Vec::new(),
                rules_judged: 0,
                highest_voltage: None,
                complaints: vec![complaint],
            },
            facts: None,
            gate: DEFAULT_GATE,
        }
    }

    /// The names of all rules, in order.
    pub(super) fn rule_names(&self) -> Vec<&str> {
        self.lessons
            .iter()
            .map(|sheet| sheet.name.as_str())
            .collect()
    }

    /// The lesson of a rule.
    pub(super) fn lesson(&self, rule: &str) -> Option<LessonSheet> {
        self.lessons
            .iter()
            .find(|sheet| sheet.name == rule)
            .cloned()
    }

    /// Runs the examples of these rules.
    pub(super) fn prove(&self, rules: &[&str]) -> Proofs {
        Proofs {
            rules: rules.len(),
            ..Proofs::default()
        }
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
