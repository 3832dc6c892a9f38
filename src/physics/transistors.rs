//! The laws of transistors and their slopes, in the simplest published forms. Knows nothing of networks.
//!
//! Good enough to bias a source follower, a current source or a cathode sink; no breakdown, no body diode, no heating.

use super::devices::{LEAST_CONDUCTANCE, Ports, Response, THERMAL_VOLTAGE, exponential};
use crate::catalogue::{BipolarModel, FieldEffectModel};

/// The square law of Shichman and Hodges (IEEE Journal of Solid-State Circuits 3, 1968), for MOSFETs and JFETs; a channel
/// driven backwards takes its source for its drain. A JFET's gate conducts like a diode.
pub(super) fn field_effect(m: &FieldEffectModel, [vds, vgs, _]: Ports) -> Response {
    let sign = if m.p_channel { -1.0 } else { 1.0 };
    let (vds, vgs) = (sign * vds, sign * vgs);
    let (current, by_drain, by_gate) = if vds >= 0.0 {
        channel(m, vds, vgs)
    } else {
        let (back, by_span, by_control) = channel(m, -vds, vgs - vds);
        (-back, by_span + by_control, -by_control)
    };
    let mut answer = Response::default();
    answer.current[0] = sign * (current + LEAST_CONDUCTANCE * vds);
    answer.slope[0][0] = by_drain + LEAST_CONDUCTANCE;
    answer.slope[0][1] = by_gate;
    answer.slope[1][1] = LEAST_CONDUCTANCE;
    answer.current[1] = sign * LEAST_CONDUCTANCE * vgs;
    if let Some(saturation) = m.gate {
        let (e, slope) = exponential(vgs / THERMAL_VOLTAGE);
        answer.current[1] += sign * saturation * (e - 1.0);
        answer.slope[1][1] += saturation * slope / THERMAL_VOLTAGE;
    }
    answer
}

/// Current of the channel and its slopes by drain and gate, the drain positive.
fn channel(m: &FieldEffectModel, vds: f64, vgs: f64) -> (f64, f64, f64) {
    let over = vgs - m.vto;
    if over <= 0.0 {
        return (0.0, 0.0, 0.0);
    }
    let rise = 1.0 + m.lambda * vds;
    let (shape, by_drain, by_gate) =
        if vds < over { (vds * (over - vds / 2.0), over - vds, vds) } else { (over * over / 2.0, 0.0, over) };
    (m.kp * shape * rise, m.kp * (by_drain * rise + shape * m.lambda), m.kp * by_gate * rise)
}

/// The transport form of Ebers and Moll (Proceedings of the IRE 42, 1954) with Early's slope (1952).
pub(super) fn bipolar(m: &BipolarModel, [vce, vbe, _]: Ports) -> Response {
    let sign = if m.pnp { -1.0 } else { 1.0 };
    let (vce, vbe) = (sign * vce, sign * vbe);
    let vbc = vbe - vce;
    let junction = |v: f64| {
        let (e, slope) = exponential(v / THERMAL_VOLTAGE);
        (m.is * (e - 1.0), m.is * slope / THERMAL_VOLTAGE)
    };
    let (forward, forward_slope) = junction(vbe);
    let (reverse, reverse_slope) = junction(vbc);
    let (early, early_slope) = if vbc < 0.0 { (1.0 - vbc / m.va, 1.0 / m.va) } else { (1.0, 0.0) };
    let transport = forward - reverse;
    let mut answer = Response::default();
    answer.current[0] = sign * (transport * early - reverse / m.br + LEAST_CONDUCTANCE * vce);
    answer.slope[0][0] = reverse_slope * early + transport * early_slope + reverse_slope / m.br + LEAST_CONDUCTANCE;
    answer.slope[0][1] = (forward_slope - reverse_slope) * early - transport * early_slope - reverse_slope / m.br;
    answer.current[1] = sign * (forward / m.bf + reverse / m.br);
    answer.slope[1][0] = -reverse_slope / m.br;
    answer.slope[1][1] = forward_slope / m.bf + reverse_slope / m.br;
    answer
}

#[cfg(test)]
mod tests {
    use super::*;

    const MOSFET: FieldEffectModel =
        FieldEffectModel { vto: 3.0, kp: 1.3, lambda: 0.004, gate: None, p_channel: false };
    const JFET: FieldEffectModel =
        FieldEffectModel { vto: -2.0, kp: 1.5e-3, lambda: 0.01, gate: Some(1e-14), p_channel: false };
    const NPN: BipolarModel = BipolarModel { is: 1e-14, bf: 150.0, br: 4.0, va: 100.0, pnp: false };

    type Answers = Box<dyn Fn(Ports) -> Response>;

    fn laws() -> Vec<Answers> {
        vec![
            Box::new(|at| field_effect(&MOSFET, at)),
            Box::new(|at| field_effect(&FieldEffectModel { p_channel: true, ..MOSFET }, at)),
            Box::new(|at| field_effect(&JFET, at)),
            Box::new(|at| bipolar(&NPN, at)),
            Box::new(|at| bipolar(&BipolarModel { pnp: true, ..NPN }, at)),
        ]
    }

    #[test]
    fn slopes_agree_with_finite_differences() {
        for (number, law) in laws().iter().enumerate() {
            for main in [-30.0, -0.31, 0.17, 5.0, 150.0] {
                for control in [-5.3, -0.61, 0.0, 0.58, 4.1] {
                    for port in 0..2 {
                        let at = [main, control, 0.0];
                        let step = 1e-6;
                        let (mut up, mut down) = (at, at);
                        up[port] += step;
                        down[port] -= step;
                        let (up, down, here) = (law(up), law(down), law(at));
                        for row in 0..2 {
                            let found = (up.current[row] - down.current[row]) / (2.0 * step);
                            let given = here.slope[row][port];
                            let size = here.current[row].abs();
                            assert!(
                                (found - given).abs() <= 1e-4 * given.abs() + 1e-6 * size + 1e-9,
                                "law {number} at {at:?}: slope[{row}][{port}] {given} against {found}"
                            );
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn no_trial_voltage_overflows() {
        for law in laws() {
            for main in [-1e9, 0.0, 1e9] {
                for control in [-1e9, 0.0, 1e9] {
                    let answer = law([main, control, 0.0]);
                    assert!(answer.current.iter().chain(answer.slope.iter().flatten()).all(|v| v.is_finite()));
                }
            }
        }
    }

    #[test]
    fn a_jfet_with_its_gate_at_its_source_passes_half_kp_times_the_square_of_the_threshold() {
        let current = field_effect(&FieldEffectModel { lambda: 0.0, ..JFET }, [10.0, 0.0, 0.0]).current[0];
        assert!((current - 3e-3).abs() < 1e-9, "{current}");
    }

    #[test]
    fn a_bipolar_transistor_multiplies_its_base_current() {
        let answer = bipolar(&NPN, [0.65, 0.65, 0.0]);
        assert!((answer.current[0] / answer.current[1] - 150.0).abs() < 0.1, "{answer:?}");
    }
}
