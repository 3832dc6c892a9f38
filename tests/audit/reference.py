"""Writes reference.json: what the designs beside it do, by hand-typed netlists and netlist.py.

    python3 tests/audit/reference.py [DESIGN…]      (from the top of the repository)
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


def signal_rows(design, net, x, put, source, output, load, level=None, corners=(), riaa=False):
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
        if riaa:
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
    signal_rows("srpp", n, x, put, "in", "out", "load", level=1.0 / abs(n.at(n.answer(x, 1e3, "in"), "out")), corners=["C1", "C2"])


def white_follower():
    for state in ("running", "V1 empty", "V2 empty"):
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


DESIGNS = {"srpp": srpp, "white-follower": white_follower, "cascode-phono": cascode_phono, "loop-riaa": loop_riaa,
           "current-source-load": current_source_load, "long-tail-sink": long_tail_sink}

if __name__ == "__main__":
    for name in sys.argv[1:] or DESIGNS:
        DESIGNS[name]()
    lines = ",\n".join("  " + json.dumps(row) for row in ROWS.rows)
    (HERE / "reference.json").write_text(f"[\n{lines}\n]\n")
