"""Solves the circuits beside it another way than the program does, and writes expected.json.

The program marches through time and shoots for a closed period. Here the whole period is unknown at once: every voltage
and current is a trigonometric polynomial through N samples, whose derivative is a full matrix, and Newton's method meets
all equations at all samples together (spectral collocation; a harmonic balance with N/2 harmonics). Every circuit is
described by hand, its devices' slopes come from finite differences. Usage: python3 solve.py
"""

import json
from pathlib import Path

import numpy as np
from scipy.linalg import toeplitz

N = 161
HERTZ = 1000.0


def derivative(count, period):
    """Differentiation of the trigonometric polynomial through an odd number of even samples."""
    k = np.arange(1, count)
    column = np.concatenate([[0], 0.5 * (-1.0) ** k / np.sin(np.pi * k / count)])
    row = np.concatenate([[0], -column[1:]])
    return toeplitz(column, row) * 2 * np.pi / period


D = derivative(N, 1 / HERTZ)
TIMES = (np.arange(N) + 1) / N / HERTZ


def triode(mu, x, kg1, kp, kvb, rgi):
    def law(vp, vg):
        p = np.maximum(vp, 1e-9)
        e = p / kp * np.logaddexp(0, kp * (1 / mu + vg / np.sqrt(kvb + p * p)))
        return [np.where(vp > 0, 2 * np.maximum(e, 0) ** x / kg1, 0.0), np.maximum(vg, 0) / rgi]
    return law


def pentode(mu, x, kg1, kg2, kp, kvb, rgi):
    def law(vp, vg, vs):
        s = np.maximum(vs, 1e-9)
        e = s / kp * np.logaddexp(0, kp * (1 / mu + vg / s))
        plate = np.where((vp > 0) & (vs > 0), 2 * e**x / kg1 * np.arctan(np.maximum(vp, 0) / kvb), 0.0)
        return [plate, np.maximum(vg, 0) / rgi, np.maximum(vs / mu + vg, 0) ** 1.5 / kg2]
    return law


class Circuit:
    """`0` is ground. Devices: (name, law, electrodes, cathode). Cores: (inductance of one turn, coils), each coil
    (a, b, turns, resistance, leakage)."""

    def __init__(self, supplies, source, resistors, capacitors, devices, cores, output, start):
        self.supplies, self.source, self.output, self.start = supplies, source, output, start
        self.resistors, self.capacitors, self.devices, self.cores = resistors, capacitors, devices, cores
        names = set()
        for a, b, *_ in supplies + [source] + resistors + capacitors:
            names |= {a, b}
        for _, _, electrodes, cathode in devices:
            names |= {*electrodes, cathode}
        for _, coils in cores:
            for a, b, *_ in coils:
                names |= {a, b}
        self.nodes = sorted(names - {"0"})
        self.coils = [(index, coil) for index, (_, coils) in enumerate(cores) for coil in coils]
        self.count = len(self.nodes) + len(supplies) + 1 + len(self.coils) + len(cores)

    def at(self, name):
        return None if name == "0" else self.nodes.index(name)

    def residual(self, x, level):
        """Equations and their matrix, as blocks of samples."""
        x = x.reshape(self.count, N)
        out = np.zeros((self.count, N))
        blocks = {}
        eye = np.eye(N)

        def add(row, column, block):
            if row is not None and column is not None:
                blocks[row, column] = blocks.get((row, column), 0) + block

        def volts(name):
            place = self.at(name)
            return np.zeros(N) if place is None else x[place]

        def flows(a, b, current, slopes):
            for node, sign in ((self.at(a), 1), (self.at(b), -1)):
                if node is None:
                    continue
                out[node] += sign * current
                for column, block in slopes:
                    add(node, column, sign * block)

        def between(a, b, block):
            return [(self.at(a), block), (self.at(b), -block)]

        for a, b, ohms in self.resistors:
            flows(a, b, (volts(a) - volts(b)) / ohms, between(a, b, eye / ohms))
        for a, b, farads in self.capacitors:
            flows(a, b, farads * D @ (volts(a) - volts(b)), between(a, b, farads * D))
        for _, law, electrodes, cathode in self.devices:
            v = [volts(e) - volts(cathode) for e in electrodes]
            i = law(*v)
            for row, electrode in enumerate(electrodes):
                slopes = []
                for column, other in enumerate(electrodes):
                    step = 1e-5
                    up, down = list(v), list(v)
                    up[column], down[column] = v[column] + step, v[column] - step
                    g = np.diag((law(*up)[row] - law(*down)[row]) / (2 * step))
                    slopes += between(other, cathode, g)
                flows(electrode, cathode, i[row], slopes)
        row = len(self.nodes)
        wave = np.sqrt(2) * level * np.sin(2 * np.pi * HERTZ * TIMES)
        for a, b, emf, ohms in [(*s[:2], s[2] * np.ones(N), s[3]) for s in self.supplies] + [
            (*self.source[:2], wave, self.source[2])
        ]:
            flows(a, b, x[row], [(row, eye)])
            out[row] = volts(a) - volts(b) - ohms * x[row] - emf
            for column, block in between(a, b, eye):
                add(row, column, block)
            add(row, row, -ohms * eye)
            row += 1
        first, last = row, row + len(self.coils)
        for place, (core, (a, b, turns, ohms, leakage)) in enumerate(self.coils):
            here = first + place
            flows(a, b, x[here], [(here, eye)])
            out[here] = volts(a) - volts(b) - ohms * x[here] - leakage * D @ x[here] - turns * x[last + core]
            for column, block in between(a, b, eye):
                add(here, column, block)
            add(here, here, -ohms * eye - leakage * D)
            add(here, last + core, -turns * eye)
        for core, (henries, _) in enumerate(self.cores):
            here = last + core
            out[here] = x[here]
            add(here, here, eye)
            for place, (which, (_, _, turns, _, _)) in enumerate(self.coils):
                if which == core:
                    out[here] -= henries * turns * D @ x[first + place]
                    add(here, first + place, -henries * turns * D)
        matrix = np.zeros((self.count * N, self.count * N))
        for (row, column), block in blocks.items():
            matrix[row * N:(row + 1) * N, column * N:(column + 1) * N] = block
        return out.ravel(), matrix

    def newton(self, x, level):
        for _ in range(60):
            out, matrix = self.residual(x, level)
            step = np.linalg.solve(matrix, -out)
            size = np.abs(step[: len(self.nodes) * N]).max()
            x = x + step * min(1.0, 40.0 / max(size, 1e-30))
            if size < 1e-7:
                return x
        raise RuntimeError(f"no solution at {level}")

    def solve(self, level):
        x = np.zeros((self.count, N))
        for name, volts in self.start.items():
            x[self.at(name)] = volts
        x = x.ravel()
        for share in (0.0, 0.3, 0.6, 0.8, 1.0):
            x = self.newton(x, share * level)
        x = x.reshape(self.count, N)
        volts = lambda name: np.zeros(N) if name == "0" else x[self.at(name)]
        found = {}
        harmonics = np.fft.rfft(volts(self.output)) * 2 / N
        size = np.abs(harmonics)
        found["OUT signal-level"] = float(np.sqrt((size[1:] ** 2).sum() / 2))
        found["OUT distortion"] = float(np.sqrt((size[2:33] ** 2).sum()) / size[1])
        found["OUT distortion-second"] = float(size[2] / size[1])
        found["OUT distortion-third"] = float(size[3] / size[1])
        for name, law, electrodes, cathode in self.devices:
            v = [volts(e) - volts(cathode) for e in electrodes]
            i = law(*v)
            found[f"{name} signal-swing"] = float(max(np.ptp(volts(electrodes[0])), np.ptp(volts(cathode))))
            found[f"{name} mean-plate-current"] = float(i[0].mean())
            found[f"{name} mean-cathode-current"] = float(sum(each.mean() for each in i))
        return found


U = triode(21.5, 1.3, 1180, 84, 300, 2000)
X = triode(100, 1.4, 1060, 600, 300, 2000)
P = pentode(19, 1.35, 450, 4500, 120, 22, 1000)
B = [("b", "0", 250.0, 0.0)]
stage = [("in", "0", 1e6), ("in", "g", 1e3), ("b", "p", 47e3), ("k", "0", 1500), ("out", "0", 470e3), ("out", "0", 100e3)]
turns = np.sqrt(8 / 5200)
push = np.sqrt(8 / 8000)
circuits = {
    "triode-stage": (Circuit(
        B, ("in", "0", 600), stage, [("k", "0", 47e-6), ("p", "out", 1e-6)],
        [("V1a", U, ["p", "g"], "k")], [], "out", {"b": 250, "p": 130, "k": 5}), 2.5),
    "grid-current": (Circuit(
        B, ("in", "0", 1e4),
        [("in", "0", 1e6), ("j", "0", 470e3), ("j", "g", 1e3)] + stage[2:],
        [("in", "j", 1e-7), ("k", "0", 47e-6), ("p", "out", 1e-6)],
        [("V1a", U, ["p", "g"], "k")], [], "out", {"b": 250, "p": 130, "k": 5}), 9.0),
    "cascade": (Circuit(
        [("b", "0", 300.0, 0.0)], ("in", "0", 1e4),
        [("in", "0", 1e6), ("b", "p", 1e5), ("k", "0", 1500), ("m", "0", 1e6), ("m", "h", 1e4), ("b", "q", 1e5),
         ("l", "0", 1500), ("out", "0", 470e3), ("out", "0", 220e3)],
        [("k", "0", 22e-6), ("p", "m", 22e-9), ("l", "0", 22e-6), ("q", "out", 1e-7)],
        [("V1a", X, ["p", "in"], "k"), ("V1b", X, ["q", "h"], "l")], [], "out",
        {"b": 300, "p": 200, "q": 200, "k": 1.5, "l": 1.5}), 0.04),
    "follower": (Circuit(
        [("b", "0", 300.0, 0.0)], ("in", "0", 600),
        [("in", "0", 1e6), ("b", "p", 47e3), ("k", "0", 1500), ("p", "g", 1e3), ("l", "0", 33e3), ("out", "0", 470e3),
         ("out", "0", 15e3)],
        [("l", "out", 4.7e-6)],
        [("V1a", U, ["p", "in"], "k"), ("V1b", U, ["b", "g"], "l")], [], "out",
        {"b": 300, "p": 170, "g": 170, "k": 4, "l": 176}), 4.0),
    "single-ended": (Circuit(
        [("b", "0", 260.0, 50.0)], ("in", "0", 600),
        [("in", "0", 470e3), ("in", "g", 1e3), ("k", "0", 150), ("s", "t", 100), ("out", "0", 8)],
        [("k", "0", 220e-6)],
        [("V1", P, ["p", "g", "t"], "k")],
        [(12.0, [("b", "s", 0.43, 320 * 0.43, 0), ("s", "p", 0.57, 320 * 0.57, 0),
                 ("0", "out", turns, 0.5, 0.04 * turns**2)])],
        "out", {"b": 258, "p": 240, "s": 250, "t": 250, "k": 7}), 4.5),
    "push-pull": (Circuit(
        [("b", "0", 300.0, 0.0)], ("in", "0", 1e3),
        [("g", "f", 1e6), ("k", "f", 1e3), ("f", "0", 22e3), ("b", "p", 22e3), ("g2", "0", 470e3), ("g3", "0", 470e3),
         ("c", "0", 120), ("b", "s2", 100), ("b", "s3", 100), ("out", "0", 8)],
        [("in", "g", 1e-6), ("p", "g2", 1e-7), ("f", "g3", 1e-7), ("c", "0", 220e-6)],
        [("V1a", U, ["p", "g"], "k"), ("V2", P, ["p2", "g2", "s2"], "c"), ("V3", P, ["p3", "g3", "s3"], "c")],
        [(60.0, [("p2", "b", 0.5, 150, 0), ("b", "p3", 0.5, 150, 0), ("0", "out", push, 0.4, 0.03 * push**2)])],
        "out", {"b": 300, "p": 220, "f": 80, "k": 83, "g": 80, "p2": 300, "p3": 300, "s2": 300, "s3": 300, "c": 10}), 10.0),
}

if __name__ == "__main__":
    found = {name: circuit.solve(level) for name, (circuit, level) in circuits.items()}
    path = Path(__file__).parent / "expected.json"
    path.write_text(json.dumps(found, indent=2) + "\n")
    print(path.read_text())
