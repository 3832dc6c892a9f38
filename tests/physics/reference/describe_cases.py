"""Writes cases.json: every network that the physics tests solve, described once.

Both sides read it: solve_cases.py, which solves the networks with scipy, and the Rust tests.
A choke fed by rectifiers has 1 MΩ beside it (its iron loss), so that its current has a way when they block.
Node 0 is the reference. Values are in SI units; emf is rms.
"""

import json
import math
from pathlib import Path

SILICON = {"is": 7e-9, "n": 1.8, "rs": 0.034}
RED_LED = {"is": 1e-18, "n": 1.8, "rs": 3.0}
ZENER = {"is": 1e-12, "n": 1.5, "rs": 40.0, "breakdown": 150.0}
TRIODE_MEDIUM = {"mu": 21.5, "x": 1.3, "kg1": 1180, "kp": 84, "kvb": 300, "rgi": 2000}
TRIODE_HIGH = {"mu": 100, "x": 1.4, "kg1": 1060, "kp": 600, "kvb": 300, "rgi": 2000}
PENTODE = {"mu": 11.0, "x": 1.35, "kg1": 650, "kg2": 4200, "kp": 60, "kvb": 24, "rgi": 1000}
SMALL_PENTODE = {"mu": 38.0, "x": 1.4, "kg1": 2600, "kg2": 6000, "kp": 220, "kvb": 16}
DIVIDED = {"mu": 11.0, "x": 1.5, "kg1": 770, "kp": 55, "mup": 190, "split": 0.15, "tilt": 0.1, "knee": 1.9e-3, "rgi": 1000}
SMALL_DIVIDED = {"mu": 40.0, "x": 1.45, "kg1": 1100, "kp": 110, "mup": 5000, "split": 0.25, "tilt": 0.15, "knee": 1.2e-3}
BEAM = {"mu": 8.2, "x": 1.5, "kg1": 1900, "kp": 60, "mup": 200, "split": 0.065, "tilt": 0.5, "knee": 8e-4, "rgi": 1000}


def res(a, b, value):
    return {"kind": "resistor", "a": a, "b": b, "value": value}


def cap(a, b, value):
    return {"kind": "capacitor", "a": a, "b": b, "value": value}


def choke(a, b, value, resistance):
    return {"kind": "inductor", "a": a, "b": b, "value": value, "resistance": resistance}


def winding(a, b, emf, resistance, phase=0.0):
    return {"kind": "winding", "a": a, "b": b, "emf": emf, "resistance": resistance, "phase": phase}


def supply(plus, minus, voltage, resistance=0.0):
    return {"kind": "supply", "a": plus, "b": minus, "voltage": voltage, "resistance": resistance}


def diode(anode, cathode, model=None):
    return {"kind": "junction", "a": anode, "b": cathode, "model": model or SILICON}


def vacuum(plate, cathode, k):
    return {"kind": "vacuum-diode", "a": plate, "b": cathode, "model": {"k": k}}


def triode(plate, grid, cathode, model):
    return {"kind": "triode", "a": plate, "b": cathode, "grid": grid, "model": model}


def pentode(plate, grid, screen, cathode, model):
    return {"kind": "pentode", "a": plate, "b": cathode, "grid": grid, "screen": screen, "model": model}


def source(a, b, current):
    return {"kind": "current-source", "a": a, "b": b, "current": current}


def network(elements):
    top = 0
    for e in elements:
        top = max(top, *[e[t] for t in ("a", "b", "grid", "screen") if t in e])
    return {"nodes": top + 1, "elements": elements}


def centre_tap(emf, resistance):
    """Nodes 1 and 2 are the ends, the centre is the reference; emf and resistance of each half."""
    return [winding(1, 0, emf, resistance), winding(0, 2, emf, resistance)]


def bridge():
    """From a floating winding at 1 and 2 to node 3; 100 MΩ of insulation say where the winding rests while all block."""
    return [diode(1, 3), diode(2, 3), diode(0, 1), diode(0, 2), res(1, 0, 100e6), res(2, 0, 100e6)]


STEADY = [
    ("vacuum rectifier, resistance filter, two triode stages", 50, network(centre_tap(260, 230) + [
        vacuum(1, 3, 6e-4), vacuum(2, 3, 6e-4), cap(3, 0, 22e-6), res(3, 4, 2200), cap(4, 0, 47e-6),
        res(4, 0, 220e3),
        res(4, 5, 47e3), triode(5, 6, 7, TRIODE_MEDIUM), res(6, 0, 1e6), res(7, 0, 1500),
        res(4, 8, 100e3), triode(8, 9, 10, TRIODE_HIGH), res(9, 0, 1e6), res(10, 0, 1800),
    ])),
    ("silicon centre tap, capacitor input", 50, network(centre_tap(250, 40) + [
        diode(1, 3), diode(2, 3), cap(3, 0, 47e-6), res(3, 0, 4700),
    ])),
    ("silicon bridge on a floating winding, resistance filter", 60, network([
        winding(1, 2, 230, 25), *bridge(),
        cap(3, 0, 100e-6), res(3, 4, 470), cap(4, 0, 100e-6), res(4, 0, 6800),
    ])),
    ("half-wave negative bias rail", 50, network([
        winding(1, 0, 50, 20), diode(2, 1), cap(2, 0, 47e-6), res(2, 3, 4700), cap(3, 0, 47e-6),
        res(3, 4, 10e3), res(4, 0, 15e3),
    ])),
    ("full-wave doubler", 50, network([
        winding(1, 0, 120, 12), diode(1, 2), diode(3, 1), cap(2, 0, 100e-6), cap(0, 3, 100e-6),
        res(2, 3, 8200),
    ])),
    ("half-wave doubler", 50, network([
        winding(1, 0, 120, 12), cap(1, 2, 100e-6), diode(0, 2), diode(2, 3), cap(3, 0, 47e-6),
        res(3, 0, 15e3),
    ])),
    ("choke input above the critical inductance", 50, network(centre_tap(300, 60) + [
        vacuum(1, 3, 1.5e-3), vacuum(2, 3, 1.5e-3), choke(3, 4, 10, 100), res(3, 4, 1e6), cap(4, 0, 47e-6), res(4, 0, 4000),
    ])),
    ("choke input below the critical inductance", 50, network(centre_tap(300, 60) + [
        diode(1, 3), diode(2, 3), choke(3, 4, 5, 100), res(3, 4, 1e6), cap(4, 0, 22e-6), res(4, 0, 22e3),
    ])),
    ("capacitor, choke, capacitor", 60, network(centre_tap(280, 150) + [
        vacuum(1, 3, 1e-3), vacuum(2, 3, 1e-3), cap(3, 0, 10e-6), choke(3, 4, 8, 200), cap(4, 0, 22e-6),
        res(4, 0, 5600),
    ])),
    ("high tension and bias windings, fixed-bias pentode", 50, network(centre_tap(250, 80) + [
        diode(1, 3), diode(2, 3), cap(3, 0, 47e-6), res(3, 4, 220), cap(4, 0, 47e-6),
        winding(5, 0, 40, 15), diode(6, 5), cap(6, 0, 47e-6), res(6, 7, 2200), cap(7, 0, 22e-6), res(7, 0, 22e3),
        res(4, 8, 180), res(4, 9, 1000), res(10, 7, 100e3), pentode(8, 10, 9, 0, PENTODE),
    ])),
    ("beam tube on its own supply, screen divided off", 50, network(centre_tap(320, 90) + [
        diode(1, 3), diode(2, 3), cap(3, 0, 47e-6), res(3, 4, 180), cap(4, 0, 47e-6), res(4, 5, 220),
        res(4, 6, 6800), res(6, 0, 33e3), cap(6, 0, 22e-6), pentode(5, 7, 6, 8, BEAM), res(7, 0, 220e3),
        res(8, 0, 330), cap(8, 0, 220e-6),
    ])),
    ("direct-current heater bridge", 50, network([
        winding(1, 2, 7.5, 0.25), *bridge(),
        cap(3, 0, 4700e-6), res(3, 0, 9),
    ])),
    ("stacked reservoirs with balancing resistors", 50, network([
        winding(1, 2, 300, 50), *bridge(),
        cap(3, 4, 100e-6), cap(4, 0, 80e-6), res(3, 4, 220e3), res(4, 0, 180e3), res(3, 0, 10e3),
    ])),
    ("directly heated rectifier on its own winding", 50, network(centre_tap(300, 100) + [
        vacuum(1, 3, 4.3e-4), vacuum(2, 3, 4.3e-4),
        winding(4, 5, 5.0, 0.08), res(3, 4, 1.25), res(3, 5, 1.25),
        cap(4, 0, 16e-6), res(4, 6, 1500), cap(6, 0, 32e-6), res(6, 0, 5600),
    ])),
    ("zener-held screen rail", 50, network(centre_tap(220, 100) + [
        diode(1, 3), diode(2, 3), cap(3, 0, 47e-6), res(3, 4, 15e3), diode(0, 4, ZENER), res(4, 0, 47e3),
        res(3, 0, 20e3),
    ])),
    ("bleeder only, a time constant of minutes", 50, network(centre_tap(250, 80) + [
        diode(1, 3), diode(2, 3), cap(3, 0, 100e-6), res(3, 0, 1e6),
    ])),
    ("current-source load behind a filter", 50, network(centre_tap(240, 90) + [
        vacuum(1, 3, 8e-4), vacuum(2, 3, 8e-4), cap(3, 0, 22e-6), res(3, 4, 1000), cap(4, 0, 47e-6),
        source(4, 0, 0.04),
    ])),
    ("supply with a screen and a decoupled stage", 50, network(centre_tap(270, 120) + [
        diode(1, 3), diode(2, 3), cap(3, 0, 33e-6), res(3, 4, 1500), cap(4, 0, 33e-6), res(4, 5, 22e3),
        cap(5, 0, 10e-6),
        res(5, 6, 220e3), res(5, 7, 1e6), cap(7, 0, 0.1e-6), pentode(6, 8, 7, 9, SMALL_PENTODE), res(8, 0, 1e6),
        res(9, 0, 2200), cap(9, 0, 22e-6),
        res(4, 10, 33e3), triode(10, 11, 12, TRIODE_MEDIUM), res(11, 0, 470e3), res(12, 0, 1000),
    ])),
]

OPERATING = [
    ("triode with cathode bias", network([
        supply(1, 0, 300), res(1, 2, 100e3), triode(2, 3, 4, TRIODE_HIGH), res(3, 0, 1e6), res(4, 0, 1500)])),
    ("plate-coupled cathode follower", network([
        supply(1, 0, 300), res(1, 2, 100e3), triode(2, 3, 4, TRIODE_HIGH), res(3, 0, 1e6), res(4, 0, 1500),
        triode(1, 2, 5, TRIODE_MEDIUM), res(5, 0, 47e3)])),
    ("pentode with a screen dropper", network([
        supply(1, 0, 280), res(1, 2, 220e3), res(1, 3, 1e6), pentode(2, 4, 3, 5, SMALL_PENTODE), res(4, 0, 1e6),
        res(5, 0, 2200)])),
    ("starved pentode whose plate and screen divide one current", network([
        supply(1, 0, 300), res(1, 2, 470e3), res(1, 3, 1.2e6), pentode(2, 4, 3, 5, SMALL_DIVIDED), res(4, 0, 1e6),
        res(5, 0, 2100)])),
    ("pentode with its plate below the knee", network([
        supply(1, 0, 180), res(1, 2, 100e3), res(1, 3, 120e3), pentode(2, 4, 3, 5, SMALL_DIVIDED), res(4, 0, 1e6),
        res(5, 0, 800)])),
    ("pentode whose plate has hardly a supply", network([
        supply(1, 0, 250), supply(6, 0, 12), res(6, 2, 330), res(1, 3, 1000), pentode(2, 4, 3, 5, DIVIDED),
        res(4, 0, 470e3), res(5, 0, 270)])),
    ("power pentode strapped as a triode, its grid driven positive", network([
        supply(1, 0, 250), supply(6, 0, 8), res(6, 4, 2200), res(1, 2, 2200), res(2, 3, 100),
        pentode(2, 4, 3, 5, DIVIDED), res(5, 0, 100)])),
    ("long-tailed pair on a current source", network([
        supply(1, 0, 320), supply(0, 6, 100), res(1, 2, 47e3), res(1, 3, 56e3),
        triode(2, 4, 5, TRIODE_MEDIUM), triode(3, 7, 5, TRIODE_MEDIUM), res(4, 0, 470e3), res(7, 0, 470e3),
        source(5, 6, 0.006)])),
    ("two triodes stacked", network([
        supply(1, 0, 300), triode(1, 2, 3, TRIODE_HIGH), res(3, 2, 2200), triode(2, 4, 5, TRIODE_HIGH),
        res(4, 0, 470e3), res(5, 0, 2200)])),
    ("triode on a red light", network([
        supply(1, 0, 250), res(1, 2, 33e3), triode(2, 3, 4, TRIODE_MEDIUM), res(3, 0, 470e3), diode(4, 0, RED_LED)])),
    ("zener behind a resistor", network([
        supply(1, 0, 260, 100), res(1, 2, 5600), diode(0, 2, ZENER), res(2, 0, 33e3)])),
    ("grid driven positive", network([
        supply(1, 0, 200), supply(2, 0, 10), res(1, 3, 22e3), res(2, 4, 10e3), triode(3, 4, 5, TRIODE_MEDIUM),
        res(5, 0, 220)])),
]

DISCHARGE = [
    # FCC, NEC: a capacitor of 100 µF from 450 V through 273 kΩ reaches 50 V in 60 s (worked example WE27).
    ("one capacitor", network([cap(1, 0, 100e-6), res(1, 0, 273e3)]), [0, 450], 50, 600),
    ("three sections with a bleeder at the far end", network([
        cap(1, 0, 47e-6), res(1, 2, 2200), cap(2, 0, 100e-6), res(2, 3, 22e3), cap(3, 0, 33e-6), res(3, 0, 220e3)]),
     [0, 420, 400, 330], 50, 3600),
    ("choke between the sections", network([
        cap(1, 0, 10e-6), choke(1, 2, 10, 150), cap(2, 0, 47e-6), res(2, 0, 100e3)]), [0, 410, 400], 50, 3600),
    ("coupling capacitor into a grid leak", network([
        cap(1, 0, 47e-6), res(1, 0, 330e3), res(1, 2, 100e3), cap(2, 3, 0.47e-6), res(3, 0, 1e6)]),
     [0, 350, 200, 0], 50, 3600),
    ("hours through ten megohms", network([
        cap(1, 0, 220e-6), res(1, 2, 10e6), cap(2, 0, 22e-6), res(2, 0, 22e6)]), [0, 500, 300], 50, 200000),
    ("a diode keeps the second reservoir from the bleeder", network([
        cap(1, 0, 47e-6), res(1, 0, 100e3), diode(1, 2), cap(2, 0, 47e-6)]), [0, 400, 400], 50, 7200),
    ("current source as a bleeder", network([
        cap(1, 0, 100e-6), res(1, 0, 1e6), source(1, 0, 0.002)]), [0, 400], 50, 600),
]

TRANSIENT = [
    ("choke input without load rings above its rest", 50, 0.0, 0.5, network(centre_tap(250, 50) + [
        diode(1, 3), diode(2, 3), choke(3, 4, 10, 120), res(3, 4, 1e6), cap(4, 0, 40e-6), res(4, 0, 220e3)])),
    ("capacitor input, switched at the crest", 50, math.pi / 2, 0.3, network(centre_tap(250, 50) + [
        diode(1, 3), diode(2, 3), cap(3, 0, 47e-6), choke(3, 4, 10, 120), cap(4, 0, 47e-6), res(4, 0, 220e3)])),
]

if __name__ == "__main__":
    cases = {
        "steady": [{"name": n, "frequency": f, "network": w} for n, f, w in STEADY],
        "operating": [{"name": n, "network": w} for n, w in OPERATING],
        "discharge": [{"name": n, "network": w, "initial": i, "threshold": t, "horizon": h}
                      for n, w, i, t, h in DISCHARGE],
        "transient": [{"name": n, "frequency": f, "angle": a, "duration": d, "network": w}
                      for n, f, a, d, w in TRANSIENT],
    }
    path = Path(__file__).with_name("cases.json")
    path.write_text(json.dumps(cases, indent=1) + "\n")
