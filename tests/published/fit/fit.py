#!/usr/bin/env python3
"""Fits the catalogue's tube models to published figures and keeps every residual.

Run in this folder: `python3 fit.py`. It reads the tables beside it, prints a summary, and writes
`models.csv` (the model keys that the catalogue carries), `residuals.csv` (static points and resistance-coupled
charts; which rows were fitted and which were kept out to score) and `rectifier-residuals.csv`.
Same tables in, same bytes out: there is no random start.

The tables carry published figures; `from_memory` and `confidence` say how each was had, and `points-recalled.csv`
holds a few more of the same kind that are all from memory.

Triodes: Koren (Glass Audio 8(5), 1996); currents here in A, so kg1 is that of the published formula in A. Pentodes and
beam tetrodes: see pentodes.py.
Published characteristic points weigh most (plate current 3 %, transconductance and amplification factor 4 %;
a current published without its slope 7 %), and so do the fitted chart rows (gain 3 %, as the charts print whole
numbers), curve readings little (10 %), cut-off figures least (a factor e^1.5).
Priors keep what no point decides within what triodes are: x 1.4, ln(kp/mu) about ln 6, kvb about 300 V².
"""
import csv
import math

import numpy as np
from scipy.optimize import brentq, least_squares

from common import HERE, RESIDUAL_FIELDS, number, past_aim, residual, rounded, slopes, softplus, split_charts, table
from pentodes import pentodes

# Tubes whose published characteristics or charts are those of another type: the chart's own heading says so for
# 6J5 (with 6SN7) and 6C4 (with 12AU7); 6CG7 and 6SN7GT are published with the 6SN7GTB's characteristics.
CHART_OF = {"6J5": "6SN7GTB", "6CG7": "6SN7GTB", "6C4": "12AU7"}


def triode_current(p, va, vg):
    mu, x, kg1, kp, kvb = p
    if va <= 0:
        return 0.0
    e1 = va / kp * softplus(kp * (1 / mu + vg / math.sqrt(kvb + va * va)))
    return 2 * e1**x / kg1 if e1 > 0 else 0.0


def stage(p, row):
    """Gain and plate current of a resistance-coupled stage with its cathode bypassed."""
    ebb, rp, rk = number(row, "ebb_V"), number(row, "rp_Mohm") * 1e6, number(row, "rk_ohm")
    rg = number(row, "rg_next_Mohm")
    ia = brentq(lambda i: triode_current(p, ebb - i * (rp + rk), -i * rk) - i, 0, ebb / (rp + rk), xtol=1e-12)
    gm, plate = slopes(lambda a, g: triode_current(p, a, g), ebb - ia * (rp + rk), -ia * rk)
    conductance = 1 / plate + 1 / rp + (1 / (rg * 1e6) if rg else 0)
    return gm / conductance, ia


def is_cutoff(row):
    return number(row, "ia_mA") <= 0.05


def is_reading(row):
    return "curve reading" in row["source"] or "graphical" in row["source"]


def second_column(row):
    """The low-voltage column of a receiving-tube manual."""
    return "second characteristics column" in row["source"]


def fits(row):
    return (row["confidence"] != "low" or "only" in row) and number(row, "vg1_V") is not None


def rows_of(points, tube, section):
    """A tube known by rows of low confidence only is fitted to them; the catalogue then says so."""
    own = [r for r in points if (r["tube"], r["section"]) == (tube, section)]
    return own if any(map(fits, own)) else [dict(r, only="yes") for r in own]


def triode_residuals(q, points, charts, use, published_mu):
    p = np.exp(q)
    res = []
    # Five keys cannot hold both columns, a current near cut-off and a chart: then the low-voltage column gives way.
    crowded = any(fits(r) and not is_cutoff(r) and not is_reading(r) and not number(r, "gm_mA_per_V") for r in points)
    for row in points:
        if not fits(row):
            continue
        va, vg = number(row, "va_V"), number(row, "vg1_V")
        beside = not number(row, "gm_mA_per_V")
        low = crowded and second_column(row)
        sigma = 1.5 if is_cutoff(row) else 0.1 if is_reading(row) or low else 0.07 if beside else 0.03
        ia = max(triode_current(p, va, vg), 1e-12)
        error = math.log(ia / (number(row, "ia_mA") * 1e-3))
        res.append(error / sigma)
        if not is_cutoff(row) and not is_reading(row) and not low:
            res.append(past_aim(error))
        gm, rp = slopes(lambda a, g: triode_current(p, a, g), va, vg)
        if number(row, "gm_mA_per_V"):
            error = math.log(max(gm, 1e-12) / (number(row, "gm_mA_per_V") * 1e-3))
            res += [error / 0.1] if low else [error / 0.04, past_aim(error)]
        if number(row, "mu"):
            res.append(math.log(max(gm * rp, 1e-6) / number(row, "mu")) / (0.1 if low else 0.04))
        elif number(row, "rp_kohm"):
            res.append(math.log(rp / (number(row, "rp_kohm") * 1e3)) / 0.08)
    for row, used in zip(charts, use):
        if used:
            gain, _ = stage(p, row)
            error = math.log(gain / number(row, "gain"))
            res += [error / 0.03, past_aim(error)]
    mu, x, _, kp, kvb = p
    res.append((x - 1.4) / 0.08)
    res.append(math.log(kp / mu / 6) / 0.8)
    res.append(math.log(kvb / 300) / 1.5)
    res.append(math.log(mu / published_mu) / 0.2)
    return res


def fit_triode(points, charts, use):
    published_mu = next(number(r, "mu") for r in points if number(r, "mu"))
    best = None
    for kp_over_mu in (3.0, 6.0, 10.0):
        for kvb in (30.0, 300.0, 3000.0):
            start = np.log([published_mu, 1.4, 1000.0, kp_over_mu * published_mu, kvb])
            anchor = next(r for r in points if fits(r) and not is_cutoff(r))
            ia = triode_current(np.exp(start), number(anchor, "va_V"), number(anchor, "vg1_V"))
            start[2] += math.log(max(ia, 1e-9) / (number(anchor, "ia_mA") * 1e-3))
            low = np.log([published_mu * 0.8, 1.2, 1.0, published_mu * 0.5, 1.0])
            high = np.log([published_mu * 1.4, 1.6, 1e5, published_mu * 60, 20000.0])
            out = least_squares(
                triode_residuals, np.clip(start, low + 1e-9, high - 1e-9), bounds=(low, high),
                args=(points, charts, use, published_mu), xtol=1e-12, ftol=1e-12)
            if best is None or out.cost < best.cost - 1e-9:
                best = out
    return np.exp(best.x)


def triode_table(tube, section, p, points, charts, use):
    rows = []
    for row in points:
        va, vg = number(row, "va_V"), number(row, "vg1_V")
        ia_published = number(row, "ia_mA") * 1e-3
        role = "fit" if fits(row) else "score"
        kind = "cut-off" if is_cutoff(row) else "curve" if is_reading(row) else \
            "low-voltage" if second_column(row) else "static"
        if vg is None:  # the grid voltage is not stated: take the one that gives the stated current
            vg = brentq(lambda g: triode_current(p, va, g) - ia_published, -va, 0)
            row = dict(row, vg1_V=f"{vg:.4g}")
            vg = number(row, "vg1_V")
        else:
            rows.append(residual(tube, section, kind, role, row, "ia_A", ia_published, triode_current(p, va, vg)))
        gm, rp = slopes(lambda a, g: triode_current(p, a, g), va, vg)
        if number(row, "gm_mA_per_V"):
            rows.append(residual(tube, section, kind, role, row, "gm_S", number(row, "gm_mA_per_V") * 1e-3, gm))
        if number(row, "mu"):
            rows.append(residual(tube, section, kind, role, row, "mu", number(row, "mu"), gm * rp))
    for row, used in zip(charts, use):
        gain, ia = stage(p, row)
        role = "fit" if used else "score"
        rows.append(residual(tube, section, "chart", role, row, "gain", number(row, "gain"), gain))
        if number(row, "ib_mA"):
            rows.append(residual(tube, section, "chart", "score", row, "ia_A", number(row, "ib_mA") * 1e-3, ia))
    return rows


def triodes():
    points, charts = table("points.csv") + table("points-recalled.csv"), table("charts.csv")
    order = []
    for row in points:
        key = (row["tube"], row["section"])
        if row["section"].startswith("triode") and row["section"] != "triode-connected" and key not in order:
            order.append(key)
    models, residuals = [], []
    for tube, section in order:
        own = rows_of(points, tube, section)
        rows = [r for r in charts if r["tube"] == CHART_OF.get(tube, tube)] if section == "triode" else []
        use = split_charts(rows)
        p = rounded(fit_triode(own, rows, use))
        models.append({"tube": tube, "section": section, "mu": p[0], "x": p[1], "kg1": p[2], "kp": p[3], "kvb": p[4]})
        residuals += triode_table(tube, section, p, own, rows, use)
    return models, residuals


# ---- rectifiers -------------------------------------------------------------------------------------------------

def capacitor_input(k, rms, rs, c, amperes, hertz, steps=2000):
    """Mean output voltage of a full-wave rectifier into a reservoir drawn at a constant current, at its periodic state."""
    current = np.concatenate([[0.0], np.geomspace(1e-7, 20, 4000)])
    drop = current * rs + (current / k) ** (2 / 3)
    dt = 0.5 / hertz / steps
    wave = rms * math.sqrt(2) * np.abs(np.sin(2 * np.pi * hertz * dt * (np.arange(steps) + 0.5)))

    def half_cycle(v):
        total = 0.0
        for e in wave:
            u = e - v
            i = np.interp(u, drop, current) if u > 0 else 0.0
            v += (i - amperes) * dt / c
            total += v
        return v, total / steps

    top = rms * math.sqrt(2)
    start = brentq(lambda v: half_cycle(v)[0] - v, 1.0, top, xtol=1e-4)
    return half_cycle(start)[1]


def choke_input(k, rms, rs, amperes):
    """Ideal choke without resistance: mean of the rectified wave less the drop at the steady current."""
    return 2 * math.sqrt(2) / math.pi * rms - (amperes / k) ** (2 / 3) - amperes * rs


def operate(k, row):
    rms, amperes = number(row, "ac_rms_per_plate_V"), number(row, "dc_output_mA") * 1e-3
    rs = number(row, "supply_resistance_per_plate_ohm") or 0.0
    if row["filter_input"] == "choke":
        return choke_input(k, rms, rs, amperes)
    hertz = 50 if "Philips" in row["source"] or "Mullard" in row["source"] else 60
    return capacitor_input(k, rms, rs, number(row, "input_capacitor_uF") * 1e-6, amperes, hertz)


def rectifiers():
    """k from the published drop (the largest, where sources differ); where none is published, from the operation rows."""
    tubes, operation = table("rectifiers.csv"), table("rectifier-operation.csv")
    names = list(dict.fromkeys(r["tube"] for r in tubes))
    models, residuals = [], []
    for tube in names:
        drops = [r for r in tubes if r["tube"] == tube and number(r, "tube_drop_V")]
        rows = [r for r in operation if r["tube"] == tube]
        if drops:
            worst = max(drops, key=lambda r: number(r, "tube_drop_V"))
            k = number(worst, "tube_drop_at_mA_per_plate") * 1e-3 / number(worst, "tube_drop_V") ** 1.5
            basis = "drop"
        elif rows:
            out = least_squares(lambda q: [operate(math.exp(q[0]), r) / number(r, "dc_output_V") - 1 for r in rows],
                                [math.log(2e-3)], bounds=([math.log(2e-4)], [math.log(2e-2)]))
            k, basis = math.exp(out.x[0]), "operation"
        else:
            continue
        k = float(f"{k:.4g}")
        models.append({"tube": tube, "section": "rectifier", "k": k, "basis": basis})
        for row in drops:
            model = (number(row, "tube_drop_at_mA_per_plate") * 1e-3 / k) ** (2 / 3)
            residuals.append({"tube": tube, "kind": "drop", "role": "fit" if row is worst else "score",
                              "ac_rms_V": "", "capacitor_uF": "", "choke_H": "", "resistance_ohm": "",
                              "current_mA": row["tube_drop_at_mA_per_plate"], "published_V": row["tube_drop_V"],
                              "model_V": f"{model:.1f}",
                              "error_pct": f"{100 * (model / number(row, 'tube_drop_V') - 1):.2f}",
                              "source": row["source"]})
        for row in rows:
            model = operate(k, row)
            residuals.append({"tube": tube, "kind": row["filter_input"],
                              "role": "fit" if basis == "operation" else "score",
                              "ac_rms_V": row["ac_rms_per_plate_V"], "capacitor_uF": row["input_capacitor_uF"],
                              "choke_H": row["input_choke_H"], "resistance_ohm": row["supply_resistance_per_plate_ohm"],
                              "current_mA": row["dc_output_mA"], "published_V": row["dc_output_V"],
                              "model_V": f"{model:.1f}",
                              "error_pct": f"{100 * (model / number(row, 'dc_output_V') - 1):.2f}",
                              "source": row["source"]})
    return models, residuals


def write(name, fields, rows):
    with open(HERE / name, "w", newline="") as file:
        writer = csv.DictWriter(file, fields, lineterminator="\n", restval="")
        writer.writeheader()
        writer.writerows(rows)


def summary(residuals):
    print(f"{'tube':10}{'ia worst':>10}{'gm worst':>10}{'mu worst':>10}{'gain fit':>10}{'gain score':>12}{'within 10 % (all rows from 180 V)':>36}")
    for key in dict.fromkeys((r["tube"], r["section"]) for r in residuals):
        own = [r for r in residuals if (r["tube"], r["section"]) == key]

        def worst(rows):
            return f"{max((abs(float(r['error_pct'])) for r in rows), default=float('nan')):.1f}"

        static = [r for r in own if r["kind"] == "static" and r["role"] == "fit"]
        if not static:
            continue
        gains = [r for r in own if r["quantity"] == "gain" and float(r["ebb_V"]) >= 180]
        score = [r for r in gains if r["role"] == "score"]
        inside = sum(abs(float(r["error_pct"])) <= 10 for r in gains)
        print(f"{key[0]:10}" + "".join(f"{worst([r for r in static if r['quantity'] == q]):>10}" for q in ("ia_A", "gm_S", "mu"))
              + f"{worst([r for r in gains if r['role'] == 'fit']):>10}" + f"{worst(score):>12}  {inside} of {len(gains)}")


def main():
    models, residuals = triodes()
    pentode_models, pentode_residual_rows = pentodes()
    models, residuals = models + pentode_models, residuals + pentode_residual_rows
    rectifier_models, rectifier_residuals = rectifiers()
    write("models.csv", ["tube", "section", "mu", "x", "kg1", "kp", "kvb", "mup", "split", "tilt", "knee", "k", "basis"], models + rectifier_models)
    write("residuals.csv", RESIDUAL_FIELDS, residuals)
    write("rectifier-residuals.csv", list(rectifier_residuals[0]), rectifier_residuals)
    summary(residuals)
    for r in rectifier_residuals:
        print(f"{r['tube']:8}{r['kind']:10}{r['role']:6}{r['ac_rms_V']:>6}{r['current_mA']:>7}{r['published_V']:>7}{r['model_V']:>8}{r['error_pct']:>8} %")


if __name__ == "__main__":
    main()
