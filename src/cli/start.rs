//! `coldcheck start FOLDER`

use std::fs::OpenOptions;
use std::io::{ErrorKind, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use crate::report::CAUTION;

use super::Exit;
use super::files::WORKSHOP_FILE;
use super::terminal::{print, say};

/// What a folder is started with.
const FILES: [(&str, &str); 2] =
    [("line-stage.kdl", include_str!("start/line-stage.kdl")), (WORKSHOP_FILE, include_str!("start/coldcheck.kdl"))];

#[derive(Args)]
pub(super) struct Arguments {
    /// Where to put a first design and a workshop file; made where it is not there
    #[arg(value_name = "FOLDER")]
    folder: PathBuf,
}

pub(super) fn run(arguments: &Arguments) -> Exit {
    let folder = &arguments.folder;
    if let Some((name, _)) = FILES.iter().find(|(name, _)| folder.join(name).symlink_metadata().is_ok()) {
        say(&format!("`{}` is there already, and nothing was written\n", folder.join(name).display()));
        return Exit::Unreadable;
    }
    match write(folder) {
        Ok(()) => print(&what_next(folder), Exit::Clear),
        Err(reason) => {
            say(&format!("{reason}\n"));
            Exit::Unreadable
        }
    }
}

fn write(folder: &Path) -> Result<(), String> {
    std::fs::create_dir_all(folder).map_err(|error| format!("`{}` could not be made: {error}", folder.display()))?;
    for (name, text) in FILES {
        let path = folder.join(name);
        // Even a file that has come in the meantime stays as it is.
        let mut file = OpenOptions::new().write(true).create_new(true).open(&path).map_err(|error| {
            if error.kind() == ErrorKind::AlreadyExists {
                format!("`{}` is there already", path.display())
            } else {
                format!("`{}` could not be written: {error}", path.display())
            }
        })?;
        file.write_all(text.as_bytes())
            .map_err(|error| format!("`{}` could not be written: {error}", path.display()))?;
    }
    Ok(())
}

fn what_next(folder: &Path) -> String {
    let [design, workshop] = FILES.map(|(name, _)| folder.join(name).display().to_string());
    let folder = folder.display();
    format!(
        "{design}    a line stage with its supply, to change into your own
{workshop}    what every design in this folder is held to

Next:
  coldcheck inspect {folder}
  coldcheck facts {design}
  coldcheck facts {design} V1a
  coldcheck why supply/bleeder
Then change a value, such as the voltage rating of C10 to \"250V\", and inspect again.

{CAUTION}
"
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::tidy;

    #[test]
    fn what_a_folder_is_started_with_is_laid_out_the_one_way() {
        for (name, text) in FILES {
            assert_eq!(tidy(text).as_deref(), Ok(text), "{name}");
        }
    }
}
