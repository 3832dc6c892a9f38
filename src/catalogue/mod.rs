//! Tubes, diodes, LEDs, basings and shelf ratings, read from KDL files. Knows nothing of designs.

mod devices;
mod fields;
mod lookup;
mod names;
mod pentode;
mod read_limits;
mod read_model;
mod read_small;
mod read_transistor;
mod read_tube;
mod register;
mod store;
mod transistor;
mod wiring;
mod zener;

pub use devices::{
    DeviceSource, DiodeEntry, DiodeModel, DiodeModelChanges, HeaterConnection, Heating, LedEntry, Pin,
    PlateSupplyPoint, RectifierLimits, RegulatorLimits, RegulatorModel, Section, SectionKind, SectionLimits,
    TriodeModel, TubeEntry, TubeModel, TubeModelChanges, VacuumDiodeModel,
};
pub use lookup::Devices;
pub use pentode::{DividedPentodeModel, PentodeForm, PentodeLaw, PentodeModel};
pub use store::{Catalogue, built_in_files};
pub use transistor::{
    BipolarModel, FieldEffectModel, TransistorEntry, TransistorFamily, TransistorLimits, TransistorModel,
};
pub use wiring::nearest_heater;
pub use zener::zener_model;
