"""A circuit solver for checking designs by hand-typed netlists, independent of the program under test.

    F(x, x') = 0   with x the node voltages, the currents of sources, chokes and coils

Three things are asked of it. The operating point: Newton's method with every emf raised in steps. The periodic state:
the whole mains period is unknown at once, x' by the backward difference of second order on N even steps round the
circle, and Newton's method meets all equations at all samples together (a block-cyclic sparse system). Small signals
and noise: the same equations linearised by differences at the operating point, one complex solution a frequency.
Large signals: as the periodic state, with x' from the trigonometric polynomial through the samples.

The device laws are those of the design language ("Models"); their slopes are central differences.
"""

import numpy as np
import scipy.sparse as sp
from scipy.linalg import toeplitz
from scipy.sparse.linalg import splu
from scipy.special import wrightomega

VT = 0.025865
BOLTZMANN, CHARGE, KELVIN = 1.380649e-23, 1.602176634e-19, 300.15


def triode(m):
    def law(vp, vg):
        p = np.maximum(vp, 1e-9)
        e = p / m["kp"] * np.logaddexp(0, m["kp"] * (1 / m["mu"] + vg / np.sqrt(m["kvb"] + p * p)))
        return [np.where(vp > 0, 2 * e ** m["x"] / m["kg1"], 0.0), np.maximum(vg, 0) / m["rgi"]]
    return law


def divided(m):
    def law(vp, vg, vs):
        p, s = np.maximum(vp, 1e-6), np.maximum(vs, 1e-6)
        v = s + p * m["mu"] / m["mup"]
        e = v / m["kp"] * np.logaddexp(0, m["kp"] * (1 / m["mu"] + vg / np.sqrt(1 + v * v)))
        space = 2 * e ** m["x"] / m["kg1"]
        gathers = -np.expm1(-s * s)
        above = space / (1 + m["split"] * (s / p) ** m["tilt"] * gathers)
        plate = above * -np.expm1(-m["knee"] * p**1.5 / np.maximum(above, 1e-30))
        return [plate, np.maximum(vg, 0) / m["rgi"], (space - plate) * gathers]
    return law


def vacuum(k):
    return lambda v: [k * np.maximum(v, 0) ** 1.5]


def junction(m):
    scale = m["n"] * VT

    def law(v):
        w = wrightomega(np.log(m["is"] * m["rs"] / scale) + (v + m["is"] * m["rs"]) / scale).real
        return [scale / m["rs"] * w - m["is"] + 1e-9 * v]
    return law


def regulator(volts, ohms):
    """A struck gas tube, anode to cathode: its voltage behind its resistance, with the knee of an ideal junction."""
    return lambda v: [np.logaddexp(0, (v - volts) / 0.05) * 0.05 / ohms]


def mosfet(m):
    def law(vd, vg):
        over = np.maximum(vg - m["vto"], 0)
        shape = np.where(vd < over, vd * (over - vd / 2), over**2 / 2)
        return [m["kp"] * shape * (1 + m["lambda"] * vd), 0 * vg]
    return law


def bipolar(m):
    def law(vce, vbe):
        f = m["is"] * np.expm1(np.clip(vbe / VT, -50, 40))
        return [f * (1 + (vce - vbe) / m["va"]), f / m["bf"]]
    return law


class Net:
    """Node `0` is the reference. Devices: (name, law, terminals) with the last terminal common."""

    def __init__(self):
        self.r, self.c, self.l, self.v, self.d, self.cores = {}, {}, {}, {}, {}, []

    def R(self, name, a, b, ohms):
        assert name not in self.r, name
        self.r[name] = (a, b, ohms)

    def C(self, name, a, b, farads):
        assert name not in self.c, name
        self.c[name] = (a, b, farads)

    def L(self, name, a, b, henries, ohms):
        self.l[name] = (a, b, henries, ohms)

    def V(self, name, a, b, direct=0.0, crest=0.0, ohms=0.0):
        """An emf from b to a: direct part, and crest of its sine."""
        self.v[name] = (a, b, direct, crest, ohms)

    def D(self, name, law, *terminals):
        self.d[name] = (law, terminals)

    def core(self, henries_a_turn, coils):
        """Coils on one core, each (name, a, b, turns, resistance, leakage)."""
        self.cores.append((henries_a_turn, coils))

    def build(self):
        seen = {}
        put = lambda n: seen.setdefault(n, len(seen)) if n != "0" else None
        for table in (self.r, self.c, self.l, self.v):
            for a, b, *_ in table.values():
                put(a), put(b)
        for _, terminals in self.d.values():
            for t in terminals:
                put(t)
        for _, coils in self.cores:
            for _, a, b, *_ in coils:
                put(a), put(b)
        self.node = seen
        k = len(seen)
        self.row = {}
        for name in self.l:
            self.row[name], k = k, k + 1
        for name in self.v:
            self.row[name], k = k, k + 1
        for n, (_, coils) in enumerate(self.cores):
            for coil in coils:
                self.row[coil[0]], k = k, k + 1
            self.row["core", n], k = k, k + 1
        self.size = k
        g, e = np.zeros((k, k)), np.zeros((k, k))
        self.s0, self.s1 = np.zeros(k), np.zeros(k)

        def stamp(m, a, b, value):
            for x, y, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                if x != "0" and y != "0":
                    m[self.node[x], self.node[y]] += sign * value

        def branch(row, a, b):
            for n, sign in ((a, 1.0), (b, -1.0)):
                if n != "0":
                    g[self.node[n], row] += sign
                    g[row, self.node[n]] += sign

        for a, b, ohms in self.r.values():
            stamp(g, a, b, 1 / ohms)
        for a, b, farads in self.c.values():
            stamp(e, a, b, farads)
        for name, (a, b, henries, ohms) in self.l.items():
            row = self.row[name]
            branch(row, a, b)
            g[row, row] -= ohms
            e[row, row] -= henries
        for name, (a, b, direct, crest, ohms) in self.v.items():
            row = self.row[name]
            branch(row, a, b)
            g[row, row] -= ohms
            self.s0[row], self.s1[row] = direct, crest
        for n, (unit, coils) in enumerate(self.cores):
            core = self.row["core", n]  # the voltage of one turn
            g[core, core] = 1.0
            for name, a, b, turns, ohms, leakage in coils:
                row = self.row[name]
                branch(row, a, b)
                g[row, row] -= ohms
                e[row, row] -= leakage
                g[row, core] -= turns
                e[core, row] -= unit * turns
        self.g, self.e = g, e
        return self

    def at(self, x, a, b="0"):
        get = lambda n: 0.0 if n == "0" else x[self.node[n]]
        return get(a) - get(b)

    def currents(self, name, x):
        law, terminals = self.d[name]
        return law(*[np.atleast_1d(self.at(x, t, terminals[-1])) for t in terminals[:-1]])

    def curved(self, x):
        """Currents out of the nodes and their slopes; x is (size, samples)."""
        n = x.shape[1]
        out = np.zeros_like(x)
        entries = []
        for law, terminals in self.d.values():
            common = terminals[-1]
            v = [self.at(x, t, common) * np.ones(n) for t in terminals[:-1]]
            i = law(*v)
            places = [self.node.get(t) for t in terminals]

            def put(row, column, g):
                if places[row] is not None and places[column] is not None:
                    entries.append((places[row], places[column], g))

            last = len(terminals) - 1
            for row, current in enumerate(i):
                if places[row] is not None:
                    out[places[row]] += current
                if places[last] is not None:
                    out[places[last]] -= current
            for column in range(last):
                up, down = list(v), list(v)
                step = 1e-6
                up[column], down[column] = v[column] + step, v[column] - step
                iu, idn = law(*up), law(*down)
                for row in range(last):
                    g = (iu[row] - idn[row]) / (2 * step)
                    put(row, column, g), put(row, last, -g), put(last, column, -g), put(last, last, g)
        return out, entries

    def direct(self, guess=None, start=None):
        x = np.zeros((self.size, 1)) if guess is None else guess.reshape(-1, 1).copy()
        for name, volts in (start or {}).items():
            x[self.node[name]] = volts
        shares = (1.0,) if guess is not None else (0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.7, 0.85, 1.0)
        for share in shares:
            for turn in range(400):
                i, entries = self.curved(x)
                f = self.g @ x + i - share * self.s0.reshape(-1, 1)
                j = self.g.copy()
                for row, column, g in entries:
                    j[row, column] += g[0]
                step = np.linalg.solve(j + 1e-13 * np.eye(self.size), -f)
                size = np.abs(step[: len(self.node)]).max()
                x = x + step * min(1.0, (2.0 if turn < 300 else 0.3) / max(size, 1e-30))
                if size < 1e-9:
                    break
            else:
                raise RuntimeError(f"no operating point: {size}")
        return x[:, 0]

    def jacobian(self, x):
        j = self.g.copy()
        for row, column, g in self.curved(x.reshape(-1, 1))[1]:
            j[row, column] += g[0]
        return j

    def answer(self, x, frequency, source, extra=()):
        """Phasors for one volt of the named source; `extra` holds capacitors (a, b, farads) that only signals see."""
        m = self.jacobian(x) + 2j * np.pi * frequency * self.charge(extra)
        s = np.zeros(self.size, complex)
        s[self.row[source]] = 1.0
        return np.linalg.solve(m, s)

    def charge(self, extra):
        e = self.e.copy()
        for a, b, farads in extra:
            for p, q, sign in ((a, a, 1), (b, b, 1), (a, b, -1), (b, a, -1)):
                if p != "0" and q != "0":
                    e[self.node[p], self.node[q]] += sign * farads
        return e

    def impedance(self, x, frequency, a, b="0", without=None, extra=()):
        m = self.jacobian(x) + 2j * np.pi * frequency * self.charge(extra)
        if without:
            p, q, farads = self.c[without]
            m = m - 2j * np.pi * frequency * (self.charge([(p, q, farads)]) - self.e)
        s = np.zeros(self.size, complex)
        for n, sign in ((a, 1), (b, -1)):
            if n != "0":
                s[self.node[n]] += sign
        y = np.linalg.solve(m, s)
        return self.at(y, a, b)

    def noise(self, x, output, shots, extra=(), low=20.0, high=20e3, points=600, weight=lambda f: 1.0):
        """Thermal noise of every resistor and source resistance, and `shots`: (from, to, density A^2/Hz)."""
        pairs = [(a, b, 4 * BOLTZMANN * KELVIN / ohms) for a, b, ohms in self.r.values()] + list(shots)
        grid = np.geomspace(low, high, points)
        total = []
        for f in grid:
            m = self.jacobian(x) + 2j * np.pi * f * self.charge(extra)
            w = np.zeros(self.size)
            w[self.node[output]] = 1.0
            back = np.linalg.solve(m.T, w)
            power = sum(abs(self.at(back, a, b)) ** 2 * density for a, b, density in pairs)
            power += sum(
                abs(back[self.row[n]]) ** 2 * 4 * BOLTZMANN * KELVIN * v[4] for n, v in self.v.items() if v[4]
            )
            total.append(power * weight(f) ** 2)
        return float(np.sqrt(np.trapezoid(np.array(total) * grid, np.log(grid))))

    def periodic(self, x, frequency, steps, spectral=False, level=1.0, tries=80, most=60.0):
        """All samples of one period, from x (one column, or one a sample)."""
        n, k = steps, self.size
        h = 1 / frequency / n
        if spectral:
            p = np.arange(1, n)
            column = np.concatenate([[0], 0.5 * (-1.0) ** p / np.sin(np.pi * p / n)])
            d = toeplitz(column, np.concatenate([[0], -column[1:]])) * 2 * np.pi * frequency
            d = sp.csr_matrix(d)
        else:
            d = sp.lil_matrix((n, n))
            for t in range(n):
                d[t, t], d[t, t - 1], d[t, t - 2] = 1.5 / h, -2.0 / h, 0.5 / h
            d = d.tocsr()
        linear = sp.kron(sp.csr_matrix(self.e), d) + sp.kron(sp.csr_matrix(self.g), sp.identity(n))
        angle = 2 * np.pi * (np.arange(n) + 1) / n
        s = (self.s0[:, None] + level * self.s1[:, None] * np.sin(angle)).ravel()
        x = np.tile(x.reshape(-1, 1), (1, n)) if x.size == k else x.copy()
        index = np.arange(n)
        for turn in range(tries):
            i, entries = self.curved(x)
            f = linear @ x.ravel() + i.ravel() - s
            rows = np.concatenate([r * n + index for r, _, _ in entries])
            columns = np.concatenate([c * n + index for _, c, _ in entries])
            data = np.concatenate([g for _, _, g in entries])
            j = (linear + sp.csr_matrix((data, (rows, columns)), shape=(k * n, k * n))).tocsc()
            step = splu(j).solve(-f).reshape(k, n)
            size = np.abs(step[: len(self.node)]).max()
            x = x + step * min(1.0, most / max(size, 1e-30))
            if size < 1e-7:
                return x
        raise RuntimeError(f"no periodic state: {size}")
