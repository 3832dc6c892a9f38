//! Pins of a tube with its heater wired for a voltage. Knows nothing of the socket that a design gives it.

use std::collections::BTreeSet;

use crate::units::Volts;

use super::{HeaterConnection, Heating, Pin, TubeEntry};

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
    /// that stays open; a heater of one tube must not meet an electrode of the other, but for the cathode that is the
    /// filament or joined to it: rectifiers of either kind have always changed places in one socket. None of its electrodes
    /// must stay without a wire because the other tube has none of that name.
    #[must_use]
    pub fn fits_socket_of(&self, drawn: &Self, supply: Volts) -> bool {
        let (own, there) = (self.pins_with_heater(supply), drawn.pins_with_heater(supply));
        let meets = |pin: &Pin| {
            let here: Vec<&Pin> = there.iter().filter(|other| other.number == pin.number).collect();
            let mut known = here.iter().filter_map(|other| drawn.electrode(other)).peekable();
            let heater = here.iter().any(|other| is_heater(other));
            // At a pin that the socket leaves open an electrode floats, unless another of its pins is wired.
            let elsewhere = there.iter().any(|other| drawn.electrode(other) == self.electrode(pin));
            !heater && known.peek().is_none() && elsewhere || known.any(|other| Some(other) == self.electrode(pin))
        };
        let present = |pin: &Pin| {
            there.iter().filter(|other| drawn.electrode(other) == drawn.electrode(pin)).any(|other| {
                own.iter().any(|mine| mine.number == other.number && self.electrode(mine) == drawn.electrode(other))
            })
        };
        heater_ends(&own) == heater_ends(&there)
            && own.iter().filter(|pin| electrode(pin).is_some()).all(meets)
            && there.iter().filter(|pin| electrode(pin).is_some()).all(present)
    }

    /// The electrode at a pin, where there is one; a filament that is the cathode, or joined to it, counts as the cathode.
    fn electrode<'a>(&self, pin: &'a Pin) -> Option<&'a str> {
        let joined = matches!(self.heating, Heating::Direct | Heating::JoinedCathode);
        if joined && is_heater(pin) { Some("cathode") } else { electrode(pin) }
    }

    /// The electrodes that this tube has at pins where `drawn` has none, so that a socket wired for `drawn` leaves them
    /// open: pin number and electrode. None where anything else differs: then no wire more makes it fit.
    #[must_use]
    pub fn open_pins_in(&self, drawn: &Self, supply: Volts) -> Vec<(String, String)> {
        let (own, there) = (self.pins_with_heater(supply), drawn.pins_with_heater(supply));
        let here = |pin: &Pin| there.iter().filter(|other| other.number == pin.number).find_map(electrode);
        let clashes =
            own.iter().any(|pin| electrode(pin).is_some() && here(pin).is_some_and(|it| Some(it) != electrode(pin)));
        if clashes || heater_ends(&own) != heater_ends(&there) {
            return Vec::new();
        }
        let open = own.iter().filter(|pin| here(pin).is_none());
        open.filter_map(|pin| Some((pin.number.clone(), electrode(pin)?.to_owned()))).collect()
    }
}

/// The pins of a heater's two ends; which end is which makes no difference.
fn heater_ends(pins: &[Pin]) -> BTreeSet<BTreeSet<&str>> {
    let end = |name: &str| pins.iter().filter(|pin| pin.terminal == name).map(|pin| pin.number.as_str()).collect();
    BTreeSet::from(["heater.from", "heater.to"].map(end))
}

fn is_heater(pin: &Pin) -> bool {
    pin.terminal.starts_with("heater.")
}

/// The electrode at a pin, where there is one.
fn electrode(pin: &Pin) -> Option<&str> {
    match pin.terminal.as_str() {
        "none" | "shield" | "internal" => None,
        _ if is_heater(pin) => None,
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
    fn a_suppressor_that_the_socket_leaves_open_does_not_fit() {
        assert!(!fits("EL34", "6L6GC", 6.3), "pin 1 is the suppressor of an EL34 and nothing of a 6L6GC");
    }

    #[test]
    fn rectifiers_with_the_filament_for_a_cathode_change_places_with_those_that_have_theirs_joined_to_it() {
        assert!(fits("GZ34", "5U4GB", 5.0));
        assert!(fits("5Y3", "GZ34", 5.0));
        assert!(fits("5V4G", "5Y3", 5.0));
        assert!(!fits("5Y3", "6X5", 5.0));
    }

    #[test]
    fn a_heater_at_other_pins_does_not_fit() {
        assert!(!fits("6DJ8", "12AU7", 6.3), "pins 4 and 5 are joined for a 12AU7, and are the two ends of a 6DJ8");
        assert!(!fits("12AU7", "6DJ8", 6.3));
    }
}
