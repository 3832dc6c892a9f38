"""What both fits share: the tables, slopes by difference, and the form of a residual row."""
import csv
import pathlib

import numpy as np

HERE = pathlib.Path(__file__).parent
RESIDUAL_FIELDS = ["tube", "section", "kind", "role", "va_V", "vg1_V", "vg2_V", "ebb_V", "rp_ohm", "rg_next_ohm",
                   "rk_ohm", "rg2_ohm", "quantity", "published", "model", "error_pct", "confidence", "source"]


def table(name):
    with open(HERE / name, newline="") as file:
        return list(csv.DictReader(file))


def number(row, key):
    return float(row[key]) if row.get(key) else None


def softplus(y):
    return np.logaddexp(0.0, y)


def slopes(current, va, vg):
    """gm in A/V and rp in ohm by central difference."""
    d = 1e-3
    gm = (current(va, vg + d) - current(va, vg - d)) / (2 * d)
    gp = (current(va + d, vg) - current(va - d, vg)) / (2 * d)
    return gm, 1 / max(gp, 1e-15)


def split_charts(rows):
    """Every third row of each source from 180 V up is fitted; the rest, and rows of low confidence, only score."""
    fitted, seen = [], {}
    for row in rows:
        use = False
        if number(row, "ebb_V") >= 180 and row["confidence"] != "low":
            index = seen.get(row["source"], 0)
            seen[row["source"]] = index + 1
            use = index % 3 == 0
        fitted.append(use)
    return fitted


def past_aim(error):
    """Extra weight on what is more than 7 % out: every published current and slope is wanted within 10 %."""
    return max(0.0, abs(error) - 0.07) / 0.01


def rounded(p):
    """The catalogue carries five significant digits; residuals are those of the rounded keys."""
    return [float(f"{v:.5g}") for v in p]


def residual(tube, section, kind, role, row, quantity, published, model):
    out = {key: "" for key in RESIDUAL_FIELDS}
    out.update(tube=tube, section=section, kind=kind, role=role, quantity=quantity,
               published=f"{published:.6g}", model=f"{model:.5g}",
               error_pct=f"{100 * (model / published - 1):.2f}",
               confidence=row["confidence"], source=row["source"])
    for key in ("va_V", "vg1_V", "vg2_V", "ebb_V", "rk_ohm"):
        out[key] = row.get(key)
    for column, key in (("rp_ohm", "rp_Mohm"), ("rg_next_ohm", "rg_next_Mohm"), ("rg2_ohm", "rg2_Mohm")):
        if row.get(key):
            out[column] = f"{number(row, key) * 1e6:.9g}"
    return out
