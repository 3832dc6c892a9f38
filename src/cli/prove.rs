//! `coldcheck prove [RULES…]`

use clap::Args;

use crate::report::{complaints_as_text, proofs_as_text, reference_as_markdown};
use crate::source::Severity;

use super::Exit;
use super::house::House;
use super::options::{Grounds, Looks};
use super::terminal::{for_complaints, for_results, print, say};

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
    let house = House::open(&arguments.grounds, &[]);
    say(&complaints_as_text(house.complaints(), house.sources(), for_complaints(&arguments.looks)));
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
    let unread = house.complaints().iter().any(|complaint| complaint.severity == Severity::Error);
    if arguments.reference {
        let exit = if unread { Exit::Unreadable } else { Exit::Clear };
        // The sets belong to the whole page, not to one topic of it.
        let reference = house.reference(&wanted, arguments.names.is_empty());
        return print(&reference_as_markdown(&reference), exit);
    }
    let unproved = house.unproved(&wanted);
    say(&complaints_as_text(&unproved, house.sources(), for_complaints(&arguments.looks)));
    let proofs = house.prove(&wanted);
    let exit = if unread {
        Exit::Unreadable
    } else if !proofs.failures.is_empty() || !unproved.is_empty() {
        Exit::Found
    } else {
        Exit::Clear
    };
    print(&proofs_as_text(&proofs, for_results(&arguments.looks)), exit)
}
