#!/usr/bin/env python3
"""The rows of power-stage.csv once more, by load lines: a sine on the grids, ideal transformers, mean currents iterated.

    python3 tests/signal/reference/loadlines.py [TUBE] [KNEE*KG1]        (half a minute for all; needs numpy and scipy)

Prints each row's power, distortion and mean currents at full drive, and how far the program's own power is from it. No
reactance, no time steps, no grid current; the keys are those of models.csv, the conventions those of ../powers.rs. A
second word puts another constant of the knee in the place of a pentode's own.
"""
import csv
import math
import pathlib
import sys

import numpy as np
from scipy.optimize import brentq

HERE = pathlib.Path(__file__).resolve().parent
STEPS = 60
SINE = np.sin(2 * np.pi * (np.arange(STEPS) + 0.5) / STEPS)
HARMONICS = np.exp(-2j * np.pi * np.outer(np.arange(1, 12), np.arange(STEPS) + 0.5) / STEPS)
TAP = 0.43
MOST = 10.0


def table(path):
    with open(path, newline="") as file:
        return list(csv.DictReader(file))


def model(tube, knee):
    # The earlier 6L6 has the keys of the 6L6GC.
    rows = [r for r in table(HERE / "../../published/fit/models.csv") if r["tube"] == {"6L6": "6L6GC"}.get(tube, tube)]
    row = next((r for r in rows if r["section"] in ("pentode", "beam-power")), rows[0])
    keys = {k: float(row[k]) for k in ("mu", "x", "kg1", "kp", "kvb", "mup", "split", "tilt", "knee") if row[k]}
    if knee and "knee" in keys:
        keys["knee"] = knee / keys["kg1"]
    return keys


def currents(m, plate, screen, grid):
    """Plate and screen current, voltages against the cathode."""
    safe = np.maximum(plate, 1e-9)
    if "kvb" in m:
        e = safe / m["kp"] * np.logaddexp(0, m["kp"] * (1 / m["mu"] + grid / np.sqrt(m["kvb"] + safe**2)))
        return np.where(plate > 0, 2 * e**m["x"] / m["kg1"], 0.0), 0.0 * safe
    v = np.maximum(screen + plate * m["mu"] / m["mup"], 1e-9)
    space = 2 * (v / m["kp"] * np.logaddexp(0, m["kp"] * (1 / m["mu"] + grid / np.hypot(1, v)))) ** m["x"] / m["kg1"]
    above = space / (1 + m["split"] * (np.maximum(screen, 1e-9) / safe) ** m["tilt"])
    over = np.minimum(m["knee"] * safe**1.5 / np.maximum(above, 1e-300), 700)
    passed = np.where(plate > 0, -above * np.expm1(-over), 0.0)
    return passed, space - passed


def newton(f, x):
    """Zeros of f for every instant at once, each instant halving its own steps."""
    r = f(x)
    for _ in range(200):
        slopes = np.empty((len(x), len(x), STEPS))
        for j in range(len(x)):
            h = 1e-5 * (1 + np.abs(x[j]))
            moved = x.copy()
            moved[j] += h
            slopes[:, j] = (f(moved) - r) / h
        step = np.linalg.solve(np.moveaxis(slopes, 2, 0), -r.T[..., None])[..., 0].T
        share, done, best = np.ones(STEPS), np.zeros(STEPS, bool), x.copy()
        size = np.abs(r).max(0)
        for _ in range(12):
            tried = x + share * step
            better = (np.abs(f(tried)).max(0) <= size * (1 - 1e-4 * share)) | (size < 1e-12)
            best = np.where(better & ~done, tried, best)
            done |= better
            if done.all():
                break
            share = np.where(done, share, share / 2)
        best = np.where(done, best, x + share * step)
        moved, x = np.abs(best - x).max(), best
        r = f(x)
        if moved < 1e-8:
            break
    return x


class Stage:
    def __init__(self, row, knee=None):
        self.row, self.m = row, model(row["tube"], knee)
        word, note, read = row["configuration"], row["note"], lambda key: float(row[key]) if row[key] else None
        self.pair, self.triode, self.tapped = row["n_tubes"] == "2", "triode" in word, "distributed" in word
        bias, ohms = read("vg1_V"), read("rk_ohm")
        drop = 0.0
        if "supply voltage" not in note:
            rest = (read("ia0_mA") or 0.0) + (read("ig2_0_mA") or 0.0)
            drop = -bias if self.tapped else ohms * rest / 1e3 if bias is None else 0.0
        self.plate = float(row["va_V"]) + drop
        self.screen, self.feed = (read("vg2_V") or 250.0) + drop, 0.0
        for words, volts, feed in (("common 470 ohm", 375, 470), ("common 1 kohm", 425, 1e3), ("265 V through 2 kohm", 265, 2e3)):
            if words in note:
                self.screen, self.feed = volts, feed
        self.bias = None if self.tapped else bias
        self.cathode = (ohms / 2 if self.tapped else ohms) if self.bias is None else None
        self.edge = float(note.split()[0]) / 2 + bias if "from grid to grid" in note else 0.0
        # A half of a primary sees a quarter of the load from plate to plate.
        self.load = 1e3 * float(row["ra_load_kohm"]) / (4 if self.pair else 1)
        self.lift = 0.0 if self.bias is not None else 30.0 if self.pair else 10.0
        self.mean, self.state = 0.05, None

    def period(self, crest):
        """One period at a crest of the grid voltage; mean currents move until they are those that they cause."""
        for _ in range(400):
            grid = (self.bias or 0.0) - self.lift

            def of(x):
                one = lambda sign, screen: currents(
                    self.m, self.plate - sign * x[0] - self.lift,
                    (self.plate - sign * x[0] if self.triode else screen) - self.lift, grid + sign * crest * SINE)
                return (*one(1, x[1]), *(one(-1, x[-1]) if self.pair else (0 * SINE, 0 * SINE)))

            def zero(x):
                i1, s1, i2, s2 = of(x)
                t = 1.0 if self.triode else TAP if self.tapped else 0.0
                first = x[0] - self.load * (i1 - i2 + t * (s1 - s2) - (0 if self.pair else self.mean))
                if self.tapped:
                    return np.array([first, x[1] - self.plate + t * x[0] + 1e3 * s1, x[2] - self.plate - t * x[0] + 1e3 * s2])
                return np.array([first, x[1] - self.screen + self.feed * (s1 + s2)])

            if self.state is None:
                self.state = np.zeros((3 if self.tapped else 2, STEPS))
                self.state[1:] = self.screen
            self.state = newton(zero, self.state)
            i1, s1, i2, s2 = of(self.state)
            plates, screens = (i1 + i2).mean(), (s1 + s2).mean()
            mean = plates + (screens if self.triode else 0.0)
            lift = self.cathode * (plates + screens) if self.cathode else 0.0
            apart = abs(lift - self.lift) + (0.0 if self.pair else 100 * abs(mean - self.mean))
            # A cathode resistor feeds back: the larger it is, the smaller the step that settles.
            self.lift += (lift - self.lift) / (1 + 0.015 * (self.cathode or 0))
            self.mean += 0.6 * (mean - self.mean)
            if apart < 1e-5:
                break
        volts = self.state[0]
        size = np.abs(HARMONICS @ volts)
        power = ((volts**2).mean() - volts.mean() ** 2) / self.load
        distortion = 100 * math.sqrt((size[1:] ** 2).sum()) / max(size[0], 1e-12)
        return {"over": grid + crest - self.edge, "W": power, "distortion": distortion, "plates": 1e3 * plates, "screens": 1e3 * screens}

    def full_drive(self):
        edge = self.lift if self.bias is None else self.edge - self.bias
        for _ in range(30):
            found = self.period(edge)
            if abs(found["over"]) < 1e-3:
                break
            edge -= 0.7 * found["over"]
        most = max(float(self.row["thd_pct"] or 0.0), MOST)
        if found["distortion"] <= most:
            return found
        return self.period(brentq(lambda crest: self.period(crest)["distortion"] - most, 0.1 * edge, edge, xtol=1e-3))


def main():
    only, knee = (sys.argv[1:2] or [None])[0], float(sys.argv[2]) if len(sys.argv) > 2 else None
    computed = table(HERE / "../power-stage-computed.csv")
    for row, other in zip(table(HERE / "../power-stage.csv"), computed):
        if only in (None, row["tube"]):
            found = Stage(row, knee).full_drive()
            print(f"{row['tube']:6}{row['configuration']:46}{row['va_V']:>4} V{found['W']:8.2f} W for {row['pout_W']:>5}"
                  f"{found['distortion']:6.1f} %{found['plates']:7.1f} and{found['screens']:6.1f} mA;"
                  f" program {100 * (float(other['computed_W']) / found['W'] - 1):+.1f} %", flush=True)


if __name__ == "__main__":
    main()
