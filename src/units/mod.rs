//! Quantities with their units: the words in which every other room speaks of voltages and ohms.
//!
//! Knows nothing of designs, physics or output; only numbers, units and how builders write them.

mod dimension;
mod format;
mod preferred;
mod quantity;
mod value;

pub use dimension::Dimension;
pub use format::{as_written, format_quantity, format_ratio, prefixed};
pub use preferred::{Series, is_preferred, nearest_preferred, next_shelf_value};
pub use quantity::{
    Amperes, Farads, Henries, Hertz, Joules, Metres, Ohms, Quantity, Ratio, Seconds, Siemens, Volts, Watts,
};
pub use value::{ValueError, parse_value};
