//! The options that commands share.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::design::Workshop;
use crate::source::Complaint;
use crate::spread::SpreadOptions;

/// When to colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Colour {
    /// On a terminal, unless `NO_COLOR` is set.
    #[default]
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

/// How to write the result.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum Format {
    /// For people.
    #[default]
    Text,
    /// One line each.
    Lines,
    /// One JSON document.
    Json,
}

/// How to write a report of findings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum ReportFormat {
    /// For people.
    #[default]
    Text,
    /// One line each.
    Lines,
    /// One JSON document.
    Json,
    /// One SARIF 2.1.0 document, for code-hosting services.
    Sarif,
    /// A summary for a pull request.
    Markdown,
}

/// How to write a comparison.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub(super) enum CompareFormat {
    /// For people.
    #[default]
    Text,
    /// One JSON document.
    Json,
    /// A summary for a pull request.
    Markdown,
}

/// How text looks.
#[derive(Args, Clone, Debug)]
pub(super) struct Looks {
    /// When to colour text
    #[arg(long, value_enum, default_value_t, value_name = "WHEN", hide_possible_values = false)]
    pub(super) colour: Colour,
    /// Leave out headings, summaries and remarks
    #[arg(long)]
    pub(super) quiet: bool,
}

impl Grounds {
    /// Starts the threads that were asked for, and gives a remark where that comes too late.
    pub(super) fn start_threads(&self) -> Option<Complaint> {
        let jobs = usize::from(self.jobs?);
        let refused = rayon::ThreadPoolBuilder::new().num_threads(jobs).build_global().err()?;
        let remark = || Complaint::general(format!("`--jobs {jobs}` has no effect: {refused}")).warning();
        (rayon::current_num_threads() != jobs).then(remark)
    }
}

/// Whether the parts are varied within their tolerances.
#[derive(Args, Clone, Copy, Debug)]
pub(super) struct Spreading {
    /// Vary the parts within their tolerances: worst corners, and builds drawn at random
    #[arg(long)]
    pub(super) spread: bool,
    /// So many builds; the workshop file's number where not given, and 100 where that has none
    #[arg(long, value_name = "N", requires = "spread", value_parser = clap::value_parser!(u32).range(0..=100_000))]
    pub(super) builds: Option<u32>,
    /// The seed of the builds: the same seed gives the same builds
    #[arg(long, value_name = "N", requires = "spread")]
    pub(super) seed: Option<u64>,
}

impl Spreading {
    /// What is asked for here, or by the workshop file; what neither says is left at its default.
    pub(super) fn under(self, workshop: Option<&Workshop>) -> Option<SpreadOptions> {
        let setting = workshop.and_then(|workshop| workshop.spread.as_ref());
        if !self.spread && setting.is_none() {
            return None;
        }
        let usual = SpreadOptions::default();
        let builds = self.builds.map(|builds| builds as usize);
        let stated = setting.and_then(|setting| setting.builds.as_ref()).map(|builds| builds.value);
        let seed = setting.and_then(|setting| setting.seed.as_ref()).map(|seed| seed.value);
        Some(SpreadOptions {
            builds: builds.or(stated).unwrap_or(usual.builds),
            seed: self.seed.or(seed).unwrap_or(usual.seed),
        })
    }
}

/// What is judged against.
#[derive(Args, Clone, Debug)]
pub(super) struct Grounds {
    /// A folder with rules of your own, beside the built-in ones
    #[arg(long, value_name = "DIR")]
    pub(super) rules: Option<PathBuf>,
    /// The workshop file, in place of the `coldcheck.kdl` nearest to each design
    #[arg(long, value_name = "FILE")]
    pub(super) workshop: Option<PathBuf>,
    /// How many threads to use; as many as the machine has where not given
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub(super) jobs: Option<u16>,
}
