//! The command line: one file a command. The only room that reads files, asks the terminal and prints.
//!
//! stdout carries the result and nothing else; everything else goes to stderr.

mod bench;
mod compare;
mod complaints;
mod editor;
mod facts;
mod files;
mod git;
mod house;
mod inspect;
mod lessons;
mod manual;
mod options;
mod progress;
mod project;
mod prove;
mod roll;
mod start;
mod store;
mod terminal;
mod tidy;
mod why;

use std::ffi::OsString;
use std::process::ExitCode;

use clap::{CommandFactory, Parser, Subcommand};

const ABOUT: &str = "A cold check of a tube amplifier's design, before it first meets the mains";

const LONG_ABOUT: &str = "A cold check of a tube amplifier's design, before it first meets the mains.

Reads a design written as text, works out the voltages, currents and powers of the real circuit in every \
state it can stand in (warm, just switched on, high mains, a tube pulled, another tube fitted), and holds \
them against rules that say what they demand and why.";

const AFTER: &str = "What is checked is the drawing. The wiring as built, the workmanship and the parts as they are \
cannot be seen from here: no outcome of this program replaces measurement.

Tube amplifiers hold voltages that kill, for minutes after the plug is pulled and for ever where nothing \
bleeds them. Work unplugged, with every capacitor measured as discharged; follow local codes, and leave \
mains work to those licensed for it.

Exit codes: 0 nothing at or above the gate; 1 something is; 2 something could not be read.";

/// The whole command line.
#[derive(Parser)]
#[command(name = "coldcheck", version, about = ABOUT, long_about = LONG_ABOUT, after_help = AFTER)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Inspect designs and print what is found
    Inspect(inspect::Arguments),
    /// Tell what a revision changes: findings new, worse, better, cleared, and facts that moved
    Compare(compare::Arguments),
    /// Print every computed quantity of a design
    Facts(facts::Arguments),
    /// Explain a rule: what it demands, why, and where its figures come from
    Why(why::Arguments),
    /// Put other tubes into the sockets, side by side
    Roll(roll::Arguments),
    /// Serve an editor over standard input and output (Language Server Protocol 3.17)
    Editor(editor::Arguments),
    /// Run the rules' own examples
    Prove(prove::Arguments),
    /// Begin a folder with a sound design and a workshop file to change into your own
    Start(start::Arguments),
    /// Lay files out the one way, comments kept
    Tidy(tidy::Arguments),
    /// Print what a shell needs to complete these commands
    Completions(manual::CompletionsArguments),
    /// Print the manual page
    Manual,
}

/// What a run amounts to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Exit {
    /// Nothing at or above the gate.
    Clear,
    /// Something at or above the gate.
    Found,
    /// Something could not be read.
    Unreadable,
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        match exit {
            Exit::Clear => Self::SUCCESS,
            Exit::Found => Self::from(1),
            Exit::Unreadable => Self::from(2),
        }
    }
}

/// Runs the program with its arguments, the program's name first.
#[must_use]
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments = match Arguments::try_parse_from(arguments) {
        Ok(arguments) => arguments,
        Err(error) => {
            let text = error.render();
            return if error.use_stderr() {
                terminal::say(&text.to_string());
                Exit::Unreadable.into()
            } else {
                terminal::print(&text.to_string(), Exit::Clear).into()
            };
        }
    };
    match arguments.command {
        Command::Inspect(arguments) => inspect::run(&arguments),
        Command::Compare(arguments) => compare::run(&arguments),
        Command::Facts(arguments) => facts::run(&arguments),
        Command::Why(arguments) => why::run(&arguments),
        Command::Roll(arguments) => roll::run(&arguments),
        Command::Editor(arguments) => editor::run(&arguments),
        Command::Prove(arguments) => prove::run(&arguments),
        Command::Start(arguments) => start::run(&arguments),
        Command::Tidy(arguments) => tidy::run(&arguments),
        Command::Completions(arguments) => manual::completions(&arguments, Arguments::command()),
        Command::Manual => manual::manual(Arguments::command()),
    }
    .into()
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_sound() {
        super::Arguments::command().debug_assert();
    }
}
