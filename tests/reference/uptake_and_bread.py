"""Independent computation of uptake, loaf and firmness numbers, with general-purpose libraries.

Reads the invented sample layouts and writes uptake_and_bread.json beside itself. Fits are scipy's
curve_fit with its own finite differences; the sphere is summed from its series alone; contact of the
probe is read from a parabola fitted to the whole rise; loaf numbers come from pandas. Nothing is
shared with the tool.

    python tests/reference/uptake_and_bread.py
"""

import csv
import json
import platform
from pathlib import Path

import numpy as np
import pandas as pd
import scipy
from scipy import optimize, stats

HERE = Path(__file__).resolve().parent
LAYOUTS = HERE.parent / "layouts"
TIGHT = {"ftol": 1e-15, "xtol": 1e-15, "gtol": 1e-15, "max_nfev": 100000}


def fit(model, t, y, start):
    scale = np.array(start)
    scaled = lambda t, *q: model(t, *(np.array(q) * scale))
    p, cov = optimize.curve_fit(
        scaled, t, y, p0=np.ones(len(scale)), jac="3-point", method="trf", **TIGHT
    )
    return p * scale, cov * np.outer(scale, scale)


def sphere_left(fo):
    n = np.arange(1, 2000)[:, None]
    return 6 / np.pi**2 * np.sum(np.exp(-(n**2) * np.pi**2 * np.atleast_1d(fo)) / n**2, axis=0)


def uptake(t, m, m0, target, radius=None):
    peleg = lambda t, k1, k2: m0 + t / (k1 + k2 * t)
    sphere = lambda t, me, d: me - (me - m0) * sphere_left(d * t)
    (k1, k2), cov = fit(peleg, t, m, [0.5, 0.02])
    gain = target - m0
    # time = k1 g/(1 - k2 g), its gradient by hand.
    slopes = np.array([gain / (1 - k2 * gain), k1 * gain**2 / (1 - k2 * gain) ** 2])
    residual = m - peleg(t, k1, k2)
    (me, d), sphere_cov = fit(sphere, t, m, [m.max() * 1.05, 1e-3])
    found = {
        "k1": k1,
        "k2": k2,
        "se": np.sqrt(np.diag(cov)).tolist(),
        "equilibrium": m0 + 1 / k2,
        "residual": float(np.sqrt(np.sum(residual**2) / (len(t) - 2))),
        "sphere_equilibrium": me,
        "sphere_rate": d,
        "sphere_se": np.sqrt(np.diag(sphere_cov)).tolist(),
        "time_to_target": k1 * gain / (1 - k2 * gain),
        "time_se": float(np.sqrt(slopes @ cov @ slopes)),
        "sphere_time": optimize.brentq(
            lambda x: sphere(np.array([x]), me, d)[0] - target, 1e-3, t.max()
        ),
    }
    if radius:
        # mm²/min to µm²/s.
        found["diffusion"] = d * radius**2 * 1e6 / 60
        limit = m0 + 0.4 * (me - m0)
        early = np.cumprod(m <= limit).astype(bool)
        line = stats.linregress(np.sqrt(t[early]), m[early])
        found["slope"] = line.slope
        found["instant"] = line.intercept - m0
    return found


def by_weighing():
    lines = (LAYOUTS / "uptake-semicolon.csv").read_text(encoding="utf-8").splitlines()
    facts = dict(l.split(": ", 1) for l in lines if ": " in l)
    number = lambda key: float(facts[key].replace(",", "."))
    rows = [l.replace(",", ".").split(";") for l in lines[lines.index("minutes;sample g") + 1 :]]
    t, mass = np.array([[float(a), float(b)] for a, b in rows if b != "-"]).T
    solids = number("Dry solids g")
    m = 100 * (mass / solids - 1)
    initial, target = number("Initial moisture % db"), number("Target moisture % db")
    return uptake(t, m, initial, target, number("Equivalent radius mm"))


def side_by_side():
    text = (LAYOUTS / "uptake-side-by-side.csv").read_text(encoding="utf-8").splitlines()
    start = next(i for i, l in enumerate(text) if l.startswith("minutes,"))
    rows = list(csv.DictReader(text[start:]))
    found = {}
    for name in rows[0]:
        if name == "minutes":
            continue
        kept = [r for r in rows if r[name]]
        t, m = (np.array([float(r[c]) for r in kept]) for c in ("minutes", name))
        found[name.split()[0]] = uptake(t, m, 12.4, 110.0)
    return found


def loaves():
    sheet = pd.read_csv(LAYOUTS / "loaf-sheet.csv")
    grams = sheet.assign(value=sheet.value.where(sheet.unit != "kg", sheet.value * 1000))
    one = lambda q: float(grams[grams.quantity == q].value.iloc[0])
    wide = grams[grams.loaf.notna()].pivot_table(index="loaf", columns="quantity", values="value")
    volume = one("box_full_volume") - wide.seeds_around_loaf
    specific = volume / wide.loaf_mass
    return {
        "volumes": volume.to_dict(),
        "specific": specific.to_dict(),
        "mean": specific.mean(),
        "standard_error": specific.sem(),
        "interval": list(stats.t.interval(0.95, 1, specific.mean(), specific.sem())),
        "bake_loss": float(100 * (1 - wide.loaf_mass / wide.dough_piece_mass)["a"]),
        "gas": 100 * (1 - one("dough_density") / one("gas_free_density")),
    }


def compression():
    text = (LAYOUTS / "firmness-curve.csv").read_text(encoding="utf-8").splitlines()
    x, f = np.array(
        [[float(c) for c in l.split(",")] for l in text[text.index("travel_mm,force_n") + 1 :]]
    ).T
    risen = f > 0.08
    b, a, c = np.polyfit(x[risen], f[risen], 2)
    contact = max(np.roots([b, a, c - 0.05]).real)
    force = np.polyval([b, a, c], contact + 0.25 * 25)
    return {
        "contact": contact,
        "force_25": force,
        "modulus": 1000 * force / (np.pi * 18**2) / 0.25,
    }


def firming():
    rng = np.random.default_rng(10)
    ages = np.repeat([0.25, 1.0, 2.0, 3.5, 5.0, 7.0, 10.0], 2)
    clean = 11.0 - 8.6 * np.exp(-0.42 * ages**0.95)
    force = np.round(clean * (1 + rng.normal(0, 0.03, len(ages))), 4)
    order = np.argsort(ages, kind="stable")
    t, y = ages[order], force[order]
    free = lambda t, f0, fi, k, n: fi - (fi - f0) * np.exp(-k * t**n)
    one = lambda t, f0, fi, k: free(t, f0, fi, k, 1.0)
    held, held_cov = fit(one, t, y, [2.5, 11.0, 0.4])
    p, cov = fit(free, t, y, [2.5, 11.0, 0.4, 1.0])
    line = stats.linregress(t, y)
    half = (np.log(2) / p[2]) ** (1 / p[3])
    # d ln(half)/dk and /dn by hand.
    slopes = np.array([0, 0, -1 / (p[3] * p[2]), -np.log(np.log(2) / p[2]) / p[3] ** 2])
    log_error = float(np.sqrt(slopes @ cov @ slopes))
    reach = stats.t.ppf(0.975, len(t) - 4) * log_error
    return {
        "ages": t.tolist(),
        "force": y.tolist(),
        "held": held.tolist(),
        "held_se": np.sqrt(np.diag(held_cov)).tolist(),
        "free": p.tolist(),
        "free_se": np.sqrt(np.diag(cov)).tolist(),
        "half_time": half,
        "half_interval": [half * np.exp(-reach), half * np.exp(reach)],
        "slope": line.slope,
        "slope_se": line.stderr,
    }


def main():
    answer = {
        "made_with": {
            "python": platform.python_version(),
            "numpy": np.__version__,
            "scipy": scipy.__version__,
            "pandas": pd.__version__,
        },
        "by_weighing": by_weighing(),
        "side_by_side": side_by_side(),
        "loaves": loaves(),
        "compression": compression(),
        "firming": firming(),
    }
    (HERE / "uptake_and_bread.json").write_text(json.dumps(answer, indent=1, default=float) + "\n")


main()
