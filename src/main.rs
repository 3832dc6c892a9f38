//! The thin binary: everything is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    coldcheck::cli::run(std::env::args_os())
}
