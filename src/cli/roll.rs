//! `coldcheck roll DESIGN [--socket V1]`

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::report::{CAUTION, complaints_as_text, roll_as_json, roll_as_text, roll_schema};
use crate::source::Severity;

use super::Exit;
use super::house::House;
use super::options::{Grounds, Looks};
use super::terminal::{for_complaints, for_results, print, say};

/// How to write the result.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum RollFormat {
    /// For people.
    #[default]
    Text,
    /// One JSON document.
    Json,
}

#[derive(Args)]
pub(super) struct Arguments {
    /// The design
    #[arg(required_unless_present = "schema", value_name = "DESIGN")]
    design: Option<PathBuf>,
    /// One socket (V1, left.V1); every signal tube where not given
    #[arg(long, value_name = "TUBE")]
    socket: Option<String>,
    /// How to write the result
    #[arg(long = "as", value_enum, default_value_t, value_name = "FORMAT")]
    format: RollFormat,
    /// Print the JSON Schema of `--as json` and do nothing else
    #[arg(long)]
    schema: bool,
    #[command(flatten)]
    grounds: Grounds,
    #[command(flatten)]
    looks: Looks,
}

pub(super) fn run(arguments: &Arguments) -> Exit {
    let Some(path) = arguments.design.as_ref().filter(|_| !arguments.schema) else {
        return print(&roll_schema(), Exit::Clear);
    };
    let house = House::open(&arguments.grounds, std::slice::from_ref(path));
    let rolled = house.roll(path, arguments.socket.as_deref());
    let presentation = for_complaints(&arguments.looks);
    say(&complaints_as_text(house.complaints(), house.sources(), presentation));
    say(&complaints_as_text(&rolled.complaints, &rolled.sources, presentation));
    let wrong = house.complaints().iter().chain(&rolled.complaints).any(|one| one.severity == Severity::Error);
    let Some(roll) = &rolled.roll else {
        let socket = arguments.socket.as_deref().unwrap_or("a tube");
        say(&format!("`{}` has no socket `{socket}` that could be looked at\n", path.display()));
        return Exit::Unreadable;
    };
    let text = match arguments.format {
        RollFormat::Text => roll_as_text(&rolled.name, roll, for_results(&arguments.looks)),
        RollFormat::Json => {
            say(&format!("{CAUTION}\n"));
            roll_as_json(path, &rolled.name, roll, &rolled.sources)
        }
    };
    print(&text, if wrong { Exit::Unreadable } else { Exit::Clear })
}
