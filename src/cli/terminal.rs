//! What is asked of the terminal and the environment, and the two ways of printing.

use std::io::{self, ErrorKind, IsTerminal, Write};

use crate::report::Presentation;

use super::Exit;
use super::options::{Colour, Looks};

/// How results look on stdout.
pub(super) fn for_results(looks: &Looks) -> Presentation {
    presentation(looks, io::stdout().is_terminal(), terminal_size::terminal_size_of(io::stdout()))
}

/// How complaints look on stderr.
pub(super) fn for_complaints(looks: &Looks) -> Presentation {
    presentation(looks, io::stderr().is_terminal(), terminal_size::terminal_size_of(io::stderr()))
}

/// Prints the result. A reader that has seen enough (`| head`) is no error; any other failure to write is.
pub(super) fn print(text: &str, exit: Exit) -> Exit {
    let mut stdout = io::stdout().lock();
    match stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()) {
        Ok(()) => exit,
        Err(error) if error.kind() == ErrorKind::BrokenPipe => exit,
        Err(error) => {
            say(&format!("the result could not be written: {error}\n"));
            Exit::Unreadable
        }
    }
}

/// Says something beside the result. Where nobody can hear it there is nobody to tell, either.
pub(super) fn say(text: &str) {
    let mut stderr = io::stderr().lock();
    let heard = stderr.write_all(text.as_bytes()).and_then(|()| stderr.flush());
    drop(heard);
}

type Size = Option<(terminal_size::Width, terminal_size::Height)>;

fn presentation(looks: &Looks, terminal: bool, size: Size) -> Presentation {
    let width = size
        .map(|(width, _)| usize::from(width.0))
        .or_else(|| std::env::var("COLUMNS").ok()?.parse().ok())
        .unwrap_or(Presentation::PLAIN.width);
    Presentation {
        width: width.clamp(40, 160),
        colour: coloured(looks.colour, terminal),
        unicode: speaks_unicode(),
        quiet: looks.quiet,
    }
}

fn coloured(colour: Colour, terminal: bool) -> bool {
    match colour {
        Colour::Always => true,
        Colour::Never => false,
        Colour::Auto => {
            let refused = std::env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
            let plain = std::env::var_os("TERM").is_some_and(|value| value == "dumb");
            terminal && !refused && !plain
        }
    }
}

// POSIX: the first of these that is set and not empty decides.
fn speaks_unicode() -> bool {
    if cfg!(windows) {
        return true;
    }
    ["LC_ALL", "LC_CTYPE", "LANG"]
        .into_iter()
        .filter_map(|name| std::env::var(name).ok())
        .find(|value| !value.is_empty())
        .is_some_and(|value| {
            let value = value.to_lowercase();
            value.contains("utf-8") || value.contains("utf8")
        })
}
