//! The pure core: a design in, findings out. No files, no clock, no environment.

use jiff::civil::Date;

use crate::catalogue::Devices;
use crate::circuit::Circuit;
use crate::design::Design;
use crate::facts::FactTable;
