//! Whether each alternate goes into the socket as it is wired.

use crate::catalogue::TubeEntry;
use crate::design::Kind;
use crate::units::Quantity;

use super::recorder::Recorder;
use super::{SubjectKind, Value};

/// Largest share by which a heater's rated voltage may differ from the one that the socket is wired for.
const HEATER_SHARE: f64 = 0.15;

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for (_, part) in study.design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        let (Some(heater), Some(first)) = (&tube.heater, tube.alternates.first()) else { continue };
        let Some(subject) = recorder.find(SubjectKind::Heater, &format!("{}.heater", part.name)) else { continue };
        let Some(drawn) = study.devices.tube(&tube.canonical) else { continue };
        let wired = heater.voltage.value;
        let fitted =
            |lineup: usize| -> Option<&TubeEntry> { study.devices.tube(study.lineups.get(lineup)?.get(&part.name)?) };
        // The span of the first alternate that does not fit, else of the first.
        let fits = |other: &TubeEntry| other.fits_socket_of(drawn, wired);
        let wrong =
            tube.alternates.iter().find(|name| study.devices.tube(&name.value).is_some_and(|other| !fits(other)));
        let span = wrong.unwrap_or(first).span;
        recorder.by_lineup(subject, "basing-agrees", span, "named as an alternate", |lineup| {
            Some(Value::Flag(fits(fitted(lineup)?)))
        });
        let cold = tube
            .alternates
            .iter()
            .find(|name| study.devices.tube(&name.value).is_some_and(|other| !heats(other, wired.base())));
        let span = cold.unwrap_or(first).span;
        recorder.by_lineup(subject, "heater-agrees", span, "named as an alternate", |lineup| {
            Some(Value::Flag(heats(fitted(lineup)?, wired.base())))
        });
    }
}

fn heats(tube: &TubeEntry, wired: f64) -> bool {
    tube.heaters.iter().any(|heater| (heater.voltage.base() / wired - 1.0).abs() <= HEATER_SHARE)
}
