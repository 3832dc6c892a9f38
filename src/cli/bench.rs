//! What the designs under one workshop file are judged against: rules, catalogue and shelves, read once.

use std::path::{Path, PathBuf};

use jiff::civil::Date;

use crate::catalogue::Catalogue;
use crate::design::Workshop;
use crate::inspection::Grounds;
use crate::rules::{RuleBook, Shelves};
use crate::source::{Complaint, FileId, Scalar, Sources, Spanned, parse};

use super::files::unreadable;
use super::store::{Disk, Store};

/// Rules, catalogue and shelves of one workshop.
#[derive(Clone)]
pub(super) struct Bench {
    /// The rules with the workshop's adjustments.
    pub(super) rules: RuleBook,
    catalogue: Catalogue,
    shelves: Shelves,
}

impl Bench {
    /// The built-in bench with the rules of a folder added.
    pub(super) fn built_in(folder: Option<&Path>, sources: &mut Sources, complaints: &mut Vec<Complaint>) -> Self {
        let catalogue = Catalogue::built_in().clone();
        let shelves = Shelves::filled_by(&|name| catalogue.shelf(name).to_vec());
        let mut bench = Self { rules: RuleBook::built_in().clone(), catalogue, shelves };
        if let Some(folder) = folder {
            bench.add_rules(folder, sources, complaints);
        }
        bench
    }

    /// This bench as a workshop file changes it; `file` is where the workshop file lies, in a
    /// store that has its folders too.
    pub(super) fn under(
        &self,
        workshop: &Workshop,
        file: &Path,
        store: &dyn Store,
        sources: &mut Sources,
        complaints: &mut Vec<Complaint>,
    ) -> Self {
        let mut bench = self.clone();
        let beside =
            |folder: &Spanned<String>| -> PathBuf { file.parent().unwrap_or(Path::new("")).join(&folder.value) };
        for folder in &workshop.catalogue {
            for text in texts(&beside(folder), Some(folder), store, sources, complaints) {
                let (statements, found) = parse(sources, text);
                complaints.extend(found);
                complaints.extend(bench.catalogue.read(&statements));
            }
        }
        for folder in &workshop.rules {
            for text in texts(&beside(folder), Some(folder), store, sources, complaints) {
                complaints.extend(bench.rules.read(sources, text));
            }
        }
        if let Some(set) = &workshop.derating
            && let Err(complaint) = bench.rules.derate(set)
        {
            complaints.push(*complaint);
        }
        for adjust in &workshop.adjusts {
            let value = Spanned::new(Scalar::Text(adjust.value.value.clone()), adjust.value.span);
            if let Err(complaint) = bench.rules.adjust(&adjust.rule, &adjust.limit, &value) {
                complaints.push(*complaint);
            }
        }
        for quiet in &workshop.quiets {
            if let Err(complaint) = bench.rules.quiet(&quiet.rule, &quiet.because) {
                complaints.push(*complaint);
            }
        }
        bench.shelves = Shelves::filled_by(&|name| {
            let stocked = workshop.shelf(name).map(<[f64]>::to_vec);
            stocked.unwrap_or_else(|| bench.catalogue.shelf(name).to_vec())
        });
        bench
    }

    fn add_rules(&mut self, folder: &Path, sources: &mut Sources, complaints: &mut Vec<Complaint>) {
        for text in texts(folder, None, &Disk, sources, complaints) {
            complaints.extend(self.rules.read(sources, text));
        }
    }

    /// The grounds for judging on a day.
    pub(super) fn grounds(&self, today: Date) -> Grounds<'_> {
        Grounds { rules: &self.rules, devices: &self.catalogue, shelves: &self.shelves, today }
    }

    /// The catalogue.
    pub(super) fn catalogue(&self) -> &Catalogue {
        &self.catalogue
    }
}

/// The KDL files of a folder, in order of name, added to the sources.
fn texts(
    folder: &Path,
    named: Option<&Spanned<String>>,
    store: &dyn Store,
    sources: &mut Sources,
    complaints: &mut Vec<Complaint>,
) -> Vec<FileId> {
    let files = match store.rule_files(folder) {
        Ok(files) => files,
        Err(reason) => {
            let message = format!("the folder `{}` cannot be read: {reason}", folder.display());
            complaints.push(match named {
                Some(place) => Complaint::at(place.span, message, "named here"),
                None => Complaint::general(message),
            });
            return Vec::new();
        }
    };
    let mut found = Vec::new();
    for file in files {
        match store.read(&file) {
            Ok(text) => found.push(sources.add(file, text)),
            Err(reason) => complaints.push(unreadable(&file, &reason)),
        }
    }
    found
}
