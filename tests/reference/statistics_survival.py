"""Censored times, as a check of numerics::survival.

Invented development times in minutes: six blocks, two treatments, two doughs each; records end at
12 min (above), some doughs were past it at the first reading (below 2), some were read at two
times only (between). Regression, Kaplan-Meier and log-rank by lifelines, the stratified log-rank by
statsmodels, the profile interval by scipy.

    python tests/reference/statistics_survival.py
"""

import itertools
import json
import platform
import warnings
from pathlib import Path

import lifelines
import numpy as np
import pandas as pd
import scipy
import statsmodels
from lifelines import KaplanMeierFitter, LogLogisticAFTFitter, LogNormalAFTFitter
from lifelines.statistics import logrank_test
from scipy import optimize, stats
from statsmodels.duration.survfunc import survdiff

warnings.simplefilter("ignore")

rng = np.random.default_rng(11)
rows = []
for block, treatment, dough in itertools.product(range(6), range(2), range(2)):
    t = round(float(np.exp(1.5 + 0.45 * treatment + 0.25 * np.cos(block) + 0.35 * rng.standard_normal())), 2)
    low, high = t, t
    if t > 8.0:
        low, high = 8.0, np.inf
    elif t < 3.0:
        low, high = 0.0, 3.0
    elif (block + dough) % 4 == 1:
        low, high = float(np.floor(t)), float(np.floor(t) + 1)
    rows.append([block, treatment, low, high])
block, treatment, low, high = np.array(rows).T
# lifelines' slopes are not defined at 0: a bound far below every time stands for it.
frame = pd.DataFrame({"low": np.maximum(low, 1e-3), "high": high, "treatment": treatment})
for b in range(1, 6):
    frame[f"b{b}"] = (block == b).astype(float)


def aft(fitter):
    fitter.fit_interval_censoring(frame, "low", "high")
    s = fitter.summary
    name = s.index.get_level_values(0)[0]
    coefficients = [name_ for name_ in ["treatment", "b1", "b2", "b3", "b4", "b5", "Intercept"]]
    return {
        "coefficients": [s.loc[(name, c), "coef"] for c in coefficients],
        "standard_errors": [s.loc[(name, c), "se(coef)"] for c in coefficients],
        "log_likelihood": fitter.log_likelihood_,
        "shape": float(np.exp(s["coef"].iloc[-1])),
    }


X = np.column_stack([np.ones(24), treatment] + [block == b for b in range(1, 6)]).astype(float)


def log_normal(p):
    sigma = np.exp(p[-1])
    mu = X @ p[:-1]
    total = 0.0
    for l, h, m in zip(low, high, mu):
        if l == h:
            total += stats.norm.logpdf((np.log(l) - m) / sigma) - np.log(sigma) - np.log(l)
        elif np.isinf(h):
            total += stats.norm.logsf((np.log(l) - m) / sigma)
        elif l == 0:
            total += stats.norm.logcdf((np.log(h) - m) / sigma)
        else:
            total += np.log(stats.norm.cdf((np.log(h) - m) / sigma) - stats.norm.cdf((np.log(l) - m) / sigma))
    return total


def profile(threshold):
    """Ends of the treatment's profile interval for a fall of twice the log-likelihood."""
    start = np.append(np.linalg.lstsq(X, np.log(np.where(np.isinf(high), low, np.maximum(low, 2.0))), rcond=None)[0], np.log(0.4))
    best = optimize.minimize(lambda p: -log_normal(p), start, method="BFGS", options={"gtol": 1e-9})

    def fall(value):
        f = lambda q: -log_normal(np.insert(q, 1, value))
        out = optimize.minimize(f, np.delete(best.x, 1), method="BFGS", options={"gtol": 1e-9})
        return 2 * (out.fun - best.fun) - threshold

    at = best.x[1]
    return [optimize.brentq(fall, at - 2, at), optimize.brentq(fall, at, at + 2)]


# Right-censored times for the product-limit and the log-rank: exact or above 12 only.
rng = np.random.default_rng(5)
right = []
for block_, treatment_, dough_ in itertools.product(range(6), range(2), range(3)):
    t = round(float(np.exp(1.9 + 0.4 * treatment_ + 0.2 * np.sin(block_) + 0.4 * rng.standard_normal())), 1)
    right.append([block_, treatment_, min(t, 9.0), int(t < 9.0)])
rb, rt, time, reached = np.array(right).T
km = KaplanMeierFitter(alpha=0.05).fit(time[rt == 0], reached[rt == 0])
ci = km.confidence_interval_survival_function_
lr = logrank_test(time[rt == 0], time[rt == 1], reached[rt == 0], reached[rt == 1])
chi2, p = survdiff(time, reached.astype(int), rt, strata=rb)


def rounded(value):
    if isinstance(value, dict):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [rounded(v) for v in value]
    if isinstance(value, str) or value is None:
        return value
    return None if np.isinf(value) or np.isnan(value) else float(f"{value:.10g}")


found = {
    "made_with": {
        "python": platform.python_version(),
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "lifelines": lifelines.__version__,
        "statsmodels": statsmodels.__version__,
    },
    "interval": {"block": block.tolist(), "treatment": treatment.tolist(), "low": low.tolist(), "high": high.tolist()},
    "log_normal": aft(LogNormalAFTFitter()),
    "log_logistic": aft(LogLogisticAFTFitter()),
    "profile_chi_squared": profile(stats.chi2.ppf(0.95, 1)),
    "right": {"block": rb.tolist(), "treatment": rt.tolist(), "time": time.tolist(), "reached": reached.tolist()},
    "survival": {
        "time": km.survival_function_.index.tolist()[1:],
        "value": km.survival_function_.iloc[1:, 0].tolist(),
        "low": ci.iloc[1:, 0].tolist(),
        "high": ci.iloc[1:, 1].tolist(),
        "median": float(km.median_survival_time_),
    },
    "log_rank": [float(lr.test_statistic), float(lr.p_value)],
    "log_rank_stratified": [float(chi2), float(p)],
}
text = json.dumps(rounded(found), indent=1)
Path(__file__).with_suffix(".json").write_text(text + "\n", encoding="utf-8")
print(text)
