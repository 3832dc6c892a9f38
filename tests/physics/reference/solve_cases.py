"""Solves the networks of cases.json with scipy, another way than the program does, and writes expected.json.

Capacitors are voltage sources and chokes current sources of a resistive network that is solved at every instant; the
states are integrated by solve_ivp (Radau), the closed period is found by fsolve on the map over one period, linear
discharges are matrix exponentials. Junctions with series resistance are solved in closed form (Wright's omega).
Usage: python3 solve_cases.py [part of a name]...
"""

import json
import sys
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.linalg import expm
from scipy.optimize import brentq, fsolve
from scipy.special import wrightomega

THERMAL_VOLTAGE = 0.025865
BREAKDOWN_CURRENT = 5e-3
SOURCE_KNEE = 2.0


def shockley(model, v):
    """Current and slope of a junction with series resistance."""
    nv = model["n"] * THERMAL_VOLTAGE
    i_s, rs = model["is"], model["rs"]
    if model.get("breakdown") is not None and v < -1.0:
        w = wrightomega(np.log(BREAKDOWN_CURRENT * rs / nv) + (-v - model["breakdown"]) / nv).real
        return -nv / rs * w - i_s, w / (1 + w) / rs
    w = wrightomega(np.log(i_s * rs / nv) + (v + i_s * rs) / nv).real
    return nv / rs * w - i_s, w / (1 + w) / rs


def softplus(x):
    return np.logaddexp(0.0, x)


def triode_currents(m, vp, vg):
    ip = 0.0
    if vp > 0:
        e1 = vp / m["kp"] * softplus(m["kp"] * (1 / m["mu"] + vg / np.sqrt(m["kvb"] + vp * vp)))
        ip = 2 * e1 ** m["x"] / m["kg1"]
    ig = vg / m["rgi"] if m.get("rgi") and vg > 0 else 0.0
    return ip, ig


def pentode_currents(m, vp, vg, vs):
    ip = i2 = 0.0
    if vs > 0:
        e1 = vs / m["kp"] * softplus(m["kp"] * (1 / m["mu"] + vg / vs))
        if vp > 0:
            ip = 2 * e1 ** m["x"] / m["kg1"] * np.arctan(vp / m["kvb"])
        drive = vs / m["mu"] + vg
        i2 = drive ** 1.5 / m["kg2"] if drive > 0 else 0.0
    ig = vg / m["rgi"] if m.get("rgi") and vg > 0 else 0.0
    return ip, ig, i2


def divided_currents(m, vp, vg, vs):
    """The law by its words: what leaves the cathode, what the division leaves to the plate, what the knee lets through."""
    ig = vg / m["rgi"] if m.get("rgi") and vg > 0 else 0.0
    equivalent = vs + vp / m["mup"] * m["mu"]
    if equivalent <= 0:
        return 0.0, ig, 0.0
    drive = 1 / m["mu"] + vg / np.hypot(1.0, equivalent)
    space = 2 / m["kg1"] * (equivalent * softplus(m["kp"] * drive) / m["kp"]) ** m["x"]
    gathers = 1 - np.exp(-vs ** 2) if vs > 0 else 0.0
    if vp <= 0:
        return 0.0, ig, gathers * space
    screen_to_plate = m["split"] * (max(vs, 0.0) / vp) ** m["tilt"] * gathers
    most = space / (1 + screen_to_plate)
    ip = most * (1 - np.exp(-m["knee"] * vp ** 1.5 / most)) if most > 0 else 0.0
    return ip, ig, gathers * (space - ip)


class Circuit:
    """A network as a resistive problem with given states."""

    def __init__(self, network, frequency=50.0, angle=0.0, open_capacitors=False):
        self.n = network["nodes"] - 1
        self.elements = network["elements"]
        self.omega = 2 * np.pi * frequency
        self.angle = angle
        self.stores = [k for k, e in enumerate(self.elements)
                       if e["kind"] in ("capacitor", "inductor") and not open_capacitors]
        self.extra = {}
        for k, e in enumerate(self.elements):
            if e["kind"] in ("winding", "supply") or (e["kind"] == "capacitor" and not open_capacitors) \
                    or (e["kind"] == "inductor" and open_capacitors):
                self.extra[k] = self.n + len(self.extra)
        self.size = self.n + len(self.extra)
        self.open_capacitors = open_capacitors
        self.last = np.zeros(self.size)
        self.linear = self.linear_matrix()

    def linear_matrix(self):
        a = np.zeros((self.size, self.size))
        for k, e in enumerate(self.elements):
            p, q = e["a"] - 1, e["b"] - 1
            if e["kind"] == "resistor":
                g = 1 / e["value"]
                for r, c, s in ((p, p, g), (q, q, g), (p, q, -g), (q, p, -g)):
                    if r >= 0 and c >= 0:
                        a[r, c] += s
            if k in self.extra:
                row = self.extra[k]
                for node, s in ((p, 1.0), (q, -1.0)):
                    if node >= 0:
                        a[node, row] += s
                        a[row, node] += s
                if e["kind"] != "capacitor":
                    a[row, row] -= e["resistance"]
        return a

    def volt(self, x, node):
        return x[node - 1] if node > 0 else 0.0

    def device(self, e, x):
        """[(terminal, current, {node: slope})] of a nonlinear element, currents into terminals."""
        v = self.volt(x, e["a"]) - self.volt(x, e["b"])
        kind = e["kind"]
        if kind == "junction":
            i, g = shockley(e["model"], v)
        elif kind == "vacuum-diode":
            i, g = e["model"]["k"] * max(v, 0) ** 1.5, 1.5 * e["model"]["k"] * max(v, 0) ** 0.5
        elif kind == "current-source":
            i = e["current"] * min(max(v / SOURCE_KNEE, 0), 1)
            g = e["current"] / SOURCE_KNEE if 0 < v < SOURCE_KNEE else 0.0
        else:
            return self.tube(e, x)
        return [(e["a"], i, {e["a"]: g, e["b"]: -g}), (e["b"], -i, {e["a"]: -g, e["b"]: g})]

    def tube(self, e, x):
        k = e["b"]
        terminals = [e["a"], e["grid"]] + ([e["screen"]] if "screen" in e else [])
        volts = [self.volt(x, t) - self.volt(x, k) for t in terminals]
        law = triode_currents if e["kind"] == "triode" else divided_currents if "split" in e["model"] else pentode_currents
        base = law(e["model"], *volts)
        out = []
        total = {}
        slopes = []
        for j in range(len(volts)):
            h = 1e-6 * max(1.0, abs(volts[j]))
            up, down = list(volts), list(volts)
            up[j] += h
            down[j] -= h
            slopes.append([(u - d) / (2 * h) for u, d in zip(law(e["model"], *up), law(e["model"], *down))])
        for i, t in enumerate(terminals):
            s = {}
            for j, by in enumerate(terminals):
                s[by] = s.get(by, 0.0) + slopes[j][i]
                s[k] = s.get(k, 0.0) - slopes[j][i]
            out.append((t, base[i], s))
            for node, value in s.items():
                total[node] = total.get(node, 0.0) - value
        out.append((k, -sum(base), total))
        return out

    def side(self, t, state):
        b = np.zeros(self.size)
        values = dict(zip(self.stores, state))
        for k, e in enumerate(self.elements):
            p, q = e["a"] - 1, e["b"] - 1
            if e["kind"] == "winding":
                b[self.extra[k]] = np.sqrt(2) * e["emf"] * np.sin(self.omega * t + self.angle + e["phase"])
            elif e["kind"] == "supply":
                b[self.extra[k]] = e["voltage"]
            elif k in values and e["kind"] == "capacitor":
                b[self.extra[k]] = values[k]
            elif k in values and e["kind"] == "inductor":
                if p >= 0:
                    b[p] -= values[k]
                if q >= 0:
                    b[q] += values[k]
        return b

    def balance(self, x, b):
        f = self.linear @ x - b
        jac = self.linear.copy()
        for e in self.elements:
            if e["kind"] in ("junction", "vacuum-diode", "current-source", "triode", "pentode"):
                for node, i, slopes in self.device(e, x):
                    if node > 0:
                        f[node - 1] += i
                        for by, g in slopes.items():
                            if by > 0:
                                jac[node - 1, by - 1] += g
        return f, jac

    def solve(self, t, state, start=None):
        """Unknowns at an instant; leaks of 1e-13 S keep blocked nodes defined."""
        b = self.side(t, state)
        x = (self.last if start is None else start).copy()
        f, jac = self.balance(x, b)
        for trial_number in range(200):
            for node in range(self.n):
                jac[node, node] += 1e-13
            step = np.linalg.solve(jac, -f)
            scale = 1.0
            norm = np.linalg.norm(f)
            while True:
                trial = x + scale * step
                f2, jac2 = self.balance(trial, b)
                if np.linalg.norm(f2) <= norm * (1 + 1e-9) or scale < 1e-3 or norm < 1e-9:
                    break
                scale *= 0.5
            x, f, jac = trial, f2, jac2
            # A winding that nothing ties down may still float within the noise of its leaks.
            floats = trial_number > 60 and np.linalg.norm(f) < 1e-12
            if floats or np.max(np.abs(scale * step)) < 1e-9 * (1 + np.max(np.abs(x))) and scale == 1.0:
                self.last = x
                return x
        raise RuntimeError(f"no solution at t={t}, residual {np.linalg.norm(f)}")

    def rates(self, t, state):
        x = self.solve(t, state)
        out = []
        for k in self.stores:
            e = self.elements[k]
            i = state[self.stores.index(k)]
            if e["kind"] == "capacitor":
                out.append(x[self.extra[k]] / e["value"])
            else:
                v = self.volt(x, e["a"]) - self.volt(x, e["b"])
                out.append((v - e["resistance"] * i) / e["value"])
        return np.array(out)

    def currents(self, t, state, x):
        out = []
        for k, e in enumerate(self.elements):
            if k in self.extra:
                out.append(x[self.extra[k]])
            elif e["kind"] == "inductor":
                out.append(state[self.stores.index(k)])
            elif e["kind"] == "resistor":
                out.append((self.volt(x, e["a"]) - self.volt(x, e["b"])) / e["value"])
            elif e["kind"] == "capacitor":
                out.append(0.0)
            else:
                out.append(self.device(e, x)[0][1])
        return out


def integrate(circuit, start, t0, t1, points, period):
    times = np.linspace(t0, t1, points)
    run = solve_ivp(circuit.rates, (t0, t1), start, method="Radau", t_eval=times, rtol=1e-7, atol=1e-8,
                    max_step=period / 150)
    if not run.success:
        raise RuntimeError(run.message)
    return times, run.y


def steady(case):
    period = 1 / case["frequency"]
    circuit = Circuit(case["network"], case["frequency"])
    # First periods from nothing, then the closed period by fsolve on the map.
    state = np.zeros(len(circuit.stores))
    for _ in range(8):
        _, y = integrate(circuit, state, 0, period, 2, period)
        state = y[:, -1]

    def gap(s):
        _, y = integrate(circuit, s, 0, period, 2, period)
        return y[:, -1] - s

    for _ in range(6):
        found, info, ok, message = fsolve(gap, state, full_output=True, xtol=1e-9, epsfcn=1e-7)
        if np.all(np.isfinite(found)) and np.max(np.abs(gap(found))) < 1e-6 * (1 + np.max(np.abs(found))):
            state = found
            if ok == 1:
                break
        else:
            for _ in range(20):
                _, y = integrate(circuit, state, 0, period, 2, period)
                state = y[:, -1]
    times, y = integrate(circuit, state, 0, period, 4001, period)
    gap_left = float(np.max(np.abs(y[:, -1] - y[:, 0])))
    if gap_left > 1e-4:
        raise RuntimeError(f"the period does not close: {gap_left}")
    nodes, currents = [], []
    for t, s in zip(times, y.T):
        x = circuit.solve(t, s)
        nodes.append([0.0] + list(x[:circuit.n]))
        currents.append(circuit.currents(t, s, x))
    nodes, currents = np.array(nodes), np.array(currents)

    def summary(v):
        mean = np.trapezoid(v, times, axis=0) / period
        rms = np.sqrt(np.trapezoid(v * v, times, axis=0) / period)
        return {"mean": mean.tolist(), "minimum": v.min(axis=0).tolist(), "maximum": v.max(axis=0).tolist(),
                "rms": rms.tolist()}

    return {"gap": gap_left, "nodes": summary(nodes), "currents": summary(currents)}


def operating(case):
    circuit = Circuit(case["network"], open_capacitors=True)
    top = sum(e["voltage"] for e in case["network"]["elements"] if e["kind"] == "supply")
    best = None
    rng = np.random.default_rng(7)
    b = circuit.side(0.0, [])
    for trial in range(200):
        start = np.zeros(circuit.size)
        start[:circuit.n] = rng.uniform(0, top, circuit.n) if trial else 0.5 * top
        x, _, ok, _ = fsolve(lambda v: circuit.balance(v, b)[0], start, full_output=True, xtol=1e-13,
                             fprime=lambda v: circuit.balance(v, b)[1])
        f = np.linalg.norm(circuit.balance(x, b)[0])
        if best is None or f < best[0]:
            best = (f, x)
        if f < 1e-11:
            break
    x = best[1]
    assert best[0] < 1e-9, (case["name"], best[0])
    return {"nodes": [0.0] + x[:circuit.n].tolist(), "currents": circuit.currents(0.0, [], x)}


def discharge(case):
    circuit = Circuit(case["network"])
    nonlinear = any(e["kind"] in ("junction", "current-source") for e in case["network"]["elements"])
    initial = case["initial"]
    start = np.array([initial[circuit.elements[k]["a"]] - initial[circuit.elements[k]["b"]]
                      if circuit.elements[k]["kind"] == "capacitor" else 0.0 for k in circuit.stores])
    threshold, horizon = case["threshold"], case["horizon"]
    times = np.unique(np.concatenate([np.geomspace(1e-4, horizon, 4000), np.linspace(0, horizon, 4001)]))
    if nonlinear:
        run = solve_ivp(circuit.rates, (0, horizon), start, method="Radau", dense_output=True, rtol=1e-8, atol=1e-8)
        at = run.sol
    else:
        a = np.column_stack([circuit.rates(0.0, unit) for unit in np.eye(len(start))])
        at = lambda t: expm(a * t) @ start
    out = [None] * len(circuit.elements)
    values = np.array([at(t) for t in times])
    for place, k in enumerate(circuit.stores):
        if circuit.elements[k]["kind"] != "capacitor":
            continue
        above = np.nonzero(np.abs(values[:, place]) > threshold)[0]
        if len(above) == 0:
            out[k] = 0.0
        elif above[-1] + 1 < len(times):
            lo, hi = times[above[-1]], times[above[-1] + 1]
            out[k] = brentq(lambda t: abs(at(t)[place]) - threshold, lo, hi)
    return {"times": out}


def transient(case):
    period = 1 / case["frequency"]
    circuit = Circuit(case["network"], case["frequency"], case["angle"])
    start = np.zeros(len(circuit.stores))
    times, y = integrate(circuit, start, 0, case["duration"], int(case["duration"] / period * 400) + 1, period)
    nodes = []
    for t, s in zip(times, y.T):
        nodes.append([0.0] + list(circuit.solve(t, s)[:circuit.n]))
    nodes = np.array(nodes)
    return {"maximum": nodes.max(axis=0).tolist(), "maximum_at": times[nodes.argmax(axis=0)].tolist()}


def main():
    here = Path(__file__)
    cases = json.loads(here.with_name("cases.json").read_text())
    path = here.with_name("expected.json")
    expected = json.loads(path.read_text()) if path.exists() else {}
    wanted = sys.argv[1:]
    solvers = {"operating": operating, "discharge": discharge, "transient": transient, "steady": steady}
    for kind, solver in solvers.items():
        names = [case["name"] for case in cases[kind]]
        results = {n: r for n, r in expected.get(kind, {}).items() if n in names}
        for case in cases[kind]:
            name = case["name"]
            if wanted and not any(w in name for w in wanted):
                continue
            try:
                results[name] = solver(case)
            except RuntimeError as trouble:
                print(kind, name, "not solved:", trouble, flush=True)
                continue
            print(kind, name, results[name].get("gap", ""), flush=True)
            expected[kind] = results
            path.write_text(json.dumps(expected, indent=1) + "\n")
        expected[kind] = results


if __name__ == "__main__":
    main()
