"""The same analyses of one design written in numpy and scipy, timed beside the program in one run.

    python3 tests/bench/compare.py [PROGRAM]

The design is examples/alder-street/kitchen-table-led-stage.kdl without its stages' tubes: a winding, a bridge and three
sections of resistor and capacitor with a bleeder. For it scipy finds, as `coldcheck facts` does for the whole design:
- the periodic steady state of the supply at three mains voltages, warm, and at high mains with cold tubes: shooting over
  one period, the period integrated by an implicit method with the diodes' exponential law;
- the switch-on from zero charge at two instants of the mains, followed for one second;
- the discharge to 50 V.
The program does all that for the whole amplifier, with its tubes, its line-ups and its rules, and reads the text first.
Both are timed in processor time of their own process. Nothing is asserted; the coupling capacitors of the stages, which
scipy is not given, make the program's discharge about 3 % longer.
"""

import json
import resource
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import fsolve

ROOT = Path(__file__).resolve().parents[2]
DESIGN = ROOT / "examples/alder-street/kitchen-table-led-stage.kdl"
FREQUENCY = 50.0
PERIOD = 1 / FREQUENCY
CAPACITANCE = np.array([47e-6, 47e-6, 47e-6])
SERIES = np.array([1e3, 2.2e3])
BLEEDER = 150e3
# Open-circuit voltage and resistance of the winding: rated voltage, current and resistances as the design gives them.
PRIMARY_SEEN = 48.0 * (200.0 / 230.0) ** 2
RESISTANCE = 170.0 + PRIMARY_SEEN
OPEN_CIRCUIT = 200.0 + 80e-3 * RESISTANCE
# What both tubes draw when warm, taken as a resistance; cold tubes draw nothing.
WARM_LOAD = 200.0 / 9e-3
# Shockley's law of the rectifier: saturation current, emission coefficient times thermal voltage.
SATURATION, SLOPE = 7e-9, 1.8 * 25.85e-3


def charging(winding_voltage, reservoir):
    """Current through two diodes and the winding's resistance, by Newton's method on the diodes' voltage."""
    drive = abs(winding_voltage) - reservoir
    if drive <= 0:
        return 0.0
    low, high = 0.0, drive
    for _ in range(60):
        middle = 0.5 * (low + high)
        through_diodes = SATURATION * np.expm1(min(middle / (2 * SLOPE), 60.0))
        if through_diodes > (drive - middle) / RESISTANCE:
            high = middle
        else:
            low = middle
        if high - low < 1e-9:
            break
    return (drive - 0.5 * (low + high)) / RESISTANCE


def slope(t, v, crest, angle, load):
    into = charging(crest * np.sin(2 * np.pi * FREQUENCY * t + angle), v[0]) if crest else 0.0
    first, second = (v[0] - v[1]) / SERIES[0], (v[1] - v[2]) / SERIES[1]
    drain = v[2] / BLEEDER + (v[2] / load if load else 0.0)
    return np.array([into - first, first - second, second - drain]) / CAPACITANCE


def march(start, duration, crest, angle, load):
    return solve_ivp(
        slope, (0.0, duration), start, method="LSODA", args=(crest, angle, load), rtol=1e-7, atol=1e-6, max_step=PERIOD / 50
    )


def steady(share, load):
    crest = np.sqrt(2) * OPEN_CIRCUIT * share

    def gap(start):
        return march(start, PERIOD, crest, 0.0, load).y[:, -1] - start

    return fsolve(gap, np.full(3, 0.9 * crest), xtol=1e-7)


def analyses():
    for share in (1.0, 1.1, 0.9):
        steady(share, WARM_LOAD)
    cold = steady(1.1, None)
    crest = np.sqrt(2) * OPEN_CIRCUIT * 1.1
    surge = max(march(np.zeros(3), 1.0, crest, angle, None).y[0].max() for angle in (0.0, np.pi / 2))

    def at_fifty(_, v, *__):
        return v.max() - 50.0

    at_fifty.terminal = True
    fall = solve_ivp(
        lambda t, v: slope(t, v, 0.0, 0.0, None), (0.0, 600.0), cold, method="LSODA", events=at_fifty, rtol=1e-7, atol=1e-6
    )
    return cold, surge, fall.t[-1]


def main():
    program = sys.argv[1] if len(sys.argv) > 1 else str(ROOT / "target/release/coldcheck")
    before = time.process_time()
    cold, surge, fall = analyses()
    by_scipy = time.process_time() - before

    command = [program, "inspect", "--as", "lines", "--jobs", "1"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "check": False}

    def processor(paths):
        usage = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(command + [str(path) for path in paths], **quiet)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - usage.ru_utime - usage.ru_stime

    whole = min(processor([DESIGN]) for _ in range(3))
    # The start of the program, with its rules and catalogue read, but no design.
    start = min(processor([ROOT / "no-such-design.kdl"]) for _ in range(3))

    told = subprocess.run([program, "facts", "--as", "json", str(DESIGN)], capture_output=True, check=True)
    facts = {fact["fact"]: fact["value"] for fact in json.loads(told.stdout)["facts"] if fact["subject"] == "C10"}
    print(f"{'reservoir C10':28}{'steady, V':>12}{'crest, V':>12}{'to 50 V, s':>12}")
    print(f"{'numpy and scipy, supply':28}{cold[0]:12.1f}{max(surge, cold[0]):12.1f}{fall:12.1f}")
    program_says = [facts[name] for name in ("working-voltage", "surge-voltage", "discharge-time")]
    print(f"{'program, whole design':28}" + "".join(f"{value:12.1f}" for value in program_says))
    print()
    print(f"{'':28}{'processor time, s':>18}{'scipy is':>12}")
    print(f"{'numpy and scipy, supply':28}{by_scipy:18.3f}")
    for name, seconds in (("program, whole design", whole), ("of it the design alone", whole - start)):
        print(f"{name:28}{seconds:18.3f}{by_scipy / max(seconds, 1e-6):10.1f} x")


if __name__ == "__main__":
    main()
