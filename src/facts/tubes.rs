//! Facts of signal-tube sections: operating point, bias, grid circuit, heater–cathode voltage, published limits.

use crate::catalogue::{PentodeLaw, Section, SectionKind};
use crate::circuit::{BiasKind, Conduction, NetId, Roles, electrode_name};
use crate::design::{DiodeKind, Kind, PartId, Tube};
use crate::physics::{Element, NodeId, SteadyState};
use crate::units::Quantity;

use super::lowering::sections_in;
use super::recorder::{Recorder, origin};
use super::small::first_highest;
use super::study::{Solved, Study};
use super::{State, SubjectId, SubjectKind, Value, transformers};

/// Below this share of the plate current the screen current of Koren's form is none that a tube has (makers publish 5 to
/// 15 % of the cathode current).
const LEAST_SCREEN_SHARE: f64 = 0.01;

pub(super) fn record(recorder: &mut Recorder<'_>) {
    let study = recorder.study;
    for (id, part) in study.design.ids() {
        let Kind::Tube(tube) = &part.kind else { continue };
        for section in &tube.sections {
            if !matches!(section.kind, SectionKind::Rectifier { .. } | SectionKind::Regulator) {
                SectionFacts::of(study, id, tube, section).record(recorder);
            }
        }
    }
}

struct SectionFacts<'a> {
    study: &'a Study<'a>,
    id: PartId,
    tube: &'a Tube,
    section: &'a Section,
    plate: Option<NetId>,
    grid: Option<NetId>,
    screen: Option<NetId>,
    cathode: Option<NetId>,
}

impl<'a> SectionFacts<'a> {
    fn of(study: &'a Study<'a>, id: PartId, tube: &'a Tube, section: &'a Section) -> Self {
        let net = |electrode: &str| study.circuit.net_of(id, &electrode_name(&section.suffix, electrode));
        let (plate, grid, screen, cathode) = (net("plate"), net("grid"), net("screen"), net("cathode"));
        Self { study, id, tube, section, plate, grid, screen, cathode }
    }

    fn electrode(&self, name: &str) -> String {
        electrode_name(&self.section.suffix, name)
    }

    fn record(&self, recorder: &mut Recorder<'_>) {
        let part = self.study.design.part(self.id);
        let name = format!("{}{}", part.name, self.section.suffix);
        let unused = self.tube.unused.iter().find(|unused| unused.value == self.section.suffix);
        let span = unused.map_or(part.name_span, |unused| unused.span);
        let subject = recorder.subject(SubjectKind::Tube, &name, Some(self.id), span);
        recorder.flag(subject, "left-unused", unused.is_some(), span);
        let joined = self.section.kind.electrodes().iter().filter(|electrode| {
            let net = self.study.circuit.net_of(self.id, &self.electrode(electrode));
            net.is_some_and(|net| self.study.circuit.net(net).terminals.len() > 1)
        });
        let joined = joined.count();
        let count = u32::try_from(joined).map_or(0.0, f64::from);
        recorder.quantity(subject, "electrodes-joined", count, span, "as connected");
        let shorted = unused.is_none() && self.plate.is_some() && self.plate == self.cathode;
        recorder.flag(subject, "shorted", shorted, span);
        self.limits(recorder, subject);
        if unused.is_some() {
            return;
        }
        self.connections(recorder, subject);
        self.screen_stopper(recorder, subject);
        self.works_transformer(recorder, subject);
        self.operating_point(recorder, subject);
        self.heater_cathode(recorder, subject);
    }

    fn operating_point(&self, recorder: &mut Recorder<'_>, subject: SubjectId) {
        let plate_origin = recorder.terminal_origin(self.id, &self.electrode("plate"));
        let grid_origin = recorder.terminal_origin(self.id, &self.electrode("grid"));
        if joined_none(self.plate, self.cathode) {
            for fact in ["plate-voltage", "plate-current", "plate-dissipation", "bias"] {
                recorder.failure(subject, fact, "its plate or cathode is joined to nothing");
            }
            return;
        }
        let study = self.study;
        let conducts = |solved: &Solved| solved.lowered.element(self.id, &self.section.suffix);
        let modelled = study.drawn(State::Running).is_some_and(|solved| conducts(solved).is_some());
        if !modelled {
            for fact in ["plate-voltage", "plate-current", "plate-dissipation", "bias"] {
                recorder.failure(subject, fact, "one of its electrodes is joined to nothing");
            }
            return;
        }
        let between = |solved: &Solved, steady: &SteadyState, a: Option<NetId>, b: Option<NetId>| {
            Some(solved.mean(steady, a?)? - solved.mean(steady, b?)?)
        };
        let (plate, grid, screen, cathode) = (self.plate, self.grid, self.screen, self.cathode);
        let currents = |solved: &Solved, steady: &SteadyState| {
            let element = conducts(solved)?;
            steady.mean.currents.get(element.0).copied()
        };
        recorder.solved(subject, "plate-voltage", &plate_origin, |solved, steady| {
            conducts(solved)?;
            between(solved, steady, plate, cathode)
        });
        recorder.solved(subject, "cold-plate-voltage", &plate_origin, |solved, steady| {
            if conducts(solved).is_some() || solved.empty == Some(self.id) {
                return None;
            }
            between(solved, steady, plate, cathode)
        });
        recorder.solved(subject, "bias", &grid_origin, |solved, steady| {
            conducts(solved)?;
            between(solved, steady, grid, cathode)
        });
        recorder.solved(subject, "plate-current", &plate_origin, |solved, steady| {
            Some(currents(solved, steady)?.main.base())
        });
        recorder.solved(subject, "cathode-current", &plate_origin, |solved, steady| {
            Some(currents(solved, steady)?.cathode().base())
        });
        recorder.solved(subject, "plate-dissipation", &plate_origin, |solved, steady| {
            Some(currents(solved, steady)?.main.base() * between(solved, steady, plate, cathode)?)
        });
        if self.section.kind == SectionKind::Pentode {
            let origin = recorder.terminal_origin(self.id, &self.electrode("screen"));
            recorder.solved(subject, "screen-voltage", &origin, |solved, steady| {
                conducts(solved)?;
                between(solved, steady, screen, cathode)
            });
            // Koren's form cuts the screen off while the plate still conducts: no figure is better than that one.
            let drawn = |solved: &Solved, steady: &SteadyState| {
                let all = currents(solved, steady)?;
                let element = solved.lowered.network.elements.get(conducts(solved)?.0)?;
                let cuts_off = matches!(element, Element::Pentode { model: PentodeLaw::Koren(_), .. });
                let believed = !cuts_off || all.screen.base() > LEAST_SCREEN_SHARE * all.main.base();
                believed.then(|| all.screen.base())
            };
            recorder.solved(subject, "screen-current", &origin, drawn);
            recorder.solved(subject, "screen-dissipation", &origin, |solved, steady| {
                Some(drawn(solved, steady)? * between(solved, steady, screen, cathode)?)
            });
            for fact in ["screen-current", "screen-dissipation"] {
                if recorder.table.entry(subject, fact).is_none() {
                    recorder.failure(
                        subject,
                        fact,
                        "the screen of its model, `form=koren`, does not reach so near to cut-off",
                    );
                }
            }
        }
        self.slopes(recorder, subject);
        self.plate_rest(recorder, subject);
    }

    fn slopes(&self, recorder: &mut Recorder<'_>, subject: SubjectId) {
        let origin = recorder.terminal_origin(self.id, &self.electrode("plate"));
        let slopes = |solved: &Solved, steady: &SteadyState| {
            let element = solved.lowered.element(self.id, &self.section.suffix)?;
            let element = solved.lowered.network.elements.get(element.0)?;
            let voltage = |node: NodeId| steady.mean.voltage(node).base();
            crate::physics::tube_slopes(element, voltage)
        };
        recorder.solved(subject, "transconductance", &origin, |solved, steady| {
            Some(slopes(solved, steady)?.transconductance.base())
        });
        recorder.solved(subject, "plate-resistance", &origin, |solved, steady| {
            Some(1.0 / slopes(solved, steady)?.plate_conductance.base())
        });
        recorder.solved(subject, "amplification", &origin, |solved, steady| {
            let slopes = slopes(solved, steady)?;
            Some(slopes.transconductance.base() / slopes.plate_conductance.base())
        });
    }

    fn plate_rest(&self, recorder: &mut Recorder<'_>, subject: SubjectId) {
        let span = self.study.design.part(self.id).name_span;
        let supply = self.plate.and_then(|plate| load_supply(self.study, plate));
        recorder.flag(subject, "resistance-loaded", supply.is_some(), span);
        let (Some(supply), Some(plate)) = (supply, self.plate) else { return };
        let origins = recorder.terminal_origin(self.id, &self.electrode("plate"));
        recorder.solved(subject, "plate-rest", &origins, |solved, steady| {
            solved.lowered.element(self.id, &self.section.suffix)?;
            if solved.state != State::Running {
                return None;
            }
            Some(solved.mean(steady, plate)? / solved.mean(steady, supply)?)
        });
    }

    fn connections(&self, recorder: &mut Recorder<'_>, subject: SubjectId) {
        let (study, circuit, roles) = (self.study, self.study.circuit, self.study.roles);
        let span = study.design.part(self.id).name_span;
        if let Some(cathode) = self.cathode {
            let kind = roles.bias_kind(circuit, self.grid, cathode);
            recorder.word(subject, "bias-kind", kind.word(), span);
            let seat = Roles::seat(circuit, cathode);
            let stands = |net: NetId| roles.returns.contains(&net) && !seat.contains(&net);
            let mut links = seat.iter().flat_map(|net| circuit.links(*net).map(move |link| (link, *net)));
            let bypassed =
                links.any(|(link, net)| link.conduction == Conduction::Capacitive && stands(link.other(net)));
            let held = bypassed || circuit.is_ground(cathode) || held_by_diodes(study, cathode);
            recorder.flag(subject, "bypassed", held, span);
            self.leak_limit(recorder, subject, kind);
        }
        let Some(grid) = self.grid else {
            recorder.failure(subject, "grid-return", "its grid is joined to nothing");
            return;
        };
        let grid_span = circuit.joined_at(self.id, &self.electrode("grid")).unwrap_or(span);
        let leak = roles.grid_leak(circuit, grid);
        recorder.stated(
            subject,
            "grid-return",
            Value::Flag(leak.is_some() || self.held_otherwise(grid)),
            grid_span,
            "the grid is joined here",
        );
        if let Some(leak) = leak {
            recorder.quantity(subject, "grid-leak", leak.base(), grid_span, "the grid is joined here");
        }
        let stopper = roles.stopper_of(study.design, circuit, grid);
        let ohms = stopper.map_or(0.0, |part| match &study.design.part(part).kind {
            Kind::Resistor(resistor) => resistor.resistance.value.base(),
            _ => 0.0,
        });
        recorder.quantity(subject, "grid-stopper", ohms, grid_span, "the grid is joined here");
    }

    /// A grid that another tube or a diode holds has a return too, though no resistance measures it.
    fn held_otherwise(&self, grid: NetId) -> bool {
        let circuit = self.study.circuit;
        let roles = self.study.roles;
        let reached =
            circuit.reach(grid, |link| link.conduction.passes_direct_current(), |net| roles.returns.contains(&net));
        reached.iter().any(|net| *net != grid && roles.returns.contains(net))
    }

    fn leak_limit(&self, recorder: &mut Recorder<'_>, subject: SubjectId, kind: BiasKind) {
        let span = self.study.design.part(self.id).name_span;
        recorder.by_lineup(subject, "grid-leak-limit", span, "published limit", |lineup| {
            let limits = self.section_in(lineup)?.limits;
            let ohms = match kind {
                BiasKind::Cathode => limits.grid_leak_cathode_bias,
                BiasKind::Fixed | BiasKind::None => limits.grid_leak_fixed_bias,
            };
            Some(Value::Quantity(ohms?.base()))
        });
    }

    /// The resistor at the screen pin, and whether a screen that runs hot would want one.
    fn screen_stopper(&self, recorder: &mut Recorder<'_>, subject: SubjectId) {
        let Some(screen) = self.screen else { return };
        let study = self.study;
        let ohms = study.roles.screen_stopper(study.design, study.circuit, screen).map_or(0.0, Quantity::base);
        let span = study.circuit.joined_at(self.id, &self.electrode("screen")).unwrap_or(self.tube.device.span);
        recorder.quantity(subject, "screen-stopper", ohms, span, "the screen is joined here");
    }

    fn works_transformer(&self, recorder: &mut Recorder<'_>, subject: SubjectId) {
        let Some(plate) = self.plate else { return };
        let Some(on) = transformers::worked_by(self.study, plate) else { return };
        let span = self.study.design.part(self.id).name_span;
        let paired = transformers::workers(self.study, on).iter().any(|(_, _, other)| *other != plate);
        recorder.flag(subject, "works-transformer", true, span);
        recorder.flag(subject, "works-paired", paired, span);
        let own = self.screen.and_then(|screen| transformers::screen_on_own_half(self.study, plate, screen));
        if let Some(own) = own {
            let joined = self.study.circuit.joined_at(self.id, &self.electrode("screen")).unwrap_or(span);
            recorder.word(subject, "screen-tap", if own { "own" } else { "other" }, joined);
        }
    }

    fn section_in(&self, lineup: usize) -> Option<Section> {
        let part = self.study.design.part(self.id);
        let lineup = self.study.lineups.get(lineup)?;
        sections_in(self.study.devices, part, self.tube, lineup)
            .into_iter()
            .find(|section| section.suffix == self.section.suffix)
    }

    fn limits(&self, recorder: &mut Recorder<'_>, subject: SubjectId) {
        let span = self.tube.device.span;
        let mut published = |fact: &str, pick: &dyn Fn(&Section) -> Option<f64>| {
            recorder.by_lineup(subject, fact, span, "published limit", |lineup| {
                Some(Value::Quantity(pick(&self.section_in(lineup)?)?))
            });
        };
        published("plate-voltage-limit", &|s| s.limits.plate_voltage.map(Quantity::base));
        published("cold-plate-voltage-limit", &|s| s.limits.cold_plate_voltage.map(Quantity::base));
        published("plate-dissipation-limit", &|s| s.limits.plate_dissipation.map(Quantity::base));
        published("screen-voltage-limit", &|s| s.limits.screen_voltage.map(Quantity::base));
        published("screen-dissipation-limit", &|s| s.limits.screen_dissipation.map(Quantity::base));
        published("cathode-current-limit", &|s| s.limits.cathode_current.map(Quantity::base));
    }

    fn heater_cathode(&self, recorder: &mut Recorder<'_>, subject: SubjectId) {
        if self.tube.heater.is_none() || self.tube.directly_heated() || self.tube.joined_cathode() {
            return;
        }
        let study = self.study;
        let ends = ["heater.from", "heater.to"].map(|end| study.circuit.net_of(self.id, end));
        let ([Some(from), Some(to)], Some(cathode)) = (ends, self.cathode) else { return };
        // Fed with direct current, the two legs of a heater stand at different potentials.
        let legs = move |solved: &Solved, steady: &SteadyState| {
            let cathode = solved.mean(steady, cathode)?;
            Some([solved.mean(steady, from)? - cathode, solved.mean(steady, to)? - cathode])
        };
        let mean = move |solved: &Solved, steady: &SteadyState| legs(solved, steady).map(|[a, b]| (a + b) / 2.0);
        let origins = recorder.terminal_origin(self.id, &self.electrode("cathode"));
        let alone = |solved: &Solved| solved.empty != Some(self.id);
        recorder.solved(subject, "heater-cathode-voltage", &origins, |solved, steady| {
            alone(solved).then(|| mean(solved, steady)).flatten()
        });
        recorder.solved(subject, "heater-cathode-crest", &origins, |solved, steady| {
            let [a, b] = alone(solved).then(|| legs(solved, steady)).flatten()?;
            let heaters = study.heaters(solved.lineup, solved.state, solved.empty);
            let alternating = heaters.and_then(|found| found.voltages.get(&self.id)).copied().unwrap_or(0.0);
            Some(a.abs().max(b.abs()) + alternating / 2.0 * std::f64::consts::SQRT_2)
        });
        let drawn = study.drawn(State::Running).and_then(|s| Some((s, s.steady.as_ref().ok()?)));
        if drawn.is_some_and(|(solved, steady)| mean(solved, steady).is_none()) {
            for fact in ["heater-cathode-voltage", "heater-cathode-crest", "heater-cathode-limit"] {
                recorder.failure(subject, fact, "nothing fixes the potential of its heater");
            }
            return;
        }
        // A lifted heater stands below a warm cathode and above a cold one: each state has the limit of its own polarity.
        let span = self.tube.device.span;
        recorder.solved(subject, "heater-cathode-limit", &[origin(span, "published limit")], |solved, steady| {
            let positive = alone(solved).then(|| mean(solved, steady)).flatten()? > 0.0;
            let limits = self.section_in(solved.lineup)?.limits;
            if positive { limits.heater_positive } else { limits.heater_negative }.map(Quantity::base)
        });
        recorder.by_lineup(subject, "heater-cathode-direct-limit", span, "published limit", |lineup| {
            Some(Value::Quantity(self.section_in(lineup)?.limits.heater_positive_direct?.base()))
        });
    }
}

/// The net that feeds a plate through resistance, where one does.
pub(super) fn load_supply(study: &Study<'_>, plate: NetId) -> Option<NetId> {
    let (circuit, roles) = (study.circuit, study.roles);
    if roles.rails.contains(&plate) {
        return None;
    }
    let reached = circuit.reach(
        plate,
        |link| matches!(link.conduction, Conduction::Resistive(_)),
        |net| roles.returns.contains(&net),
    );
    let running = study.drawn(State::Running).and_then(|solved| Some((solved, solved.steady.as_ref().ok()?)));
    // Without a solution the plate is fed all the same: by which of two rails is then not told.
    let volts =
        |net: &NetId| running.and_then(|(solved, steady)| solved.mean(steady, *net)).unwrap_or(f64::NEG_INFINITY);
    first_highest(reached.into_iter().filter(|net| roles.rails.contains(net)), volts)
}

fn joined_none(plate: Option<NetId>, cathode: Option<NetId>) -> bool {
    plate.is_none() || cathode.is_none()
}

/// Where a heater is joined, for pointing at.
pub(super) fn heater_origin(tube: &Tube) -> Vec<super::Origin> {
    tube.heater.iter().map(|heater| origin(heater.voltage.span, "wired for this voltage")).collect()
}

/// Whether diodes, LEDs or zeners lead from a cathode to where signals return: carrying the stage's current they show some
/// tens of ohms, and hold it as still as a bypass capacitor does.
fn held_by_diodes(study: &Study<'_>, cathode: NetId) -> bool {
    let circuit = study.circuit;
    let (mut reached, mut waiting) = (vec![cathode], vec![cathode]);
    while let Some(net) = waiting.pop() {
        for link in circuit.links(net).filter(|link| link.conduction == Conduction::Rectifying) {
            let Kind::Diode(diode) = &study.design.part(link.part).kind else { continue };
            let carries = link.from_net == net || matches!(diode.kind, DiodeKind::Zener(_));
            let other = link.other(net);
            if !carries || reached.contains(&other) {
                continue;
            }
            if study.roles.returns.contains(&other) {
                return true;
            }
            reached.push(other);
            waiting.push(other);
        }
    }
    false
}
