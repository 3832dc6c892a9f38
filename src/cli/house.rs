//! Where the commands meet the rest of the house: rules, catalogue and workshop opened once, designs inspected.

use std::path::Path;

use crate::facts::FactTable;
use crate::findings::{Class, DesignReport};
use crate::report::{LessonSheet, Proofs};
use crate::source::{Complaint, Sources};

use super::files::read_text;
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
pub(super) fn is_design(text: &str) -> bool {
    text.trim_start_matches('\u{feff}').lines().any(|line| {
        line.strip_prefix("design")
            .is_some_and(|rest| rest.starts_with([' ', '\t', '"']))
    })
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
                Err(complaint) => house.complaints.push(*complaint),
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
            Err(complaint) => *complaint,
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
