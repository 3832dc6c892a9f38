//! `coldcheck prove [RULES…]`

use clap::Args;

use crate::report::{proofs_as_text, reference_as_markdown};

use super::Exit;
use super::complaints::{open, told};
use super::options::{Grounds, Looks};
use super::terminal::{for_results, print, say};

#[derive(Args)]
pub(super) struct Arguments {
    /// Rules (`capacitor/surge`) or topics (`capacitor`); all where not given
    #[arg(value_name = "RULES")]
    names: Vec<String>,
    /// Print the reference of these rules as Markdown instead of proving them
    #[arg(long)]
    reference: bool,
    #[command(flatten)]
    grounds: Grounds,
    #[command(flatten)]
    looks: Looks,
}

pub(super) fn run(arguments: &Arguments) -> Exit {
    let (house, read) = open(&arguments.grounds, &arguments.looks, &[]);
    let covers =
        |asked: &str, rule: &str| rule == asked || rule.split_once('/').is_some_and(|(topic, _)| topic == asked);
    let names = house.rule_names();
    for asked in &arguments.names {
        if !names.iter().any(|rule| covers(asked, rule)) {
            say(&house.unknown_rule(asked));
            return Exit::Unreadable;
        }
    }
    let wanted: Vec<&str> = names
        .into_iter()
        .filter(|rule| arguments.names.is_empty() || arguments.names.iter().any(|asked| covers(asked, rule)))
        .collect();
    if arguments.reference {
        // The sets belong to the whole page, not to one topic of it.
        let reference = house.reference(&wanted, arguments.names.is_empty());
        return print(&reference_as_markdown(&reference), read);
    }
    let unproved = house.unproved(&wanted);
    say(&told(&unproved, house.sources(), &arguments.looks));
    let proofs = house.prove(&wanted);
    let proved = proofs.failures.is_empty() && unproved.is_empty();
    let found = if proved { Exit::Clear } else { Exit::Found };
    print(&proofs_as_text(&proofs, for_results(&arguments.looks)), read.max(found))
}
