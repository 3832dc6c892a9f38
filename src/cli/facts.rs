//! `coldcheck facts DESIGN [PART]`

use std::path::PathBuf;

use clap::Args;

use crate::report::{
    CAUTION, facts_as_json, facts_as_lines, facts_as_text, facts_need_caution, facts_schema, nearest_subject,
    subjects_named,
};

use super::Exit;
use super::complaints::{open, tell};
use super::options::{Format, Grounds, Looks, Spreading};
use super::terminal::{for_results, print, say};

#[derive(Args)]
pub(super) struct Arguments {
    /// The design
    #[arg(required_unless_present = "schema", value_name = "DESIGN")]
    design: Option<PathBuf>,
    /// A part (C10), tube section (V1a), winding (T1.ht), net (bplus), stage copy (left) or `design`; all where not
    /// given
    #[arg(value_name = "PART")]
    part: Option<String>,
    /// How to write the result
    #[arg(long = "as", value_enum, default_value_t, value_name = "FORMAT")]
    format: Format,
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

pub(super) fn run(arguments: &Arguments) -> Exit {
    let Some(path) = arguments.design.as_ref().filter(|_| !arguments.schema) else {
        return print(&facts_schema(), Exit::Clear);
    };
    let (house, read) = open(&arguments.grounds, &arguments.looks, std::slice::from_ref(path));
    let inspected = house.inspect(path);
    let exit = read.max(tell(&inspected.report.complaints, &inspected.sources, &arguments.looks));
    let Some(table) = &inspected.facts else {
        say("no fact of this design could be computed\n");
        return Exit::Unreadable;
    };
    let subjects = arguments.part.as_ref().map(|part| subjects_named(table, part));
    if let (Some(part), Some([])) = (&arguments.part, subjects.as_deref()) {
        let hint = nearest_subject(table, part).map(|name| format!("; did you mean `{name}`?")).unwrap_or_default();
        say(&format!("`{}` has no `{part}`{hint}\n", path.display()));
        return Exit::Unreadable;
    }
    let (subjects, sources) = (subjects.as_deref(), &inspected.sources);
    let bands = arguments.spreading.spread.then(|| house.bands(path, table, subjects, arguments.spreading)).flatten();
    let bands = bands.as_ref();
    if arguments.format != Format::Text && facts_need_caution(table) {
        say(&format!("{CAUTION}\n"));
    }
    let text = match arguments.format {
        Format::Text => facts_as_text(table, subjects, sources, bands, for_results(&arguments.looks)),
        Format::Lines => facts_as_lines(table, subjects, sources, bands),
        Format::Json => {
            let complaints = &inspected.report.complaints;
            facts_as_json(path, &inspected.report.name, table, subjects, complaints, sources, bands)
        }
    };
    print(&text, exit)
}
