//! `coldcheck inspect PATH…`

use std::path::PathBuf;

use clap::Args;
use rayon::prelude::*;

use crate::findings::Class;
use crate::report::{
    CAUTION, DesignOutcome, Outcome, complaints_as_text, report_as_json, report_as_lines, report_as_text,
    report_needs_caution, report_schema,
};
use crate::source::{Complaint, Severity};

use super::Exit;
use super::files::find_designs;
use super::house::{self, House, Inspected};
use super::options::{Format, Grounds, Looks};
use super::terminal::{for_complaints, for_results, print, say};

#[derive(Args)]
pub(super) struct Arguments {
    /// Designs, or folders to search for them
    #[arg(required_unless_present = "schema", value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// How to write the result
    #[arg(long = "as", value_enum, default_value_t, value_name = "FORMAT")]
    format: Format,
    /// The least class that fails the run: hazard, overstress, malfunction or refinement. The workshop file's gate
    /// where not given, and overstress where that has none
    #[arg(long, value_name = "CLASS")]
    gate: Option<Class>,
    /// Print the JSON Schema of `--as json` and do nothing else
    #[arg(long)]
    schema: bool,
    #[command(flatten)]
    grounds: Grounds,
    #[command(flatten)]
    looks: Looks,
}

pub(super) fn run(arguments: &Arguments) -> Exit {
    if arguments.schema {
        return print(&report_schema(), Exit::Clear);
    }
    let (paths, missing) = find_designs(&arguments.paths, house::is_design);
    let house = House::open(&arguments.grounds, &paths);
    let inspected: Vec<Inspected> = paths.par_iter().map(|path| house.inspect(path)).collect();
    let designs: Vec<DesignOutcome<'_>> =
        inspected.iter().map(|one| DesignOutcome { report: &one.report, sources: &one.sources }).collect();
    let mut complaints: Vec<Complaint> = house.complaints().iter().cloned().chain(missing).collect();
    if house.rule_names().is_empty() {
        // A gate that judges by nothing must not pass.
        complaints.push(Complaint::general("there are no rules to judge by"));
    }
    let outcome = Outcome { designs: &designs, complaints: &complaints, sources: house.sources() };
    let exit = verdict(&inspected, &complaints, arguments.gate);
    if arguments.format == Format::Text {
        say_complaints(outcome, &arguments.looks);
    } else if report_needs_caution(outcome) {
        say(&format!("{CAUTION}\n"));
    }
    let text = match arguments.format {
        Format::Text => report_as_text(outcome, for_results(&arguments.looks)),
        Format::Lines => report_as_lines(outcome),
        Format::Json => report_as_json(outcome),
    };
    print(&text, exit)
}

fn say_complaints(outcome: Outcome<'_>, looks: &Looks) {
    let presentation = for_complaints(looks);
    let heard = |complaint: &&Complaint| !looks.quiet || complaint.severity == Severity::Error;
    say(&complaints_as_text(outcome.complaints.iter().filter(heard), outcome.sources, presentation));
    for design in outcome.designs {
        say(&complaints_as_text(design.report.complaints.iter().filter(heard), design.sources, presentation));
    }
}

/// What could not be read outweighs what was found: a finding less may be a statement unread.
fn verdict(inspected: &[Inspected], complaints: &[Complaint], gate: Option<Class>) -> Exit {
    let unread = |complaints: &[Complaint]| complaints.iter().any(|complaint| complaint.severity == Severity::Error);
    if unread(complaints) || inspected.iter().any(|one| unread(&one.report.complaints)) {
        return Exit::Unreadable;
    }
    let found = inspected.iter().any(|one| {
        let gate = gate.unwrap_or(one.gate);
        one.report.findings.iter().any(|finding| finding.waived.is_none() && finding.class.reaches(gate))
    });
    if found { Exit::Found } else { Exit::Clear }
}
