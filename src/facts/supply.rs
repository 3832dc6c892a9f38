//! Facts of rectifiers and chokes, with the rectifiers' published limits.

use crate::catalogue::{RectifierLimits, SectionKind};
use crate::circuit::{Conduction, FILTER_FARADS, NetId};
use crate::design::{Kind, PartId};
use crate::physics::SteadyState;
use crate::units::{Farads, Quantity};

use super::lowering::sections_in;
use super::recorder::{Recorder, origin};
use super::study::{Solved, Study};
use super::switching::Followed;
use super::windings::winding_sources;
use super::{State, SubjectId, SubjectKind, Value};

pub(super) fn record(recorder: &mut Recorder<'_>, surge: Option<&Followed>) {
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        if let Kind::Choke(_) = part.kind {
            choke(recorder, id);
        } else if study.roles.rectifiers.contains(&id) {
            rectifier(recorder, id, surge);
        }
    }
}

/// The elements of a rectifier: way, plate terminal. Anodes at ground or at a minus rail are fed by the cathode side.
fn ways(study: &Study<'_>, id: PartId) -> Vec<(&'static str, &'static str)> {
    match &study.design.part(id).kind {
        Kind::Bridge(_) => vec![("ac1-plus", "ac1"), ("ac2-plus", "ac2"), ("minus-ac1", "ac1"), ("minus-ac2", "ac2")],
        Kind::Tube(tube) => {
            let single = tube.sections.iter().any(|s| s.kind == SectionKind::Rectifier { plates: 1 });
            if single { vec![("plate", "plate")] } else { vec![("plate1", "plate1"), ("plate2", "plate2")] }
        }
        _ => vec![("", "anode")],
    }
}

fn rectifier(recorder: &mut Recorder<'_>, id: PartId, surge: Option<&Followed>) {
    let study = recorder.study;
    let part = study.design.part(id);
    let subject = recorder.subject(SubjectKind::Rectifier, &part.name, Some(id), part.name_span);
    let is_tube = matches!(part.kind, Kind::Tube(_));
    let is_bridge = matches!(part.kind, Kind::Bridge(_));
    recorder.word(subject, "kind", if is_tube { "tube" } else { "silicon" }, part.name_span);
    let shorted = study
        .circuit
        .all_links()
        .any(|link| link.part == id && link.conduction == Conduction::Rectifying && link.from_net == link.to_net);
    recorder.flag(subject, "shorted", shorted, part.name_span);
    let ways = ways(study, id);
    let origins = vec![origin(part.name_span, "the rectifier")];
    let over = |solved: &Solved, steady: &SteadyState, pick: &dyn Fn(&crate::physics::ElementSwing) -> f64| {
        let found = ways.iter().filter_map(|(way, _)| solved.swing(steady, id, way)).map(pick);
        found.reduce(f64::max)
    };
    recorder.solved(subject, "peak-inverse-voltage", &origins, |solved, steady| {
        over(solved, steady, &|swing| (-swing.voltage.minimum).max(0.0))
    });
    recorder.solved(subject, "peak-current", &origins, |solved, steady| {
        over(solved, steady, &|swing| swing.current.maximum)
    });
    recorder.solved(subject, "direct-current", &origins, |solved, steady| {
        let all = ways.iter().filter_map(|(way, _)| solved.swing(steady, id, way)).map(|swing| swing.current.mean);
        let total: f64 = all.sum();
        // Every ampere of a bridge passes two of its four diodes.
        Some(if is_bridge { total / 2.0 } else { total })
    });
    if let (Some(Ok(surge)), Some(solved)) = (surge, study.drawn(State::SwitchOn)) {
        let most = ways.iter().filter_map(|(way, _)| surge.current(solved, id, way)).reduce(f64::max);
        if let Some(amperes) = most {
            let value = Value::Quantity(amperes);
            recorder.in_state(subject, "hot-switch-current", State::SwitchOn, value, origins.clone());
        }
    }
    first_capacitor(recorder, subject, id);
    plate_supply(recorder, subject, id, &ways);
    limits(recorder, subject, id);
}

fn first_capacitor(recorder: &mut Recorder<'_>, subject: SubjectId, id: PartId) {
    let study = recorder.study;
    let outputs = study.roles.delivers(study.design, study.circuit, id);
    let Farads(farads) = study.roles.reservoir(study.design, study.circuit, &outputs);
    let capacitors = outputs.iter().flat_map(|net| study.circuit.links(*net)).filter_map(|link| {
        match &study.design.part(link.part).kind {
            Kind::Capacitor(capacitor) if farads > 0.0 => Some(capacitor.capacitance.span),
            _ => None,
        }
    });
    let span = capacitors.min_by_key(|span| (span.file, span.start)).unwrap_or(study.design.part(id).name_span);
    recorder.quantity(subject, "first-capacitor", farads, span, "charged by the rectifier directly");
}

/// Whether a rectifier works into a choke: what capacitance stands before it, if any, only catches its switching.
fn works_into_choke(study: &Study<'_>, id: PartId) -> bool {
    let outputs = study.roles.delivers(study.design, study.circuit, id);
    let Farads(farads) = study.roles.reservoir(study.design, study.circuit, &outputs);
    farads < FILTER_FARADS
}

fn plate_source(study: &Study<'_>, id: PartId, terminal: &str) -> Option<PlateSource> {
    let circuit = study.circuit;
    let plate = circuit.net_of(id, terminal)?;
    for (part_id, part) in study.design.ids() {
        let Kind::Transformer(transformer) = &part.kind else { continue };
        for winding in winding_sources(transformer) {
            let single = winding.sources.len() == 1;
            for source in winding.sources {
                // The plate hangs on the outer end of its half; a whole winding serves from either end.
                let ends: &[&String] = match source.half {
                    "start" => &[&source.ends.0],
                    "finish" => &[&source.ends.1],
                    _ => &[&source.ends.0, &source.ends.1],
                };
                for end in ends {
                    let Some(net) = circuit.net_of(part_id, end) else { continue };
                    let added = circuit.resistance_to(plate, &[net].into(), &[part_id]);
                    if let Some(added) = added.filter(|_| !circuit.is_ground(net) || single) {
                        return Some(PlateSource {
                            ohms: source.resistance.base() + added.base(),
                            rated: transformer.primary.voltage.value.base() * source.ratio,
                            emf: source.emf.base(),
                        });
                    }
                }
            }
        }
    }
    None
}

/// Crest of the open-circuit voltage, at high mains, of the windings whose rectifiers feed the rails of these nets.
pub(super) fn no_load_crest(study: &Study<'_>, nets: &[NetId]) -> Option<f64> {
    let circuit = study.circuit;
    let fed = nets
        .iter()
        .filter(|net| study.roles.rails.contains(net))
        .flat_map(|net| circuit.reach(*net, |link| link.conduction.is_permanent(), |other| circuit.is_ground(other)));
    let outputs: Vec<NetId> = fed.filter(|net| study.roles.outputs.contains(net)).collect();
    let high = study.mains.at(super::State::HighMains);
    let mut crest: Option<f64> = None;
    for id in &study.roles.rectifiers {
        if !study.roles.delivers(study.design, circuit, *id).iter().any(|net| outputs.contains(net)) {
            continue;
        }
        for (_, terminal) in ways(study, *id) {
            if let Some(source) = plate_source(study, *id, terminal) {
                let volts = source.emf * high * std::f64::consts::SQRT_2;
                crest = Some(crest.map_or(volts, |known: f64| known.max(volts)));
            }
        }
    }
    crest
}

/// What feeds a plate.
struct PlateSource {
    /// Winding half with the reflected primary, and what resistance is added on the way.
    ohms: f64,
    /// Rated rms voltage of the half.
    rated: f64,
    /// Open-circuit rms voltage of the half at the primary's rated voltage.
    emf: f64,
}

fn plate_supply(recorder: &mut Recorder<'_>, subject: SubjectId, id: PartId, ways: &[(&str, &str)]) {
    let study = recorder.study;
    let part = study.design.part(id);
    let found = ways.iter().filter_map(|(_, terminal)| plate_source(study, id, terminal));
    let Some(source) = found.min_by(|a, b| a.ohms.total_cmp(&b.ohms)) else {
        if limits_in(study, id, 0).is_some_and(|limits| !limits.plate_supply.is_empty()) {
            let reason = "no winding was found that feeds its plates through resistance alone";
            recorder.failure(subject, "plate-supply-resistance-limit", reason);
        }
        return;
    };
    let (ohms, volts) = (source.ohms, source.rated);
    let samples = vec![super::recorder::sample(None, 0, Value::Quantity(ohms))];
    let origins = vec![origin(part.name_span, "the rectifier")];
    recorder.samples(subject, "plate-supply-resistance", samples, origins);
    let span = part.name_span;
    // Data sheets ask for it where the rectifier charges a capacitor: a choke limits the gulps by itself.
    if works_into_choke(study, id) {
        return;
    }
    recorder.by_lineup(subject, "plate-supply-resistance-limit", span, "published limit", |lineup| {
        let points = limits_in(study, id, lineup)?.plate_supply;
        let at = |volts: f64| -> Option<f64> {
            let first = points.first()?;
            if volts <= first.voltage.base() {
                return Some(first.resistance.base());
            }
            for pair in points.windows(2) {
                if let [low, high] = pair
                    && volts <= high.voltage.base()
                {
                    let share = (volts - low.voltage.base()) / (high.voltage.base() - low.voltage.base());
                    return Some(low.resistance.base() + share * (high.resistance.base() - low.resistance.base()));
                }
            }
            points.last().map(|point| point.resistance.base())
        };
        Some(Value::Quantity(at(volts)?))
    });
}

fn limits_in(study: &Study<'_>, id: PartId, lineup: usize) -> Option<RectifierLimits> {
    let part = study.design.part(id);
    match &part.kind {
        Kind::Tube(tube) => {
            let sections = sections_in(study.devices, part, tube, study.lineups.get(lineup)?);
            sections.into_iter().find_map(|section| section.rectifier)
        }
        Kind::Diode(diode) => match &diode.kind {
            crate::design::DiodeKind::Plain(name) => silicon(study, &name.value),
            _ => None,
        },
        Kind::Bridge(bridge) => silicon(study, &bridge.device.value),
        _ => None,
    }
}

fn silicon(study: &Study<'_>, name: &str) -> Option<RectifierLimits> {
    let entry = study.devices.diode(name)?;
    Some(RectifierLimits {
        inverse_voltage: entry.inverse_voltage,
        peak_current: entry.peak_current,
        direct_current: entry.direct_current,
        ..RectifierLimits::default()
    })
}

fn limits(recorder: &mut Recorder<'_>, subject: SubjectId, id: PartId) {
    let study = recorder.study;
    let span = match &study.design.part(id).kind {
        Kind::Tube(tube) => tube.device.span,
        Kind::Bridge(bridge) => bridge.device.span,
        _ => study.design.part(id).name_span,
    };
    let mut published = |fact: &str, pick: &dyn Fn(&RectifierLimits) -> Option<f64>| {
        recorder.by_lineup(subject, fact, span, "published limit", |lineup| {
            Some(Value::Quantity(pick(&limits_in(study, id, lineup)?)?))
        });
    };
    published("peak-inverse-voltage-limit", &|l| l.inverse_voltage.map(Quantity::base));
    published("peak-current-limit", &|l| l.peak_current.map(Quantity::base));
    published("direct-current-limit", &|l| l.direct_current.map(Quantity::base));
    published("hot-switch-current-limit", &|l| l.hot_switch_current.map(Quantity::base));
    published("first-capacitor-limit", &|l| l.first_capacitor.map(Quantity::base));
}

fn choke(recorder: &mut Recorder<'_>, id: PartId) {
    let study = recorder.study;
    let part = study.design.part(id);
    let Kind::Choke(choke) = &part.kind else { return };
    let subject = recorder.subject(SubjectKind::Choke, &part.name, Some(id), part.name_span);
    recorder.quantity(subject, "inductance", choke.inductance.value.base(), choke.inductance.span, "as stated");
    if let Some(resistance) = &choke.resistance {
        recorder.quantity(subject, "resistance", resistance.value.base(), resistance.span, "as stated");
    }
    if let Some(current) = &choke.current {
        recorder.quantity(subject, "rated-current", current.value.base(), current.span, "as stated");
    }
    super::resistors::shorted(recorder, subject, id, "from", "to");
    let origins = vec![origin(choke.inductance.span, "the choke")];
    recorder.solved(subject, "direct-current", &origins, |solved, steady| {
        Some(solved.swing(steady, id, "")?.current.mean.abs())
    });
    let ohms = choke.resistance.as_ref().map_or(0.0, |r| r.value.base());
    recorder.solved(subject, "dissipation", &origins, |solved, steady| {
        Some(solved.swing(steady, id, "")?.current.rms.powi(2) * ohms)
    });
    recorder.solved(subject, "alternating-voltage", &origins, |solved, steady| {
        let swing = solved.swing(steady, id, "")?.voltage;
        Some((swing.rms.powi(2) - swing.mean.powi(2)).max(0.0).sqrt())
    });
    let ends = ["from", "to"].map(|end| study.circuit.net_of(id, end));
    let input = ends.iter().flatten().copied().find(|net| {
        study.roles.rectifiers.iter().any(|rectifier| {
            study.roles.delivers(study.design, study.circuit, *rectifier).contains(net)
                && works_into_choke(study, *rectifier)
        })
    });
    recorder.flag(subject, "choke-input", input.is_some(), part.name_span);
    let (Some(input), [Some(from), Some(to)]) = (input, ends) else { return };
    let output = if input == from { to } else { from };
    let frequency = study.mains.frequency.base();
    recorder.solved(subject, "critical-inductance", &origins, |solved, steady| {
        let current = solved.swing(steady, id, "")?.current.mean.abs();
        let volts = solved.mean(steady, output)?.abs();
        // R/(6πf), full wave: the peak of the second harmonic just reaches the mean (handbook formula).
        (current > 0.0).then(|| volts / current / (6.0 * std::f64::consts::PI * frequency))
    });
}
