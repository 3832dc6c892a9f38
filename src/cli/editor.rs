//! `coldcheck editor`

use std::path::{Path, PathBuf};

use clap::Args;
use jiff::civil::Date;
use lsp_server::Connection;

use crate::design::ProjectFiles;
use crate::editor::{Bench, Surroundings, serve};

use super::Exit;
use super::files::find_designs;
use super::house::{self, House};
use super::options::Grounds;
use super::project::Project;
use super::terminal::say;

#[derive(Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    grounds: Grounds,
}

pub(super) fn run(arguments: &Arguments) -> Exit {
    let (connection, threads) = Connection::stdio();
    let disk = Disk { grounds: &arguments.grounds };
    let outcome = serve(&connection, &disk);
    // The writer ends when nobody can write to it any more.
    drop(connection);
    match outcome.and_then(|()| threads.join().map_err(|error| error.to_string())) {
        Ok(()) => Exit::Clear,
        Err(reason) => {
            say(&format!("the editor's client has left without a word: {reason}\n"));
            Exit::Unreadable
        }
    }
}

/// The files as they are saved.
struct Disk<'a> {
    grounds: &'a Grounds,
}

impl Surroundings for Disk<'_> {
    fn read(&self, root: &Path, file: &Path) -> Result<String, String> {
        Project { root: root.to_owned(), workshop: None }.read(file)
    }

    fn bench(&self, design: &Path) -> Bench {
        let house = House::open(self.grounds, &[design.to_owned()]);
        let (project, workshop, bench) = house.around(design);
        let grounds = bench.grounds(self.today());
        Bench {
            root: project.files.root().to_owned(),
            workshop: workshop.cloned(),
            rules: grounds.rules.clone(),
            catalogue: bench.catalogue().clone(),
            shelves: grounds.shelves.clone(),
            sources: house.sources().clone(),
            complaints: house.complaints().to_vec(),
        }
    }

    fn designs(&self, root: &Path) -> Vec<PathBuf> {
        find_designs(&[root.to_owned()], house::is_design).0
    }

    fn today(&self) -> Date {
        house::today()
    }
}
