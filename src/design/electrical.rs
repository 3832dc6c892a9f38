//! Small electrical readings of a part by itself: tracks of a potentiometer, hot resistance of a heater.

use crate::catalogue::{HeaterConnection, Heating, PentodeForm, TransistorFamily, nearest_heater};
use crate::units::{Ohms, Quantity};

use super::{Potentiometer, Transistor, Tube};

impl Potentiometer {
    /// Resistance from top to wiper and from wiper to bottom at the setting.
    #[must_use]
    pub fn tracks(&self) -> (Ohms, Ohms) {
        let whole = self.resistance.value.base();
        let lower = self.setting.base().clamp(0.0, 1.0);
        (Ohms(whole * (1.0 - lower)), Ohms(whole * lower))
    }
}

impl Tube {
    /// The catalogue's heater connection nearest to the voltage that the designer wires it for.
    #[must_use]
    pub fn heater_connection(&self) -> Option<HeaterConnection> {
        nearest_heater(&self.heaters, self.heater.as_ref()?.voltage.value)
    }

    /// Hot resistance of the heater at its published current.
    #[must_use]
    pub fn hot_resistance(&self) -> Option<Ohms> {
        let connection = self.heater_connection()?;
        Some(Ohms(connection.voltage.base() / connection.current.base()))
    }

    /// The `model` keys that a section is given: those of the whole tube, and those that name the section (`p.mu`).
    pub fn changes_of<'a>(&'a self, suffix: &'a str) -> impl Iterator<Item = (&'a str, f64)> + 'a {
        self.changes.keys.iter().filter_map(move |(key, value)| match key.split_once('.') {
            Some((section, key)) => (section == suffix).then_some((key, *value)),
            None => Some((key.as_str(), *value)),
        })
    }

    /// The form that the design gives a section's model in, where it is another than the catalogue's.
    #[must_use]
    pub fn form_of(&self, suffix: &str) -> Option<PentodeForm> {
        let meant = |section: &str| section.is_empty() || section == suffix;
        self.changes.forms.iter().rev().find(|(section, _)| meant(section)).map(|(_, form)| *form)
    }

    /// Whether the filament is the cathode.
    #[must_use]
    pub fn directly_heated(&self) -> bool {
        self.heating == Heating::Direct
    }

    /// Whether the cathode is joined to the heater inside the tube.
    #[must_use]
    pub fn joined_cathode(&self) -> bool {
        self.heating == Heating::JoinedCathode
    }
}

impl Transistor {
    /// The terminals: the main one, the control, the common one.
    #[must_use]
    pub fn terminals(&self) -> [&'static str; 3] {
        match self.family {
            TransistorFamily::Mosfet | TransistorFamily::JunctionFet => ["drain", "gate", "source"],
            TransistorFamily::Bipolar => ["collector", "base", "emitter"],
        }
    }
}
