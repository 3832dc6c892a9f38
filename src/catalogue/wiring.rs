//! Pins of a tube with its heater wired for a voltage. Knows nothing of the socket that a design gives it.

use crate::units::Volts;

use super::{HeaterConnection, Pin, TubeEntry};

impl TubeEntry {
    /// The heater connection meant by a supply voltage: the one nearest to it by ratio.
    ///
    /// `None` only where the tube has none, or the voltage is not above zero.
    #[must_use]
    pub fn heater_connection(&self, supply: Volts) -> Option<HeaterConnection> {
        if supply.0.is_nan() || supply.0 <= 0.0 {
            return None;
        }
        let distance = |heater: &HeaterConnection| (heater.voltage.0 / supply.0).ln().abs();
        self.heaters.iter().copied().min_by(|a, b| distance(a).total_cmp(&distance(b)))
    }

    /// The pins with the heater wired for a supply voltage.
    ///
    /// A tapped heater runs end to end at its series voltage, with the tap left open (9A at 12.6 V: pin 4 is
    /// `heater.from`, pin 5 `heater.to`, pin 9 stays `heater.tap`). At its parallel voltage both ends are joined as
    /// `heater.from` and the tap is `heater.to` (9A at 6.3 V: pins 4 and 5 against pin 9).
    #[must_use]
    pub fn pins_with_heater(&self, supply: Volts) -> Vec<Pin> {
        let lowest = self.heaters.iter().map(|heater| heater.voltage.0).fold(f64::INFINITY, f64::min);
        let tapped = self.pins.iter().any(|pin| pin.terminal == "heater.tap");
        let parallel = tapped && self.heater_connection(supply).is_some_and(|heater| heater.voltage.0 <= lowest);
        let rewire = |pin: &Pin| {
            let terminal = match (parallel, pin.terminal.as_str()) {
                (true, "heater.to") => "heater.from",
                (true, "heater.tap") => "heater.to",
                (_, other) => other,
            };
            Pin { number: pin.number.clone(), terminal: terminal.to_owned() }
        };
        self.pins.iter().map(rewire).collect()
    }
}
