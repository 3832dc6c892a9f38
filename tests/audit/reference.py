"""Writes reference.json: what the designs beside it do, by hand-typed netlists and netlist.py.

    python3 tests/audit/reference.py [DESIGN…]      (from the top of the repository; half a minute)

Left out: the treble corner of a design with a volume control (the fact is that of the worse setting).
"""

import json
import re
import sys
from pathlib import Path

import numpy as np

sys.dont_write_bytecode = True
from netlist import CHARGE, Net, VT, bipolar, divided, junction, mosfet, regulator, triode, vacuum  # noqa: E402

HERE = Path(__file__).resolve().parent
CATALOGUE = HERE.parents[1] / "rules" / "catalogue"
THERMAL = 4 * 1.380649e-23 * 300.0
PICO = 1e-12


def entry(kind, name):
    for path in sorted(CATALOGUE.glob("*.kdl")):
        found = re.search(rf'^{kind} "{name}"[^\n]*\{{\n(.*?)^\}}', path.read_text(), re.M | re.S)
        if found:
            return found.group(1)
    raise SystemExit(f"{kind} {name}")


def model(kind, name):
    keys = re.search(r"model ([^{\n]*)", entry(kind, name)).group(1)
    return {k: float(v) for k, v in re.findall(r"(\w+)=([-\d.e]+)(?= |$)", keys)}


def strays(name, plate, grid, cathode):
    found = re.search(r"capacitances ([^{\n]*)", entry("tube", name)).group(1)
    found = {k: float(v) * PICO for k, v in re.findall(r'(c\w+)="([\d.]+)pF"', found)}
    ends = {"cgk": (grid, cathode), "cgp": (grid, plate), "cpk": (plate, cathode)}
    return [(*ends[k], v) for k, v in found.items()]


def zener(volts):
    scale, back, series = 1.5 * VT, 5e-3, max(0.04 * volts**2, 2 + 3 * max(6 - volts, 0))
    return lambda v: [1e-9 * np.expm1(np.clip(v / scale, -50, 40)) - back * np.exp(np.clip(-(v + volts) / scale, -300, 10))]


class Stage(Net):
    """A net that remembers its tubes."""

    def __init__(self):
        super().__init__()
        self.tubes, self.stray = {}, []

    def T(self, name, kind, plate, grid, cathode, cold=False):
        self.tubes[name] = (kind, plate, grid, cathode)
        if not cold:
            self.D(name, triode(model("tube", kind)), plate, grid, cathode)
            self.stray += strays(kind, plate, grid, cathode)


class Rows:
    def __init__(self):
        self.rows = []

    def put(self, design, subject, fact, state, value):
        if abs(value) < 1e-9:
            return
        self.rows.append(dict(design=design, subject=subject, fact=fact, state=state, value=float(f"{float(value):.8g}")))


ROWS = Rows()


def tube_rows(design, net, x, put, state):
    for name, (_, plate, grid, cathode) in net.tubes.items():
        if name not in net.d:
            continue
        i = net.currents(name, x)[0][0]
        vp = net.at(x, plate, cathode)
        put(name, "plate-current", i)
        put(name, "plate-voltage", vp)
        put(name, "bias", net.at(x, grid, cathode))
        put(name, "plate-dissipation", vp * i)


def slopes(net, name, x):
    law, terminals = net.d[name]
    v = [net.at(x, t, terminals[-1]) for t in terminals[:-1]]
    out = []
    for k in range(len(v)):
        up, down = list(map(np.float64, v)), list(map(np.float64, v))
        up[k] += 1e-5
        down[k] -= 1e-5
        out.append((np.ravel(law(*up)[0])[0] - np.ravel(law(*down)[0])[0]) / 2e-5)
    return out


def shots(net, x):
    flat, flicker = [], []
    for name, (law, t) in net.d.items():
        if name in net.tubes:
            gm = slopes(net, name, x)[1]
            flicker.append((t[0], t[-1], THERMAL * 2.5 * gm))
        elif name == "I1":
            continue  # the ideal source is taken as silent
        elif name.startswith("Q"):
            gm = slopes(net, name, x)[1]
            if name.endswith("bjt"):
                ic, ib = (c[0] for c in net.currents(name, x))
                flat += [(t[0], t[-1], 2 * CHARGE * ic), (t[1], t[-1], 2 * CHARGE * ib)]
            else:
                flat.append((t[0], t[-1], THERMAL * 2 / 3 * gm))
        else:
            flat.append((t[0], t[-1], 2 * CHARGE * abs(net.currents(name, x)[0][0])))
    return flat, flicker


def noise(net, x, output, extra):
    flat, flicker = shots(net, x)
    grid = np.geomspace(20, 20e3, 400)
    total = []
    j, e = net.jacobian(x), net.charge(extra)
    for f in grid:
        w = np.zeros(net.size)
        w[net.node[output]] = 1.0
        back = np.linalg.solve((j + 2j * np.pi * f * e).T, w)
        p = sum(abs(net.at(back, a, b)) ** 2 * THERMAL / ohms for a, b, ohms in net.r.values())
        p += sum(abs(net.at(back, a, b)) ** 2 * d for a, b, d in flat)
        p += sum(abs(net.at(back, a, b)) ** 2 * d * (1 + 2000 / f) for a, b, d in flicker)
        p += sum(abs(back[net.row[n]]) ** 2 * THERMAL * v[4] for n, v in net.v.items())
        total.append(p)
    return np.sqrt(np.trapezoid(np.array(total) * grid, np.log(grid)))


def signal_rows(design, net, x, put, source, output, load, level=None, corners=(), riaa=False, treble=True):
    extra = net.stray
    h = lambda f: abs(net.at(net.answer(x, f, source, extra), output))
    gain = h(1000.0)
    put("OUT", "gain", gain)
    if load:
        bare = net.r.pop(load)
        cable = net.c.pop("cable", None)
        net.build()
        put("OUT", "source-impedance", abs(net.impedance(x, 1000.0, output, extra=extra)))
        net.r[load] = bare
        if cable:
            net.c["cable"] = cable
        net.build()
    for name, (low, high) in {"low-corner": (0.01, 1000.0), "high-corner": (1000.0, 5e7)}.items():
        if riaa or low > 1 and not treble:
            break
        grid = np.geomspace(low, high, 4000)
        below = [f for f in grid if h(f) < gain / np.sqrt(2)]
        if below:
            edge = max(below) if low < 1 else min(below)
            a, b = edge / 1.01, edge * 1.01
            for _ in range(60):
                m = np.sqrt(a * b)
                if (h(m) < gain / np.sqrt(2)) == (low < 1):
                    a = m
                else:
                    b = m
            put("OUT", name, np.sqrt(a * b))
    if riaa:
        t1, t2, t3 = 3180e-6, 318e-6, 75e-6
        curve = lambda f: abs((1 + 2j * np.pi * f * t2) / ((1 + 2j * np.pi * f * t1) * (1 + 2j * np.pi * f * t3)))
        off = [abs(20 * np.log10(h(f) / gain / (curve(f) / curve(1000.0)))) for f in np.geomspace(20, 20e3, 400)]
        put("OUT", "riaa-deviation", max(off))
    put("OUT", "noise", noise(net, x, output, extra))
    for name in net.tubes:
        ga, gm = slopes(net, name, x)
        put(name, "transconductance", gm)
        put(name, "plate-resistance", 1 / ga)
    for name in corners:
        a, b, farads = net.c[name]
        ohms = 0.0
        f = 1.0
        for _ in range(200):
            ohms = net.impedance(x, f, a, b, without=name, extra=extra).real
            f = 1 / (2 * np.pi * ohms * farads)
        put(name, "corner-frequency", f)
    if level:
        wave = net.periodic(x, 1000.0, 161, spectral=True, level=level)
        volts = net.at(wave, output)
        size = np.abs(np.fft.rfft(volts)) * 2 / len(volts)
        put("OUT", "signal-level", np.sqrt((size[1:] ** 2).sum() / 2))
        put("OUT", "distortion", np.sqrt((size[2:33] ** 2).sum()) / size[1])
        put("OUT", "distortion-second", size[2] / size[1])


def putter(design, state):
    return lambda subject, fact, value: ROWS.put(design, subject, fact, state, value)


def srpp():
    n = Stage()
    n.V("b", "bplus", "0", 280.0)
    n.V("in", "in", "0", 0.0, np.sqrt(2), 1e3)
    n.R("P1a", "in", "volume", 30e3), n.R("P1b", "volume", "0", 20e3), n.R("R1", "volume", "0", 1e6)
    n.R("R2", "volume", "g", 330), n.R("R3", "k", "0", 680), n.C("C1", "k", "0", 470e-6)
    n.R("R4", "k2", "p", 680), n.R("R5", "p", "g2", 330), n.C("C2", "k2", "out", 2.2e-6)
    n.R("R6", "out", "0", 470e3), n.R("load", "out", "0", 22e3), n.C("cable", "out", "0", 200e-12)
    n.T("V1a", "6DJ8", "p", "g", "k"), n.T("V1b", "6DJ8", "bplus", "g2", "k2")
    n.build()
    put = putter("srpp", "running")
    x = n.direct(start={"bplus": 280, "p": 140, "k2": 143, "g2": 140, "k": 3.6})
    tube_rows("srpp", n, x, put, "running")
    signal_rows("srpp", n, x, put, "in", "out", "load", level=1.0 / abs(n.at(n.answer(x, 1e3, "in"), "out")), corners=["C1", "C2"], treble=False)


def white_follower():
    for state in ("running",):
        n = Stage()
        n.V("b", "bplus", "0", 250.0)
        n.V("in", "in", "0", 0.0, np.sqrt(2), 1e3)
        n.R("R1", "in", "0", 470e3), n.R("R2", "in", "g", 1e3), n.R("R3", "bplus", "p", 47e3), n.R("R4", "k", "0", 1.5e3)
        n.R("R5", "p", "g2", 330), n.R("R6", "bplus", "p2", 1e3), n.C("C1", "p2", "low", 220e-9), n.R("R7", "low", "0", 1e6)
        n.R("R8", "low", "g3", 330), n.R("R9", "k3", "0", 220), n.C("C2", "k3", "0", 220e-6)
        n.C("C3", "mid", "out", 100e-6), n.R("R10", "out", "0", 10e3), n.R("load", "out", "0", 300), n.C("cable", "out", "0", 300e-12)
        if state != "V1 empty":
            n.T("V1a", "12AU7", "p", "g", "k")
        if state != "V2 empty":
            n.T("V2a", "6DJ8", "p2", "g2", "mid"), n.T("V2b", "6DJ8", "mid", "g3", "k3")
        else:
            n.R("none", "mid", "0", 1e12)
        n.build()
        put = putter("white-follower", state)
        x = n.direct(start={"bplus": 250, "p2": 240, "p": 130, "g2": 130, "mid": 133, "k": 4})
        tube_rows("white-follower", n, x, put, state)
        if state == "running":
            gain = abs(n.at(n.answer(x, 1e3, "in"), "out"))
            signal_rows("white-follower", n, x, put, "in", "out", "load", level=0.3, corners=["C1", "C2", "C3"])


def cascode_phono():
    n = Stage()
    n.V("b", "bplus", "0", 300.0)
    n.V("in", "in", "0", 0.0, np.sqrt(2), 1e3)
    n.R("R1", "in", "0", 47e3), n.C("C1", "in", "0", 150e-12), n.R("R2", "in", "g", 220), n.R("R3", "k", "0", 220), n.C("C2", "k", "0", 1e-3)
    n.R("R4", "bplus", "upper", 820e3), n.R("R5", "upper", "0", 270e3), n.C("C3", "upper", "0", 1e-6), n.R("R6", "upper", "g2", 470)
    n.R("R7", "bplus", "p", 22e3), n.C("C4", "p", "before", 1e-6), n.R("R8", "before", "curve", 200e3), n.R("R9", "curve", "shelf", 22e3)
    n.C("C5", "shelf", "0", 15e-9), n.C("C6", "curve", "0", 4.3e-9), n.R("R10", "curve", "0", 1e6), n.R("R11", "curve", "g3", 470)
    n.R("R12", "bplus", "p3", 47e3), n.R("R13", "k3", "0", 680), n.R("R14", "p3", "g4", 470), n.R("R15", "k4", "0", 33e3)
    n.C("C7", "k4", "out", 2.2e-6), n.R("R16", "out", "0", 470e3), n.R("load", "out", "0", 47e3), n.C("cable", "out", "0", 100e-12)
    n.T("V1a", "6DJ8", "m", "g", "k"), n.T("V1b", "6DJ8", "p", "g2", "m")
    n.T("V2a", "12AT7", "p3", "g3", "k3"), n.T("V2b", "12AT7", "bplus", "g4", "k4")
    n.build()
    put = putter("cascode-phono", "running")
    x = n.direct(start={"bplus": 300, "upper": 74, "m": 77, "p": 200, "k": 1, "p3": 150, "g4": 150, "k4": 152, "g2": 74, "before": 0})
    tube_rows("cascode-phono", n, x, put, "running")
    signal_rows("cascode-phono", n, x, put, "in", "out", "load", level=5e-3, corners=["C2", "C3", "C4", "C7"], riaa=True)


def loop_riaa():
    n = Stage()
    n.V("b", "bplus", "0", 290.0)
    n.V("in", "in", "0", 0.0, np.sqrt(2), 500)
    n.R("R1", "in", "0", 47e3), n.R("R2", "in", "g", 470), n.R("R3", "bplus", "p", 150e3), n.R("R4", "k", "foot", 2.2e3), n.C("C1", "k", "foot", 220e-6)
    n.R("R5", "foot", "0", 330), n.C("C2", "p", "second", 100e-9), n.R("R6", "second", "0", 470e3), n.R("R7", "second", "g2", 1e3)
    n.R("R8", "bplus", "p2", 100e3), n.R("R9", "k2", "0", 1.5e3), n.C("C3", "k2", "0", 100e-6), n.C("C4", "p2", "out", 1e-6)
    n.R("R10", "out", "0", 270e3), n.R("R11", "out", "middle", 560e3), n.C("C5", "out", "middle", 5.6e-9), n.R("R12", "middle", "foot", 47e3)
    n.C("C6", "middle", "foot", 1.6e-9), n.R("load", "out", "0", 100e3), n.C("cable", "out", "0", 100e-12)
    n.T("V1a", "12AX7", "p", "g", "k"), n.T("V1b", "12AX7", "p2", "g2", "k2")
    n.build()
    put = putter("loop-riaa", "running")
    x = n.direct(start={"bplus": 290, "p": 180, "p2": 190, "k": 1.5, "k2": 1.2})
    tube_rows("loop-riaa", n, x, put, "running")
    signal_rows("loop-riaa", n, x, put, "in", "out", "load", level=5e-3, corners=["C1", "C2", "C3", "C4"], riaa=True)


def current_source_load():
    n = Stage()
    n.V("b", "bplus", "0", 320.0)
    n.V("in", "in", "0", 0.0, np.sqrt(2), 2e3)
    green = model("led", "green")
    n.R("R1", "in", "0", 470e3), n.R("R2", "in", "g", 470)
    n.D("D1", lambda v: [green["is"] * np.expm1(np.clip(v / (green["n"] * VT), -50, 60))], "k", "j1")
    n.R("D1 rs", "j1", "foot", green["rs"])
    n.D("D2", lambda v: [green["is"] * np.expm1(np.clip(v / (green["n"] * VT), -50, 60))], "foot", "j2")
    n.R("D2 rs", "j2", "0", green["rs"])
    n.D("I1", lambda v: [7e-3 * np.clip(v / 2.0, 0, 1) + 0 * v], "bplus", "p")
    n.D("Q1", mosfet(model("mosfet", "IRF820")), "bplus", "gate", "follow")
    n.R("R3", "p", "gate", 470), n.R("R4", "follow", "0", 18e3), n.C("C1", "follow", "out", 2.2e-6)
    n.R("R5", "out", "0", 220e3), n.R("load", "out", "0", 10e3), n.C("cable", "out", "0", 100e-12)
    n.T("V1a", "6SN7", "p", "g", "k")
    n.stray += [("gate", "follow", 323e-12), ("gate", "bplus", 37e-12), ("bplus", "follow", 55e-12)]
    n.build()
    put = putter("current-source-load", "running")
    x = n.direct(start={"bplus": 320, "p": 150, "gate": 150, "follow": 147, "k": 4, "foot": 2, "j1": 2, "j2": 0.1})
    tube_rows("current-source-load", n, x, put, "running")
    put("Q1", "main-current", n.currents("Q1", x)[0][0])
    put("Q1", "transistor-dissipation", n.currents("Q1", x)[0][0] * n.at(x, "bplus", "follow"))
    signal_rows("current-source-load", n, x, put, "in", "out", "load", level=14 / abs(n.at(n.answer(x, 1e3, "in"), "out")), corners=["C1"])


def long_tail_sink():
    n = Stage()
    n.V("b", "bplus", "0", 300.0), n.V("c", "0", "bminus", 150.0)
    n.V("in", "in", "0", 0.0, np.sqrt(2), 600)
    red = model("led", "red")
    n.D("D1", lambda v: [red["is"] * np.expm1(np.clip(v / (red["n"] * VT), -50, 60))], "base", "j")
    n.R("D1 rs", "j", "bminus", red["rs"])
    n.D("Q1 bjt", bipolar(model("bjt", "MPSA42")), "k", "base", "foot")
    n.R("R1", "0", "base", 47e3), n.R("R2", "foot", "bminus", 150), n.R("R3", "bplus", "p", 33e3), n.R("R4", "bplus", "p2", 33e3)
    n.R("R5", "in", "0", 100e3), n.R("R6", "in", "g", 470), n.R("R7", "0", "g2", 470), n.C("C1", "p2", "out", 1e-6)
    n.R("R8", "out", "0", 470e3), n.R("load", "out", "0", 47e3), n.C("cable", "out", "0", 100e-12)
    n.T("V1a", "12AU7", "p", "g", "k"), n.T("V1b", "12AU7", "p2", "g2", "k")
    found = re.search(r"capacitances ([^{\n]*)", entry("bjt", "MPSA42"))
    if found:
        put = {k: float(v) * PICO for k, v in re.findall(r'(\w+)="([\d.]+)pF"', found.group(1))}
        ends = {"input": ("base", "foot"), "feedback": ("base", "k"), "output": ("k", "foot")}
        n.stray += [(*ends[k], v) for k, v in put.items()]
    n.build()
    put = putter("long-tail-sink", "running")
    x = n.direct(start={"bplus": 300, "bminus": -150, "p": 200, "p2": 200, "k": 7, "base": -148.3, "j": -150, "foot": -149})
    tube_rows("long-tail-sink", n, x, put, "running")
    put("Q1", "main-current", n.currents("Q1 bjt", x)[0][0])
    put("Q1", "transistor-dissipation", n.currents("Q1 bjt", x)[0][0] * n.at(x, "k", "foot") + n.currents("Q1 bjt", x)[1][0] * n.at(x, "base", "foot"))
    signal_rows("long-tail-sink", n, x, put, "in", "out", "load", level=5 / abs(n.at(n.answer(x, 1e3, "in"), "out")), corners=["C1"])


STATES = ("running", "high-mains", "low-mains", "switch-on")


def behind(rated, amperes, own, primary, mains):
    ohms = own + primary * (rated / mains) ** 2
    return np.sqrt(2) * (rated + amperes * ohms), ohms


def winding(n, name, a, b, rated, amperes, own, primary, mains, share, sign=1.0):
    crest, ohms = behind(rated, amperes, own, primary, mains)
    n.V(name, a, b, 0.0, sign * share * crest, ohms)


def power(n, name, kind, plate, grid, screen, cathode):
    n.D(name, divided(model("tube", kind)), plate, grid, screen, cathode)


def rms(x):
    return np.sqrt((x**2).mean())


def supply_rows(n, wave, put, nets, capacitors, resistors, windings, hertz):
    for name, node in nets.items():
        v = n.at(wave, node)
        put(name, "voltage", v.mean())
        if np.ptp(v) > 0.01:
            put(name, "ripple", np.ptp(v))
    for name in capacitors:
        a, b, farads = n.c[name]
        v = n.at(wave, a, b)
        put(name, "peak-voltage", v.max())
        i = farads * (3 * v - 4 * np.roll(v, 1) + np.roll(v, 2)) / 2 * hertz * len(v)
        if rms(i) > 1e-4:
            put(name, "ripple-current", rms(i))
    for name in resistors:
        a, b, ohms = n.r[name]
        watts = (n.at(wave, a, b) ** 2).mean() / ohms
        if watts > 5e-3:
            put(name, "dissipation", watts)
    for name, ways in windings.items():
        put(name, "rms-current", max(rms(wave[n.row[way]]) for way in ways))


def power_rows(n, wave, put, names):
    for name in names:
        if name not in n.d:
            continue
        law, t = n.d[name]
        v = [n.at(wave, e, t[-1]) * np.ones(wave.shape[1]) for e in t[:-1]]
        i = law(*v)
        put(name, "plate-current", i[0].mean())
        put(name, "plate-voltage", v[0].mean())
        put(name, "bias", v[1].mean())
        put(name, "plate-dissipation", v[0].mean() * i[0].mean())
        if len(v) == 3:
            put(name, "screen-current", i[2].mean())
            put(name, "screen-voltage", v[2].mean())


def march(n, x, hertz, periods, steps):
    """Some periods by the backward Euler rule, for a start."""
    h = 1 / hertz / steps
    x = x.reshape(-1, 1)
    for period in range(periods):
        record = []
        for t in range(steps):
            s = (n.s0 + n.s1 * np.sin(2 * np.pi * (t + 1) / steps)).reshape(-1, 1)
            y = x.copy()
            for turn in range(200):
                i, entries = n.curved(y)
                f = n.g @ y + n.e @ (y - x) / h + i - s
                j = n.g + n.e / h
                for row, column, g in entries:
                    j[row, column] += g[0]
                step = np.linalg.solve(j, -f)
                size = np.abs(step[: len(n.node)]).max()
                y = y + step * min(1.0, 30.0 / max(size, 1e-30))
                if size < 1e-6:
                    break
            x = y
            record.append(x)
        wave = np.hstack(record)
    return wave


def steady(n, start, hertz, steps):
    x = np.zeros(n.size)
    for name, volts in start.items():
        x[n.node[name]] = volts
    # Capacitors hold the start while the rest finds itself: a first step of a nanosecond.
    coarse = march(n, x, hertz, 3, 160)
    wave = n.periodic(coarse, hertz, 160)
    for finer in [320, 640, 1280, 2560]:
        if finer > steps:
            break
        half = np.empty((n.size, finer))
        half[:, 1::2] = wave
        half[:, 0::2] = (wave + np.roll(wave, 1, axis=1)) / 2
        wave = n.periodic(half, hertz, finer)
    return wave


def bridge_push_pull():
    for state, share in zip(STATES, (1.0, 1.08, 0.92, 1.08)):
        warm = state != "switch-on"
        n = Stage()
        winding(n, "ht", "ht1", "ht2", 300, 0.35, 32, 1.6, 120, share)
        winding(n, "biasw", "bias-ac", "0", 45, 0.05, 30, 1.6, 120, share)
        d = junction(model("diode", "1N4007"))
        for k, (a, b) in enumerate([("ht1", "raw"), ("ht2", "raw"), ("0", "ht1"), ("0", "ht2")]):
            n.D(f"D1.{k}", d, a, b)
        n.R("R1", "raw", "reservoir", 47), n.C("C1", "reservoir", "0", 100e-6), n.L("L1", "reservoir", "bplus", 4, 60)
        n.C("C2", "bplus", "0", 100e-6), n.R("R2", "bplus", "0", 68e3), n.R("R3", "bplus", "splitter", 4.7e3), n.C("C3", "splitter", "0", 47e-6)
        n.R("R4", "splitter", "first", 22e3), n.C("C4", "first", "0", 22e-6)
        n.D("D2", d, "bias-raw", "bias-ac"), n.C("C5", "0", "bias-raw", 100e-6), n.R("R5", "bias-raw", "bias", 4.7e3), n.C("C6", "0", "bias", 100e-6)
        n.R("R10", "in", "0", 470e3), n.R("source", "in", "0", 1e3), n.R("R11", "in", "g1", 1e3), n.R("R12", "first", "p1", 150e3), n.R("R13", "k1", "0", 1.5e3)
        n.C("C10", "p1", "g2a", 100e-9), n.R("R14", "g2a", "tail", 1e6), n.R("R15", "g2b", "tail", 1e6), n.C("C11", "g2b", "0", 100e-9)
        n.R("R16", "k2", "tail", 560), n.R("R17", "tail", "0", 22e3), n.R("R18", "splitter", "p2a", 82e3), n.R("R19", "splitter", "p2b", 91e3)
        n.T("V1a", "12AX7", "p1", "g1", "k1", not warm), n.T("V2a", "12AT7", "p2a", "g2a", "k2", not warm), n.T("V2b", "12AT7", "p2b", "g2b", "k2", not warm)
        for side, drive, v, plate in (("upper", "p2a", "V3", "pf"), ("lower", "p2b", "V4", "ps")):
            m = lambda q: f"{side}.{q}"
            n.C(m("C1"), drive, m("grid"), 220e-9), n.R(m("R1"), m("grid"), m("set"), 150e3), n.R(m("R2"), m("grid"), v + "g", 2.2e3)
            n.R(m("trim.P1a"), "bias", m("set"), 25e3 * 0.25), n.R(m("trim.P1b"), m("set"), m("foot"), 25e3 * 0.75), n.R(m("trim.R1"), m("foot"), "0", 27e3)
            n.R(m("trim.R2"), m("set"), "bias", 220e3), n.C(m("trim.C1"), "0", m("set"), 10e-6), n.R(m("R3"), v + "k", "0", 10), n.R(m("R4"), "bplus", v + "s", 470)
            if warm:
                power(n, v, "EL34", plate, v + "g", v + "s", v + "k")
        turns = np.sqrt(8 / 4e3)
        n.core(60.0, [("w1", "ps", "bplus", 0.5, 60, 0.0), ("w2", "bplus", "pf", 0.5, 60, 0.0), ("w3", "speaker", "0", turns, 0.3, 15e-3 * turns**2)])
        n.R("R20", "speaker", "0", 220), n.R("load", "speaker", "0", 8)
        n.build()
        put = putter("bridge-push-pull", state)
        start = {"raw": 400, "reservoir": 395, "bplus": 390, "splitter": 360, "first": 340, "bias-raw": -60, "bias": -50, "p1": 200, "p2a": 250, "p2b": 250,
                 "k2": 60, "tail": 58, "g2a": 58, "g2b": 58, "upper.set": -40, "lower.set": -40, "upper.grid": -40, "lower.grid": -40, "V3g": -40, "V4g": -40, "pf": 390, "ps": 390, "V3s": 390, "V4s": 390}
        wave = steady(n, start, 60.0, 1280)
        supply_rows(n, wave, put, {k: k for k in ("reservoir", "bplus", "splitter", "first", "bias", "bias-raw", "upper.set")},
                    ["C1", "C2", "C3", "C4", "upper.C1"], ["R1", "R2", "R3", "R4", "R5", "upper.R3", "R17", "R18"], {"T1.ht": ["ht"], "T1.bias": ["biasw"]}, 60.0)
        power_rows(n, wave, put, ["V1a", "V2a", "V2b", "V3", "V4"])
        flow = np.abs(wave[n.row["ht"]])
        put("D1", "peak-current", flow.max())
        put("D1", "direct-current", flow.mean())


def hum_pot():
    for state, share in zip(STATES, (1.0, 1.06, 0.94, 1.06)):
        warm = state != "switch-on"
        n = Stage()
        for half, a, sign in (("first", "a1", 1), ("second", "a2", -1)):
            winding(n, half, a, "0", 260, 0.12, 80, 9, 230, share, sign)
        k = model("tube", "5U4GB")["k"]
        # The filament's middle is the cathode; the supply leaves at one end, half a filament away.
        crest, ohms = behind(5, 3, 0.05, 9, 230)
        hot = 5 / 3
        for _ in range(30):
            volts = share * crest / np.sqrt(2) * hot / (hot + ohms)
            hot = volts / 3
        n.V("five", "r1", "r2", 0, share * crest, ohms)
        n.R("f1", "r1", "rk", hot / 2), n.R("f2", "rk", "r2", hot / 2)
        n.D("V3.1", vacuum(k), "a1", "rk"), n.D("V3.2", vacuum(k), "a2", "rk")
        n.C("C10", "r2", "0", 10e-6), n.L("L1", "r2", "bplus", 10, 180), n.C("C11", "bplus", "0", 100e-6), n.R("R10", "bplus", "0", 100e3)
        n.R("R11", "bplus", "driver", 10e3), n.C("C12", "driver", "0", 47e-6)
        n.R("R1", "in", "0", 1e5), n.R("source", "in", "0", 600), n.R("R2", "in", "g1", 1e3), n.R("R3", "driver", "p1", 100e3), n.R("R4", "k1", "0", 1.2e3)
        n.R("R5", "driver", "p1b", 22e3), n.R("R6", "k1b", "0", 33e3), n.C("C1", "k1b", "0", 47e-6), n.C("C2", "p1b", "drive", 1e-6), n.R("R7", "drive", "0", 47e3)
        n.R("R8", "drive", "g2", 1e3)
        crest, ohms = behind(2.5, 3, 0.02, 9, 230)
        hot = 1.0
        for _ in range(60):
            both = 1 / (1 / hot + 1 / 50)
            volts = share * crest / np.sqrt(2) * both / (both + ohms)
            hot = volts / 2.5
        n.V("fil", "f1n", "f2n", 0, share * crest, ohms)
        n.R("h1", "f1n", "k2", hot / 2), n.R("h2", "k2", "f2n", hot / 2), n.R("P1a", "f1n", "mid", 25), n.R("P1b", "mid", "f2n", 25)
        n.R("R9", "mid", "0", 750), n.C("C3", "mid", "0", 100e-6)
        n.T("V1a", "6SN7", "p1", "g1", "k1", not warm), n.T("V1b", "6SN7", "p1b", "p1", "k1b", not warm), n.T("V2", "2A3", "p2", "g2", "k2", not warm)
        turns = np.sqrt(8 / 2500)
        n.core(15.0, [("w1", "bplus", "p2", 1.0, 120, 0), ("w2", "speaker", "0", turns, 0.4, 12e-3 * turns**2)])
        n.R("load", "speaker", "0", 8)
        n.build()
        put = putter("hum-pot-single-ended", state)
        start = {"rk": 340, "r1": 340, "r2": 340, "bplus": 330, "driver": 300, "p1": 120, "k1b": 125, "p1b": 230, "p2": 325, "k2": 45, "mid": 45, "f1n": 45, "f2n": 45}
        wave = steady(n, start, 50.0, 1280)
        supply_rows(n, wave, put, {"r2": "r2", "bplus": "bplus", "driver": "driver", "filament-middle": "mid"},
                    ["C10", "C11", "C12", "C1", "C2", "C3"], ["R10", "R11", "R3", "R5", "R6", "R9"], {"T1.ht": ["first", "second"], "T1.filament": ["fil"], "T1.rectifier": ["five"]}, 50.0)
        power_rows(n, wave, put, ["V1a", "V1b", "V2"])
        if state == "running":
            put("OUT", "supply-hum", n.at(wave, "speaker").std())
        across = n.at(wave, "a1", "rk")
        put("V3", "peak-current", max(n.currents(v, wave)[0].max() for v in ("V3.1", "V3.2")))
        put("V3", "peak-inverse-voltage", max(-n.at(wave, a, "rk").min() for a in ("a1", "a2")))
        put("L1", "direct-current", wave[n.row["L1"]].mean())
        put("V3.heater", "voltage", rms(n.at(wave, "r1", "r2")))


def tapped_screens():
    for state, share in zip(STATES, (1.0, 1.1, 0.9, 1.1)):
        warm = state != "switch-on"
        n = Stage()
        for half, a, sign in (("first", "a1", 1), ("second", "a2", -1)):
            winding(n, half, a, "0", 275, 0.13, 130, 14, 230, share, sign)
        crest, ohms = behind(5, 2.5, 0.06, 14, 230)
        hot = 2.5
        for _ in range(60):
            hot = share * crest / np.sqrt(2) * hot / (hot + ohms) / 2
        n.V("five", "r1", "r2", 0, share * crest, ohms)
        n.R("f1", "r1", "rk", hot / 2), n.R("f2", "rk", "r2", hot / 2)
        k = model("tube", "5Y3")["k"]
        n.D("V5.1", vacuum(k), "a1", "rk"), n.D("V5.2", vacuum(k), "a2", "rk")
        n.C("C1", "r2", "0", 22e-6), n.L("L1", "r2", "bplus", 8, 220), n.C("C2", "bplus", "0", 47e-6), n.R("R1", "bplus", "0", 150e3)
        n.R("R2", "bplus", "early", 4.7e3), n.C("C3", "early", "0", 33e-6)
        n.R("P1", "in", "0", 1e5), n.R("source", "in", "0", 2e3), n.R("R10", "in", "0", 1e6), n.R("R11", "in", "g1", 1e3), n.R("R12", "early", "p1", 120e3), n.R("R13", "k1", "0", 2.7e3)
        n.R("R14", "p1", "g1b", 1e3), n.R("R15", "early", "p1b", 22e3), n.R("R16", "k1b", "0", 22e3), n.C("C10", "p1b", "g3", 1e-7), n.C("C11", "k1b", "g4", 1e-7)
        n.R("R17", "g3", "0", 330e3), n.R("R18", "g4", "0", 330e3), n.R("R19", "g3", "V3g", 2.2e3), n.R("R20", "g4", "V4g", 2.2e3)
        n.R("R21", "k", "0", 330), n.C("C12", "k", "0", 220e-6)
        turns = np.sqrt(8 / 8e3)
        w = [("w1", "p3", "t3", 0.285), ("w2", "t3", "bplus", 0.215), ("w3", "bplus", "t4", 0.215), ("w4", "t4", "p4", 0.285)]
        n.core(50.0, [(a, b, c, t, 320 * t, 0) for a, b, c, t in w] + [("w5", "speaker", "0", turns, 0.5, 20e-3 * turns**2)])
        n.R("R22", "t3", "s3", 150), n.R("R23", "t4", "s4", 150), n.R("R24", "speaker", "0", 150), n.R("load", "speaker", "0", 8)
        n.T("V1a", "6SN7", "p1", "g1", "k1", not warm), n.T("V1b", "6SN7", "p1b", "g1b", "k1b", not warm)
        if warm:
            power(n, "V3", "6V6GT", "p3", "V3g", "s3", "k"), power(n, "V4", "6V6GT", "p4", "V4g", "s4", "k")
        n.build()
        put = putter("tapped-screens", state)
        start = {"rk": 330, "r1": 330, "r2": 330, "bplus": 310, "early": 280, "p1": 90, "g1b": 90, "k1b": 95, "p1b": 185, "k": 20, "p3": 305, "p4": 305, "t3": 308, "t4": 308, "s3": 308, "s4": 308}
        wave = steady(n, start, 50.0, 1280)
        supply_rows(n, wave, put, {"r2": "r2", "bplus": "bplus", "early": "early"}, ["C1", "C2", "C3", "C10", "C11", "C12"],
                    ["R1", "R2", "R12", "R15", "R16", "R21", "R22"], {"T1.ht": ["first", "second"]}, 50.0)
        power_rows(n, wave, put, ["V1a", "V1b", "V3", "V4"])
        across = n.at(wave, "a1", "rk")
        put("V5", "peak-current", max(n.currents(v, wave)[0].max() for v in ("V5.1", "V5.2")))
        put("V5", "peak-inverse-voltage", max(-n.at(wave, a, "rk").min() for a in ("a1", "a2")))


def gas_regulated():
    for state, share in zip(STATES, (1.0, 1.1, 0.9, 1.1)):
        warm = state != "switch-on"
        n = Stage()
        for half, a, sign in (("first", "a1", 1), ("second", "a2", -1)):
            winding(n, half, a, "0", 280, 0.06, 260, 40, 230, share, sign)
        k = model("tube", "6X5")["k"]
        n.D("V10.1", vacuum(k), "a1", "rk"), n.D("V10.2", vacuum(k), "a2", "rk")
        n.C("C10", "rk", "0", 8e-6), n.L("L1", "rk", "smooth", 15, 420), n.C("C11", "smooth", "0", 33e-6), n.R("R10", "smooth", "0", 180e3), n.R("R11", "smooth", "bplus", 2.7e3)
        n.D("V11", regulator(104.7, 57), "bplus", "rm"), n.D("V12", regulator(149.4, 114), "rm", "0"), n.R("tie", "rm", "0", 1e10)
        for s, a, b in (("left", "V1a", "V2a"), ("right", "V1b", "V2b")):
            m = lambda q: f"{s}.{q}"
            n.R(m("source"), m("in"), "0", 1e3), n.R(m("one.R1"), m("in"), "0", 1e6), n.R(m("one.R2"), m("in"), a + "g", 1e3), n.R(m("one.R3"), "bplus", a + "p", 150e3)
            n.R(m("one.R4"), a + "k", "0", 2.2e3), n.C(m("one.C1"), a + "p", m("mid"), 220e-9), n.R(m("P1a"), m("mid"), m("vol"), 125e3), n.R(m("P1b"), m("vol"), "0", 125e3)
            n.R(m("R1"), m("vol"), "0", 2.2e6), n.R(m("R2"), m("vol"), b + "g", 1e3), n.R(m("R3"), "bplus", b + "p", 33e3), n.R(m("R4"), b + "k", "0", 1e3)
            n.C(m("C1"), b + "p", m("out"), 1e-6), n.R(m("R5"), m("out"), "0", 470e3), n.R(m("load"), m("out"), "0", 1e5), n.C(m("cable"), m("out"), "0", 1e-10)
            n.T(a, "6SL7", a + "p", a + "g", a + "k", not warm), n.T(b, "6SN7", b + "p", b + "g", b + "k", not warm)
        n.build()
        put = putter("gas-regulated", state)
        start = {"rk": 350, "smooth": 330, "bplus": 255, "rm": 150, "V1ap": 150, "V1bp": 150, "V2ap": 120, "V2bp": 120}
        wave = steady(n, start, 50.0, 1280)
        supply_rows(n, wave, put, {"smooth": "smooth", "bplus": "bplus"}, ["C10", "C11", "left.C1"], ["R10", "R11", "left.R3", "left.one.R3"], {"T1.ht": ["first", "second"]}, 50.0)
        power_rows(n, wave, put, ["V1a", "V2a"])
        for v in ("V11", "V12"):
            i = n.currents(v, wave)[0]
            put(v, "regulator-current", i.max())
            if warm:
                put(v, "least-regulator-current", i.min())
        across = n.at(wave, "a1", "rk")
        put("V10", "peak-current", (k * np.maximum(across, 0) ** 1.5).max())
        put("V10", "peak-inverse-voltage", -across.min())


def doubler():
    for state, share in zip(STATES, (1.0, 1.1, 0.9, 1.1)):
        warm = state != "switch-on"
        n = Stage()
        winding(n, "ht", "ht1", "ht2", 110, 0.1, 40, 60, 230, share)
        winding(n, "heat", "h1", "h2", 12.6, 1.0, 0.5, 60, 230, share)
        d = junction(model("diode", "1N4007"))
        n.D("D1", d, "ht1", "raw"), n.D("D2", d, "0", "ht1"), n.C("C1", "raw", "ht2", 1e-4), n.C("C2", "ht2", "0", 1e-4)
        n.R("R1", "raw", "ht2", 1e5), n.R("R2", "ht2", "0", 1e5), n.R("R3", "raw", "bplus", 1e3), n.C("C3", "bplus", "0", 47e-6)
        for j, (a, b) in enumerate([("h1", "hraw"), ("h2", "hraw"), ("hl", "h1"), ("hl", "h2")]):
            n.D(f"D3.{j}", d, a, b)
        n.C("C4", "hraw", "hl", 4700e-6), n.R("R4", "hraw", "heat", 8.2), n.C("C5", "heat", "hl", 4700e-6), n.R("R5", "bplus", "hl", 330e3), n.R("R6", "hl", "0", 47e3), n.C("C6", "hl", "0", 1e-5)
        n.D("heater", lambda v: [0.15 * np.clip(v, 0, 1)], "heat", "hl")
        for s, v in (("left", "V1a"), ("right", "V1b")):
            m = lambda q: f"{s}.{q}"
            n.R(m("source"), m("in"), "0", 1e3), n.R(m("R1"), m("in"), "0", 1e6), n.R(m("R2"), m("in"), v + "g", 2.2e3), n.R(m("R3"), "bplus", v + "p", 1e5), n.R(m("R4"), v + "k", "0", 1.2e3)
            n.D(m("Q1"), mosfet(model("mosfet", "IRF820")), "bplus", m("gate"), m("fol")), n.R(m("R5"), v + "p", m("gate"), 1e3), n.R(m("R6"), m("fol"), "0", 22e3)
            n.R(m("leak"), m("gate"), m("fol"), 1e12)
            n.C(m("C1"), m("fol"), m("out"), 4.7e-6), n.R(m("R7"), m("out"), "0", 220e3), n.R(m("load"), m("out"), "0", 1e4), n.C(m("cable"), m("out"), "0", 3e-10)
            n.T(v, "12AX7", v + "p", v + "g", v + "k", not warm)
        n.build()
        put = putter("doubler-follower", state)
        start = {"raw": 290, "ht2": 145, "bplus": 270, "hraw": 15 + 33, "heat": 13 + 33, "hl": 33, "h1": 40, "h2": 40, "ht1": 145, "V1ap": 170, "V1bp": 170, "left.gate": 170, "right.gate": 170, "left.fol": 167, "right.fol": 167}
        wave = steady(n, start, 50.0, 1280)
        supply_rows(n, wave, put, {"raw": "raw", "ht2": "ht2", "bplus": "bplus", "heat-low": "hl"}, ["C1", "C2", "C3", "C4", "C5", "left.C1"],
                    ["R1", "R3", "left.R6", "left.R3"], {"T1.ht": ["ht"], "T1.heaters": ["heat"]}, 50.0)
        put("V1.heater", "voltage", n.at(wave, "heat", "hl").mean())
        power_rows(n, wave, put, ["V1a"])
        put("left.Q1", "main-current", n.currents("left.Q1", wave)[0].mean())


DESIGNS = {
    "bridge-push-pull": bridge_push_pull, "hum-pot-single-ended": hum_pot, "tapped-screens": tapped_screens,
    "gas-regulated": gas_regulated, "doubler-follower": doubler,
    "srpp": srpp, "white-follower": white_follower, "cascode-phono": cascode_phono, "loop-riaa": loop_riaa,
           "current-source-load": current_source_load, "long-tail-sink": long_tail_sink}

if __name__ == "__main__":
    for name in sys.argv[1:] or DESIGNS:
        DESIGNS[name]()
    lines = ",\n".join("  " + json.dumps(row) for row in ROWS.rows)
    (HERE / "reference.json").write_text(f"[\n{lines}\n]\n")
