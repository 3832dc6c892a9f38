//! Every condition in which a design may stand, solved: line-ups, states, empty sockets.

use std::collections::HashMap;
use std::sync::Arc;

use crate::catalogue::{Devices, SectionKind};
use crate::circuit::{Circuit, Roles};
use crate::design::{Design, Kind, PartId, Tube};
use crate::physics::{Near, SolveError, SteadyOptions, SteadyState, steady_state_near};
use crate::units::{Hertz, Quantity};

use super::heaters::{HeaterSolution, solve_heaters};
use super::lowering::{Condition, Lowered, lower};
use super::memory::{Memory, Resting, SteadyProblem};
use super::{Lineup, State};

/// Above this many tubes, `socket-empty` is skipped.
const MOST_EMPTY_SOCKETS: usize = 12;

/// Mains tolerance where the design states none (common practice, and IEC 60038 for 230 V).
const TOLERANCE: f64 = 0.1;

/// The mains of a study.
#[derive(Clone, Debug)]
pub(crate) struct MainsLevel {
    /// Nominal voltage over the primary's rating.
    pub(crate) nominal: f64,
    /// Share up and down.
    pub(crate) tolerance: f64,
    /// Frequency.
    pub(crate) frequency: Hertz,
    /// What was assumed.
    pub(crate) assumption: Option<String>,
}

impl MainsLevel {
    fn of(design: &Design) -> Self {
        let primary = design.parts.iter().find_map(|part| match &part.kind {
            Kind::Transformer(transformer) => Some(transformer.primary.voltage.value.base()),
            _ => None,
        });
        match (&design.mains, primary) {
            (Some(mains), primary) => Self {
                nominal: primary.map_or(1.0, |volts| mains.voltage.value.base() / volts),
                tolerance: mains.tolerance.base(),
                frequency: mains.frequency.value,
                assumption: None,
            },
            (None, _) => Self {
                nominal: 1.0,
                tolerance: TOLERANCE,
                frequency: Hertz(50.0),
                assumption: primary.map(|_| {
                    "no mains is stated: the primary's rated voltage, 50 Hz and 10 % tolerance are taken".to_owned()
                }),
            },
        }
    }

    /// Mains over the primary's rating in a state.
    pub(crate) fn at(&self, state: State) -> f64 {
        self.nominal
            * match state {
                State::Running | State::SocketEmpty => 1.0,
                State::HighMains | State::SwitchOn => 1.0 + self.tolerance,
                State::LowMains => 1.0 - self.tolerance,
                State::SwitchedOff => 0.0,
            }
    }
}

/// One condition and its solution.
#[derive(Clone, Debug)]
pub(crate) struct Solved {
    /// Index of the line-up.
    pub(crate) lineup: usize,
    /// The state.
    pub(crate) state: State,
    /// The socket that is empty.
    pub(crate) empty: Option<PartId>,
    /// The network.
    pub(crate) lowered: Lowered,
    /// Its steady state.
    pub(crate) steady: Result<Arc<SteadyState>, SolveError>,
}

/// A design with every condition solved.
pub(crate) struct Study<'a> {
    /// The design.
    pub(crate) design: &'a Design,
    /// Its connectivity.
    pub(crate) circuit: &'a Circuit,
    /// What its nets are.
    pub(crate) roles: &'a Roles,
    /// The catalogue.
    pub(crate) devices: &'a dyn Devices,
    /// What has been solved before.
    pub(crate) memory: &'a Memory,
    /// The mains.
    pub(crate) mains: MainsLevel,
    /// Line-ups; the first is the design as drawn.
    pub(crate) lineups: Vec<Lineup>,
    /// Every condition solved.
    pub(crate) solved: Vec<Solved>,
    heaters: HashMap<(usize, State, Option<PartId>), HeaterSolution>,
}

impl<'a> Study<'a> {
    /// A design before anything is solved.
    pub(crate) fn unsolved(
        design: &'a Design,
        circuit: &'a Circuit,
        roles: &'a Roles,
        devices: &'a dyn Devices,
        memory: &'a Memory,
    ) -> Self {
        Self {
            memory,
            design,
            circuit,
            roles,
            devices,
            mains: MainsLevel::of(design),
            lineups: lineups(design),
            solved: Vec::new(),
            heaters: HashMap::new(),
        }
    }

    /// The same solved in every condition.
    pub(crate) fn solved_throughout(self) -> Self {
        let mut study = self;
        let has_transformer = study.design.parts.iter().any(|part| matches!(part.kind, Kind::Transformer(_)));
        let has_tubes = !study.signal_tubes().is_empty();
        for lineup in 0..study.lineups.len() {
            study.solve(lineup, State::Running, None);
            if has_transformer {
                study.solve(lineup, State::HighMains, None);
                study.solve(lineup, State::LowMains, None);
            }
            if lineup == 0 || study.changes_rectifier(lineup) {
                study.solve(lineup, State::SwitchOn, None);
            }
            let tubes = study.signal_tubes();
            if has_tubes && study.is_small() {
                for tube in tubes {
                    study.solve(lineup, State::SocketEmpty, Some(tube));
                }
            }
        }
        study
    }

    /// The heaters of a line-up in a state.
    pub(crate) fn heaters(&self, lineup: usize, state: State, empty: Option<PartId>) -> Option<&HeaterSolution> {
        self.heaters.get(&(lineup, state, empty))
    }

    /// The solution of the design as drawn in a state.
    pub(crate) fn drawn(&self, state: State) -> Option<&Solved> {
        self.solved.iter().find(|solved| solved.lineup == 0 && solved.state == state && solved.empty.is_none())
    }

    /// Whether the design has few enough tubes for the analyses that take each by itself.
    pub(crate) fn is_small(&self) -> bool {
        self.signal_tubes().len() <= MOST_EMPTY_SOCKETS
    }

    fn signal_tubes(&self) -> Vec<PartId> {
        let signal = |tube: &Tube| tube.sections.iter().any(|s| !matches!(s.kind, SectionKind::Rectifier { .. }));
        let tubes = self.design.ids().filter(|(_, part)| matches!(&part.kind, Kind::Tube(tube) if signal(tube)));
        tubes.map(|(id, _)| id).collect()
    }

    /// The hot resistances of the heaters of the design as drawn, at nominal mains.
    pub(crate) fn running_heaters(&self) -> HashMap<PartId, f64> {
        let mains = self.mains.at(State::Running);
        solve_heaters(self.design, self.circuit, self.roles, self.devices, &self.lineups[0], mains, None).resistances
    }

    fn changes_rectifier(&self, lineup: usize) -> bool {
        let (drawn, other) = (&self.lineups[0], &self.lineups[lineup]);
        self.roles.rectifiers.iter().any(|id| {
            let name = &self.design.part(*id).name;
            drawn.get(name) != other.get(name)
        })
    }

    fn solve(&mut self, lineup: usize, state: State, empty: Option<PartId>) {
        let mains = self.mains.at(state);
        let cold = state == State::SwitchOn;
        let mut heaters =
            solve_heaters(self.design, self.circuit, self.roles, self.devices, &self.lineups[lineup], mains, empty);
        let (mut lowered, mut steady) = self.attempt(lineup, mains, cold, empty, &heaters);
        // Heaters fed with direct current take their published current too: their resistance is corrected twice.
        for _ in 0..2 {
            let Ok(found) = &steady else { break };
            if !correct_direct_heaters(&mut heaters, &lowered, found, self.design, self.devices, &self.lineups[lineup])
            {
                break;
            }
            (lowered, steady) = self.attempt(lineup, mains, cold, empty, &heaters);
        }
        self.heaters.insert((lineup, state, empty), heaters);
        self.solved.push(Solved { lineup, state, empty, lowered, steady });
    }

    fn attempt(
        &self,
        lineup: usize,
        mains: f64,
        cold: bool,
        empty: Option<PartId>,
        heaters: &HeaterSolution,
    ) -> (Lowered, Result<Arc<SteadyState>, SolveError>) {
        let condition = Condition {
            lineup: &self.lineups[lineup],
            mains,
            bench: true,
            cold,
            rectifiers_cold: false,
            empty,
            ports: false,
            heaters: &heaters.resistances,
        };
        let lowered = lower(self.design, self.circuit, self.roles, self.devices, &condition);
        let near = self.near(lineup, mains, cold);
        let (network, frequency) = (&lowered.network, self.mains.frequency);
        let problem = || SteadyProblem {
            network: network.clone(),
            frequency,
            near: near.map(|(steady, scale)| (Resting(Arc::clone(steady)), scale)),
        };
        let near = near.map(|(steady, scale)| Near { steady, scale });
        let steady = self.memory.recall(
            |memory| &memory.steady,
            problem,
            || steady_state_near(network, frequency, SteadyOptions::default(), near).map(Arc::new),
        );
        (lowered, steady)
    }

    /// What has been solved that is most like a condition, and how many times its mains the present ones are: its own
    /// line-up in `running`, else the design as drawn.
    fn near(&self, lineup: usize, mains: f64, cold: bool) -> Option<(&Arc<SteadyState>, f64)> {
        let alike = |solved: &&Solved| (solved.state == State::SwitchOn) == cold && solved.empty.is_none();
        let running = |wanted: usize| self.solved.iter().filter(alike).find(move |solved| solved.lineup == wanted);
        let solved = running(lineup).or_else(|| running(0))?;
        let steady = solved.steady.as_ref().ok()?;
        Some((steady, mains / self.mains.at(solved.state)))
    }

    /// The network of a condition with what is plugged in at inputs and outputs: for small signals.
    pub(crate) fn with_ports(&self, solved: &Solved) -> Lowered {
        self.lowered_again(solved, true)
    }

    /// The network as it discharges: no mains, signal tubes cold or still hot.
    pub(crate) fn switched_off(&self, cold: bool) -> Lowered {
        let none = HashMap::new();
        let condition = Condition {
            lineup: &self.lineups[0],
            mains: 0.0,
            bench: false,
            cold,
            rectifiers_cold: true,
            empty: None,
            ports: false,
            heaters: self.heaters(0, State::Running, None).map_or(&none, |found| &found.resistances),
        };
        lower(self.design, self.circuit, self.roles, self.devices, &condition)
    }

    fn lowered_again(&self, solved: &Solved, ports: bool) -> Lowered {
        let none = HashMap::new();
        let condition = Condition {
            lineup: &self.lineups[solved.lineup],
            mains: self.mains.at(solved.state),
            bench: true,
            cold: solved.state == State::SwitchOn,
            rectifiers_cold: false,
            empty: solved.empty,
            ports,
            heaters: self.heaters(solved.lineup, solved.state, solved.empty).map_or(&none, |found| &found.resistances),
        };
        lower(self.design, self.circuit, self.roles, self.devices, &condition)
    }
}

/// The network of the design as drawn in a state, with the given hot resistances of heaters.
pub(crate) fn lowered_in(study: &Study<'_>, state: State, heaters: &HashMap<PartId, f64>) -> Lowered {
    let condition = Condition {
        lineup: &study.lineups[0],
        mains: study.mains.at(state),
        bench: true,
        cold: state == State::SwitchOn,
        rectifiers_cold: false,
        empty: None,
        ports: false,
        heaters,
    };
    lower(study.design, study.circuit, study.roles, study.devices, &condition)
}

fn correct_direct_heaters(
    heaters: &mut HeaterSolution,
    lowered: &Lowered,
    steady: &SteadyState,
    design: &Design,
    devices: &dyn Devices,
    lineup: &Lineup,
) -> bool {
    let mut moved = false;
    for (id, ohms) in &mut heaters.resistances {
        if heaters.voltages.contains_key(id) {
            continue;
        }
        let Some(connection) = super::heaters::connection_in(design, devices, lineup, *id) else { continue };
        let Some(element) = lowered.element(*id, "heater") else { continue };
        let volts = steady.elements.get(element.0).map_or(0.0, |swing| swing.voltage.mean.abs());
        let wanted = volts / connection.current.base();
        if volts > 0.3 * connection.voltage.base() && (wanted / *ohms - 1.0).abs() > 1e-4 {
            *ohms = wanted;
            moved = true;
        }
    }
    moved
}

/// The design as drawn, each alternate by itself, and each type that several sockets may take in all of them.
fn lineups(design: &Design) -> Vec<Lineup> {
    let drawn: Lineup = design
        .parts
        .iter()
        .filter_map(|part| match &part.kind {
            Kind::Tube(tube) => Some((part.name.clone(), tube.canonical.clone())),
            _ => None,
        })
        .collect();
    let mut all = vec![drawn.clone()];
    let mut alike: Vec<(String, Lineup, usize)> = Vec::new();
    for part in &design.parts {
        let Kind::Tube(tube) = &part.kind else { continue };
        for alternate in &tube.alternates {
            let name = &alternate.value;
            if *name == tube.canonical {
                continue;
            }
            let mut lineup = drawn.clone();
            lineup.insert(part.name.clone(), name.clone());
            all.push(lineup);
            match alike.iter_mut().find(|(known, ..)| known == name) {
                Some((_, lineup, count)) => {
                    lineup.insert(part.name.clone(), name.clone());
                    *count += 1;
                }
                None => {
                    let mut lineup = drawn.clone();
                    lineup.insert(part.name.clone(), name.clone());
                    alike.push((name.clone(), lineup, 1));
                }
            }
        }
    }
    all.extend(alike.into_iter().filter(|(_, _, count)| *count > 1).map(|(_, lineup, _)| lineup));
    all
}
