//! The laws of nonlinear devices and their slopes, from the published equations. Knows nothing of networks.
//!
//! A device is seen as up to three ports that share one terminal: a tube's ports are plate, grid and screen, each to the
//! cathode. Voltages in V, currents in A into the port, slopes in S.

use super::pentodes::pentode;
use super::transistors::{bipolar, field_effect};
use crate::catalogue::{BipolarModel, DiodeModel, FieldEffectModel, PentodeLaw, TriodeModel, VacuumDiodeModel};

/// Thermal voltage kT/q at 27 °C, V.
pub(super) const THERMAL_VOLTAGE: f64 = 0.025_865;

/// Conductance that stands beside every junction and every plate, so that a blocked path is not an open one, S.
pub(super) const LEAST_CONDUCTANCE: f64 = 1e-12;

/// Voltage at which a current source reaches its full current, V.
pub(super) const SOURCE_KNEE: f64 = 2.0;

/// Reverse current at which a zener's breakdown voltage is stated, A.
pub(super) const BREAKDOWN_CURRENT: f64 = 5e-3;

/// Below this an electrode draws nothing: its law divides by the voltage, V.
pub(super) const LEAST_VOLTAGE: f64 = 1e-9;

/// Above this the exponential is continued by its tangent, so that no trial voltage overflows.
const LARGEST_EXPONENT: f64 = 80.0;

/// So many slope voltages below zero the exponential of a junction is below the last digit of its leakage.
const SHUT: f64 = 40.0;

/// Port voltages, currents or one row of slopes.
pub(super) type Ports = [f64; 3];

/// The law of a device.
#[derive(Clone, Copy, Debug)]
pub(super) enum Law {
    /// A junction without its series resistance.
    Junction { saturation: f64, slope_voltage: f64, breakdown: Option<f64> },
    /// I = k·V^1.5.
    VacuumDiode { perveance: f64 },
    /// Ports plate, grid.
    Triode(TriodeModel),
    /// Ports plate, grid, screen.
    Pentode(PentodeLaw),
    /// Full current from [`SOURCE_KNEE`] on.
    CurrentSource { current: f64 },
    /// Ports drain, gate.
    FieldEffect(FieldEffectModel),
    /// Ports collector, base.
    Bipolar(BipolarModel),
}

/// What a device answers to its port voltages.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Response {
    /// Current into each port.
    pub current: Ports,
    /// `slope[i][j]` is the change of current `i` with voltage `j`.
    pub slope: [Ports; 3],
}

impl Law {
    /// The junction of a diode; its series resistance is the network's business.
    pub(super) fn junction(model: DiodeModel) -> Self {
        Self::Junction { saturation: model.is, slope_voltage: model.n * THERMAL_VOLTAGE, breakdown: model.breakdown }
    }

    /// One plate of a vacuum rectifier.
    pub(super) fn vacuum_diode(model: VacuumDiodeModel) -> Self {
        Self::VacuumDiode { perveance: model.k }
    }

    /// How many ports.
    pub(super) fn ports(&self) -> usize {
        match self {
            Self::Junction { .. } | Self::VacuumDiode { .. } | Self::CurrentSource { .. } => 1,
            Self::Triode(_) | Self::FieldEffect(_) | Self::Bipolar(_) => 2,
            Self::Pentode(_) => 3,
        }
    }

    /// Whether the device blocks so far that its current is [`Self::leak`] and the least conductance to the last digit.
    pub(super) fn is_shut(&self, volts: f64) -> bool {
        match *self {
            Self::Junction { slope_voltage, breakdown, .. } => {
                let far = -SHUT * slope_voltage;
                volts < far && breakdown.is_none_or(|breakdown| -volts - breakdown < far)
            }
            Self::VacuumDiode { .. } => volts <= 0.0,
            _ => false,
        }
    }

    /// The constant current of a shut device, A.
    pub(super) fn leak(&self) -> f64 {
        if let Self::Junction { saturation, .. } = self { -saturation } else { 0.0 }
    }

    /// Currents and slopes at the given port voltages.
    pub(super) fn respond(&self, volts: Ports) -> Response {
        match self {
            Self::Junction { .. } if self.is_shut(volts[0]) => {
                one_port(self.leak() + LEAST_CONDUCTANCE * volts[0], LEAST_CONDUCTANCE)
            }
            Self::Junction { saturation, slope_voltage, breakdown } => {
                junction(*saturation, *slope_voltage, *breakdown, volts[0])
            }
            Self::VacuumDiode { perveance } => vacuum_diode(*perveance, volts[0]),
            Self::Triode(model) => triode(model, volts),
            Self::Pentode(model) => pentode(model, volts),
            Self::CurrentSource { current } => current_source(*current, volts[0]),
            Self::FieldEffect(model) => field_effect(model, volts),
            Self::Bipolar(model) => bipolar(model, volts),
        }
    }

    /// Port voltages that Newton's next step may be taken to, coming from `old`, and whether they are short of `new`.
    pub(super) fn rein_ports(&self, old: Ports, new: Ports) -> (Ports, bool) {
        match self {
            Self::Bipolar(model) => rein_bipolar(model, old, new),
            Self::FieldEffect(FieldEffectModel { gate: Some(saturation), p_channel, .. }) => {
                let sign = if *p_channel { -1.0 } else { 1.0 };
                let (gate, short) = rein_exponential(*saturation, THERMAL_VOLTAGE, sign * old[1], sign * new[1]);
                ([new[0], sign * gate, new[2]], short)
            }
            _ => {
                let (first, short) = self.rein(old[0], new[0]);
                ([first, new[1], new[2]], short)
            }
        }
    }

    /// A port voltage that Newton's next step may be taken to, coming from `old`, and whether it is short of `new`.
    ///
    /// Along an exponential a step in voltage is replaced by the step in current that the tangent foretold; a step across
    /// the whole knee of a current source stops in it, else Newton may jump from one side to the other for ever.
    fn rein(&self, old: f64, new: f64) -> (f64, bool) {
        if let Self::CurrentSource { .. } = self {
            let (least, most) = (old.min(new), old.max(new));
            return if least < 0.0 && most > SOURCE_KNEE { (0.5 * SOURCE_KNEE, true) } else { (new, false) };
        }
        let Self::Junction { saturation, slope_voltage, breakdown } = *self else {
            return (new, false);
        };
        let forward = rein_exponential(saturation, slope_voltage, old, new);
        if forward.1 {
            return forward;
        }
        if let Some(breakdown) = breakdown {
            let (mirrored, short) =
                rein_exponential(BREAKDOWN_CURRENT, slope_voltage, -old - breakdown, -new - breakdown);
            return (-mirrored - breakdown, short);
        }
        (new, false)
    }
}

/// Both junctions of a bipolar transistor are reined in by themselves.
fn rein_bipolar(model: &BipolarModel, old: Ports, new: Ports) -> (Ports, bool) {
    let sign = if model.pnp { -1.0 } else { 1.0 };
    let one = |old: f64, new: f64| rein_exponential(model.is, THERMAL_VOLTAGE, sign * old, sign * new);
    let (emitter, short_emitter) = one(old[1], new[1]);
    let (collector, short_collector) = one(old[1] - old[0], new[1] - new[0]);
    let base = sign * emitter;
    ([base - sign * collector, base, new[2]], short_emitter || short_collector)
}

fn rein_exponential(scale: f64, slope_voltage: f64, old: f64, new: f64) -> (f64, bool) {
    // Where the slope of the junction is one ohm's worth per thermal voltage: below it Newton needs no help.
    let knee = slope_voltage * (slope_voltage / scale).max(1e-30).ln();
    if new <= knee || new - old <= 2.0 * slope_voltage {
        return (new, false);
    }
    let start = old.max(knee);
    let ahead = (new - start).max(0.0) / slope_voltage;
    (start + slope_voltage * ahead.ln_1p(), ahead > 0.1)
}

/// exp with a straight continuation, and its slope.
pub(super) fn exponential(x: f64) -> (f64, f64) {
    if x <= LARGEST_EXPONENT {
        let e = x.exp();
        (e, e)
    } else {
        let top = LARGEST_EXPONENT.exp();
        (top * (1.0 + x - LARGEST_EXPONENT), top)
    }
}

/// ln(1 + exp(x)) and its slope, without overflow.
pub(super) fn softplus(x: f64) -> (f64, f64) {
    if x > 0.0 {
        let e = (-x).exp();
        (x + e.ln_1p(), 1.0 / (1.0 + e))
    } else {
        let e = x.exp();
        (e.ln_1p(), e / (1.0 + e))
    }
}

/// Shockley's law, and the same exponential mirrored at the breakdown voltage.
fn junction(saturation: f64, slope_voltage: f64, breakdown: Option<f64>, v: f64) -> Response {
    let (e, slope) = exponential(v / slope_voltage);
    let mut current = saturation * (e - 1.0) + LEAST_CONDUCTANCE * v;
    let mut conductance = saturation * slope / slope_voltage + LEAST_CONDUCTANCE;
    if let Some(breakdown) = breakdown {
        let (e, slope) = exponential(-(v + breakdown) / slope_voltage);
        current -= BREAKDOWN_CURRENT * e;
        conductance += BREAKDOWN_CURRENT * slope / slope_voltage;
    }
    one_port(current, conductance)
}

/// Child and Langmuir's three-halves power.
fn vacuum_diode(perveance: f64, v: f64) -> Response {
    let root = v.max(0.0).sqrt();
    one_port(perveance * v.max(0.0) * root + LEAST_CONDUCTANCE * v, 1.5 * perveance * root + LEAST_CONDUCTANCE)
}

fn current_source(full: f64, v: f64) -> Response {
    let share = (v / SOURCE_KNEE).clamp(0.0, 1.0);
    let slope = if (0.0..SOURCE_KNEE).contains(&v) { full / SOURCE_KNEE } else { 0.0 };
    one_port(full * share + LEAST_CONDUCTANCE * v, slope + LEAST_CONDUCTANCE)
}

fn one_port(current: f64, slope: f64) -> Response {
    Response { current: [current, 0.0, 0.0], slope: [[slope, 0.0, 0.0], [0.0; 3], [0.0; 3]] }
}

/// E^x and its slope; zero where the tube is cut off beyond what a number can hold.
pub(super) fn power(base: f64, exponent: f64) -> (f64, f64) {
    if base > 1e-100 {
        let value = base.powf(exponent);
        (value, exponent * value / base)
    } else {
        (0.0, 0.0)
    }
}

pub(super) fn grid_current(rgi: Option<f64>, vg: f64) -> (f64, f64) {
    match rgi {
        Some(rgi) if vg > 0.0 => (vg / rgi, 1.0 / rgi),
        _ => (0.0, 0.0),
    }
}

/// Koren's triode (Glass Audio 8(5), 1996).
fn triode(m: &TriodeModel, [vp, vg, _]: Ports) -> Response {
    let mut answer = Response::default();
    answer.current[0] = LEAST_CONDUCTANCE * vp;
    answer.slope[0][0] = LEAST_CONDUCTANCE;
    (answer.current[1], answer.slope[1][1]) = grid_current(m.rgi, vg);
    if vp > LEAST_VOLTAGE {
        let root = (m.kvb + vp * vp).sqrt();
        let (log, share) = softplus(m.kp * (1.0 / m.mu + vg / root));
        let (raised, slope) = power(vp / m.kp * log, m.x);
        let e_vp = log / m.kp - share * vg * (vp / root) * (vp / root) / root;
        let e_vg = share * vp / root;
        answer.current[0] += 2.0 * raised / m.kg1;
        answer.slope[0][0] += 2.0 * slope / m.kg1 * e_vp;
        answer.slope[0][1] = 2.0 * slope / m.kg1 * e_vg;
    }
    answer
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::{DividedPentodeModel, PentodeModel};

    const TRIODE: TriodeModel =
        TriodeModel { mu: 100.0, x: 1.4, kg1: 1060.0, kp: 600.0, kvb: 300.0, rgi: Some(2000.0) };
    const PENTODE: PentodeModel =
        PentodeModel { mu: 11.0, x: 1.35, kg1: 650.0, kg2: 4200.0, kp: 60.0, kvb: 24.0, rgi: Some(1000.0) };
    const DIVIDED: DividedPentodeModel = DividedPentodeModel {
        mu: 11.0,
        x: 1.5,
        kg1: 600.0,
        kp: 60.0,
        mup: 190.0,
        split: 0.15,
        tilt: 0.1,
        knee: 2.5e-3,
        rgi: Some(1000.0),
    };

    fn laws() -> Vec<Law> {
        let junction = DiodeModel { is: 7e-9, n: 1.8, rs: 0.0, breakdown: Some(12.0) };
        vec![
            Law::junction(junction),
            Law::vacuum_diode(VacuumDiodeModel { k: 6e-4 }),
            Law::Triode(TRIODE),
            Law::Pentode(PENTODE.into()),
            Law::Pentode(DIVIDED.into()),
            Law::CurrentSource { current: 5e-3 },
        ]
    }

    #[test]
    fn slopes_agree_with_finite_differences() {
        for law in laws() {
            for vp in [-50.0, -12.2, -3.1, 0.31, 0.83, 1.7, 30.0, 251.0] {
                for vg in [-20.0, -1.7, 0.4] {
                    for vs in [-3.0, 7.0, 240.0] {
                        let at = [vp, vg, vs];
                        let here = law.respond(at);
                        for port in 0..law.ports() {
                            let step = 1e-6 * at[port].abs().max(0.01);
                            let (mut up, mut down) = (at, at);
                            up[port] += step;
                            down[port] -= step;
                            let (up, down) = (law.respond(up), law.respond(down));
                            for row in 0..law.ports() {
                                let found = (up.current[row] - down.current[row]) / (up_step(step));
                                let given = here.slope[row][port];
                                let size = here.current[row].abs() / at[port].abs().max(1.0);
                                assert!(
                                    (found - given).abs() <= 1e-5 * given.abs() + 1e-6 * size + 1e-10,
                                    "{law:?} at {at:?}: slope[{row}][{port}] {given} against {found}"
                                );
                            }
                        }
                    }
                }
            }
        }
    }

    fn up_step(step: f64) -> f64 {
        2.0 * step
    }

    #[test]
    fn no_trial_voltage_overflows() {
        for law in laws() {
            for v in [-1e9, -1e3, 0.0, 1e3, 1e9] {
                for g in [-1e9, 0.0, 1e9] {
                    for s in [-1e9, 1e-300, 1e9] {
                        let answer = law.respond([v, g, s]);
                        assert!(
                            answer.current.iter().chain(answer.slope.iter().flatten()).all(|x| x.is_finite()),
                            "{law:?} at {v}, {g}, {s}: {answer:?}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn a_current_source_never_delivers_power() {
        let law = Law::CurrentSource { current: 5e-3 };
        for v in [-300.0, -1.0, 0.0, 1.0, 2.0, 300.0] {
            assert!(law.respond([v, 0.0, 0.0]).current[0] * v >= 0.0);
        }
        assert!((law.respond([1.0, 0.0, 0.0]).current[0] - 2.5e-3).abs() < 1e-9);
        assert!((law.respond([2.0, 0.0, 0.0]).current[0] - 5e-3).abs() < 1e-9);
    }

    #[test]
    fn a_zener_passes_five_milliamperes_at_its_voltage() {
        let current = laws()[0].respond([-12.0, 0.0, 0.0]).current[0];
        assert!((current + 5e-3).abs() < 1e-6, "{current}");
    }
}
