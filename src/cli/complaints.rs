//! What could not be read, told the one way: on stderr, remarks left out where quiet is wanted.

use std::path::PathBuf;

use crate::report::complaints_as_text;
use crate::source::{Complaint, Severity, Sources};

use super::Exit;
use super::house::House;
use super::options::{Grounds, Looks};
use super::terminal::{for_complaints, say};

/// Complaints as stderr has them.
pub(super) fn told(complaints: &[Complaint], sources: &Sources, looks: &Looks) -> String {
    let heard = complaints.iter().filter(|complaint| !looks.quiet || complaint.severity == Severity::Error);
    complaints_as_text(heard, sources, for_complaints(looks))
}

/// Whether anything could not be read.
pub(super) fn unread(complaints: &[Complaint]) -> bool {
    complaints.iter().any(|complaint| complaint.severity == Severity::Error)
}

/// Tells complaints, and gives what the run amounts to for them.
pub(super) fn tell(complaints: &[Complaint], sources: &Sources, looks: &Looks) -> Exit {
    say(&told(complaints, sources, looks));
    if unread(complaints) { Exit::Unreadable } else { Exit::Clear }
}

/// Opens what these designs are judged against, and tells what is wrong with it.
pub(super) fn open(grounds: &Grounds, looks: &Looks, designs: &[PathBuf]) -> (House, Exit) {
    let house = House::open(grounds, designs);
    let exit = tell(house.complaints(), house.sources(), looks);
    (house, exit)
}
