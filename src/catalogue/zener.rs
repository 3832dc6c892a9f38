//! The zener that a voltage stands for.

use crate::units::Volts;

use super::DiodeModel;

/// An estimated zener of a breakdown voltage: an ordinary silicon junction forward, a steady voltage with a dynamic
/// resistance in breakdown.
///
/// The dynamic resistance (`rs`) follows the 1 W family 1N4728A to 1N4764A at its test currents (maker's data, from
/// memory): 0.04 Ω/V²·V² from 6 V up, not less than 2 Ω (10 V: 4 Ω, published 7 Ω; 24 V: 23 Ω, published 25 Ω;
/// 51 V: 104 Ω, published 95 Ω; 100 V: 400 Ω, published 350 Ω), and below 6 V 2 Ω and 3 Ω more for each volt
/// (3.3 V: 10 Ω, published 10 Ω). Forward: is = 1 nA, n = 1.5, about 0.6 V at 10 mA. All of it is an estimate.
#[must_use]
pub fn zener_model(breakdown: Volts) -> DiodeModel {
    let volts = breakdown.0.abs();
    DiodeModel {
        is: 1e-9,
        n: 1.5,
        rs: (0.04 * volts * volts).max(2.0 + 3.0 * (6.0 - volts).max(0.0)),
        breakdown: Some(volts),
    }
}
