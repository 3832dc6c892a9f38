//! `coldcheck manual` and `coldcheck completions SHELL`, both made from the command line's own description.

use clap::{Args, Command};
use clap_complete::Shell;

use super::Exit;
use super::terminal::{print, say};

#[derive(Args)]
pub(super) struct CompletionsArguments {
    /// The shell to complete for
    #[arg(value_enum, value_name = "SHELL")]
    shell: Shell,
}

/// Prints the completions for a shell.
pub(super) fn completions(arguments: &CompletionsArguments, mut command: Command) -> Exit {
    let name = command.get_name().to_owned();
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut command, name, &mut script);
    print(&String::from_utf8_lossy(&script), Exit::Clear)
}

/// Prints the manual page, every command on it.
pub(super) fn manual(mut command: Command) -> Exit {
    command.build();
    let commands: Vec<Command> = command.get_subcommands().filter(|each| each.get_name() != "help").cloned().collect();
    let mut page = Vec::new();
    let write = || -> std::io::Result<()> {
        let man = clap_mangen::Man::new(command.clone());
        man.render(&mut page)?;
        for each in commands {
            let title = each.get_bin_name().unwrap_or(each.get_name()).to_uppercase();
            let man = clap_mangen::Man::new(each);
            page.extend(format!(".SH \"{title}\"\n").into_bytes());
            let mut section = Vec::new();
            man.render_synopsis_section(&mut section)?;
            man.render_description_section(&mut section)?;
            man.render_options_section(&mut section)?;
            // Each is a part of the command's own section, not one beside it.
            page.extend(String::from_utf8_lossy(&section).replace("\n.SH ", "\n.SS ").into_bytes());
        }
        Ok(())
    };
    match write() {
        Ok(()) => print(&String::from_utf8_lossy(&page), Exit::Clear),
        Err(error) => {
            say(&format!("the manual page could not be made: {error}\n"));
            Exit::Unreadable
        }
    }
}
