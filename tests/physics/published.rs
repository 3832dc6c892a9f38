//! Published rectifier and filter figures; the sources stand beside each.

use crate::build::{capacitor, choke, current_source, nearly_ideal, network, resistor, silicon, winding};
use coldcheck::physics::{Network, SteadyOptions, SteadyState, discharge, steady_state};
use coldcheck::units::{Hertz, Seconds, Volts};
use std::f64::consts::{PI, SQRT_2};

fn near(found: f64, expected: f64, percent: f64) {
    assert!((found - expected).abs() <= expected.abs() * percent / 100.0, "{found} against {expected}");
}

fn solve(network: &Network, frequency: f64) -> SteadyState {
    steady_state(network, Hertz(frequency), SteadyOptions::default()).unwrap()
}

fn centre_tap(each_half: f64) -> Vec<coldcheck::physics::Element> {
    vec![winding(1, 0, each_half, 0.1), winding(0, 2, each_half, 0.1), nearly_ideal(1, 3), nearly_ideal(2, 3)]
}

#[test]
fn full_wave_rectifier_without_filter() {
    // NEETS Module 6, NAVEDTRA 14178 (US Navy), assignment 3, Q3-19 and Q3-20: 240 V end to end gives 169.7 V peak, 108.1 V average.
    let mut elements = centre_tap(120.0);
    elements.push(resistor(3, 0, 10e3));
    let load = solve(&network(elements), 60.0).nodes[3];
    near(load.maximum, 169.7, 0.3);
    near(load.mean, 108.1, 0.3);
}

#[test]
fn half_wave_rectifier_without_filter() {
    // US Army TC 9-62 (2005), paragraphs 4-10 and 4-11: 115 V gives 162.6 V peak, 51.7 V average.
    let elements = vec![winding(1, 0, 115.0, 0.1), nearly_ideal(1, 2), resistor(2, 0, 10e3)];
    let load = solve(&network(elements), 60.0).nodes[2];
    near(load.maximum, 162.6, 0.3);
    near(load.mean, 51.7, 0.3);
}

#[test]
fn inverse_voltage_of_a_centre_tapped_rectifier() {
    // FCC Element 6, question 6A310: 7070 V end to end asks for rectifiers of 10,000 V peak inverse.
    let mut elements = centre_tap(3535.0);
    elements.push(capacitor(3, 0, 10e-6));
    elements.push(resistor(3, 0, 1e6));
    let rectifier = solve(&network(elements), 60.0).elements[2];
    near(-rectifier.voltage.minimum, 10_000.0, 0.5);
}

#[test]
fn a_choke_conducts_all_the_time_above_the_critical_inductance_only() {
    // R/(2π·3f): 4.42 H at 60 Hz and 5.31 H at 50 Hz for 5 kΩ (worked example WE26). The formula leaves out all but the
    // first harmonic of the ripple, so the two sides are tried a tenth away from it.
    for (frequency, critical) in [(60.0, 4.42), (50.0, 5.31)] {
        let least_current = |henries: f64| {
            let mut elements = centre_tap(300.0);
            elements.push(choke(3, 4, henries, 1.0));
            elements.push(capacitor(4, 0, 100e-6));
            elements.push(resistor(4, 0, 5000.0));
            let steady = solve(&network(elements), frequency);
            (steady.elements[4].current, steady.nodes[4].mean)
        };
        let (above, mean) = least_current(1.1 * critical);
        assert!(above.minimum > 0.02 * above.mean, "{above:?}");
        // The average of a rectified sine: 2√2/π of its rms (NEETS Module 6).
        near(mean, 300.0 * 2.0 * SQRT_2 / PI, 0.3);
        let (below, mean) = least_current(0.9 * critical);
        assert!(below.minimum < 0.005 * below.mean, "{below:?}");
        assert!(mean > 300.0 * 2.0 * SQRT_2 / PI);
    }
}

#[test]
fn reservoir_ripple_stays_below_the_handbook_bound() {
    // I/(2fC) = 21.3 V for 100 mA, 50 Hz and 47 µF (worked example WE28, an upper bound from memory: it takes the recharging as instant).
    let mut elements = centre_tap(250.0);
    elements.push(capacitor(3, 0, 47e-6));
    elements.push(current_source(3, 0, 0.1));
    let ripple = solve(&network(elements), 50.0).nodes[3].peak_to_peak();
    assert!(ripple < 21.3, "{ripple}");
    assert!(ripple > 0.8 * 21.3, "{ripple}");
}

#[test]
fn the_largest_bleeder_for_fifty_volts_within_a_minute() {
    // NEC 460.6 as computed in worked example WE27: 100 µF from 450 V through 273 kΩ.
    let network = network(vec![capacitor(1, 0, 100e-6), resistor(1, 0, 273e3)]);
    let found = discharge(&network, &[0.0, 450.0], Volts(50.0), Seconds(600.0)).unwrap();
    near(found.times[0].unwrap().0, 60.0, 0.3);
}

#[test]
fn a_reservoir_without_load_holds_the_crest() {
    let crest = 250.0 * SQRT_2;
    for rectifier in [nearly_ideal as fn(usize, usize) -> _, silicon] {
        let elements = vec![
            winding(1, 0, 250.0, 100.0),
            winding(0, 2, 250.0, 100.0),
            rectifier(1, 3),
            rectifier(2, 3),
            capacitor(3, 0, 47e-6),
        ];
        let steady = solve(&network(elements), 50.0);
        near(steady.nodes[3].mean, crest, 0.2);
        assert!(steady.nodes[3].peak_to_peak() < 0.01);
        assert!(steady.nodes[3].mean <= crest + 1e-6);
    }
}

#[test]
fn a_doubler_without_load_holds_twice_the_crest() {
    let elements = vec![
        winding(1, 0, 120.0, 12.0),
        silicon(1, 2),
        silicon(3, 1),
        capacitor(2, 0, 100e-6),
        capacitor(0, 3, 100e-6),
    ];
    let steady = solve(&network(elements), 50.0);
    near(steady.nodes[2].mean - steady.nodes[3].mean, 240.0 * SQRT_2, 0.5);
}
