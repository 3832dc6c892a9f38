//! Pins of a tube with its heater wired for a voltage. Knows nothing of the socket that a design gives it.

use std::collections::BTreeSet;

use crate::units::Volts;

use super::{HeaterConnection, Pin, TubeEntry};

/// The heater connection nearest to a supply voltage by ratio.
///
/// `None` only where there is none, or the voltage is not above zero.
#[must_use]
pub fn nearest_heater(connections: &[HeaterConnection], supply: Volts) -> Option<HeaterConnection> {
    if supply.0.is_nan() || supply.0 <= 0.0 {
        return None;
    }
    let distance = |heater: &HeaterConnection| (heater.voltage.0 / supply.0).ln().abs();
    connections.iter().copied().min_by(|a, b| distance(a).total_cmp(&distance(b)))
}

impl TubeEntry {
    /// The heater connection meant by a supply voltage: the one nearest to it by ratio.
    ///
    /// `None` only where the tube has none, or the voltage is not above zero.
    #[must_use]
    pub fn heater_connection(&self, supply: Volts) -> Option<HeaterConnection> {
        nearest_heater(&self.heaters, supply)
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

    /// Whether this tube finds each of its electrodes at the pins where `drawn` has it, both with their heaters wired for
    /// a supply voltage. Pins that carry nothing, a shield or something internal are left out, and so is a heater's tap
    /// that stays open; a heater of one tube must not meet an electrode of the other.
    #[must_use]
    pub fn fits_socket_of(&self, drawn: &Self, supply: Volts) -> bool {
        let (own, there) = (self.pins_with_heater(supply), drawn.pins_with_heater(supply));
        let meets = |pin: &Pin| {
            let mut known = there.iter().filter(|other| other.number == pin.number).filter_map(electrode).peekable();
            let heater = there.iter().any(|other| other.number == pin.number && other.terminal.starts_with("heater."));
            !heater && known.peek().is_none() || known.any(|other| Some(other) == electrode(pin))
        };
        let present = |pin: &Pin| {
            there
                .iter()
                .filter(|other| electrode(other) == electrode(pin))
                .any(|other| own.iter().any(|mine| mine.number == other.number && electrode(mine) == electrode(other)))
        };
        heater_ends(&own) == heater_ends(&there)
            && own.iter().filter(|pin| electrode(pin).is_some()).all(meets)
            && there.iter().filter(|pin| electrode(pin).is_some()).all(present)
    }

    /// The electrodes that this tube has at pins where `drawn` has none, so that a socket wired for `drawn` leaves them
    /// open: pin number and electrode.
    #[must_use]
    pub fn open_pins_in(&self, drawn: &Self, supply: Volts) -> Vec<(String, String)> {
        let (own, there) = (self.pins_with_heater(supply), drawn.pins_with_heater(supply));
        let bare = |pin: &Pin| !there.iter().any(|other| other.number == pin.number && electrode(other).is_some());
        let open = own.iter().filter(|pin| bare(pin));
        open.filter_map(|pin| Some((pin.number.clone(), electrode(pin)?.to_owned()))).collect()
    }
}

/// The pins of a heater's two ends; which end is which makes no difference.
fn heater_ends(pins: &[Pin]) -> BTreeSet<BTreeSet<&str>> {
    let end = |name: &str| pins.iter().filter(|pin| pin.terminal == name).map(|pin| pin.number.as_str()).collect();
    BTreeSet::from(["heater.from", "heater.to"].map(end))
}

/// The electrode at a pin, where there is one.
fn electrode(pin: &Pin) -> Option<&str> {
    match pin.terminal.as_str() {
        "none" | "shield" | "internal" => None,
        heater if heater.starts_with("heater.") => None,
        other => Some(other),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;

    fn fits(other: &str, drawn: &str, volts: f64) -> bool {
        let tube = |name| Catalogue::built_in().tube(name).cloned().unwrap();
        tube(other).fits_socket_of(&tube(drawn), Volts(volts))
    }

    #[test]
    fn the_same_pins_fit_and_others_do_not() {
        assert!(fits("12AX7", "12AU7", 6.3));
        assert!(fits("12BH7A", "12AU7", 12.6));
        assert!(fits("6L6GC", "6V6GT", 6.3));
        assert!(!fits("6SN7", "12AU7", 6.3));
        assert!(!fits("EL84", "6AQ5", 6.3));
    }

    #[test]
    fn a_heater_at_other_pins_does_not_fit() {
        assert!(!fits("6DJ8", "12AU7", 6.3), "pins 4 and 5 are joined for a 12AU7, and are the two ends of a 6DJ8");
        assert!(!fits("12AU7", "6DJ8", 6.3));
    }
}
