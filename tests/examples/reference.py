"""Writes reference.json: what the example designs do, by brute force.

    python3 tests/examples/reference.py            (from the top of the repository; ten minutes)

Sources: the designs in examples/alder-street (their netlists are typed in below, part by part); the models of the
design language (winding: open-circuit voltage = rated voltage + rated current x (own resistance + primary x
ratio^2) behind that resistance, a centre-tapped winding's halves each for themselves; Koren triode; I = k V^1.5;
Shockley with series resistance); the figures of rules/catalogue, read from there. See network.py for the method.
Nothing of the program's own physics is used.

States: running 230 V, high-mains and low-mains 10 % above and below, all with the tubes conducting; socket-empty as
running with the tube `empty` pulled; switch-on at high mains without signal tubes; switched-off from the means of switch-on, without tubes, silicon blocking, and
without what is plugged in from outside (a source or a load that may be unplugged discharges nothing for certain).

Every row: design, subject, fact, state, value. A `scale` stands beside the value where the value itself is no
measure of how close is close: for voltages near zero it is the voltage that matters there.
"""

import json
import re
import sys
import time
from pathlib import Path

import numpy as np

sys.dont_write_bytecode = True
from network import Network, koren, pentode  # noqa: E402

HERE = Path(__file__).resolve().parent
CATALOGUE = HERE.parents[1] / "rules" / "catalogue"
FREQUENCY = 50.0
MAINS = {"running": 1.0, "high-mains": 1.1, "low-mains": 0.9, "switch-on": 1.1, "socket-empty": 1.0}
PICO_PER_METRE = 100e-12  # the language counts 100 pF a metre of cable


def entry(kind, name):
    """The text of one catalogue entry."""
    for path in sorted(CATALOGUE.glob("*.kdl")):
        text = path.read_text()
        found = re.search(rf'^{kind} "{name}" \{{\n(.*?)^\}}', text, re.M | re.S)
        if found:
            return found.group(1)
    raise SystemExit(f"{kind} {name} is not in the catalogue")


def model(kind, name):
    keys = re.search(r"model ([^{\n]*)", entry(kind, name)).group(1)
    return {k: float(v) for k, v in re.findall(r"(\w+)=([-\d.e]+)(?= |$)", keys)}


def heater_amperes(name):
    value = re.search(r'heater "6.3V" "([\d.]+)(m?)A"', entry("tube", name))
    return float(value.group(1)) * (1e-3 if value.group(2) else 1.0)


def behind(rated, amperes, own, primary, mains=230.0):
    """Open-circuit voltage of a winding or half winding, and the resistance that it stands behind."""
    ohms = own + primary * (rated / mains) ** 2
    return rated + amperes * ohms, ohms


class Design:
    """A network with what is asked of it."""

    def __init__(self, name, warm, share, plugged=True, empty=None):
        self.name, self.warm, self.share, self.plugged, self.empty = name, warm, share, plugged, empty
        self.net = Network()
        self.windings, self.rectified = {}, {}
        self.supply_nets, self.corners, self.heaters = {}, [], []
        self.sections, self.power = {}, {}
        self.middle, self.heater_pair, self.hum = None, ["R13", "R14"], {}

    def pentode(self, section, kind, plate, grid, screen, cathode):
        if section == self.empty:
            return
        self.power[section] = (plate, grid, screen, cathode, model("tube", kind))
        if self.warm:
            self.net.pentode(section, *self.power[section])

    def triode(self, section, kind, plate, grid, cathode):
        if section[:-1] == self.empty:
            return
        self.sections[section] = (plate, grid, cathode, model("tube", kind))
        if self.warm:
            self.net.triode(section, *self.sections[section])

    def source(self, node, ohms):
        """An input at rest: its source resistance to ground."""
        if self.plugged:
            self.net.resistor(f"source of {node}", node, "ground", ohms)

    def load(self, node, ohms, cable_metres):
        if self.plugged:
            self.net.resistor(f"load of {node}", node, "ground", ohms)
            self.net.capacitor(f"cable of {node}", node, "ground", cable_metres * PICO_PER_METRE)


def choke_supply(d):
    net = d.net
    rated, ohms = behind(240.0, 60e-3, 310.0 / 2, 28.0)
    net.winding("T1.ht first half", "V10.plate1", "ground", d.share * rated, ohms, 1.0)
    net.winding("T1.ht second half", "V10.plate2", "ground", d.share * rated, ohms, -1.0)
    k = model("tube", "EZ81")["k"]
    net.vacuum("V10.1", "V10.plate1", "V10.cathode", k)
    net.vacuum("V10.2", "V10.plate2", "V10.cathode", k)
    net.capacitor("C10", "V10.cathode", "ground", 22e-6)
    net.choke("L1", "V10.cathode", "bplus", 10.0, 270.0)
    net.capacitor("C11", "bplus", "ground", 47e-6)
    net.resistor("R10", "bplus", "ground", 180e3)
    d.rectified = ("V10", "vacuums")
    d.supply_nets = {"V10.cathode": "V10.cathode", "bplus": "bplus"}
    # Both halves in series feed the heaters end to end: as one winding of 6.3 V.
    d.heater_winding = behind(6.3, 3.0, 0.09, 28.0)
    d.heater_shunt = np.inf
    d.heaters = [("V10", "EZ81")]


def reading_room(d):
    choke_supply(d)
    net = d.net
    for side, section in (("left", "V1a"), ("right", "V1b")):
        n = lambda name: f"{side}.{name}"
        hot, out = f"in-{side}", f"out-{side}"
        plate, grid, cathode = (f"{section}.{t}" for t in ("plate", "grid", "cathode"))
        d.source(hot, 600.0)
        # The potentiometer stands at 100 %: its wiper is its top.
        net.resistor(n("P1"), hot, "ground", 50e3)
        net.resistor(n("R1"), hot, "ground", 1e6)
        net.resistor(n("R2"), hot, grid, 1e3)
        net.resistor(n("R3"), "bplus", plate, 39e3)
        net.resistor(n("R4"), cathode, "ground", 1.2e3)
        net.capacitor(n("C1"), cathode, "ground", 220e-6)
        net.capacitor(n("C2"), plate, out, 1.5e-6)
        net.resistor(n("R5"), out, "ground", 470e3)
        d.load(out, 47e3, 1.0)
        d.triode(section, "12AU7", plate, grid, cathode)
        d.corners += [n("C1"), n("C2")]
    d.heaters += [("V1", "12AU7")]


def bridge_supply(d, winding, first, second):
    """A winding, four silicon diodes, three capacitors of 47 uF with two resistors between them, and a bleeder."""
    net = d.net
    rated, ohms = winding
    net.winding("T1.ht", "ht1", "ht2", d.share * rated, ohms)
    silicon = model("diode", "1N4007")
    net.junction("D1.1", "ht1", "raw", silicon)
    net.junction("D1.2", "ht2", "raw", silicon)
    net.junction("D1.3", "ground", "ht1", silicon)
    net.junction("D1.4", "ground", "ht2", silicon)
    net.capacitor("C10", "raw", "ground", 47e-6)
    net.resistor("R10", "raw", "middle", first)
    net.capacitor("C11", "middle", "ground", 47e-6)
    net.resistor("R11", "middle", "bplus", second)
    net.capacitor("C12", "bplus", "ground", 47e-6)
    net.resistor("R12", "bplus", "ground", 150e3)


def kitchen_table(d):
    net = d.net
    bridge_supply(d, behind(200.0, 80e-3, 170.0, 48.0), 1e3, 2.2e3)
    red = model("led", "red")
    for side, section in (("left", "V1a"), ("right", "V1b")):
        n = lambda name: f"{side}.{name}"
        hot, out = f"in-{side}", f"out-{side}"
        plate, grid, cathode = (f"{section}.{t}" for t in ("plate", "grid", "cathode"))
        d.source(hot, 600.0)
        net.resistor(n("R1"), hot, "ground", 220e3)
        net.resistor(n("R2"), hot, grid, 470.0)
        net.resistor(n("R3"), "bplus", plate, 33e3)
        net.junction(n("D2"), cathode, n("led-foot"), red)
        net.junction(n("D3"), n("led-foot"), "ground", red)
        net.capacitor(n("C2"), plate, out, 2.2e-6)
        net.resistor(n("P1"), out, "ground", 100e3)
        d.load(out, 100e3, 0.5)
        d.triode(section, "6SN7", plate, grid, cathode)
        d.corners += [n("C2")]
    d.rectified = ("D1", "junctions")
    d.supply_nets = {"raw": "raw", "middle": "middle", "bplus": "bplus"}
    d.heater_winding = behind(6.3, 1.5, 0.2, 48.0)
    d.heater_shunt = 200.0  # R13 and R14 in series across the winding
    d.heaters = [("V1", "6SN7")]


def tuner_preamp(d):
    choke_supply(d)
    net = d.net
    net.resistor("R20", "bplus", "heater-reference", 270e3)
    net.resistor("R21", "heater-reference", "ground", 56e3)
    net.capacitor("C20", "heater-reference", "ground", 22e-6)
    net.resistor("R23", "bplus", "followers", 6.8e3)
    net.capacitor("C23", "followers", "ground", 47e-6)
    net.resistor("R22", "followers", "quiet", 15e3)
    net.capacitor("C22", "quiet", "ground", 22e-6)
    for side, first, follower in (("left", "V1a", "V2a"), ("right", "V1b", "V2b")):
        n = lambda name: f"{side}.{name}"
        hot, out = f"in-{side}", f"out-{side}"
        d.source(hot, 2e3)
        net.resistor(n("R1"), hot, "ground", 1e6)
        net.resistor(n("R2"), hot, f"{first}.grid", 2.2e3)
        net.resistor(n("R3"), "quiet", f"{first}.plate", 150e3)
        net.resistor(n("R4"), f"{first}.cathode", "ground", 1.8e3)
        net.capacitor(n("C1"), f"{first}.cathode", "ground", 100e-6)
        net.resistor(n("R5"), f"{first}.plate", f"{follower}.grid", 470.0)
        net.resistor(n("R6"), f"{follower}.cathode", "ground", 39e3)
        net.capacitor(n("C2"), f"{follower}.cathode", out, 2.2e-6)
        net.resistor(n("R7"), out, "ground", 220e3)
        d.load(out, 22e3, 12.0)
        d.triode(first, "12AX7", f"{first}.plate", f"{first}.grid", f"{first}.cathode")
        d.triode(follower, "12AU7", "followers", f"{follower}.grid", f"{follower}.cathode")
        d.corners += [n("C1"), n("C2")]
    d.supply_nets.update({n: n for n in ("heater-reference", "followers", "quiet")})
    d.heaters += [("V1", "12AX7"), ("V2", "12AU7")]


def gramophone_corner(d):
    net = d.net
    bridge_supply(d, behind(210.0, 50e-3, 320.0, 110.0), 2.2e3, 3.3e3)
    net.resistor("R15", "bplus", "heater-middle", 270e3)
    net.resistor("R16", "heater-middle", "ground", 47e3)
    net.capacitor("C13", "heater-middle", "ground", 22e-6)
    net.resistor("R20", "bplus", "quiet", 22e3)
    net.capacitor("C20", "quiet", "ground", 22e-6)
    for side, first, second in (("left", "V1a", "V2a"), ("right", "V1b", "V2b")):
        n = lambda name: f"{side}.{name}"
        hot, out, curve = f"in-{side}", f"out-{side}", n("curve")
        d.source(hot, 1e3)
        net.resistor(n("R1"), hot, "ground", 47e3)
        net.capacitor(n("C1"), hot, "ground", 100e-12)
        net.resistor(n("R2"), hot, f"{first}.grid", 1e3)
        net.resistor(n("R3"), "quiet", f"{first}.plate", 120e3)
        net.resistor(n("R4"), f"{first}.cathode", "ground", 1.5e3)
        net.capacitor(n("C2"), f"{first}.cathode", "ground", 220e-6)
        net.capacitor(n("C6"), f"{first}.plate", n("before"), 1e-6)
        net.resistor(n("R6"), n("before"), curve, 68.1e3)
        net.resistor(n("R7"), curve, n("shelf"), 14.3e3)
        net.capacitor(n("C5"), n("shelf"), "ground", 22e-9)
        net.capacitor(f"both C3 and C4 of {side}", curve, "ground", 7.48e-9)
        net.resistor(n("R8"), curve, "ground", 1e6)
        net.resistor(n("R9"), curve, f"{second}.grid", 1e3)
        net.resistor(n("R10"), "bplus", f"{second}.plate", 33e3)
        net.resistor(n("R11"), f"{second}.cathode", "ground", 1e3)
        net.capacitor(n("C7"), f"{second}.cathode", "ground", 220e-6)
        net.capacitor(n("C8"), f"{second}.plate", out, 2.2e-6)
        net.resistor(n("R12"), out, "ground", 470e3)
        d.load(out, 47e3, 1.0)
        d.triode(first, "12AX7", f"{first}.plate", f"{first}.grid", f"{first}.cathode")
        d.triode(second, "12AU7", f"{second}.plate", f"{second}.grid", f"{second}.cathode")
        d.corners += [n("C2"), n("C6"), n("C7"), n("C8")]
    d.rectified = ("D1", "junctions")
    d.supply_nets = {name: name for name in ("raw", "middle", "bplus", "quiet")}
    d.heater_winding = behind(6.3, 1.0, 0.25, 110.0)
    d.heater_shunt = 200.0
    d.middle = "heater-middle"
    d.heaters = [("V1", "12AX7"), ("V2", "12AU7")]


def reading_room_amplifier(d):
    net = d.net
    rated, ohms = behind(230.0, 130e-3, 290.0 / 2, 18.0)
    net.winding("T1.ht first half", "V3.plate1", "ground", d.share * rated, ohms, 1.0)
    net.winding("T1.ht second half", "V3.plate2", "ground", d.share * rated, ohms, -1.0)
    k = model("tube", "EZ81")["k"]
    net.vacuum("V3.1", "V3.plate1", "V3.cathode", k)
    net.vacuum("V3.2", "V3.plate2", "V3.cathode", k)
    net.capacitor("C2", "V3.cathode", "ground", 47e-6)
    net.choke("L1", "V3.cathode", "bplus", 5.0, 150.0)
    net.capacitor("C3", "bplus", "ground", 100e-6)
    net.resistor("R3", "bplus", "ground", 100e3)
    net.resistor("R4", "bplus", "drivers", 10e3)
    net.capacitor("C4", "drivers", "ground", 22e-6)
    for side, driver, power in (("left", "V1a", "V2"), ("right", "V1b", "V4")):
        n = lambda name: f"{side}.{name}"
        hot, speaker, foot, drive = f"in-{side}", f"speaker-{side}", n("foot"), n("drive")
        d.source(hot, 600.0)
        net.resistor(n("P1"), hot, "ground", 50e3)
        net.resistor(n("R1"), hot, "ground", 1e6)
        net.resistor(n("R2"), hot, f"{driver}.grid", 1e3)
        net.resistor(n("R3"), "drivers", f"{driver}.plate", 68e3)
        net.resistor(n("R4"), f"{driver}.cathode", foot, 680.0)
        net.capacitor(n("C1"), f"{driver}.cathode", foot, 220e-6)
        net.resistor(n("R5"), foot, "ground", 100.0)
        net.resistor(n("R6"), speaker, foot, 1.5e3)
        net.capacitor(n("C2"), f"{driver}.plate", drive, 220e-9)
        net.resistor(n("R7"), drive, "ground", 470e3)
        net.resistor(n("R8"), drive, f"{power}.grid", 2.2e3)
        net.resistor(n("R9"), "bplus", f"{power}.screen", 220.0)
        net.resistor(n("R10"), f"{power}.cathode", "ground", 200.0)
        net.capacitor(n("C3"), f"{power}.cathode", "ground", 470e-6)
        # 22 H and 330 ohm of primary, from plate to supply; the secondary has its turns in the same sense, from speaker
        # to ground, and the leakage of 35 mH on its side.
        turns = np.sqrt(8.0 / 5.2e3)
        net.choke(f"{side} primary", f"{power}.plate", "bplus", 22.0, 330.0)
        net.choke(f"{side} secondary", speaker, "ground", (22.0 + 35e-3) * turns**2, 0.5)
        if d.plugged:
            net.core(f"{side} primary", f"{side} secondary", 22.0 * turns)
        net.resistor(n("R12"), f"{power}.plate", n("damping"), 6.8e3)
        net.capacitor(n("C4"), n("damping"), "bplus", 1e-9)
        net.resistor(n("R11"), speaker, "ground", 150.0)
        d.load(speaker, 8.0, 0.0)
        d.triode(driver, "12AT7", f"{driver}.plate", f"{driver}.grid", f"{driver}.cathode")
        d.pentode(power, "EL84", f"{power}.plate", f"{power}.grid", f"{power}.screen", f"{power}.cathode")
    d.hum = {"OUT-L": "speaker-left", "OUT-R": "speaker-right"}
    d.rectified = ("V3", "vacuums")
    d.supply_nets = {name: name for name in ("V3.cathode", "bplus", "drivers")}
    d.heater_winding = behind(6.3, 3.0, 0.06, 18.0)
    d.heater_shunt, d.heater_pair = 220.0, []
    d.heaters = [("V3", "EZ81"), ("V1", "12AT7"), ("V2", "EL84"), ("V4", "EL84")]


DESIGNS = {
    "reading-room-line-stage": reading_room,
    "kitchen-table-led-stage": kitchen_table,
    "tuner-preamp": tuner_preamp,
    "gramophone-corner-phono-stage": gramophone_corner,
    "reading-room-amplifier": reading_room_amplifier,
}
SIGNAL_TUBES = {
    "reading-room-line-stage": ["V1"],
    "kitchen-table-led-stage": ["V1"],
    "tuner-preamp": ["V1", "V2"],
    "gramophone-corner-phono-stage": ["V1", "V2"],
    "reading-room-amplifier": ["V1", "V2", "V4"],
}


class Rows:
    """The rows of reference.json."""

    def __init__(self):
        self.rows = []

    def put(self, design, state, subject, fact, value, scale=None, empty=None):
        row = {"design": design, "subject": subject, "fact": fact, "state": state, "value": float(f"{value:.8g}")}
        if scale is not None:
            row["scale"] = scale
        if empty is not None:
            row["empty"] = empty
        self.rows.append(row)


def heaters(d, put):
    """Windings do not load each other; heaters draw their published current, in phase with the voltage."""
    rated, ohms = d.heater_winding
    seated = [(tube, kind) for tube, kind in d.heaters if tube != d.empty]
    drawn = sum(heater_amperes(kind) for _, kind in seated)
    voltage = (d.share * rated - ohms * drawn) / (1.0 + ohms / d.heater_shunt)
    for tube, _ in seated:
        put(f"{tube}.heater", "voltage", voltage)
    put("T1.heaters", "rms-current", drawn + voltage / d.heater_shunt)
    if np.isfinite(d.heater_shunt):
        for name in d.heater_pair:
            put(name, "dissipation", (voltage / 2.0) ** 2 / (d.heater_shunt / 2.0))
            put(name, "voltage-across", np.sqrt(2.0) * voltage / 2.0)


def supply(d, record, put):
    """What the rectifier and its winding see over one period."""
    net = d.net
    name, table = d.rectified
    law = {"vacuums": net.vacuums, "junctions": net.junctions}[table]
    rows = net.vacuum_rows if table == "vacuums" else net.junction_rows
    across = record @ rows
    if table == "vacuums":
        flow = net.vacuum_k * np.maximum(across, 0.0) ** 1.5
        total = flow.sum(axis=1).mean()
    else:
        # In a bridge the winding's own current is that of the diodes, half of them at a time.
        flow = np.abs(winding_current(net, record))
        total = flow.sum(axis=1).mean()
        across = across[:, [i for i, key in enumerate(law) if key.startswith("D1")]]
    put(name, "peak-current", flow.max())
    put(name, "direct-current", total)
    put(name, "peak-inverse-voltage", -across.min())
    put("T1.ht", "rms-current", np.sqrt((winding_current(net, record)[:, 0] ** 2).mean()))


def ripple_current(net, part, record, put):
    """Rms of C dv/dt, by differences from step to step round the period; microamperes are left out."""
    a, b, farads = net.capacitors[part]
    volts = net.volts(record, a) - net.volts(record, b)
    amperes = farads * (volts - np.roll(volts, 1)) * FREQUENCY * len(record)
    rms = np.sqrt((amperes**2).mean())
    if rms > 10e-6:
        put(part, "ripple-current", rms)


def winding_current(net, record):
    steps = len(record)
    phase = 2.0 * np.pi * (np.arange(steps) + 1.0) / steps
    source = np.sin(phase)[:, None] * net.winding_crest
    return (source - record @ net.winding_rows) / net.winding_ohms


def small_signal(d, mean, put):
    net = d.net
    for section, (plate, grid, cathode, m) in d.sections.items():
        vp = net.volts(mean, plate) - net.volts(mean, cathode)
        vg = net.volts(mean, grid) - net.volts(mean, cathode)
        step = 1e-4
        current = lambda p, g: float(koren(p, g, m)[0])
        gm = (current(vp, vg + step) - current(vp, vg - step)) / (2 * step)
        ga = (current(vp + step, vg) - current(vp - step, vg)) / (2 * step)
        put(section, "transconductance", gm)
        put(section, "plate-resistance", 1.0 / ga)
        put(section, "amplification", gm / ga)
    for name in d.corners:
        found = net.corner(name, mean)
        if len(found) != 1:
            print(f"  {d.name} {name}: corners at {found}", file=sys.stderr)
        put(name, "corner-frequency", max(found))


def surge(d, steady):
    """Largest voltage of each capacitor of the supply, from empty, the mains coming on at its zero crossing: the ring
    of choke and capacitors in fine steps, what drifts after it in coarse ones, and the steady crest it drifts to."""
    net = d.net
    state, x = np.zeros(len(net.read)), np.zeros(net.size)
    supply = [part for part in net.capacitors if "." not in part and " " not in part]
    crest = lambda record, a, b, _: (net.volts(record, a) - net.volts(record, b)).max()
    largest = {part: crest(steady, *net.capacitors[part]) for part in supply}
    for steps in 60 * [1000] + 300 * [200]:
        state, record = net.period(state, x, FREQUENCY, steps)
        x = record[-1]
        for part in supply:
            largest[part] = max(largest[part], crest(record, *net.capacitors[part]))
    return largest


def judge(name, state, rows, empty=None):
    warm = state != "switch-on"
    d = Design(name, warm, MAINS[state], empty=empty)
    DESIGNS[name](d)
    net = d.net.assemble()
    started = time.time()
    record = net.steady(FREQUENCY)
    print(
        f"{name} {state} {empty or ''}: drift {net.drift:.1e} V a period, slowest mode {net.slowest:.4f}, "
        f"{time.time() - started:.0f} s",
        file=sys.stderr,
    )
    assert net.drift < 1e-6 and net.slowest < 1.0
    put = lambda subject, fact, value, scale=None: rows.put(name, state, subject, fact, value, scale, empty)
    mean = record.mean(axis=0)

    for node in net.nodes:
        if node != "ground" and not node.startswith("ht") and not node.startswith("V10.plate"):
            put(node, "voltage", net.volts(mean, node), 1.0)
    for shown, node in d.supply_nets.items():
        volts = net.volts(record, node)
        put(shown, "ripple", volts.max() - volts.min(), 1e-3)
    for part, (a, b, _) in net.capacitors.items():
        if not part.startswith(("cable", "both")):
            volts = net.volts(record, a) - net.volts(record, b)
            # Of one typed in against its voltage the largest value is the least voltage: it is left out.
            if volts.mean() > -1.0:
                put(part, "peak-voltage", volts.max(), 1.0)
            ripple_current(net, part, record, put)
    for part in net.chokes:
        if part.startswith("L"):
            put(part, "direct-current", mean[net.node_count + list(net.chokes).index(part)])
    for part, (a, b, ohms) in net.resistors.items():
        volts = net.volts(record, a) - net.volts(record, b)
        watts = (volts**2).mean() / ohms
        if watts > 10e-3 and " of " not in part:
            put(part, "dissipation", watts)
            put(part, "voltage-across", np.abs(volts).max())
    supply(d, record, put)
    heaters(d, put)
    # The middle of every heater winding stands at this net, of some designs by two resistors.
    middle = net.volts(mean, d.middle or ("heater-reference" if "heater-reference" in net.nodes else "ground"))
    cathodes = {section: found[-2] for section, found in (d.sections | d.power).items()}
    for section, cathode in cathodes.items():
        put(section, "heater-cathode-voltage", middle - net.volts(mean, cathode), 1.0)
    if warm:
        for section, (plate, grid, cathode, m) in d.sections.items():
            vp = net.volts(record, plate) - net.volts(record, cathode)
            vg = net.volts(record, grid) - net.volts(record, cathode)
            current = koren(vp, vg, m)[0]
            put(section, "plate-voltage", vp.mean())
            put(section, "plate-current", current.mean())
            put(section, "bias", vg.mean())
            put(section, "plate-dissipation", vp.mean() * current.mean())
        for section, (*places, cathode, m) in d.power.items():
            vp, vg, vs = (net.volts(record, place) - net.volts(record, cathode) for place in places)
            (plate, *_), (screen, *_) = pentode(vp, vg, vs, m)
            for fact, value in (
                ("plate-voltage", vp.mean()),
                ("plate-current", plate.mean()),
                ("screen-voltage", vs.mean()),
                ("screen-current", screen.mean()),
                ("cathode-current", plate.mean() + screen.mean()),
                ("bias", vg.mean()),
                ("plate-dissipation", vp.mean() * plate.mean()),
                ("screen-dissipation", vs.mean() * screen.mean()),
            ):
                put(section, fact, value)
    if state == "running":
        small_signal(d, mean, put)
        for output, node in d.hum.items():
            volts = net.volts(record, node)
            put(output, "supply-hum", np.sqrt((volts**2).mean() - volts.mean() ** 2))
    if state == "switch-on":
        for part, volts in surge(d, record).items():
            put(part, "surge-voltage", volts)
        bare = Design(name, False, MAINS[state], plugged=False)
        DESIGNS[name](bare)
        other = bare.net.assemble()
        start = []
        for a, b, _ in other.capacitors.values():
            start.append(net.volts(mean, a) - net.volts(mean, b))
        start += [mean[net.node_count + i] for i in range(len(other.chokes))]
        for part, seconds in other.discharge(np.array(start), 50.0, set(other.capacitors)).items():
            rows.put(name, "switched-off", part, "discharge-time", seconds)


def main():
    rows = Rows()
    for name in sys.argv[1:] or DESIGNS:
        for state in MAINS:
            for empty in SIGNAL_TUBES[name] if state == "socket-empty" else [None]:
                judge(name, state, rows, empty)
    lines = ",\n".join("  " + json.dumps(row) for row in rows.rows)
    (HERE / "reference.json").write_text(f"[\n{lines}\n]\n")


if __name__ == "__main__":
    main()
