//! Where the commands meet the rest of the house: rules, catalogue and workshop files opened once, designs inspected.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::design::{Design, DesignReading, Workshop, index, read_design, read_fragment, read_workshop, vocabulary};
use crate::facts::{FactTable, Memory, SubjectId};
use crate::findings::{Class, DesignReport};
use crate::inspection::{Inspection, inspect, inspect_remembered};
use crate::remedies::{Drawn, Texts, prove};
use crate::report::{LessonSheet, Proofs, Reference};
use crate::rules::{self, Rule};
use crate::source::{Complaint, Sources, states};
use crate::spread::{Bands, SpreadOptions, bands, inspect_spread};
use crate::substitution::{Roll, roll};

use super::bench::Bench;
use super::files::unreadable;
use super::lessons::{derating_sheets, lesson_sheet, reference_rule};
use super::options::{Grounds, Spreading};
use super::store::{Disk, Store, StoredProject, Tried};

/// The least class that fails a run where neither the command line nor a workshop file says.
const DEFAULT_GATE: Class = Class::Overstress;

/// Everything that designs are judged against.
pub(super) struct House {
    /// Workshop and rule files; the sources of every design begin with them, so that spans into them hold in both.
    sources: Sources,
    complaints: Vec<Complaint>,
    /// What designs without a workshop file are judged against.
    plain: Bench,
    /// Whether there are such designs.
    plain_judges: bool,
    workshops: BTreeMap<PathBuf, (Workshop, Bench)>,
    /// The workshop file that the command line names.
    named_workshop: Option<PathBuf>,
    store: Arc<dyn Store>,
    /// The day of the run: one for all designs, though midnight passes.
    today: Date,
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
    /// The rules that its workshop keeps quiet.
    pub(super) quiet: Vec<String>,
}

/// Whether a text met in a folder is a design, and not a fragment, a rule file or a catalogue.
///
/// A text that cannot be read to the end counts where a line of it begins like a design: what is broken must be
/// complained of, not passed over.
pub(super) fn is_design(text: &str) -> bool {
    states(text, "design")
}

/// The day, by which waivers end.
pub(super) fn today() -> Date {
    TimeZone::UTC.to_datetime(Timestamp::now()).date()
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
    /// Opens what these designs on the disk are judged against.
    pub(super) fn open(grounds: &Grounds, designs: &[PathBuf]) -> Self {
        Self::open_in(Arc::new(Disk), grounds, designs)
    }

    /// Opens what these designs are judged against, as a store has it. What the command line names is read from the
    /// disk all the same.
    pub(super) fn open_in(store: Arc<dyn Store>, grounds: &Grounds, designs: &[PathBuf]) -> Self {
        let mut sources = Sources::default();
        let mut complaints = Vec::new();
        let plain = Bench::built_in(grounds.rules.as_deref(), &mut sources, &mut complaints);
        let mut house = Self {
            sources,
            complaints,
            plain,
            plain_judges: false,
            workshops: BTreeMap::new(),
            named_workshop: grounds.workshop.clone(),
            store: Arc::clone(&store),
            today: today(),
        };
        house.complaints.extend(grounds.start_threads());
        if let Some(file) = grounds.workshop.as_ref() {
            house.read_workshop(file, &Disk);
        } else {
            let mut folders = BTreeSet::new();
            for path in designs.iter().filter(|path| folders.insert(path.parent())) {
                match store.project(path).workshop {
                    Some(file) => house.read_workshop(&file, store.as_ref()),
                    None => house.plain_judges = true,
                }
            }
        }
        house
    }

    fn read_workshop(&mut self, file: &Path, store: &dyn Store) {
        if self.workshops.contains_key(file) {
            return;
        }
        match store.read(file) {
            Ok(text) => {
                let id = self.sources.add(file, text);
                let (workshop, complaints) = read_workshop(&self.sources, id);
                self.complaints.extend(complaints);
                let bench = self.plain.under(&workshop, file, store, &mut self.sources, &mut self.complaints);
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

    /// The project of a design, its workshop file, and what it is judged against.
    pub(super) fn around(&self, path: &Path) -> (StoredProject<'_>, Option<&Workshop>, &Bench) {
        let project = self.store.project(path);
        let found =
            self.named_workshop.as_ref().or(project.workshop.as_ref()).and_then(|file| self.workshops.get(file));
        let (workshop, bench) = match found {
            Some((workshop, bench)) => (Some(workshop), bench),
            None => (None, &self.plain),
        };
        (project, workshop, bench)
    }

    /// Inspects a design as it is drawn.
    pub(super) fn inspect(&self, path: &Path) -> Inspected {
        self.look(path, None, &Memory::default()).0
    }

    /// Inspects a design, with its parts varied where the command line or its workshop file asks for that.
    pub(super) fn inspect_spread(&self, path: &Path, spreading: Spreading) -> Inspected {
        self.look(path, spreading.under(self.around(path).1), &Memory::default()).0
    }

    /// A design inspected, and as it was read.
    fn look(&self, path: &Path, spread: Option<SpreadOptions>, memory: &Memory) -> (Inspected, Option<Design>) {
        let (_, workshop, bench) = self.around(path);
        let (sources, reading) = self.read(path);
        let design = reading.design.clone();
        let quiet = bench.rules.quieted().map(|(rule, _)| rule.to_owned()).collect();
        let grounds = bench.grounds(self.today);
        let Inspection { report, facts } = match spread {
            Some(options) => inspect_spread(path, reading, grounds, memory, options),
            None => inspect_remembered(path, reading, grounds, memory),
        };
        (Inspected { sources, report, facts, gate: gate_of(workshop), quiet }, design)
    }

    /// The same, and what the remedies of its findings name is tried on a copy.
    pub(super) fn inspect_and_try(&self, path: &Path, spreading: Spreading) -> Inspected {
        let memory = Memory::keeping();
        let (mut inspected, design) = self.look(path, spreading.under(self.around(path).1), &memory);
        if inspected.report.findings.iter().all(|finding| finding.waived.is_some()) {
            return inspected;
        }
        let (_, _, bench) = self.around(path);
        let sources = &inspected.sources;
        let names = |design: &Design| index(sources, design.file, &vocabulary(bench.catalogue()), bench.catalogue());
        let drawn = Drawn {
            sources,
            design: design.as_ref(),
            facts: inspected.facts.as_ref(),
            report: &inspected.report,
            index: &design.as_ref().map(names).unwrap_or_default(),
            shelves: bench.grounds(self.today).shelves,
        };
        let own = design.as_ref().and_then(|design| sources.get(design.file)).map_or("", |file| file.text.as_str());
        let memory = Arc::new(memory);
        let trial = |texts: &Texts| {
            let (project, workshop, bench) = self.around(path);
            let text = texts.get(path).map(String::as_str).unwrap_or(own);
            let files = Tried { files: project.files.as_ref(), texts };
            let mut sources = self.sources.clone();
            let file = sources.add(path, text);
            let reading = read_design(&mut sources, file, &files, bench.catalogue(), workshop);
            let memory = Memory::of(Arc::clone(&memory));
            Some(inspect_remembered(path, reading, bench.grounds(self.today), &memory).report)
        };
        let remedies = prove(drawn, &trial);
        for (finding, remedies) in inspected.report.findings.iter_mut().zip(remedies) {
            finding.remedies = remedies;
        }
        inspected
    }

    /// The bands that the tolerances of the parts give the facts of a design; none where it cannot be read or nobody
    /// asks for them.
    pub(super) fn bands(
        &self,
        path: &Path,
        facts: &FactTable,
        subjects: Option<&[SubjectId]>,
        spreading: Spreading,
    ) -> Option<Bands> {
        let (_, workshop, bench) = self.around(path);
        let options = spreading.under(workshop)?;
        let (_, reading) = self.read(path);
        Some(bands(&reading.design?, facts, subjects, bench.grounds(self.today), options))
    }

    /// Puts other tubes into the sockets of a design, or into one of them.
    pub(super) fn roll(&self, path: &Path, socket: Option<&str>) -> Rolled {
        let (_, _, bench) = self.around(path);
        let (sources, reading) = self.read(path);
        let name = reading.design.as_ref().map(|design| design.title.value.clone()).unwrap_or_default();
        let roll = reading.design.as_ref().and_then(|design| roll(path, design, socket, bench.grounds(self.today)));
        Rolled { sources, complaints: reading.complaints, name, roll }
    }

    fn read(&self, path: &Path) -> (Sources, DesignReading) {
        let (project, workshop, bench) = self.around(path);
        let mut sources = self.sources.clone();
        let reading = match self.store.read(path) {
            Ok(text) => {
                let file = sources.add(path, text);
                let mut reading = read_design(&mut sources, file, project.files.as_ref(), bench.catalogue(), workshop);
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

    /// A rule as it is before any workshop adjusts it.
    pub(super) fn as_built_in(&self, name: &str) -> Option<&Rule> {
        self.plain.rules.rule(name)
    }

    /// The lessons of all rules that any bench judges by, in order of name.
    pub(super) fn lessons(&self) -> Vec<LessonSheet> {
        let plain = self.plain_judges || self.workshops.is_empty();
        let benches = self.workshops.values().map(|(_, bench)| bench).chain(plain.then_some(&self.plain));
        let mut sheets = BTreeMap::new();
        for rules in benches.map(|bench| &bench.rules) {
            for rule in rules.rules().filter(|rule| !rules.is_quiet(&rule.name)) {
                let sheet = || lesson_sheet(rule, self.plain.rules.rule(&rule.name));
                sheets.entry(rule.name.clone()).or_insert_with(sheet);
            }
        }
        sheets.into_values().collect()
    }

    /// One complaint for each of these rules that does not prove itself for want of an example: a workshop's may be judged
    /// by all the same.
    pub(super) fn unproved(&self, rules: &[&str]) -> Vec<Complaint> {
        let wanted = self.bench().rules.rules().filter(|rule| rules.contains(&rule.name.as_str()));
        wanted
            .filter_map(|rule| {
                let message = format!("`{}` has no {}", rule.name, rule.unproved()?);
                let complaint = Complaint::at(rule.span, message, "nothing proves this rule");
                Some(
                    complaint
                        .help("write `example holds #\"\"\"…\"\"\"#` and `example breaks #\"\"\"…\"\"\"# at=\"FACT\"`"),
                )
            })
            .collect()
    }

    /// The reference of these rules, and of the derating sets where they are wanted.
    pub(super) fn reference(&self, rules: &[&str], with_sets: bool) -> Reference {
        let book = &self.bench().rules;
        let wanted = book.rules().filter(|rule| rules.contains(&rule.name.as_str()));
        let entry = |rule| reference_rule(rule, self.plain.rules.rule(&rule.name));
        let sets = if with_sets { derating_sheets() } else { Vec::new() };
        Reference { rules: wanted.map(entry).collect(), sets }
    }

    /// Whether another house judges by the same texts.
    pub(super) fn judges_like(&self, other: &Self) -> bool {
        let texts = |house: &Self| -> Vec<(PathBuf, String)> {
            house.sources.iter().map(|(_, file)| (file.path.clone(), file.text.clone())).collect()
        };
        texts(self) == texts(other)
    }

    /// Whether the store has every file of an inspection with the same text: then it would come out the same.
    pub(super) fn has_same(&self, inspected: &Inspected) -> bool {
        let own = self.sources.iter().count();
        let mut files = inspected.sources.iter().skip(own);
        inspected.report.complaints.is_empty()
            && files.all(|(_, file)| self.store.read(&file.path).is_ok_and(|text| text == file.text))
    }

    /// Runs the examples of these rules.
    pub(super) fn prove(&self, rules: &[&str]) -> Proofs {
        let bench = self.bench();
        let names: Vec<String> = rules.iter().map(|name| (*name).to_owned()).collect();
        let run = |fragment: &str| {
            let mut sources = Sources::default();
            let file = sources.add("example.kdl", fragment);
            let reading = read_fragment(&sources, file, bench.catalogue());
            let Inspection { report, facts } = inspect(Path::new("example.kdl"), reading, bench.grounds(self.today));
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
