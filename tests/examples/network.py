"""A small circuit solver for checking the example designs by brute force.

It knows resistors, capacitors, chokes (also on one core), windings, junctions, vacuum rectifiers, triodes and pentodes,
and nothing of the
program under test: the device laws come from the description of the design language ("Models"), the rest is
Kirchhoff's current law.

    E x' + G x + i(x) = s(t)

x holds the voltage of every node but ground and the current of every choke; E holds the capacitances and
inductances, G the conductances and the chokes' incidence, i(x) the currents of the curved devices, s(t) the
winding sources (as their short-circuit currents).

Integration: the two-stage singly diagonally implicit Runge-Kutta method of order two with gamma = 1 - 1/sqrt(2)
(Alexander, SIAM J. Numer. Anal. 14, 1977), which is L-stable and stiffly accurate, so that nodes without a
capacitor obey Kirchhoff's law exactly at each step. Every stage is solved by Newton's method in all unknowns at
once. The periodic state is found by Newton's method on "state after one mains period = state before it", with the
sensitivities had by integrating perturbed copies side by side; that it is reached is then shown by plain
integration (see `drift`).
"""

import numpy as np
from scipy.optimize import brentq
from scipy.special import wrightomega

THERMAL_VOLTAGE = 0.025865  # kT/q at 27 degrees Celsius
LEAK = 1e-9  # siemens across every junction: fixes the potential of a winding while no diode conducts
GAMMA = 1.0 - 1.0 / np.sqrt(2.0)


def junction(v, saturation, emission, series):
    """Shockley junction with series resistance, solved in closed form by the Wright omega function."""
    scale = emission * THERMAL_VOLTAGE
    omega = wrightomega(np.log(saturation * series / scale) + (v + saturation * series) / scale)
    return scale / series * omega - saturation, omega / (1.0 + omega) / series


def vacuum(v, k):
    """Space-charge law of one rectifier plate: I = k V^1.5."""
    root = np.sqrt(np.maximum(v, 0.0))
    return k * root**3, 1.5 * k * root


def koren(vp, vg, m):
    """Koren triode: plate current and its derivatives by plate and grid voltage (both to the cathode)."""
    root = np.sqrt(m["kvb"] + vp**2)
    argument = m["kp"] * (1.0 / m["mu"] + vg / root)
    soft = np.logaddexp(0.0, argument)
    share = 0.5 * (1.0 + np.tanh(0.5 * argument))
    e1 = np.where(vp > 0.0, vp * soft / m["kp"], 0.0)
    power = e1 ** (m["x"] - 1.0)
    slope = 2.0 * m["x"] * power / m["kg1"]
    by_grid = np.where(vp > 0.0, vp * share / root, 0.0)
    by_plate = np.where(vp > 0.0, soft / m["kp"] - share * vg * vp**2 / root**3, 0.0)
    return 2.0 * e1 * power / m["kg1"], slope * by_plate, slope * by_grid


def divided(vp, vg, vs, m):
    """Plate and screen current of a pentode whose space current is divided between them."""
    vp, screened = np.maximum(vp, 1e-6), np.maximum(vs, 1e-6)
    both = screened + vp * m["mu"] / m["mup"]
    drive = m["kp"] * (1.0 / m["mu"] + vg / np.sqrt(1.0 + both**2))
    space = 2.0 / m["kg1"] * (both / m["kp"] * np.logaddexp(0.0, drive)) ** m["x"]
    gathers = -np.expm1(-(screened**2))
    plate = space / (1.0 + m["split"] * (screened / vp) ** m["tilt"] * gathers)
    plate = plate * -np.expm1(-m["knee"] * vp**1.5 / np.maximum(plate, 1e-30))
    return plate, (space - plate) * gathers


def pentode(vp, vg, vs, m):
    """Plate and screen current, each with its slopes by plate, grid and screen voltage, had by differences."""
    step = 1e-4
    here, slopes = divided(vp, vg, vs, m), []
    for p, g, s in ((step, 0.0, 0.0), (0.0, step, 0.0), (0.0, 0.0, step)):
        above, below = divided(vp + p, vg + g, vs + s, m), divided(vp - p, vg - g, vs - s, m)
        slopes.append([(a - b) / (2.0 * step) for a, b in zip(above, below)])
    return tuple((here[place], *(slope[place] for slope in slopes)) for place in (0, 1))


class Network:
    """A netlist. Nodes are made by being named; `ground` is the reference."""

    def __init__(self):
        self.nodes = {"ground": -1}
        self.resistors, self.capacitors, self.chokes = {}, {}, {}
        self.windings, self.vacuums, self.junctions, self.triodes = {}, {}, {}, {}
        self.pentodes, self.mutual = {}, []

    def node(self, name):
        return self.nodes.setdefault(name, len(self.nodes) - 1)

    def _add(self, table, name, terminals, *values):
        for terminal in terminals:
            self.node(terminal)
        assert name not in table, name
        table[name] = (*terminals, *values)

    def resistor(self, name, a, b, ohms):
        self._add(self.resistors, name, (a, b), ohms)

    def capacitor(self, name, a, b, farads):
        self._add(self.capacitors, name, (a, b), farads)

    def choke(self, name, a, b, henries, ohms):
        self._add(self.chokes, name, (a, b), henries, ohms)

    def core(self, one, other, henries):
        """Two chokes on one core, with this mutual inductance."""
        self.mutual.append((one, other, henries))

    def winding(self, name, a, b, rms, ohms, sign=1.0):
        """A sine source of `rms` volts from b to a behind its resistance; `sign` is its sense."""
        self._add(self.windings, name, (a, b), rms, ohms, sign)

    def vacuum(self, name, plate, cathode, k):
        self._add(self.vacuums, name, (plate, cathode), k)

    def junction(self, name, anode, cathode, model):
        self._add(self.junctions, name, (anode, cathode), model["is"], model["n"], model["rs"])

    def triode(self, name, plate, grid, cathode, model):
        self._add(self.triodes, name, (plate, grid, cathode), model)

    def pentode(self, name, plate, grid, screen, cathode, model):
        self._add(self.pentodes, name, (plate, grid, screen, cathode), model)

    def across(self, pairs, size=None):
        """Incidence matrix: one column a pair of nodes."""
        matrix = np.zeros((size or self.size, len(pairs)))
        for column, (a, b) in enumerate(pairs):
            for name, sign in ((a, 1.0), (b, -1.0)):
                if self.nodes[name] >= 0:
                    matrix[self.nodes[name], column] += sign
        return matrix

    def assemble(self):
        """Builds the matrices once the netlist is complete."""
        self.node_count = len(self.nodes) - 1
        self.size = self.node_count + len(self.chokes)
        r = self.across([v[:2] for v in self.resistors.values()])
        w = self.across([v[:2] for v in self.windings.values()])
        self.winding_rows = w
        self.winding_ohms = np.array([v[3] for v in self.windings.values()])
        self.winding_crest = np.array([np.sqrt(2.0) * v[2] * v[4] for v in self.windings.values()])
        self.g = (r / np.array([v[2] for v in self.resistors.values()])) @ r.T + (w / self.winding_ohms) @ w.T
        self.junction_rows = self.across([v[:2] for v in self.junctions.values()])
        self.g += LEAK * self.junction_rows @ self.junction_rows.T
        self.vacuum_rows = self.across([v[:2] for v in self.vacuums.values()])
        self.plate_rows = self.across([(v[0], v[2]) for v in self.triodes.values()])
        self.grid_rows = self.across([(v[1], v[2]) for v in self.triodes.values()])
        self.power_rows = [
            self.across([(v[place], v[3]) for v in self.pentodes.values()]) for place in (0, 1, 2)
        ]
        cap = self.across([v[:2] for v in self.capacitors.values()])
        farads = np.array([v[2] for v in self.capacitors.values()])
        self.e = (cap * farads) @ cap.T
        # The state: capacitor voltages, then choke currents. `charge` turns it into E x, `read` takes it out of x.
        self.read = np.zeros((len(farads) + len(self.chokes), self.size))
        self.read[: len(farads)] = cap.T
        self.charge = np.zeros((self.size, len(self.read)))
        self.charge[:, : len(farads)] = cap * farads
        for index, (a, b, henries, ohms) in enumerate(self.chokes.values()):
            row, state = self.node_count + index, len(farads) + index
            branch = self.across([(a, b)])[:, 0]
            self.g[:, row] += branch
            self.g[row, :] -= branch
            self.g[row, row] += ohms
            self.e[row, row] += henries
            self.read[state, row] = 1.0
            self.charge[row, state] = henries
        places = {name: index for index, name in enumerate(self.chokes)}
        for one, other, henries in self.mutual:
            for a, b in ((places[one], places[other]), (places[other], places[one])):
                self.e[self.node_count + a, self.node_count + b] += henries
                self.charge[self.node_count + a, len(farads) + b] += henries
        self.vacuum_k = np.array([[v[2] for v in self.vacuums.values()]])
        self.junction_values = np.array([[v[i] for v in self.junctions.values()] for i in (2, 3, 4)])
        models = [v[3] for v in self.triodes.values()]
        self.models = {k: np.array([m[k] for m in models]) for k in ("mu", "x", "kg1", "kp", "kvb", "rgi")}
        models = [v[4] for v in self.pentodes.values()]
        keys = ("mu", "x", "kg1", "kp", "mup", "split", "tilt", "knee", "rgi")
        self.power_models = {k: np.array([m[k] for m in models]) for k in keys}
        return self

    def curved(self, x):
        """Currents out of the nodes into the curved devices, and their Jacobian, for a batch of x."""
        current = np.zeros_like(x)
        slope = np.zeros((*x.shape, x.shape[-1]))
        for rows, law, values in (
            (self.vacuum_rows, vacuum, self.vacuum_k),
            (self.junction_rows, junction, self.junction_values),
        ):
            if rows.shape[1]:
                i, g = law(x @ rows, *values)
                current += i @ rows.T
                slope += (rows * g[..., None, :]) @ rows.T
        if self.triodes:
            p, q = self.plate_rows, self.grid_rows
            vp, vg = x @ p, x @ q
            i, by_plate, by_grid = koren(vp, vg, self.models)
            rgi = self.models["rgi"]
            current += i @ p.T + (np.maximum(vg, 0.0) / rgi) @ q.T
            slope += (p * by_plate[..., None, :]) @ p.T + (p * by_grid[..., None, :]) @ q.T
            slope += (q * ((vg > 0.0) / rgi)[..., None, :]) @ q.T
        if self.pentodes:
            p, q, s = self.power_rows
            vg = x @ q
            (i, *to_plate), (j, *to_screen) = pentode(x @ p, vg, x @ s, self.power_models)
            rgi = self.power_models["rgi"]
            current += i @ p.T + j @ s.T + (np.maximum(vg, 0.0) / rgi) @ q.T
            for rows, slopes in ((p, to_plate), (s, to_screen)):
                for columns, g in zip((p, q, s), slopes):
                    slope += (rows * g[..., None, :]) @ columns.T
            slope += (q * ((vg > 0.0) / rgi)[..., None, :]) @ q.T
        return current, slope

    def newton(self, linear, right, x):
        """Newton's method on linear x + i(x) = right; None where it does not settle."""
        for _ in range(25):
            current, slope = self.curved(x)
            change = np.linalg.solve(linear + slope, (right - x @ linear.T - current)[..., None])[..., 0]
            x = x + change
            # Rounding leaves some 1e-5 V in a winding that floats on the leaks alone; else the last step squares this.
            if np.max(np.abs(change) / (1.0 + np.abs(x))) < 2e-7:
                return x
        return None

    def stage(self, guess, old, step, source):
        """Solves (E x - old)/step + G x + i(x) = source. Where Newton's method does not settle at once, the
        junctions are bridged by a leak that is taken away by and by; the last solution is without it."""
        linear = self.e / step + self.g
        right = old / step + source
        x = self.newton(linear, right, guess)
        if x is not None:
            return x
        x = guess
        for leak in (*np.geomspace(1.0, 1e-10, 41), 0.0):
            x = self.newton(linear + leak * self.junction_rows @ self.junction_rows.T, right, x)
            if x is None:
                raise RuntimeError("Newton's method did not settle")
        return x

    def source(self, phase):
        return self.winding_rows @ (self.winding_crest * np.sin(phase) / self.winding_ohms)

    def period(self, states, guess, frequency, steps):
        """One mains period for a batch of states: the states after it, and x at the end of every step."""
        h = 1.0 / (frequency * steps)
        y, x = states @ self.charge.T, guess
        record = np.empty((steps, *x.shape))
        for n in range(steps):
            phase = 2.0 * np.pi * n / steps
            turn = 2.0 * np.pi / steps
            first = self.stage(x, y, GAMMA * h, self.source(phase + GAMMA * turn))
            flow = (first @ self.e.T - y) / (GAMMA * h)
            x = self.stage(first, y + (1.0 - GAMMA) * h * flow, GAMMA * h, self.source(phase + turn))
            y = x @ self.e.T
            record[n] = x
        return x @ self.read.T, record

    def direct_guess(self, share=1.15):
        """Every winding taken as a direct source in its forward sense: a start for the integration."""
        source = self.winding_rows @ (np.abs(self.winding_crest) / np.sqrt(2.0) * share / self.winding_ohms)
        x, step = np.zeros(self.size), 1e-5
        while step < 1e4:
            x = self.stage(x, x @ self.e.T, step, source)
            step *= 1.3
        return x

    def steady(self, frequency, steps=2000, coarse=400, settle=15):
        """The periodic state: x over one period, and how far one more plain period moves the state."""
        x = self.direct_guess()
        z = self.read @ x
        for _ in range(settle):
            z, record = self.period(z, x, frequency, coarse)
            x = record[-1]
        for count, tries in ((coarse, 12), (steps, 6)):
            for _ in range(tries):
                nudge = 1e-4 * np.maximum(np.abs(z), 1e-2)
                batch = np.vstack([z, z + np.diag(nudge)])
                after, record = self.period(batch, np.broadcast_to(x, (len(batch), self.size)), frequency, count)
                miss = after[0] - z
                x = record[-1, 0]
                if np.max(np.abs(miss)) < 1e-9:
                    break
                monodromy = ((after[1:] - after[0]) / nudge[:, None]).T
                z = z + np.linalg.solve(np.eye(len(z)) - monodromy, miss)
        after, record = self.period(z, x, frequency, steps)
        self.drift = np.max(np.abs(after - z))
        self.slowest = np.max(np.abs(np.linalg.eigvals(monodromy)))
        return record

    def volts(self, x, name):
        return x[..., self.nodes[name]] if name != "ground" else np.zeros(x.shape[:-1])

    def impedance(self, name, frequency, x):
        """What a capacitor sees at its terminals: tubes and junctions linearised at the means x, by which every
        rectifier stands reversed, so that the windings are cut off."""
        a, b, farads = self.capacitors[name]
        port = self.across([(a, b)])[:, 0]
        _, slope = self.curved(x)
        g = self.g + slope
        e = self.e - farads * np.outer(port, port)
        return port @ np.linalg.solve(g + 2j * np.pi * frequency * e, port)

    def corner(self, name, x):
        """f = 1/(2 pi R C), R being the real part of the impedance at f itself; every such f is looked for."""
        farads = self.capacitors[name][2]
        miss = lambda log: np.exp(log) * 2 * np.pi * farads * self.impedance(name, np.exp(log), x).real - 1.0
        grid = np.linspace(np.log(1e-3), np.log(1e4), 400)
        values = [miss(p) for p in grid]
        found = [
            float(np.exp(brentq(miss, grid[i], grid[i + 1], xtol=1e-12)))
            for i in range(len(grid) - 1)
            if values[i] * values[i + 1] < 0
        ]
        return found

    def discharge(self, start, level, names):
        """Seconds until each capacitor stays at or below `level`, from the states `start`, curved devices and
        windings gone; by eigenvalues of the linear network."""
        caps = list(self.capacitors.values())
        p = self.across([v[:2] for v in caps])[: self.node_count]
        r = self.across([v[:2] for v in self.resistors.values()])[: self.node_count]
        g = (r / np.array([v[2] for v in self.resistors.values()])) @ r.T
        # A node that only curved devices or windings touch has no law left: it is tied to ground by a leak.
        g += np.diag(np.where(np.abs(g).sum(axis=1) == 0.0, LEAK, 0.0))
        chokes = list(self.chokes.values())
        b = self.across([v[:2] for v in chokes])[: self.node_count]
        n, k, m = self.node_count, len(caps), len(chokes)
        # Capacitors as voltage sources, chokes as current sources: [g p; p' 0][v; i] = [-b j; u].
        matrix = np.block([[g, p], [p.T, np.zeros((k, k))]])
        drive = np.block([[np.zeros((n, k)), -b], [np.eye(k), np.zeros((k, m))]])
        solved = np.linalg.solve(matrix, drive)
        farads = np.array([v[2] for v in caps])
        henries = np.array([v[2] for v in chokes])
        ohms = np.array([v[3] for v in chokes])
        law = np.zeros((k + m, k + m))
        law[:k] = solved[n:] / farads[:, None]
        law[k:] = (b.T @ solved[:n]) / henries.reshape(-1, 1)
        law[k:, k:] -= np.diag(ohms / henries)
        rates, modes = np.linalg.eig(law)
        weights = np.linalg.solve(modes, start.astype(complex))
        times = {}
        for index, name in enumerate(self.capacitors):
            if name not in names or abs(start[index]) <= level:
                continue
            over = lambda t: abs(float(((modes[index] * weights) @ np.exp(rates * t)).real)) - level
            end = -np.log(1e-6) / np.min(-rates.real[np.abs(weights * modes[index]) > 1e-9])
            grid = np.concatenate([np.linspace(0.0, 0.5, 2000), np.geomspace(0.5, max(end, 1.0), 20000)])
            above = [i for i, t in enumerate(grid) if over(t) > 0.0]
            times[name] = brentq(over, grid[above[-1]], grid[above[-1] + 1], xtol=1e-10)
        return times
