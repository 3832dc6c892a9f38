"""Solves the circuits of ../designs another way than the program does, and writes expected.json.

Every circuit is described here by hand. Operating points by scipy's fsolve on the device equations; small signals by a
dense complex nodal matrix with slopes from finite differences; noise by one solution for each source, summed on a fine
grid; a transformer by currents that share one flux. Usage: python3 solve.py
"""

import json
from pathlib import Path

import numpy as np
from scipy.optimize import brentq, fsolve

VT = 0.025865
KT4 = 4 * 1.380649e-23 * 300
Q = 1.602176634e-19
FLICKER = 2000.0


def triode(mu, x, kg1, kp, kvb):
    def law(vp, vg):
        e = vp / kp * np.logaddexp(0, kp * (1 / mu + vg / np.sqrt(kvb + vp * vp)))
        return [2 * e**x / kg1 if e > 0 and vp > 0 else 0.0, 0.0]
    return law


def pentode(mu, x, kg1, kg2, kp, kvb):
    def law(vp, vg, vs):
        e = vs / kp * np.logaddexp(0, kp * (1 / mu + vg / vs))
        drive = vs / mu + vg
        return [2 * e**x / kg1 * np.arctan(vp / kvb), 0.0, drive**1.5 / kg2 if drive > 0 else 0.0]
    return law


def divided(mu, x, kg1, kp, mup, split, tilt, knee):
    """Plate and screen share one space current."""
    def law(vp, vg, vs):
        both = vs + vp * mu / mup
        space = 2 / kg1 * (both / kp * np.logaddexp(0, kp / mu + kp * vg / np.sqrt(1 + both**2))) ** x
        screen = split * (vs / vp) ** tilt * -np.expm1(-vs**2)
        plate = space / (1 + screen)
        plate *= -np.expm1(-knee * vp**1.5 / plate)
        return [plate, 0.0, (space - plate) * -np.expm1(-vs**2)]
    return law


def fet(vto, kp, lam):
    def law(vd, vg):
        over = vg - vto
        if over <= 0:
            return [0.0, 0.0]
        shape = vd * (over - vd / 2) if vd < over else over * over / 2
        return [kp * shape * (1 + lam * vd), 0.0]
    return law


def pnp(i_s, bf, br, va):
    def law(vc, vb):
        vc, vb = -vc, -vb
        f, r = i_s * np.expm1(vb / VT), i_s * np.expm1((vb - vc) / VT)
        early = 1 + max(vc - vb, 0) / va
        return [-((f - r) * early - r / br), -(f / bf + r / br)]
    return law


class Circuit:
    """Parts by node names; `0` is ground. A device is (name, law, electrodes, common)."""

    def __init__(self, supplies, resistors, capacitors, devices, transformer=None, guess=None):
        self.supplies, self.resistors, self.capacitors = supplies, resistors, capacitors
        self.devices, self.transformer, self.guess = devices, transformer, guess or {}
        names = set()
        for a, b, *_ in supplies + resistors + capacitors:
            names |= {a, b}
        for _, _, electrodes, common in devices:
            names |= set(electrodes) | {common}
        for a, b, *_ in (transformer or {}).get("coils", []):
            names |= {a, b}
        names.discard("0")
        self.names = sorted(names)
        self.point = self.rest()

    def rest(self):
        coils = (self.transformer or {}).get("coils", [])
        legs = [(a, b, r if r > 0 else 1e-9) for a, b, _, r, _ in coils]
        place = {n: i for i, n in enumerate(self.names)}

        def balance(x):
            v = lambda n: 0.0 if n == "0" else x[place[n]]
            sums = np.zeros(len(x))

            def leave(n, i):
                if n != "0":
                    sums[place[n]] += i
            for a, b, r in self.resistors + legs:
                leave(a, (v(a) - v(b)) / r)
                leave(b, (v(b) - v(a)) / r)
            for a, b, volts, r in self.supplies:
                i = (v(a) - v(b) - volts) / max(r, 1e-6)
                leave(a, i)
                leave(b, -i)
            for _, law, electrodes, common in self.devices:
                for n, i in zip(electrodes, law(*[v(e) - v(common) for e in electrodes])):
                    leave(n, i)
                    leave(common, -i)
            for n in self.names:
                leave(n, 1e-12 * v(n))
            return sums
        start = np.array([self.guess.get(n, 0.0) for n in self.names])
        x, _, good, message = fsolve(balance, start, full_output=True, xtol=1e-13)
        residual = np.abs(balance(x)).max()
        assert residual < 1e-7, (message, residual)
        return {"0": 0.0, **dict(zip(self.names, x))}

    def currents(self, device):
        _, law, electrodes, common = device
        return law(*[self.point[e] - self.point[common] for e in electrodes])

    def matrix(self, f, without=()):
        """Nodes, then supplies, then coils and the flux."""
        coils = (self.transformer or {}).get("coils", [])
        n, s, c = len(self.names), len(self.supplies), len(coils)
        size = n + s + c + (1 if c else 0)
        m = np.zeros((size, size), complex)
        place = {name: i for i, name in enumerate(self.names)}
        w = 2j * np.pi * f

        def between(a, b, y):
            for p, q, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                if p != "0" and q != "0":
                    m[place[p], place[q]] += sign * y
        for part in self.resistors:
            if part not in without:
                between(part[0], part[1], 1 / part[2])
        for part in self.capacitors:
            if part not in without:
                between(part[0], part[1], w * part[2])
        for name in self.names:
            m[place[name], place[name]] += 1e-12
        for _, law, electrodes, common in self.devices:
            volts = np.array([self.point[e] - self.point[common] for e in electrodes])
            for j, by in enumerate(electrodes):
                h = 1e-5
                up, down = volts.copy(), volts.copy()
                up[j] += h
                down[j] -= h
                slope = (np.array(law(*up)) - np.array(law(*down))) / (2 * h)
                for i, out in enumerate(electrodes):
                    for row, sr in ((out, 1), (common, -1)):
                        for col, sc in ((by, 1), (common, -1)):
                            if row != "0" and col != "0":
                                m[place[row], place[col]] += sr * sc * slope[i]

        def branch(k, a, b, r):
            for node, sign in ((a, 1), (b, -1)):
                if node != "0":
                    m[place[node], k] += sign
                    m[k, place[node]] += sign
            m[k, k] -= r
        for k, part in enumerate(self.supplies):
            if part in without:
                m[n + k, n + k] = 1
            else:
                branch(n + k, part[0], part[1], part[3])
        for k, (a, b, turns, r, leak) in enumerate(coils):
            row = n + s + k
            branch(row, a, b, r + w * leak)
            m[row, size - 1] -= w * turns  # the flux's own change
            m[size - 1, row] += turns  # ampere-turns make the flux
        if c:
            m[size - 1, size - 1] -= 1 / self.transformer["inductance"]
        return m, place

    def answer(self, f, node=None, supply=None, without=()):
        m, place = self.matrix(f, without)
        side = np.zeros(len(m), complex)
        if supply is not None:
            side[len(self.names) + self.supplies.index(supply)] = 1
        else:
            for name, sign in ((node[0], 1), (node[1], -1)):
                if name != "0":
                    side[place[name]] += sign
        x = np.linalg.solve(m, side)
        return {"0": 0j, **{name: x[i] for name, i in place.items()}}, x

    def gain(self, source, out, f):
        return abs(self.answer(f, supply=source)[0][out])

    def impedance(self, a, f, without):
        return abs(self.answer(f, node=(a, "0"), without=without)[0][a])

    def density(self, out, f, noisy):
        total = 0.0
        for a, b, r in self.resistors:
            total += abs(self.answer(f, node=(a, b))[0][out]) ** 2 * KT4 / r
        for part in self.supplies:
            if part[3] > 0:
                total += abs(self.gain(part, out, f)) ** 2 * KT4 * part[3]
        coils = (self.transformer or {}).get("coils", [])
        for k, coil in enumerate(coils):
            m, place = self.matrix(f)
            side = np.zeros(len(m), complex)
            side[len(self.names) + len(self.supplies) + k] = 1
            total += abs(np.linalg.solve(m, side)[place[out]]) ** 2 * KT4 * coil[3]
        for device in self.devices:
            for a, b, amount in noisy(device, f):
                total += abs(self.answer(f, node=(a, b))[0][out]) ** 2 * amount
        return total

    def slope(self, device):
        _, law, electrodes, common = device
        v = [self.point[e] - self.point[common] for e in electrodes]
        up, down = list(v), list(v)
        up[1] += 1e-5
        down[1] -= 1e-5
        return abs(law(*up)[0] - law(*down)[0]) / 2e-5


def curve_a(f):
    def r(f):
        s = f * f
        return 12194.217**2 * s * s / (
            (s + 20.598997**2) * np.sqrt((s + 107.65265**2) * (s + 737.86223**2)) * (s + 12194.217**2))
    return r(f) / r(1000.0)


def riaa(f):
    w = 2j * np.pi * f
    return abs((1 + w * 318e-6) / ((1 + w * 3180e-6) * (1 + w * 75e-6)))


def noise_of(circuit, out, noisy):
    f = np.geomspace(20, 20000, 400)
    d = np.array([circuit.density(out, each, noisy) for each in f])
    summed = lambda y: float(np.sqrt(np.sum((y[1:] + y[:-1]) / 2 * np.diff(f))))
    return summed(d), summed(d * curve_a(f) ** 2)


def corners(response):
    limit = response(1000.0) / np.sqrt(2)
    find = lambda a, b: float(10 ** brentq(lambda e: response(10**e) - limit, a, b))
    return find(-1.0, 3.0), find(3.0, 7.5)


def tube_noise(circuit):
    def noisy(device, f):
        kind, _, electrodes, common = device
        gm, currents = circuit.slope(device), circuit.currents(device)
        if kind == "triode":
            return [(electrodes[0], common, KT4 * 2.5 * gm * (1 + FLICKER / f))]
        if kind == "pentode":
            plate, _, screen = currents
            share = plate / (plate + screen)
            shot = KT4 * 2.5 * gm * share * (1 + FLICKER / f)
            return [(electrodes[0], common, shot + 2 * Q * screen * share)]
        if kind == "fet":
            return [(electrodes[0], common, KT4 * 2 / 3 * gm)]
        return [(electrodes[0], common, 2 * Q * abs(currents[0])), (electrodes[1], common, 2 * Q * abs(currents[1]))]
    return noisy


def triode_stage(setting):
    source = ("in", "0", 0.0, 2200.0)
    load, cable = ("out", "0", 100e3), ("out", "0", 200e-12)
    track = [("in", "vol", 100e3 * (1 - setting) if setting < 1 else 1e-3), ("vol", "0", 100e3 * setting)]
    c = Circuit(
        [source, ("b", "0", 300.0, 100.0)],
        track + [("vol", "0", 1e6), ("vol", "g", 1e3), ("b", "p", 47e3), ("k", "0", 1500.0), ("out", "0", 470e3), load],
        [("k", "0", 22e-6), ("p", "out", 100e-9), cable, ("g", "k", 1.6e-12), ("g", "p", 1.5e-12), ("p", "k", 0.5e-12)],
        [("triode", triode(21.5, 1.3, 1180, 84, 300), ["p", "g"], "k")],
        guess={"b": 300, "p": 170, "k": 5.0},
    )
    return c, source, load, cable


def single_ended():
    source, load = ("in", "0", 0.0, 10e3), ("out", "0", 8.0)
    turns = np.sqrt(8 / 5200)
    c = Circuit(
        [source, ("b", "0", 260.0, 50.0)],
        [("in", "0", 470e3), ("in", "g", 1e3), ("k", "0", 150.0), ("t", "s", 100.0), load],
        [("k", "0", 220e-6), ("g", "k", 10.8e-12), ("g", "p", 0.5e-12), ("p", "k", 6.5e-12)],
        [("pentode", pentode(19, 1.35, 450, 4500, 120, 22), ["p", "g", "s"], "k")],
        {"inductance": 12.0, "coils": [
            ("b", "t", 0.43, 320 * 0.43, 0.0), ("t", "p", 0.57, 320 * 0.57, 0.0),
            ("0", "out", turns, 0.5, 40e-3 * turns**2)]},
        guess={"b": 258, "p": 245, "k": 7.5, "s": 255, "t": 256},
    )
    return c, source, load


def pentode_stage():
    source, load = ("in", "0", 0.0, 1e3), ("out", "0", 470e3)
    c = Circuit(
        [source, ("b", "0", 300.0, 0.0)],
        [("in", "0", 1e6), ("b", "p", 220e3), ("b", "s", 680e3), ("k", "0", 1200.0), load],
        [("k", "0", 100e-6), ("s", "0", 1e-6), ("p", "out", 100e-9),
         ("in", "k", 5.5e-12), ("in", "p", 0.0035e-12), ("p", "k", 5e-12)],
        [("pentode", divided(40, 1.4, 520, 110, 5000, 0.38, 0.1, 2e-3), ["p", "in", "s"], "k")],
        guess={"b": 300, "p": 100, "k": 1.6, "s": 62},
    )
    return c, source, load


def hybrid():
    source, load, cable = ("in", "0", 0.0, 600.0), ("out", "0", 10e3), ("out", "0", 300e-12)
    c = Circuit(
        [source, ("v", "0", 24.0, 0.0), ("bp", "0", 120.0, 0.0)],
        [("in", "0", 1e6), ("in", "g", 1e3), ("s", "0", 560.0), ("d", "0", 22e3), ("v", "e", 560.0), ("v", "b", 1500.0),
         ("b", "0", 18e3), ("bp", "f", 470e3), ("f", "0", 470e3), ("k", "0", 10e3), ("out", "0", 100e3), load],
        [("s", "0", 100e-6), ("d", "f", 1e-6), ("k", "out", 4.7e-6), cable,
         ("g", "s", 3e-12), ("g", "d", 1.5e-12), ("b", "e", 10e-12), ("b", "d", 4.5e-12),
         ("f", "k", 323e-12), ("f", "bp", 37e-12), ("bp", "k", 55e-12)],
        [("fet", fet(-2.0, 0.0015, 0.01), ["d", "g"], "s"), ("bjt", pnp(7e-15, 180, 4, 20), ["d", "b"], "e"),
         ("fet", fet(3.0, 1.3, 0.003), ["bp", "f"], "k")],
        guess={"v": 24, "bp": 120, "s": 0.7, "d": 10, "e": 22.8, "b": 22.15, "f": 60, "k": 56.9},
    )
    return c, source, load, cable


def feedback():
    source = ("in", "0", 0.0, 600.0)
    tube = triode(100, 1.4, 1060, 600, 300)
    resistors = [("in", "0", 1e6), ("in", "g", 1e3), ("b", "p", 100e3), ("k", "0", 1500.0), ("m", "0", 470e3),
                 ("m", "h", 1e3), ("b", "q", 100e3), ("l", "0", 1500.0), ("out", "0", 1e6), ("out", "0", 220e3)]
    capacitors = [("p", "m", 22e-9), ("l", "0", 47e-6), ("q", "out", 470e-9), ("out", "0", 100e-12)]
    for plate, grid, cathode in (("p", "g", "k"), ("q", "h", "l")):
        capacitors += [(grid, cathode, 1.6e-12), (grid, plate, 1.7e-12), (plate, cathode, 0.46e-12)]
    devices = [("triode", tube, ["p", "g"], "k"), ("triode", tube, ["q", "h"], "l")]
    guess = {"b": 300, "p": 190, "k": 1.5, "q": 190, "l": 1.6, "out": 1.4}
    closed = Circuit([source, ("b", "0", 300.0, 0.0)], resistors + [("out", "k", 100e3)], capacitors, devices, guess=guess)
    test = ("t", "0", 0.0, 0.0)
    opened = Circuit([source, ("b", "0", 300.0, 0.0), test], resistors + [("t", "k", 100e3), ("out", "0", 100e3)],
                     capacitors, devices, guess=guess)
    opened.point = {**closed.point, "t": 0.0}
    f = np.geomspace(0.01, 3e7, 6000)
    ratio = np.array([-opened.answer(each, supply=test)[0]["out"] for each in f])
    size, phase = np.log(np.abs(ratio)), np.unwrap(np.angle(ratio))
    phase -= 2 * np.pi * np.round(phase[np.argmin(np.abs(f - 1000))] / (2 * np.pi))
    phase = np.degrees(phase)
    cross = lambda y, level: [i for i in range(len(f) - 1) if (y[i] - level) * (y[i + 1] - level) < 0]
    at = lambda y, x, i, level: y[i] + (level - x[i]) / (x[i + 1] - x[i]) * (y[i + 1] - y[i])
    phase_margins = [180 - abs(at(phase, size, i, 0.0)) for i in cross(size, 0.0)]
    gain_margins = [np.exp(-at(size, phase, i, level)) for level in (-180.0, 180.0) for i in cross(phase, level)]
    return {
        "OUT gain": closed.gain(source, "out", 1000.0),
        "OUT loop-gain": abs(opened.answer(1000.0, supply=test)[0]["out"]),
        "OUT phase-margin": min(phase_margins), "OUT gain-margin": min(gain_margins),
    }


def riaa_deviation(c2):
    def response(f):
        w = 2j * np.pi * f
        shunt = 1 / (w * c2 + 1 / (14540.0 + 1 / (w * 21.87e-9)))
        return abs(shunt / (100e3 + shunt))
    f = np.geomspace(20, 20000, 4001)
    flat = np.array([response(each) / riaa(each) for each in f])
    return {"gain": response(1000.0),
            "riaa-deviation": float(np.abs(20 * np.log10(flat / (response(1000.0) / riaa(1000.0)))).max())}


def main():
    expected = {}
    c, source, load, cable = triode_stage(1.0)
    half, half_source, half_load, half_cable = triode_stage(0.5)
    gain = c.gain(source, "out", 1000.0)
    low, high = corners(lambda f: c.gain(source, "out", f))
    high_half = corners(lambda f: half.gain(half_source, "out", f))[1]
    plain, weighted = noise_of(c, "out", tube_noise(c))
    expected["triode-stage"] = {
        "OUT gain": gain, "OUT low-corner": low, "OUT high-corner": min(high, high_half),
        "OUT source-impedance": c.impedance("out", 1000.0, (load, cable)),
        "OUT noise": plain, "OUT noise-a-weighted": weighted, "OUT input-noise": plain / gain,
        "IN input-impedance": c.impedance("in", 1000.0, (source,)),
        "V1a plate-current": c.currents(c.devices[0])[0],
    }
    c, source, load = single_ended()
    low, high = corners(lambda f: c.gain(source, "out", f))
    plain, weighted = noise_of(c, "out", tube_noise(c))
    expected["single-ended"] = {
        "OUT gain": c.gain(source, "out", 1000.0), "OUT low-corner": low, "OUT high-corner": high,
        "OUT source-impedance": c.impedance("out", 1000.0, (load,)),
        "OUT noise": plain, "OUT noise-a-weighted": weighted,
        "V1 plate-current": c.currents(c.devices[0])[0], "V1 screen-current": c.currents(c.devices[0])[2],
    }
    c, source, load = pentode_stage()
    low, high = corners(lambda f: c.gain(source, "out", f))
    plain, weighted = noise_of(c, "out", tube_noise(c))
    plate, _, screen = c.currents(c.devices[0])
    expected["pentode-stage"] = {
        "OUT gain": c.gain(source, "out", 1000.0), "OUT low-corner": low, "OUT high-corner": high,
        "OUT source-impedance": c.impedance("out", 1000.0, (load,)),
        "OUT noise": plain, "OUT noise-a-weighted": weighted,
        "V1 plate-current": plate, "V1 screen-current": screen,
    }
    c, source, load, cable = hybrid()
    low, high = corners(lambda f: c.gain(source, "out", f))
    plain, weighted = noise_of(c, "out", tube_noise(c))
    expected["hybrid"] = {
        "OUT gain": c.gain(source, "out", 1000.0), "OUT low-corner": low, "OUT high-corner": high,
        "OUT source-impedance": c.impedance("out", 1000.0, (load, cable)),
        "OUT noise": plain, "OUT noise-a-weighted": weighted,
        "d voltage": c.point["d"], "k voltage": c.point["k"],
    }
    expected["feedback"] = feedback()
    for name, c2 in (("riaa-network", 7.5e-9), ("riaa-network-off", 8.2e-9)):
        expected[name] = {f"OUT {fact}": value for fact, value in riaa_deviation(c2).items()}
    text = json.dumps({k: {f: float(v) for f, v in e.items()} for k, e in expected.items()}, indent=2)
    Path(__file__).with_name("expected.json").write_text(text + "\n")


main()
