//! The questions that the design asks of a catalogue, so that its reader can be tested with a handful of devices.

use crate::units::{Volts, Watts};

use super::{DiodeEntry, DiodeModel, LedEntry, TransistorEntry, TransistorFamily, TubeEntry};

/// Devices by name. Every look-up takes canonical names and aliases alike.
pub trait Devices: Sync {
    /// The tube of a name or alias.
    fn tube(&self, name: &str) -> Option<&TubeEntry>;
    /// The diode of a name or alias.
    fn diode(&self, name: &str) -> Option<&DiodeEntry>;
    /// The LED of a colour or another spelling of it.
    fn led(&self, colour: &str) -> Option<&LedEntry>;
    /// The model of a zener of a voltage.
    fn zener_model(&self, voltage: Volts) -> DiodeModel;
    /// All names of tubes, aliases included.
    fn tube_names(&self) -> Vec<&str>;
    /// All names of diodes, aliases included.
    fn diode_names(&self) -> Vec<&str>;
    /// All colours of LEDs, other spellings included.
    fn led_names(&self) -> Vec<&str>;
    /// The transistor of a family and a name or alias.
    fn transistor(&self, _family: TransistorFamily, _name: &str) -> Option<&TransistorEntry> {
        None
    }
    /// All names of the transistors of a family, aliases included.
    fn transistor_names(&self, _family: TransistorFamily) -> Vec<&str> {
        Vec::new()
    }
    /// The limiting element voltage of a resistor of a kind and rated power, where it is published.
    fn element_voltage(&self, _kind: &str, _power: Watts) -> Option<Volts> {
        None
    }
}
