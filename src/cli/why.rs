//! `coldcheck why RULE`

use clap::Args;

use crate::report::{complaints_as_text, lesson_as_text};
use crate::source::Severity;

use super::Exit;
use super::house::House;
use super::options::{Grounds, Looks};
use super::terminal::{for_complaints, for_results, print, say};

#[derive(Args)]
pub(super) struct Arguments {
    /// The rule's name, such as `capacitor/working-voltage`
    #[arg(value_name = "RULE")]
    rule: String,
    #[command(flatten)]
    grounds: Grounds,
    #[command(flatten)]
    looks: Looks,
}

pub(super) fn run(arguments: &Arguments) -> Exit {
    let house = House::open(&arguments.grounds, &[]);
    say(&complaints_as_text(house.complaints(), house.sources(), for_complaints(&arguments.looks)));
    let Some(sheet) = house.lesson(&arguments.rule) else {
        say(&house.unknown_rule(&arguments.rule));
        return Exit::Unreadable;
    };
    let unread = house.complaints().iter().any(|complaint| complaint.severity == Severity::Error);
    let exit = if unread { Exit::Unreadable } else { Exit::Clear };
    print(&lesson_as_text(&sheet, for_results(&arguments.looks)), exit)
}
