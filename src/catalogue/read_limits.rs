//! Published limits of a tube section, of a rectifier and of a junction, with the documents that they stand in.

use crate::source::{Complaint, Statement};
use crate::units::{Amperes, Farads, Ohms, Quantity, Seconds, Volts};

use super::fields::{children_only, known_children, only_quantity, quantity, sources};
use super::{PlateSupplyPoint, RectifierLimits, RegulatorLimits, SectionLimits};

const SECTION_LIMITS: [&str; 11] = [
    "plate-voltage",
    "cold-plate-voltage",
    "plate-dissipation",
    "screen-voltage",
    "screen-dissipation",
    "cathode-current",
    "heater-positive",
    "heater-positive-direct",
    "heater-negative",
    "grid-leak-cathode-bias",
    "grid-leak-fixed-bias",
];

/// The children of a `limits` group of a tube section.
pub(super) fn section_limits(group: &Statement, out: &mut Vec<Complaint>) -> SectionLimits {
    children_only(group, out);
    known_children(group, &SECTION_LIMITS, &[], out);
    SectionLimits {
        plate_voltage: figure(group, "plate-voltage", out),
        cold_plate_voltage: figure(group, "cold-plate-voltage", out),
        plate_dissipation: figure(group, "plate-dissipation", out),
        screen_voltage: figure(group, "screen-voltage", out),
        screen_dissipation: figure(group, "screen-dissipation", out),
        cathode_current: figure(group, "cathode-current", out),
        heater_positive: figure(group, "heater-positive", out),
        heater_positive_direct: figure(group, "heater-positive-direct", out),
        heater_negative: figure(group, "heater-negative", out),
        grid_leak_cathode_bias: figure(group, "grid-leak-cathode-bias", out),
        grid_leak_fixed_bias: figure(group, "grid-leak-fixed-bias", out),
        sources: sources(group, out),
    }
}

/// The children of a `rectifier` group.
pub(super) fn rectifier_limits(group: &Statement, out: &mut Vec<Complaint>) -> RectifierLimits {
    let known =
        ["inverse-voltage", "peak-current", "direct-current", "first-capacitor", "hot-switch-current", "warm-up"];
    children_only(group, out);
    known_children(group, &known, &["plate-supply"], out);
    let mut plate_supply: Vec<PlateSupplyPoint> = group
        .children
        .iter()
        .filter(|child| child.name.value == "plate-supply")
        .filter_map(|child| plate_supply_point(child, out))
        .collect();
    plate_supply.sort_by(|a, b| a.voltage.0.total_cmp(&b.voltage.0));
    RectifierLimits {
        inverse_voltage: figure::<Volts>(group, "inverse-voltage", out),
        peak_current: figure::<Amperes>(group, "peak-current", out),
        direct_current: figure::<Amperes>(group, "direct-current", out),
        first_capacitor: figure::<Farads>(group, "first-capacitor", out),
        plate_supply,
        hot_switch_current: figure::<Amperes>(group, "hot-switch-current", out),
        warm_up: figure::<Seconds>(group, "warm-up", out).map(|seconds| seconds.0),
        sources: sources(group, out),
    }
}

/// The children of a `regulator` group.
pub(super) fn regulator_limits(group: &Statement, out: &mut Vec<Complaint>) -> RegulatorLimits {
    children_only(group, out);
    known_children(group, &["least-supply", "least-current", "largest-current", "largest-capacitor"], &[], out);
    RegulatorLimits {
        least_supply: figure(group, "least-supply", out),
        least_current: figure(group, "least-current", out),
        largest_current: figure(group, "largest-current", out),
        largest_capacitor: figure(group, "largest-capacitor", out),
        sources: sources(group, out),
    }
}

fn plate_supply_point(child: &Statement, out: &mut Vec<Complaint>) -> Option<PlateSupplyPoint> {
    match child.arguments.as_slice() {
        [voltage, resistance] => {
            Some(PlateSupplyPoint { voltage: quantity(voltage, out)?, resistance: quantity(resistance, out)? })
        }
        [resistance] => Some(PlateSupplyPoint { voltage: Volts(0.0), resistance: quantity::<Ohms>(resistance, out)? }),
        _ => {
            out.push(Complaint::at(
                child.span,
                "`plate-supply` takes a voltage per plate and a resistance, or a resistance alone",
                "one or two values are wanted",
            ));
            None
        }
    }
}

/// The figure of a name among the children of a group.
pub(super) fn figure<Q: Quantity>(group: &Statement, name: &str, out: &mut Vec<Complaint>) -> Option<Q> {
    let child = group.children.iter().find(|child| child.name.value == name)?;
    only_quantity(child, out)
}
