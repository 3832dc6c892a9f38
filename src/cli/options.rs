//! The options that commands share.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::source::Complaint;

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
