//! All rules of a run: the built-in ones, the workshop's own, its adjustments, and what it keeps quiet.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use include_dir::{Dir, include_dir};

use crate::source::{Complaint, FileId, Scalar, Sources, Spanned, parse_text};

use super::pieces::{listed, nearest};
use super::read::{Strictness, read_rules};
use super::rule::{Limit, Rule, Verdict};

static FILES: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/rules");

/// The rules of a run, in order of name.
#[derive(Clone, Debug, Default)]
pub struct RuleBook {
    rules: BTreeMap<String, Rule>,
    quiet: BTreeMap<String, String>,
}

impl RuleBook {
    /// The built-in rules.
    #[must_use]
    pub fn built_in() -> &'static Self {
        static BOOK: OnceLock<RuleBook> = OnceLock::new();
        BOOK.get_or_init(|| Self::read_built_in().0)
    }

    /// The built-in rules with what is wrong with them and the files that this is about. A test keeps the complaints empty.
    #[must_use]
    pub fn read_built_in() -> (Self, Vec<Complaint>, Sources) {
        let mut sources = Sources::default();
        let mut names: Vec<_> =
            FILES.files().filter(|file| file.path().extension().is_some_and(|e| e == "kdl")).collect();
        names.sort_by_key(|file| file.path());
        let files: Vec<FileId> =
            names.into_iter().filter_map(|file| Some(sources.add(file.path(), file.contents_utf8()?))).collect();
        let mut book = Self::default();
        let mut complaints = Vec::new();
        for file in files {
            complaints.extend(book.add_file(&sources, file, Strictness::BuiltIn));
        }
        (book, complaints, sources)
    }

    /// Adds the rules of a workshop's file to this book.
    pub fn read(&mut self, sources: &Sources, file: FileId) -> Vec<Complaint> {
        self.add_file(sources, file, Strictness::Workshop)
    }

    /// Adds the rules of a file that must prove themselves, as the built-in ones do.
    pub fn read_strictly(&mut self, sources: &Sources, file: FileId) -> Vec<Complaint> {
        self.add_file(sources, file, Strictness::BuiltIn)
    }

    fn add_file(&mut self, sources: &Sources, file: FileId, strictness: Strictness) -> Vec<Complaint> {
        let text = sources.get(file).map_or("", |file| file.text.as_str());
        let (statements, mut complaints) = parse_text(file, text);
        let (rules, more) = read_rules(&statements, sources, strictness);
        complaints.extend(more);
        for rule in rules {
            if self.rules.contains_key(&rule.name) {
                complaints.push(
                    Complaint::at(
                        rule.span,
                        format!("there is a rule `{}` already", rule.name),
                        "the second of its name",
                    )
                    .help("choose another name, or `adjust` the limits of the first"),
                );
            } else {
                self.rules.insert(rule.name.clone(), rule);
            }
        }
        complaints
    }

    /// All rules, by name.
    pub fn rules(&self) -> impl Iterator<Item = &Rule> {
        self.rules.values()
    }

    /// The rule of a name.
    #[must_use]
    pub fn rule(&self, name: &str) -> Option<&Rule> {
        self.rules.get(name)
    }

    /// The rules that are kept quiet, with the reason of each.
    pub fn quieted(&self) -> impl Iterator<Item = (&str, &str)> {
        self.quiet.iter().map(|(rule, because)| (rule.as_str(), because.as_str()))
    }

    /// Whether a rule is kept quiet.
    #[must_use]
    pub fn is_quiet(&self, rule: &str) -> bool {
        self.quiet.contains_key(rule)
    }

    /// Sets a limit of a rule (`adjust RULE LIMIT=VALUE`). A value with a unit must be of the limit's dimension.
    ///
    /// # Errors
    /// A complaint at the rule, the limit or the value that is not right.
    pub fn adjust(
        &mut self,
        rule: &Spanned<String>,
        limit: &Spanned<String>,
        value: &Spanned<Scalar>,
    ) -> Result<(), Box<Complaint>> {
        let found = self.limit_mut(rule, limit)?;
        found.value = found.read(value)?;
        found.derated = None;
        Ok(())
    }

    /// The limit of a rule.
    ///
    /// # Errors
    /// A complaint at the rule or the limit that is not known.
    pub(super) fn limit_mut(
        &mut self,
        rule: &Spanned<String>,
        limit: &Spanned<String>,
    ) -> Result<&mut Limit, Box<Complaint>> {
        if !self.rules.contains_key(&rule.value) {
            return Err(Box::new(self.unknown_rule(rule)));
        }
        let check = self.rules.get_mut(&rule.value).and_then(|rule| match &mut rule.verdict {
            Verdict::Demand(check) => Some(check),
            Verdict::FoundBy(_) => None,
        });
        let limits = check.map(|check| &mut check.limits).ok_or_else(|| {
            Box::new(Complaint::at(rule.span, format!("`{}` has no limits to adjust", rule.value), "here"))
        })?;
        let names = listed(limits.iter().map(|limit| limit.name.as_str()), "and");
        let near = nearest(&limit.value, limits.iter().map(|l| l.name.as_str())).map(str::to_owned);
        let Some(found) = limits.iter_mut().find(|known| known.name == limit.value) else {
            let complaint =
                Complaint::at(limit.span, format!("`{}` has no limit `{}`", rule.value, limit.value), "not known");
            return Err(Box::new(complaint.help(match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => format!("its limits are {names}"),
            })));
        };
        Ok(found)
    }

    /// Keeps a rule quiet (`quiet RULE because="…"`).
    ///
    /// # Errors
    /// A complaint where no rule is called so.
    pub fn quiet(&mut self, rule: &Spanned<String>, because: &str) -> Result<(), Box<Complaint>> {
        if !self.rules.contains_key(&rule.value) {
            return Err(Box::new(self.unknown_rule(rule)));
        }
        self.quiet.insert(rule.value.clone(), because.to_owned());
        Ok(())
    }

    /// The name of the rule nearest to what was written.
    #[must_use]
    pub fn nearest_name(&self, written: &str) -> Option<&str> {
        nearest(written, self.rules.keys().map(String::as_str))
    }

    fn unknown_rule(&self, rule: &Spanned<String>) -> Complaint {
        let complaint = Complaint::at(rule.span, format!("no rule is called `{}`", rule.value), "not known");
        match self.nearest_name(&rule.value) {
            Some(near) => complaint.help(format!("did you mean `{near}`?")),
            None => complaint,
        }
    }
}
