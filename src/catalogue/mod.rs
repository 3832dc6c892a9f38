//! Tubes, diodes, LEDs, basings and shelf ratings, read from KDL files. Knows nothing of designs.

mod devices;

pub use devices::{
    DeviceSource, DiodeEntry, DiodeModel, DiodeModelChanges, HeaterConnection, Heating, LedEntry, PentodeModel, Pin,
    PlateSupplyPoint, RectifierLimits, Section, SectionKind, SectionLimits, TriodeModel, TubeEntry, TubeModel,
    TubeModelChanges, VacuumDiodeModel,
};
