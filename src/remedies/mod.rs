//! Edits that might clear a finding, each tried out on a copy of the design before anybody calls it checked.
//!
//! Makes candidates from a finding, the statement that it points at and the shelf; puts each to a trial, which is an
//! inspection of the changed texts; and tells whether that cleared the finding and brought nothing as serious. Knows
//! nothing of formats, editors or files: whoever asks provides the inspection.

mod bench;
mod mains;
mod parts;
mod prove;
mod scale;
mod trial;
mod values;
mod waive;
mod wiring;

pub(crate) use bench::Drawn;
pub(crate) use prove::prove;
pub(crate) use trial::{Texts, applied, changed, clears};
pub(crate) use waive::waivers;

use crate::findings::{Edit, Finding};

use bench::Bench;

/// An edit to try.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Candidate {
    /// The edit in words.
    pub(crate) title: String,
    /// The edits.
    pub(crate) edits: Vec<Edit>,
    /// The advice that it follows: a place among the finding's remedies.
    pub(crate) remedy: usize,
    /// The value that it tries, as it is shown.
    pub(crate) value: Option<String>,
    /// What the advice says instead where the edit has cleared the finding.
    pub(crate) advice: Option<String>,
}

/// The edits for a finding in order of preference: the first that works is enough.
pub(crate) fn candidates(finding: &Finding, drawn: Drawn<'_>) -> Vec<Candidate> {
    let bench = Bench::new(finding, drawn);
    match finding.rule.as_str() {
        "grid/leak-present" => bench.grid_leak(),
        "supply/bleeder" => bench.bleeder(),
        "heater/reference" => bench.heater_pair(),
        "capacitor/polarity" => bench.swap(),
        "mains/fuse-first" | "mains/fuse" => bench.fuse(),
        "mains/live-switched" => bench.live_switch(),
        "mains/switch" => bench.switch_rated(),
        "mains/earth" => bench.earth(),
        "capacitor/across-mains" => bench.safety_class("X2", None),
        "capacitor/line-to-earth" => bench.safety_class("Y2", Some(4.7e-9)),
        "grid/leak-limit" => bench.leak_lowered(),
        "tube/unused-section" => bench.left_unused(),
        "tube/alternate-basing" => bench.alternate_out(),
        "wiring/floating" => bench.path_to_ground(),
        "wiring/duplicate" => bench.wire_out(),
        "grid/stopper" => bench.stopper("grid", &["1k", "2k2", "4k7"]),
        "grid/screen-stopper" => bench.stopper("screen", &["100", "220", "470"]),
        _ => bench.values(),
    }
}
