"""Independent fits of the laws of uptake and firming, with intervals, by scipy.

Makes noisy points of known laws from a stated seed and writes them with scipy's answer to fits.json
beside itself. Derivatives are scipy's finite differences (three points), intervals from profiles
are roots found by Brent's method; nothing is shared with the tool.

    python tests/reference/fits.py
"""

import json
import platform
from pathlib import Path

import numpy as np
import scipy
from scipy import optimize, stats

HERE = Path(__file__).resolve().parent
TIGHT = {"ftol": 1e-15, "xtol": 1e-15, "gtol": 1e-15, "max_nfev": 100000, "x_scale": "jac"}


def peleg(t, k1, k2, m0=12.0):
    return m0 + t / (k1 + k2 * t)


def sphere(t, me, d, m0=12.0):
    n = np.arange(1, 400)[:, None]
    left = 6 / np.pi**2 * np.sum(np.exp(-(n**2) * np.pi**2 * d * t) / n**2, axis=0)
    # The truncated series falls short of one at time nought only.
    return np.where(t > 0, me - (me - m0) * left, m0)


def avrami(t, f0, finf, k, n=1.0):
    return finf - (finf - f0) * np.exp(-k * t**n)


def fit(model, t, y, start):
    # scipy's difference step is absolute below one: fit multiples of the start, scale back at the end.
    scale = np.array(start)
    law, model = model, lambda t, *q: law(t, *(np.array(q) * scale))
    start = np.ones(len(scale))
    residuals = lambda p: model(t, *p) - y
    found = optimize.least_squares(residuals, start, jac="3-point", method="trf", **TIGHT)
    p, covariance = optimize.curve_fit(
        model, t, y, p0=found.x, jac="3-point", method="trf", **TIGHT
    )
    degrees = len(t) - len(p)
    total = float(np.sum(residuals(p) ** 2))
    quantile = stats.t.ppf(0.975, degrees)
    limit = total * (1 + quantile**2 / degrees)
    errors = np.sqrt(np.diag(covariance))

    def excess(index, value):
        others = [j for j in range(len(p)) if j != index]

        def held(q):
            full = np.empty(len(p))
            full[index] = value
            full[others] = q
            return model(t, *full) - y

        best = optimize.least_squares(held, p[others], jac="3-point", method="trf", **TIGHT)
        return float(np.sum(best.fun**2)) - limit

    def end(index, side):
        reach = quantile * errors[index]
        for _ in range(12):
            outer = p[index] + side * reach
            if outer <= 0 and p[index] > 0:
                outer = p[index] * 1e-3
            if excess(index, outer) > 0:
                return optimize.brentq(
                    lambda v: excess(index, v), p[index], outer, xtol=1e-10, rtol=1e-12
                )
            reach *= 1.5
        return None

    return {
        "parameters": list(p * scale),
        "standard_errors": list(errors * scale),
        "residual_deviation": float(np.sqrt(total / degrees)),
        "covariance": (covariance * np.outer(scale, scale)).tolist(),
        "profiles": [[end(j, s) * scale[j] for s in (-1, 1)] for j in range(len(p))],
    }


def main():
    rng = np.random.default_rng(6)
    t = np.array([0.0, 5, 10, 20, 30, 45, 60, 90, 120, 180, 240, 360, 480])
    peleg_y = peleg(t, 0.9, 0.021) + rng.normal(0, 0.35, len(t))
    sphere_y = sphere(t, 58.0, 7.5e-4) + rng.normal(0, 0.4, len(t))
    days = np.repeat([0.15, 1.0, 2.0, 3.0, 5.0, 7.0], 4)
    avrami_y = avrami(days, 2.1, 9.6, 0.33, 0.9) + rng.normal(0, 0.25, len(days))
    cases = {
        "peleg": (peleg, t, peleg_y, [1.0, 0.02]),
        "peleg_free": (lambda t, k1, k2, m0: peleg(t, k1, k2, m0), t, peleg_y, [1.0, 0.02, 12.0]),
        "sphere": (sphere, t, sphere_y, [60.0, 5e-4]),
        "avrami_one": (lambda t, a, b, k: avrami(t, a, b, k), days, avrami_y, [2.0, 10.0, 0.3]),
        "avrami": (avrami, days, avrami_y, [2.0, 10.0, 0.3, 1.0]),
    }
    answer = {
        "made_with": {
            "python": platform.python_version(),
            "numpy": np.__version__,
            "scipy": scipy.__version__,
        }
    }
    for name, (model, x, y, start) in cases.items():
        x, y = np.round(x, 6), np.round(y, 6)
        answer[name] = {"x": x.tolist(), "y": y.tolist(), **fit(model, x, y, start)}
    (HERE / "fits.json").write_text(json.dumps(answer, indent=1, default=float) + "\n")


main()
