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
    let mut paper = Paper::default();
    paper.print(text);
    paper.done(exit)
}

/// stdout, printed on piece by piece.
#[derive(Default)]
pub(super) struct Paper {
    failed: Option<io::Error>,
}

impl Paper {
    /// Prints the next piece of the result.
    pub(super) fn print(&mut self, text: &str) {
        if self.failed.is_some() {
            return;
        }
        let mut stdout = io::stdout().lock();
        self.failed = stdout.write_all(text.as_bytes()).and_then(|()| stdout.flush()).err();
    }

    /// What the run amounts to when the whole result is printed.
    pub(super) fn done(self, exit: Exit) -> Exit {
        match self.failed {
            None => exit,
            Some(error) if error.kind() == ErrorKind::BrokenPipe => exit,
            Some(error) => {
                say(&format!("the result could not be written: {error}\n"));
                Exit::Unreadable
            }
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
