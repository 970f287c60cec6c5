"""Comparison of two methods of measuring one quantity, as a check of numerics::agreement.

Limits of agreement with exact intervals from the noncentral t of scipy; the line with errors in
both by scipy's orthogonal distance regression; the Passing-Bablok line written again with numpy on
values with ties; robust mean by a general root finder. The 17 pairs are those of Bland and Altman
1986 (HANDBOOK, check V-BA1); the tied pairs are invented.

    python tests/reference/statistics_methods.py
"""

import json
import platform
import warnings
from pathlib import Path

import numpy as np
import scipy
import statsmodels
import statsmodels.api as sm
from scipy import stats

warnings.simplefilter("ignore", DeprecationWarning)
from scipy import odr

first = np.array([494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427.0])
second = np.array([512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451.0])


def limits():
    d = first - second
    n, s = len(d), d.std(ddof=1)
    z = stats.norm.ppf(0.975)
    near, far = stats.nct.ppf([0.025, 0.975], n - 1, z * n**0.5) * s / n**0.5
    bias = stats.t.interval(0.95, n - 1, d.mean(), s / n**0.5)
    fit = sm.OLS(d, sm.add_constant((first + second) / 2)).fit()
    spread = sm.OLS(np.abs(fit.resid), sm.add_constant((first + second) / 2)).fit()
    return {
        "bias": d.mean(),
        "bias_interval": list(bias),
        "lower_interval": [d.mean() - far, d.mean() - near],
        "upper_interval": [d.mean() + near, d.mean() + far],
        "trend": [fit.params[1], *fit.conf_int()[1], fit.pvalues[1]],
        "spread": [spread.params[1], *spread.conf_int()[1], spread.pvalues[1]],
    }


def both(x, y, ratio):
    """Line with error variance of y = ratio times that of x."""
    data = odr.RealData(x, y, sx=np.ones(len(x)), sy=np.full(len(x), ratio**0.5))
    model = odr.Model(lambda b, t: b[0] * t + b[1])
    fit = odr.ODR(data, model, beta0=np.polyfit(x, y, 1), maxit=5000, sstol=1e-15, partol=1e-15)
    return fit.run().beta


def line_with_errors_in_both(ratio):
    n = len(first)
    beta = both(first, second, ratio)
    left = np.array([both(np.delete(first, i), np.delete(second, i), ratio) for i in range(n)])
    error = np.sqrt((n - 1) / n * ((left - left.mean(0)) ** 2).sum(0))
    t = stats.t.ppf(0.975, n - 2)
    return {
        "slope": [beta[0], error[0], beta[0] - t * error[0], beta[0] + t * error[0]],
        "intercept": [beta[1], error[1], beta[1] - t * error[1], beta[1] + t * error[1]],
    }


TIED_X = [50, 52, 52, 54, 55, 57, 57, 58, 60, 61, 61, 63.0]
TIED_Y = [51, 51, 52, 56, 55, 56, 59, 58, 61, 60, 63, 63.0]


def all_pairs(x, y):
    n = len(x)
    i, j = np.triu_indices(n, 1)
    dx, dy = np.subtract(x, 0)[j] - np.subtract(x, 0)[i], np.subtract(y, 0)[j] - np.subtract(y, 0)[i]
    keep = (dx != 0) | (dy != 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        s = np.where(dx[keep] == 0, np.sign(dy[keep]) * np.inf, dy[keep] / dx[keep])
    s = np.sort(s[s != -1])
    k = int((s < -1).sum())
    c = stats.norm.ppf(0.975) * np.sqrt(n * (n - 1) * (2 * n + 5) / 18)
    m1 = int(np.floor((len(s) - c) / 2 + 0.5))
    m2 = len(s) - m1 + 1
    mid = (s[(len(s) - 1) // 2 + k] + s[len(s) // 2 + k]) / 2
    cut = lambda b: float(np.median(np.asarray(y) - b * np.asarray(x)))
    low, high = s[m1 + k - 1], s[m2 + k - 1]
    return {
        "slope": [mid, low, high],
        "intercept": [cut(mid), cut(high), cut(low)],
        "counts": [len(s), k, m1, m2],
    }


def robust(values):
    """Robust mean and scatter as the root of two equations, factor 1.134 as printed."""
    v = np.asarray(values)

    def equations(p):
        drawn = np.clip(v, p[0] - 1.5 * p[1], p[0] + 1.5 * p[1])
        return [drawn.mean() - p[0], 1.134 * drawn.std(ddof=1) - p[1]]

    start = [np.median(v), 1.4826 * np.median(np.abs(v - np.median(v)))]
    return list(scipy.optimize.fsolve(equations, start, xtol=1e-13))


def rounded(value):
    if isinstance(value, dict):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, list):
        return [rounded(v) for v in value]
    return value if isinstance(value, (str, int)) else float(f"{value:.10g}")


found = {
    "made_with": {
        "python": platform.python_version(),
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "statsmodels": statsmodels.__version__,
    },
    "limits": limits(),
    "errors_in_both_ratio_1": line_with_errors_in_both(1.0),
    "errors_in_both_ratio_4": line_with_errors_in_both(4.0),
    "tied": {"x": TIED_X, "y": TIED_Y, **all_pairs(TIED_X, TIED_Y)},
    "robust_differences": robust(first - second),
}
text = json.dumps(rounded(found), indent=1)
Path(__file__).with_suffix(".json").write_text(text + "\n", encoding="utf-8")
print(text)
