"""Spreads the stage of triode-stage.kdl another way than the program does, and writes expected.json.

The plate voltage of a triode (Koren's equation, as language and models state it) on a plate load and a cathode resistor,
with each quantity uniform within its tolerance: the sixteen corners solved one by one by bracketing, and a large sample
drawn with numpy. `sampling` is the standard error of each quantile for a sample of `builds`, from repeated draws.
Usage: python3 reference.py
"""

import json
from itertools import product
from pathlib import Path

import numpy as np
from scipy.optimize import brentq

SUPPLY, PLATE, CATHODE = 250.0, 47e3, 1.5e3
MODEL = dict(mu=21.5, x=1.3, kg1=1180.0, kp=84.0, kvb=300.0)
# Plate load, cathode resistor, current, amplification: the tolerances that the design states, and those assumed of tubes.
TOLERANCE = np.array([0.02, 0.1, 0.2, 0.1])
BUILDS = 400


def plate_voltage(load, cathode, current, amplification):
    def short(amperes):
        vk = amperes * cathode * CATHODE
        vp = SUPPLY - amperes * load * PLATE - vk
        mu = MODEL["mu"] * amplification
        e1 = vp / MODEL["kp"] * np.logaddexp(0, MODEL["kp"] * (1 / mu - vk / np.sqrt(MODEL["kvb"] + vp * vp)))
        return current * 2 * e1 ** MODEL["x"] / MODEL["kg1"] - amperes

    largest = SUPPLY / (load * PLATE + cathode * CATHODE)
    amperes = brentq(short, 1e-9, largest * (1 - 1e-9), xtol=1e-16)
    # The fact is plate to cathode.
    return SUPPLY - amperes * (load * PLATE + cathode * CATHODE)


corners = [plate_voltage(*(1 + np.array(signs) * TOLERANCE)) for signs in product((-1, 1), repeat=4)]
generator = np.random.default_rng(20)
drawn = np.array([plate_voltage(*(1 + generator.uniform(-1, 1, 4) * TOLERANCE)) for _ in range(40000)])
levels = [0.05, 0.5, 0.95]
resampled = np.array([np.quantile(generator.choice(drawn, BUILDS), levels) for _ in range(2000)])
expected = {
    "nominal": plate_voltage(1, 1, 1, 1),
    "lowest": min(corners),
    "highest": max(corners),
    "quantiles": list(np.quantile(drawn, levels)),
    "builds": BUILDS,
    "sampling": list(resampled.std(axis=0)),
}
Path(__file__).with_name("expected.json").write_text(json.dumps(expected, indent=2) + "\n")
