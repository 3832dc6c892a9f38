//! `coldcheck roll DESIGN [--socket V1]`

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::report::{CAUTION, roll_as_json, roll_as_text, roll_schema};

use super::Exit;
use super::complaints::{open, tell};
use super::options::{Grounds, Looks};
use super::terminal::{for_results, print, say};

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
    let (house, read) = open(&arguments.grounds, &arguments.looks, std::slice::from_ref(path));
    let rolled = house.roll(path, arguments.socket.as_deref());
    let exit = read.max(tell(&rolled.complaints, &rolled.sources, &arguments.looks));
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
    print(&text, exit)
}
