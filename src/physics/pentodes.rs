//! The laws of pentodes and beam tetrodes, and their slopes. Knows nothing of networks.
//!
//! Ports plate, grid, screen, each to the cathode. Secondary emission is in neither law.

use super::devices::{LEAST_CONDUCTANCE, LEAST_VOLTAGE, Ports, Response, grid_current, power, softplus};
use crate::catalogue::{DividedPentodeModel, PentodeLaw, PentodeModel};

/// Square of the voltage below which an electrode hardly governs or gathers the current, V²: it keeps the laws smooth
/// where a screen loses its voltage.
const EDGE: f64 = 1.0;

/// Beyond this the exponential of the knee is nothing to the last digit.
const FAR_ABOVE_THE_KNEE: f64 = 700.0;

/// Currents and slopes of a pentode.
pub(super) fn pentode(law: &PentodeLaw, volts: Ports) -> Response {
    match law {
        PentodeLaw::Koren(model) => koren(model, volts),
        PentodeLaw::Divided(model) => divided(model, volts),
    }
}

/// Two leaks and what the grid draws: all that a cut-off pentode has.
fn at_rest([vp, vg, vs]: Ports, rgi: Option<f64>) -> Response {
    let mut answer = Response::default();
    answer.current[0] = LEAST_CONDUCTANCE * vp;
    answer.slope[0][0] = LEAST_CONDUCTANCE;
    answer.current[2] = LEAST_CONDUCTANCE * vs;
    answer.slope[2][2] = LEAST_CONDUCTANCE;
    (answer.current[1], answer.slope[1][1]) = grid_current(rgi, vg);
    answer
}

/// Koren's pentode (Glass Audio 8(5), 1996).
fn koren(m: &PentodeModel, [vp, vg, vs]: Ports) -> Response {
    let mut answer = at_rest([vp, vg, vs], m.rgi);
    if vs <= LEAST_VOLTAGE {
        return answer;
    }
    if vp > LEAST_VOLTAGE {
        let (log, share) = softplus(m.kp * (1.0 / m.mu + vg / vs));
        let (raised, slope) = power(vs / m.kp * log, m.x);
        let bend = (vp / m.kvb).atan();
        let scale = 2.0 / m.kg1;
        answer.current[0] += scale * raised * bend;
        answer.slope[0][0] += scale * raised / m.kvb / (1.0 + (vp / m.kvb).powi(2));
        answer.slope[0][1] = scale * slope * share * bend;
        answer.slope[0][2] = scale * slope * (log / m.kp - share * vg / vs) * bend;
    }
    let (raised, slope) = power(vs / m.mu + vg, 1.5);
    answer.current[2] += raised / m.kg2;
    answer.slope[2][1] = slope / m.kg2;
    answer.slope[2][2] += slope / m.mu / m.kg2;
    answer
}

/// A quantity and its slopes with plate, grid and screen voltage.
#[derive(Clone, Copy)]
struct Sloped {
    value: f64,
    slope: Ports,
}

/// The current that leaves the cathode for plate and screen.
fn space_current(m: &DividedPentodeModel, [vp, vg, vs]: Ports) -> Sloped {
    let v = vs + vp * m.mu / m.mup;
    if v <= LEAST_VOLTAGE {
        return Sloped { value: 0.0, slope: [0.0; 3] };
    }
    let root = (EDGE + v * v).sqrt();
    let (log, share) = softplus(m.kp * (1.0 / m.mu + vg / root));
    let (raised, slope) = power(v / m.kp * log, m.x);
    let scale = 2.0 / m.kg1;
    let with_v = scale * slope * (log / m.kp - share * vg * (v / root) * (v / root) / root);
    let with_grid = scale * slope * share * v / root;
    Sloped { value: scale * raised, slope: [with_v * m.mu / m.mup, with_grid, with_v] }
}

/// Of the space current what reaches the plate, with its slopes; `gather` is 1 for a screen that gathers in full.
fn plate_part(m: &DividedPentodeModel, space: Sloped, [vp, _, vs]: Ports, gather: (f64, f64)) -> Sloped {
    let ratio = m.split * (vs.max(0.0) / vp).powf(m.tilt) * gather.0;
    let left = 1.0 / (1.0 + ratio);
    // Current that the division alone leaves to the plate.
    let reach = space.value * left;
    if reach <= 0.0 {
        return Sloped { value: 0.0, slope: [0.0; 3] };
    }
    let ratio_with_plate = -m.tilt * ratio / vp;
    let ratio_with_screen =
        if vs > 0.0 { ratio * (m.tilt / vs + gather.1 / gather.0.max(f64::MIN_POSITIVE)) } else { 0.0 };
    let over = (m.knee * vp * vp.sqrt() / reach).min(FAR_ABOVE_THE_KNEE);
    let passed = -(-over).exp_m1();
    let with_reach = passed - over * (-over).exp();
    let with_plate = 1.5 * m.knee * vp.sqrt() * (-over).exp();
    let reach_slope = |space_slope: f64, ratio_slope: f64| left * (space_slope - reach * ratio_slope);
    Sloped {
        value: reach * passed,
        slope: [
            with_reach * reach_slope(space.slope[0], ratio_with_plate) + with_plate,
            with_reach * reach_slope(space.slope[1], 0.0),
            with_reach * reach_slope(space.slope[2], ratio_with_screen),
        ],
    }
}

/// One space current divided between plate and screen; the papers are named at [`DividedPentodeModel`].
fn divided(m: &DividedPentodeModel, volts: Ports) -> Response {
    let [vp, _, vs] = volts;
    let mut answer = at_rest(volts, m.rgi);
    let space = space_current(m, volts);
    // A screen without voltage gathers nothing; a few volts make it gather in full.
    let gather = if vs > 0.0 {
        let short = -vs * vs / EDGE;
        (-short.exp_m1(), 2.0 * vs / EDGE * short.exp())
    } else {
        (0.0, 0.0)
    };
    let plate =
        if vp > LEAST_VOLTAGE { plate_part(m, space, volts, gather) } else { Sloped { value: 0.0, slope: [0.0; 3] } };
    answer.current[0] += plate.value;
    answer.current[2] += gather.0 * (space.value - plate.value);
    for port in 0..3 {
        answer.slope[0][port] += plate.slope[port];
        answer.slope[2][port] += gather.0 * (space.slope[port] - plate.slope[port]);
    }
    answer.slope[2][2] += gather.1 * (space.value - plate.value);
    answer
}

#[cfg(test)]
mod tests {
    use super::*;

    const BEAM: DividedPentodeModel = DividedPentodeModel {
        mu: 8.4,
        x: 1.5,
        kg1: 1876.0,
        kp: 49.5,
        mup: 203.0,
        split: 0.064,
        tilt: 0.59,
        knee: 8e-4,
        rgi: None,
    };

    #[test]
    fn plate_and_screen_divide_what_the_cathode_gives() {
        for vp in [0.5, 8.0, 60.0, 400.0] {
            for vg in [-45.0, -14.0, 0.0, 6.0] {
                for vs in [25.0, 250.0] {
                    let volts = [vp, vg, vs];
                    let [plate, _, screen] = divided(&BEAM, volts).current;
                    let space = space_current(&BEAM, volts).value;
                    assert!(plate > 0.0 && screen > 0.0, "{volts:?}: {plate} {screen}");
                    assert!((plate + screen - space).abs() < 1e-6 * space + 1e-8, "{volts:?}");
                }
            }
        }
    }

    #[test]
    fn a_plate_without_voltage_leaves_all_to_the_screen_and_a_screen_without_voltage_all_to_the_plate() {
        let [plate, _, screen] = divided(&BEAM, [0.0, -5.0, 250.0]).current;
        assert!(plate == 0.0 && screen > 0.05, "{plate} {screen}");
        let [plate, _, screen] = divided(&BEAM, [400.0, 0.0, 0.0]).current;
        assert!(plate > 0.0 && screen == 0.0, "{plate} {screen}");
    }

    #[test]
    fn below_the_knee_the_families_meet_on_one_line() {
        let plate = |grid: f64| divided(&BEAM, [1.0, grid, 250.0]).current[0];
        assert!((plate(-15.0) / plate(0.0) - 1.0).abs() < 0.05, "{} {}", plate(-15.0), plate(0.0));
        let above = |grid: f64| divided(&BEAM, [250.0, grid, 250.0]).current[0];
        assert!(above(-15.0) < 0.5 * above(0.0));
    }

    #[test]
    fn slopes_agree_with_differences_at_every_edge() {
        for vp in [-3.0, 1e-3, 0.4, 20.0, 300.0] {
            for vg in [-60.0, -12.0, 0.0, 3.0] {
                for vs in [-2.0, 0.2, 1.1, 4.0, 300.0] {
                    let at = [vp, vg, vs];
                    let here = divided(&BEAM, at);
                    for port in 0..3 {
                        let step = 1e-5 * at[port].abs().max(1e-3);
                        let side = |sign: f64| {
                            let mut moved = at;
                            moved[port] += sign * step;
                            divided(&BEAM, moved).current
                        };
                        let (up, down) = (side(1.0), side(-1.0));
                        for row in 0..3 {
                            let found = (up[row] - down[row]) / (2.0 * step);
                            let given = here.slope[row][port];
                            let noise = 1e-15 / step + 1e-12;
                            assert!(
                                (found - given).abs() <= 1e-4 * given.abs() + 1e-5 * here.current[row].abs() + noise,
                                "slope[{row}][{port}] at {at:?}: {given} against {found}"
                            );
                        }
                    }
                }
            }
        }
    }
}
