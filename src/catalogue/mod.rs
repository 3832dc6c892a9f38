//! Tubes, diodes, LEDs, basings and shelf ratings, read from KDL files. Knows nothing of designs.

mod devices;
mod lookup;

pub use devices::{
    DeviceSource, DiodeEntry, DiodeModel, DiodeModelChanges, HeaterConnection, Heating, LedEntry, PentodeModel, Pin,
    PlateSupplyPoint, RectifierLimits, Section, SectionKind, SectionLimits, TriodeModel, TubeEntry, TubeModel,
    TubeModelChanges, VacuumDiodeModel,
};
pub use lookup::Devices;
