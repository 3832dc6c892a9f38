//! Published derating sets: limits of several rules set together, each with the clause it comes from.
//!
//! A set is a file in `rules/derating/`, built in; a workshop chooses one by name, and its own adjustments win.

use std::sync::OnceLock;

use include_dir::{Dir, include_dir};

use crate::source::{Complaint, Scalar, Sources, Spanned, parse_text};

use super::book::RuleBook;
use super::pieces::{listed, nearest};
use super::read::{Reader, read_source};
use super::rule::{Derated, RuleSource};

static FILES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/rules/derating");

/// Limits set together.
#[derive(Clone, Debug, PartialEq)]
pub struct DeratingSet {
    /// The name by which a workshop chooses it.
    pub name: String,
    /// What it is, in a line.
    pub about: String,
    /// What it sets.
    pub settings: Vec<Setting>,
}

/// One limit of a set.
#[derive(Clone, Debug, PartialEq)]
pub struct Setting {
    /// The rule.
    pub rule: Spanned<String>,
    /// Its limit.
    pub limit: Spanned<String>,
    /// The value, as written.
    pub value: Spanned<Scalar>,
    /// Where it comes from.
    pub sources: Vec<RuleSource>,
}

impl DeratingSet {
    /// The built-in sets, in order of name.
    #[must_use]
    pub fn built_in() -> &'static [Self] {
        static SETS: OnceLock<Vec<DeratingSet>> = OnceLock::new();
        SETS.get_or_init(|| Self::read_built_in().0)
    }

    /// The built-in sets with what is wrong with their files. A test keeps the complaints empty.
    #[must_use]
    pub fn read_built_in() -> (Vec<Self>, Vec<Complaint>) {
        let mut files: Vec<_> = FILES.files().collect();
        files.sort_by_key(|file| file.path());
        let mut sources = Sources::default();
        let mut sets = Vec::new();
        let mut complaints = Vec::new();
        for file in files {
            let Some(text) = file.contents_utf8() else { continue };
            let id = sources.add(file.path(), text);
            let (statements, found) = parse_text(id, text);
            complaints.extend(found);
            let mut reader = Reader { sources: &sources, complaints: Vec::new() };
            for statement in &statements {
                let Some(name) = reader.argument(statement, 0, "the set's name") else { continue };
                let about = reader.required(statement, "about");
                let about = about.and_then(|child| reader.argument(child, 0, "a line of text"));
                let mut set = Self {
                    name: name.text,
                    about: about.map(|quoted| quoted.text).unwrap_or_default(),
                    settings: Vec::new(),
                };
                for child in statement.children.iter().filter(|child| child.name.value == "set") {
                    let Some(rule) = reader.argument(child, 0, "a rule") else { continue };
                    let clauses: Vec<RuleSource> =
                        child.children.iter().filter_map(|source| read_source(source, &mut reader)).collect();
                    set.settings.extend(child.properties.iter().map(|property| Setting {
                        rule: Spanned::new(rule.text.clone(), rule.span),
                        limit: property.name.clone(),
                        value: property.value.clone(),
                        sources: clauses.clone(),
                    }));
                }
                sets.push(set);
            }
            complaints.extend(reader.complaints);
        }
        (sets, complaints)
    }
}

impl RuleBook {
    /// Sets the limits of a built-in derating set (`derating NAME`).
    ///
    /// # Errors
    /// A complaint where no set is called so.
    pub fn derate(&mut self, name: &Spanned<String>) -> Result<(), Box<Complaint>> {
        let sets = DeratingSet::built_in();
        let names = || sets.iter().map(|set| set.name.as_str());
        let Some(set) = sets.iter().find(|set| set.name == name.value) else {
            let complaint = Complaint::at(name.span, format!("there is no derating set `{}`", name.value), "not known");
            return Err(Box::new(complaint.help(match nearest(&name.value, names()) {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("the sets are {}", listed(names(), "and")),
            })));
        };
        for setting in &set.settings {
            self.set_limit(setting, &set.name)?;
        }
        Ok(())
    }

    /// Sets one limit as a derating set does.
    ///
    /// # Errors
    /// A complaint at the rule, the limit or the value that is not right.
    pub fn set_limit(&mut self, setting: &Setting, by: &str) -> Result<(), Box<Complaint>> {
        let limit = self.limit_mut(&setting.rule, &setting.limit)?;
        limit.value = limit.read(&setting.value)?;
        limit.derated = Some(Derated { by: by.to_owned(), sources: setting.sources.clone() });
        Ok(())
    }
}
