"""Solves the supplies of tests/supply/designs at netlist level with scipy and writes expected.json.

The netlists are written here by hand, part by part under the names that the designs use, with the transformer formula of
the design language worked out in this file; nothing is read from the program. The integration is that of
tests/physics/reference/solve_cases.py (Radau, closed period by fsolve), which shares no code with the program either.
Usage: python3 solve_supplies.py [part of a name]...
"""

import json
import sys
from pathlib import Path

import numpy as np
from scipy.optimize import fsolve

sys.path.insert(0, str(Path(__file__).parents[2] / "physics" / "reference"))
from solve_cases import Circuit, integrate  # noqa: E402

SILICON = {"is": 7e-9, "n": 1.8, "rs": 0.034}
TRIODE = {"mu": 21.5, "x": 1.3, "kg1": 1180, "kp": 84, "kvb": 300, "rgi": 2000}
INSULATION = 100e6


def zener(volts):
    return {"is": 1e-9, "n": 1.5, "rs": 0.04 * volts * volts, "breakdown": volts}


def gas(volts, ohms):
    return {"is": 1e-15, "n": 1.5, "rs": ohms, "breakdown": volts}


class Netlist:
    """Named parts between named nets; `ground` is the reference."""

    def __init__(self, primary=230.0, primary_ohms=20.0, frequency=50.0):
        self.nodes = {"ground": 0}
        self.elements, self.names, self.ratios = [], [], {}
        self.primary, self.primary_ohms, self.frequency = primary, primary_ohms, frequency
        self.heaters = {}
        self.every_winding = True

    def node(self, name):
        return self.nodes.setdefault(name, len(self.nodes))

    def add(self, name, kind, a, b, **more):
        grid = more.pop("grid", None)
        element = {"kind": kind, "a": self.node(a), "b": self.node(b), **more}
        if grid:
            element["grid"] = self.node(grid)
        self.elements.append(element)
        self.names.append(name)

    def winding(self, name, a, b, volts, amperes, ohms):
        """One winding or half: open-circuit voltage behind its resistance and the primary's, reflected."""
        ratio = volts / self.primary
        inner = ohms + self.primary_ohms * ratio * ratio
        self.add(name, "winding", a, b, emf=volts + amperes * inner, resistance=inner, phase=0.0)
        self.ratios[name] = ratio

    def resistor(self, name, a, b, value):
        self.add(name, "resistor", a, b, value=value)

    def capacitor(self, name, a, b, value):
        self.add(name, "capacitor", a, b, value=value)

    def choke(self, name, a, b, value, ohms):
        self.add(name, "inductor", a, b, value=value, resistance=ohms)

    def diode(self, name, anode, cathode, model=SILICON):
        self.add(name, "junction", anode, cathode, model=model)

    def vacuum(self, name, plate, cathode, k):
        self.add(name, "vacuum-diode", plate, cathode, model={"k": k})

    def bridge(self, name, ac1, ac2, plus, minus):
        for way, (a, b) in {"ac1-plus": (ac1, plus), "ac2-plus": (ac2, plus),
                            "minus-ac1": (minus, ac1), "minus-ac2": (minus, ac2)}.items():
            self.diode(f"{name}/{way}", a, b)
        self.resistor("", ac1, "ground", INSULATION)
        self.resistor("", ac2, "ground", INSULATION)

    def heater(self, name, a, b, amperes, volts):
        """A heater takes its published current whatever its voltage: its resistance is repeated until it does."""
        self.heaters[name] = (len(self.elements), amperes)
        self.resistor(f"{name}.heater", a, b, volts / amperes)


def steady(netlist):
    """The closed period, sampled: nets and parts by name."""
    network = {"nodes": len(netlist.nodes), "elements": netlist.elements}
    period = 1 / netlist.frequency
    circuit = Circuit(network, netlist.frequency)
    state = np.zeros(len(circuit.stores))
    for _ in range(8):
        state = integrate(circuit, state, 0, period, 2, period)[1][:, -1]
    for _ in range(6):
        def gap(s):
            return integrate(circuit, s, 0, period, 2, period)[1][:, -1] - s
        found, _, ok, _ = fsolve(gap, state, full_output=True, xtol=1e-9, epsfcn=1e-7)
        if np.all(np.isfinite(found)) and np.max(np.abs(gap(found))) < 1e-6 * (1 + np.max(np.abs(found))):
            state = found
            if ok == 1:
                break
        else:
            for _ in range(20):
                state = integrate(circuit, state, 0, period, 2, period)[1][:, -1]
    times, y = integrate(circuit, state, 0, period, 4001, period)
    left = float(np.max(np.abs(y[:, -1] - y[:, 0])))
    if left > 1e-4:
        raise RuntimeError(f"the period does not close: {left}")
    nets, currents = [], []
    for t, s in zip(times, y.T):
        x = circuit.solve(t, s)
        nets.append([0.0] + list(x[:circuit.n]))
        currents.append(circuit.currents(t, s, x))
    return times, np.array(nets), np.array(currents), left


def solve(netlist):
    for _ in range(4):
        times, nets, currents, left = steady(netlist)
        period = times[-1]
        moved = 0.0
        for name, (place, amperes) in netlist.heaters.items():
            element = netlist.elements[place]
            across = nets[:, element["a"]] - nets[:, element["b"]]
            wanted = abs(np.trapezoid(across, times) / period) / amperes
            moved = max(moved, abs(wanted / element["value"] - 1))
            element["value"] = wanted
        if moved < 1e-5:
            break

    def summary(v):
        return {"mean": float(np.trapezoid(v, times) / period), "rms": float(np.sqrt(np.trapezoid(v * v, times) / period)),
                "minimum": float(v.min()), "maximum": float(v.max())}

    primary = sum(netlist.ratios[name] * -currents[:, place]
                  for place, name in enumerate(netlist.names) if name in netlist.ratios)
    return {
        "gap": left,
        "nets": {name: summary(nets[:, node]) for name, node in netlist.nodes.items() if node},
        "parts": {name: {"current": summary(currents[:, place]),
                         "voltage": summary(nets[:, e["a"]] - nets[:, e["b"]])}
                  for place, (name, e) in enumerate(zip(netlist.names, netlist.elements)) if name},
        # Where a heater winding is left out here, the mains current is not compared.
        "primary": summary(primary) if netlist.every_winding else None,
    }


def tube_and_silicon_in_one_bridge():
    n = Netlist()
    n.every_winding = False
    n.winding("T1.ht", "ht1", "ht2", 280, 0.1, 60)
    for end, plate in (("ht1", "plate1"), ("ht2", "plate2")):
        n.vacuum(f"V2/{plate}", end, "raw", 0.0023)
        n.resistor("", end, "ground", INSULATION)
    n.diode("D1", "ground", "ht1")
    n.diode("D2", "ground", "ht2")
    n.capacitor("C10", "raw", "ground", 32e-6)
    n.resistor("R10", "raw", "bplus", 1000)
    n.capacitor("C11", "bplus", "ground", 47e-6)
    n.resistor("R11", "bplus", "ground", 8200)
    return n


def two_taps_from_one_bridge():
    n = Netlist()
    n.winding("T1.ht", "ht1", "ht2", 240, 0.15, 40)
    n.bridge("D1", "ht1", "ht2", "raw", "ground")
    n.capacitor("C10", "raw", "ground", 100e-6)
    n.resistor("R10", "raw", "first", 470)
    n.capacitor("C11", "first", "ground", 100e-6)
    n.resistor("R11", "first", "ground", 10e3)
    n.choke("L1", "raw", "second", 5, 120)
    n.capacitor("C12", "second", "ground", 47e-6)
    n.add("S10", "current-source", "second", "ground", current=0.04)
    return n


def negative_bias_rail():
    n = Netlist()
    n.winding("T1.bias", "b1", "ground", 50, 0.05, 40)
    n.diode("D1", "neg", "b1")
    n.capacitor("C10", "ground", "neg", 47e-6)
    n.resistor("R10", "neg", "bias", 4700)
    n.capacitor("C11", "ground", "bias", 47e-6)
    n.resistor("R11", "bias", "set", 10e3)
    n.resistor("R12", "set", "ground", 15e3)
    return n


def full_wave_doubler():
    n = Netlist()
    n.winding("T1.ht", "ht1", "ground", 120, 0.2, 6)
    n.diode("D1", "ht1", "top")
    n.diode("D2", "low", "ht1")
    n.capacitor("C10", "top", "ground", 100e-6)
    n.capacitor("C11", "ground", "low", 100e-6)
    n.resistor("R10", "top", "ground", 6800)
    n.resistor("R11", "ground", "low", 8200)
    return n


def cascade_doubler():
    n = Netlist()
    n.winding("T1.ht", "ht1", "ground", 120, 0.2, 6)
    n.capacitor("C10", "pump", "ht1", 100e-6)
    n.diode("D1", "ground", "pump")
    n.diode("D2", "pump", "raw")
    n.capacitor("C11", "raw", "ground", 47e-6)
    n.resistor("R10", "raw", "bplus", 470)
    n.capacitor("C12", "bplus", "ground", 47e-6)
    n.resistor("R11", "bplus", "ground", 12e3)
    return n


def capacitor_choke_capacitor_with_a_stage():
    n = Netlist(frequency=60.0)
    n.every_winding = False
    n.winding("T1.ht.start", "ht1", "ground", 260, 0.08, 150)
    n.winding("T1.ht.finish", "ground", "ht2", 260, 0.08, 150)
    n.vacuum("V2/plate1", "ht1", "raw", 0.0023)
    n.vacuum("V2/plate2", "ht2", "raw", 0.0023)
    n.capacitor("C10", "raw", "ground", 10e-6)
    n.choke("L1", "raw", "bplus", 8, 200)
    n.capacitor("C11", "bplus", "ground", 22e-6)
    n.resistor("R11", "bplus", "ground", 8200)
    n.resistor("R3", "bplus", "plate", 47e3)
    n.add("V1a", "triode", "plate", "cathode", grid="grid", model=TRIODE)
    n.resistor("R1", "grid", "ground", 470e3)
    n.resistor("R4", "cathode", "ground", 1500)
    return n


def choke_input_of_two_sections():
    n = Netlist()
    n.winding("T1.ht.start", "ht1", "ground", 300, 0.12, 50)
    n.winding("T1.ht.finish", "ground", "ht2", 300, 0.12, 50)
    n.diode("D1", "ht1", "raw")
    n.diode("D2", "ht2", "raw")
    n.choke("L1", "raw", "middle", 10, 100)
    n.resistor("R9", "raw", "middle", 1e6)
    n.capacitor("C10", "middle", "ground", 22e-6)
    n.choke("L2", "middle", "bplus", 6, 90)
    n.capacitor("C11", "bplus", "ground", 33e-6)
    n.resistor("R11", "bplus", "ground", 3900)
    return n


def choke_input_lightly_loaded():
    n = Netlist()
    n.winding("T1.ht", "ht1", "ht2", 260, 0.1, 60)
    n.bridge("D1", "ht1", "ht2", "raw", "ground")
    n.choke("L1", "raw", "bplus", 5, 100)
    n.resistor("R9", "raw", "bplus", 1e6)
    n.capacitor("C10", "bplus", "ground", 22e-6)
    n.resistor("R11", "bplus", "ground", 22e3)
    return n


def directly_heated_taken_from_one_leg():
    n = Netlist()
    n.winding("T1.ht.start", "ht1", "ground", 300, 0.1, 80)
    n.winding("T1.ht.finish", "ground", "ht2", 300, 0.1, 80)
    n.vacuum("V2/plate1", "ht1", "filament", 0.0006)
    n.vacuum("V2/plate2", "ht2", "filament", 0.0006)
    n.winding("T1.five", "h1", "h2", 5, 3, 0.05)
    # At its rated current the winding gives its rated voltage: 5 V across 5 V / 3 A, the filament's middle half-way.
    n.resistor("", "filament", "h1", 5 / 3 / 2)
    n.resistor("", "filament", "h2", 5 / 3 / 2)
    n.capacitor("C10", "h1", "ground", 16e-6)
    n.resistor("R10", "h1", "bplus", 1500)
    n.capacitor("C11", "bplus", "ground", 32e-6)
    n.resistor("R11", "bplus", "ground", 5600)
    return n


def two_gas_regulators_in_series():
    n = Netlist()
    n.winding("T1.ht.start", "ht1", "ground", 300, 0.08, 150)
    n.winding("T1.ht.finish", "ground", "ht2", 300, 0.08, 150)
    n.diode("D1", "ht1", "raw")
    n.diode("D2", "ht2", "raw")
    n.capacitor("C10", "raw", "ground", 32e-6)
    n.resistor("R10", "raw", "upper", 3300)
    n.diode("V3", "lower", "upper", gas(149.6, 80))
    n.diode("V4", "ground", "lower", gas(149.6, 80))
    n.resistor("R11", "upper", "ground", 20e3)
    n.resistor("R12", "lower", "ground", 68e3)
    return n


def zener_held_rail():
    n = Netlist()
    n.winding("T1.ht", "ht1", "ht2", 200, 0.06, 120)
    n.bridge("D1", "ht1", "ht2", "raw", "ground")
    n.capacitor("C10", "raw", "ground", 47e-6)
    n.resistor("R10", "raw", "held", 8200)
    n.diode("Z1", "middle", "held", zener(75))
    n.diode("Z2", "ground", "middle", zener(75))
    n.resistor("R11", "held", "ground", 27e3)
    return n


def direct_current_heaters():
    n = Netlist()
    n.winding("T1.low", "l1", "l2", 12, 1, 0.8)
    n.bridge("D1", "l1", "l2", "warm", "ground")
    n.capacitor("C10", "warm", "ground", 4700e-6)
    n.resistor("R10", "warm", "hot", 3.3)
    n.capacitor("C11", "hot", "ground", 4700e-6)
    n.heater("V1", "hot", "ground", 0.15, 12.6)
    n.heater("V2", "hot", "half", 0.3, 6.3)
    n.heater("V3", "half", "ground", 0.3, 6.3)
    return n


def half_wave_with_a_series_resistor():
    n = Netlist(frequency=60.0)
    n.winding("T1.ht", "ht1", "ground", 150, 0.05, 80)
    n.resistor("R9", "ht1", "drop", 100)
    n.diode("D1", "drop", "raw")
    n.capacitor("C10", "raw", "ground", 47e-6)
    n.resistor("R10", "raw", "bplus", 2200)
    n.capacitor("C11", "bplus", "ground", 47e-6)
    n.resistor("R11", "bplus", "ground", 15e3)
    return n


def several_windings_at_once():
    n = Netlist()
    n.winding("T1.ht.start", "ht1", "ground", 250, 0.06, 200)
    n.winding("T1.ht.finish", "ground", "ht2", 250, 0.06, 200)
    n.vacuum("V2/plate1", "ht1", "raw", 0.0009)
    n.vacuum("V2/plate2", "ht2", "raw", 0.0009)
    n.capacitor("C10", "raw", "ground", 22e-6)
    n.resistor("R10", "raw", "bplus", 2200)
    n.capacitor("C11", "bplus", "ground", 47e-6)
    n.resistor("R11", "bplus", "ground", 22e3)
    n.resistor("R3", "bplus", "plate", 47e3)
    n.add("V1a", "triode", "plate", "cathode", grid="grid", model=TRIODE)
    n.resistor("R1", "grid", "ground", 470e3)
    n.resistor("R4", "cathode", "ground", 1500)
    n.winding("T1.bias", "b1", "ground", 45, 0.03, 30)
    n.diode("D1", "neg", "b1")
    n.capacitor("C12", "ground", "neg", 22e-6)
    n.resistor("R12", "neg", "ground", 12e3)
    # Rated current is what the heaters take: the rated voltage stands there, and its resistance is 6.3 V over 0.75 A.
    n.winding("T1.heaters", "h1", "h2", 6.3, 0.9, 0.2)
    n.resistor("R20", "bplus", "lift", 220e3)
    n.resistor("R21", "lift", "ground", 47e3)
    n.capacitor("C13", "lift", "ground", 10e-6)
    n.resistor("R22", "h1", "lift", 100)
    n.resistor("R23", "h2", "lift", 100)
    n.resistor("", "h1", "h2", 6.3 / 0.9)
    return n


DESIGNS = [tube_and_silicon_in_one_bridge, two_taps_from_one_bridge, negative_bias_rail, full_wave_doubler,
           cascade_doubler, capacitor_choke_capacitor_with_a_stage, choke_input_of_two_sections,
           choke_input_lightly_loaded, directly_heated_taken_from_one_leg, two_gas_regulators_in_series,
           zener_held_rail, direct_current_heaters, half_wave_with_a_series_resistor, several_windings_at_once]


def main():
    path = Path(__file__).with_name("expected.json")
    expected = json.loads(path.read_text()) if path.exists() else {}
    for design in DESIGNS:
        name = design.__name__.replace("_", "-")
        if sys.argv[1:] and not any(word in name for word in sys.argv[1:]):
            continue
        try:
            expected[name] = solve(design())
        except RuntimeError as trouble:
            print(name, "not solved:", trouble, flush=True)
            continue
        print(name, expected[name]["gap"], flush=True)
        path.write_text(json.dumps(expected, indent=1) + "\n")


if __name__ == "__main__":
    main()
