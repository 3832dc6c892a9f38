"""Pentodes and beam tetrodes: the space current that plate and screen share, fitted to published figures.

The law (`form=divided`), currents in A, voltages in V, all against the cathode:

- One space current. The screen and, a little, the plate draw it through the control grid: V = Vg2 + Vp*mu/mup, the
  equivalent voltage of a multi-grid tube (K. R. Spangenberg, Vacuum Tubes, McGraw-Hill 1948), with Koren's smooth way
  to cut-off (Glass Audio 8(5), 1996): E = (V/kp)*ln(1 + exp(kp*(1/mu + Vg/sqrt(1 + V^2)))), I = 2*E^x/kg1.
- Its division above the knee: screen over plate current = split*(Vg2/Vp)^tilt, a power of the ratio of the voltages
  (F. Tank, Jahrbuch der drahtlosen Telegraphie 20, 1922; Spangenberg 1948). The plate's part is then I0.
- Its knee: space charge before the plate lets no more than knee*Vp^1.5 through (B. Salzberg and A. V. Haeff, RCA Review
  2, 1938). The two are joined by Ip = I0*(1 - exp(-knee*Vp^1.5/I0)); that joining is a choice of this project.
- The screen takes the rest. The law's references are cited from memory. Secondary emission is not in it.

Priors keep what no point decides within what pentodes are: the exponent about 1.5 (the three-halves law), ln(kp/mu)
about ln 8, tilt about 0.5 of beam tubes (Tank's power) and 0.1 of pentodes, knee*kg1 about 2 of beam tubes and 1.5 of
pentodes, whose suppressor makes the knee the rounder one. Those last two figures are for all tubes of a kind but those
of KNEE; they were chosen once, on the published outputs of single-ended stages.
"""
import math

import numpy as np
from scipy.optimize import least_squares

from common import number, past_aim, residual, rounded, slopes, softplus, split_charts, table

KEYS = ("mu", "x", "kg1", "kp", "mup", "split", "tilt", "knee")
# Amplification factor from control grid to screen, as makers print it beside the characteristics (from memory; it
# is a prior only, and a triode-connected point, where there is one, outweighs it).
SCREEN_MU = {"EL84": 19, "EL34": 11, "EL86": 8, "EF86": 38, "6BM8": 9.5, "6GW8": 21, "6AU6": 36, "6SJ7": 19, "6550": 8,
             "KT66": 8, "KT88": 8, "5881": 8, "807": 8, "6L6GC": 8, "6V6GT": 9.8, "6AQ5": 9.5, "6F6": 6.8, "6AK5": 25,
             "50C5": 9, "6K6GT": 6.8}
# knee*kg1 of tubes whose published output shows a rounder knee than that of their kind: chosen on the rows of
# ../../signal/power-stage.csv that are marked fit, with ../../signal/reference/loadlines.py (README.md tells what they give).
KNEE = {"EL34": 0.5, "KT66": 1.0, "6GW8": 0.6}


def currents(p, va, vg2, vg1):
    """Plate and screen current."""
    mu, x, kg1, kp, mup, split, tilt, knee = p
    v = vg2 + va * mu / mup
    e = v / kp * softplus(kp * (1 / mu + vg1 / math.sqrt(1 + v * v)))
    space = 2 * e**x / kg1
    if va <= 0:
        return 0.0, space
    reach = space / (1 + split * (max(vg2, 1e-9) / va) ** tilt)
    ia = -reach * math.expm1(-min(knee * va**1.5 / max(reach, 1e-300), 700.0))
    return ia, space - ia


def quantities(p, row):
    """Plate current, screen current, gm and rp at a row; a triode-connected row counts both currents."""
    va, vg1 = number(row, "va_V"), number(row, "vg1_V")
    if row["section"] == "triode-connected":
        def both(a, g):
            return sum(currents(p, a, a, g))
        return (both(va, vg1), None, *slopes(both, va, vg1))
    vg2 = number(row, "vg2_V")
    return (*currents(p, va, vg2, vg1), *slopes(lambda a, g: currents(p, a, vg2, g)[0], va, vg1))


def stage(p, row):
    """Gain and cathode current of a resistance-coupled stage with cathode and screen bypassed."""
    ebb, rp, rk = number(row, "ebb_V"), number(row, "rp_Mohm") * 1e6, number(row, "rk_ohm")
    rg2, rg = number(row, "rg2_Mohm") * 1e6, number(row, "rg_next_Mohm")

    def excess(state):
        va, vg2, vk = state
        ia, ig2 = currents(p, va, vg2, -vk)
        return [1e3 * ((ebb - vk - va) / rp - ia), 1e3 * ((ebb - vk - vg2) / rg2 - ig2), 1e3 * (vk / rk - ia - ig2)]
    va, vg2, vk = least_squares(excess, [ebb / 3, ebb / 4, 1.0], bounds=([0.01, 0.01, 0.0], [ebb, ebb, 40.0]),
                                x_scale=[10, 10, 0.1], xtol=1e-13, ftol=1e-13, gtol=1e-13).x
    gm, plate = slopes(lambda a, g: currents(p, a, vg2, g)[0], va, -vk)
    return gm / (1 / plate + 1 / rp + (1 / (rg * 1e6) if rg else 0)), vk / rk


def residuals(q, rows, charts, tube):
    p = np.exp(q)
    res = []
    for row in rows:
        if row["role"] != "fit":
            continue
        ia, ig2, gm, rp = quantities(p, row)
        error = math.log(max(ia, 1e-12) / (number(row, "ia_mA") * 1e-3))
        res += [error / (0.06 if row["section"] == "triode-connected" else 0.03), past_aim(error)]
        if number(row, "ig2_mA"):
            res.append(math.log(max(ig2, 1e-12) / (number(row, "ig2_mA") * 1e-3)) / 0.05)
        if number(row, "gm_mA_per_V"):
            error = math.log(max(gm, 1e-12) / (number(row, "gm_mA_per_V") * 1e-3))
            res += [error / 0.04, past_aim(error)]
        if number(row, "mu"):
            res.append(math.log(gm * rp / number(row, "mu")) / 0.06)
        elif number(row, "rp_kohm"):
            res.append(math.log(rp / (number(row, "rp_kohm") * 1e3)) / 0.2)
    for row, used in charts:
        if used:
            error = math.log(stage(p, row)[0] / number(row, "gain"))
            res += [error / 0.03, past_aim(error)]
    mu, x, kg1, kp, mup, _, tilt, knee = p
    beam = rows[0]["section"] == "beam-power"
    tilt_prior, tilt_spread, knee_prior = (0.5, 0.15, 2.0) if beam else (0.1, 0.5, 1.5)
    knee_prior = KNEE.get(tube, knee_prior)
    mup_prior = 30 if number(rows[0], "ia_mA") > 15 else 100
    res.append((x - 1.5) / 0.05)
    res.append(math.log(kp / mu / 8))
    res.append(math.log(mu / SCREEN_MU[tube]) / 0.08)
    res.append(math.log(mup / mu / mup_prior) / 1.5)
    res.append(math.log(tilt / tilt_prior) / tilt_spread)
    res.append(math.log(knee * kg1 / knee_prior) / 0.5)
    return res


def fit(rows, charts, tube):
    mu = SCREEN_MU[tube]
    start = np.log([mu, 1.5, 1000.0, 8 * mu, 60 * mu, 0.15, 0.2, 1e-3])
    anchor = next(r for r in rows if r["role"] == "fit")
    ia = quantities(np.exp(start), anchor)[0]
    start[2] += math.log(ia / (number(anchor, "ia_mA") * 1e-3))
    start[7] = math.log(1.5) - start[2]
    out = least_squares(residuals, start, args=(rows, charts, tube), diff_step=1e-5, xtol=1e-10, ftol=1e-10)
    return np.exp(out.x)


def rows_of(points, stages, tube):
    """The static points, of which those of low confidence and near cut-off only score, and the zero-signal currents of
    output stages, which all score. A triode-connected point comes after the others."""
    rows = []
    for row in points:
        if row["tube"] == tube and row["section"] in ("pentode", "beam-power", "triode-connected"):
            cutoff = number(row, "ia_mA") <= 0.05
            fitted = row["confidence"] != "low" and not cutoff
            rows.append(dict(row, kind="cut-off" if cutoff else "static", role="fit" if fitted else "score"))
    rows.sort(key=lambda row: row["section"] == "triode-connected")
    section = rows[0]["section"]
    for stage_row in stages:
        if stage_row["tube"] != tube:
            continue
        share = number(stage_row, "n_tubes")
        row = dict.fromkeys(points[0])
        row.update({key: stage_row[key] for key in ("tube", "va_V", "vg1_V", "vg2_V", "source", "confidence")})
        row["ia_mA"] = f"{number(stage_row, 'ia0_mA') / share:g}"
        if number(stage_row, "ig2_0_mA"):
            row["ig2_mA"] = f"{number(stage_row, 'ig2_0_mA') / share:g}"
        row["section"] = "triode-connected" if "triode" in stage_row["configuration"] else section
        row["kind"] = "stage-single-ended" if stage_row["configuration"].startswith("SE") else "stage-push-pull"
        row["role"] = "score"
        rows.append(row)
    return section, rows


def static_residuals(p, tube, row):
    ia, ig2, gm, rp = quantities(p, row)
    pairs = [("ia_A", "ia_mA", 1e-3, ia), ("ig2_A", "ig2_mA", 1e-3, ig2), ("gm_S", "gm_mA_per_V", 1e-3, gm),
             ("mu", "mu", 1.0, gm * rp), ("rp_ohm", "rp_kohm", 1e3, rp)]
    return [residual(tube, row["section"], row["kind"], row["role"], row, quantity, number(row, key) * scale, model)
            for quantity, key, scale, model in pairs if number(row, key) and model is not None]


def pentodes():
    points, stages = table("points.csv") + table("points-recalled.csv"), table("power-stages.csv")
    all_charts = table("pentode-charts.csv")
    models, found = [], []
    for tube in dict.fromkeys(r["tube"] for r in points if r["section"] in ("pentode", "beam-power")):
        section, rows = rows_of(points, stages, tube)
        own = [r for r in all_charts if r["tube"] == tube]
        charts = list(zip(own, split_charts(own)))
        p = rounded(fit(rows, charts, tube))
        models.append({"tube": tube, "section": section, **dict(zip(KEYS, p))})
        for row in rows:
            found += static_residuals(p, tube, row)
        for row, used in charts:
            gain, cathode = stage(p, row)
            role = "fit" if used else "score"
            found.append(residual(tube, section, "chart", role, row, "gain", number(row, "gain"), gain))
            if number(row, "ik_mA"):
                found.append(residual(tube, section, "chart", "score", row, "ik_A", number(row, "ik_mA") * 1e-3, cathode))
    return models, found
