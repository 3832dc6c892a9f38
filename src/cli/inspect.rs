//! `coldcheck inspect PATH…`

use std::path::{Path, PathBuf};

use clap::Args;
use rayon::prelude::*;

use crate::findings::Class;
use crate::report::{CAUTION, DesignOutcome, Piece, Style, Writing, report_schema};
use crate::source::Complaint;

use super::Exit;
use super::complaints::{told, unread};
use super::files::find_designs;
use super::house::{self, House};
use super::options::{Grounds, Looks, ReportFormat, Spreading};
use super::progress::bar;
use super::terminal::{Paper, for_results, print, say};

#[derive(Args)]
pub(super) struct Arguments {
    /// Designs, or folders to search for them
    #[arg(required_unless_present = "schema", value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// How to write the result
    #[arg(long = "as", value_enum, default_value_t, value_name = "FORMAT")]
    format: ReportFormat,
    /// The least class that fails the run: hazard, overstress, malfunction or refinement. The workshop file's gate
    /// where not given, and overstress where that has none
    #[arg(long, value_name = "CLASS")]
    gate: Option<Class>,
    /// Offer remedies untried: quicker where much is wrong, and none is then called checked
    #[arg(long)]
    untried: bool,
    /// Print the JSON Schema of `--as json` and do nothing else
    #[arg(long)]
    schema: bool,
    #[command(flatten)]
    spreading: Spreading,
    #[command(flatten)]
    grounds: Grounds,
    #[command(flatten)]
    looks: Looks,
}

/// So many designs are inspected before any of them is printed: enough to keep every thread busy, few enough that what
/// waits to be printed is small.
pub(super) const AT_ONCE: usize = 256;

/// One design, ready to be printed.
struct Done {
    piece: Piece,
    complaints: String,
    exit: Exit,
}

pub(super) fn run(arguments: &Arguments) -> Exit {
    if arguments.schema {
        return print(&report_schema(), Exit::Clear);
    }
    let mut complaints: Vec<Complaint> = arguments.grounds.start_threads().into_iter().collect();
    let (paths, missing) = find_designs(&arguments.paths, house::is_design);
    let house = House::open(&arguments.grounds, &paths);
    complaints.extend(house.complaints().iter().cloned().chain(missing));
    if house.rule_names().is_empty() {
        // A gate that judges by nothing must not pass.
        complaints.push(Complaint::general("there are no rules to judge by"));
    }
    let style = match arguments.format {
        ReportFormat::Text => Style::Text(for_results(&arguments.looks)),
        ReportFormat::Lines => Style::Lines,
        ReportFormat::Json => Style::Json,
        ReportFormat::Sarif => Style::Sarif,
        ReportFormat::Markdown => Style::Markdown,
    };
    let for_people = arguments.format == ReportFormat::Text;
    let lessons = if style == Style::Sarif { house.lessons() } else { Vec::new() };
    let mut writing = Writing::new(style, &lessons, &complaints, house.sources());
    let mut paper = Paper::default();
    if for_people {
        say(&told(&complaints, house.sources(), &arguments.looks));
    }
    paper.print(&writing.opening());
    let mut exit = if unread(&complaints) { Exit::Unreadable } else { Exit::Clear };
    let progress = bar(paths.len(), arguments.looks.quiet);
    for some in paths.chunks(AT_ONCE) {
        let inspect = |path: &PathBuf| {
            let done = inspect(path, &house, &writing, arguments);
            progress.inc(1);
            done
        };
        let done: Vec<Done> = some.par_iter().map(inspect).collect();
        progress.suspend(|| {
            for one in done {
                if for_people {
                    say(&one.complaints);
                }
                exit = exit.max(one.exit);
                paper.print(&writing.add(one.piece));
            }
        });
    }
    progress.finish_and_clear();
    paper.print(&writing.closing());
    if !for_people && writing.is_dangerous() {
        say(&format!("{CAUTION}\n"));
    }
    paper.done(exit)
}

fn inspect(path: &Path, house: &House, writing: &Writing<'_>, arguments: &Arguments) -> Done {
    let inspected = if arguments.untried {
        house.inspect_spread(path, arguments.spreading)
    } else {
        house.inspect_and_try(path, arguments.spreading)
    };
    let (report, sources) = (&inspected.report, &inspected.sources);
    let gate = arguments.gate.unwrap_or(inspected.gate);
    let found = report.findings.iter().any(|finding| finding.waived.is_none() && finding.class.reaches(gate));
    Done {
        piece: writing.piece(DesignOutcome { report, sources }),
        complaints: told(&report.complaints, sources, &arguments.looks),
        // What could not be read outweighs what was found: a finding less may be a statement unread.
        exit: if unread(&report.complaints) {
            Exit::Unreadable
        } else if found {
            Exit::Found
        } else {
            Exit::Clear
        },
    }
}
