"""Answers of general-purpose libraries to the questions that src/numerics answers.

Writes statistics.json beside itself. Shares no code with the tool; the data are invented here.
"""

import json
import pathlib

import numpy as np
import pandas as pd
import scipy
import statsmodels
import statsmodels.api as sm
import statsmodels.formula.api as smf
from scipy import stats

OUT = {
    "made_with": {
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "statsmodels": statsmodels.__version__,
        "pandas": pd.__version__,
    }
}


def linear():
    """Unbalanced two-way layout with a covariate, and blocks with missing cells."""
    rng = np.random.default_rng(7)
    method = np.repeat([0, 1, 2], [9, 7, 8])
    flour = np.array([0, 0, 1, 1, 2, 2, 2, 0, 1, 0, 1, 1, 2, 2, 0, 0, 0, 1, 2, 2, 1, 1, 0, 0])
    x = np.round(rng.normal(60, 2, 24), 1)
    y = np.round(400 + 20 * method - 8 * flour + 3 * (method == 2) * (flour == 1)
                 - 6 * (x - 60) + rng.normal(0, 9, 24), 1)
    frame = pd.DataFrame({"y": y, "x": x, "method": method, "flour": flour})
    fit = smf.ols("y ~ C(method, Sum) * C(flour, Sum) + x", frame).fit()
    table = sm.stats.anova_lm(fit, typ=3)
    sequential = sm.stats.anova_lm(
        smf.ols("y ~ C(method, Sum) + C(flour, Sum) + x", frame).fit(), typ=1)
    # A marginal mean weighs the flours equally and holds the covariate at its mean.
    grid = lambda m: np.mean([design_row(m, f, x.mean()) for f in range(3)], axis=0)
    means, errors = [], []
    for m in range(3):
        answer = fit.t_test(grid(m))
        means.append(float(answer.effect.item()))
        errors.append(float(answer.sd.item()))
    answer = fit.t_test(grid(2) - grid(0))
    low, high = answer.conf_int(alpha=0.1)[0]
    OUT["linear"] = {
        "y": y.tolist(), "x": x.tolist(), "method": method.tolist(), "flour": flour.tolist(),
        "type3_F": table["F"].tolist()[1:5], "type3_p": table["PR(>F)"].tolist()[1:5],
        "sequential_sums": sequential["sum_sq"].tolist(),
        "means": means, "mean_errors": errors,
        "difference": [float(answer.effect.item()), float(answer.sd.item()), float(answer.pvalue),
                       float(low), float(high)],
        "residual_sum": float(fit.ssr),
        "standardised": fit.get_influence().resid_studentized_internal.tolist(),
    }


def design_row(m, f, x):
    """Intercept, sum-coded method, flour, x, and products, in statsmodels' order."""
    code = [[1, 0], [0, 1], [-1, -1]]
    a, b = code[m], code[f]
    # patsy order: Intercept, method(2), flour(2), method:flour (method fastest), x
    return [1, *a, *b, *[i * j for j in b for i in a], x]


def blocks():
    """Randomised blocks with two cells missing and one repeated."""
    rng = np.random.default_rng(3)
    cells = [(b, t) for b in range(6) for t in range(3) if (b, t) not in [(1, 2), (4, 0)]] + [(2, 1)]
    block = np.array([c[0] for c in cells])
    treatment = np.array([c[1] for c in cells])
    y = np.round(4 + 0.3 * treatment + 0.4 * (block % 4) + rng.normal(0, 0.1, len(cells)), 2)
    frame = pd.DataFrame({"y": y, "block": block, "treatment": treatment})
    fit = smf.ols("y ~ C(block, Sum) + C(treatment, Sum)", frame).fit()
    table = sm.stats.anova_lm(fit, typ=1)
    rows = {0: [1, 0], 1: [0, 1], 2: [-1, -1]}
    row = lambda t: np.array([1, 0, 0, 0, 0, 0, *rows[t]])
    means = [fit.t_test(row(t)) for t in range(3)]
    difference = fit.t_test(row(2) - row(0))
    OUT["blocks"] = {
        "y": y.tolist(), "block": block.tolist(), "treatment": treatment.tolist(),
        "sums": table["sum_sq"].tolist(), "dfs": table["df"].tolist(),
        "F": float(table["F"].iloc[1]), "p": float(table["PR(>F)"].iloc[1]),
        "means": [float(m.effect.item()) for m in means],
        "mean_errors": [float(m.sd.item()) for m in means],
        "difference": [float(difference.effect.item()), float(difference.sd.item()),
                       float(difference.pvalue)],
    }


def assumptions():
    """Shapiro and Wilk at several sizes; Levene and Brown-Forsythe."""
    rng = np.random.default_rng(11)
    cases = []
    for n in [3, 4, 5, 6, 11, 12, 30, 200]:
        for draw in (rng.normal(10, 2, n), rng.exponential(3, n)):
            draw = np.round(draw, 3)
            w, p = stats.shapiro(draw)
            cases.append({"values": draw.tolist(), "w": float(w), "p": float(p)})
    groups = [np.round(rng.normal(5, s, n), 2) for s, n in [(1, 8), (2, 11), (0.7, 9)]]
    mean = stats.levene(*groups, center="mean")
    median = stats.levene(*groups, center="median")
    OUT["assumptions"] = {
        "shapiro": cases,
        "values": np.concatenate(groups).tolist(),
        "groups": np.repeat([0, 1, 2], [len(g) for g in groups]).tolist(),
        "levene": [float(mean.statistic), float(mean.pvalue)],
        "brown_forsythe": [float(median.statistic), float(median.pvalue)],
    }


def main():
    linear()
    blocks()
    assumptions()
    path = pathlib.Path(__file__).with_suffix(".json")
    parts = [f"{json.dumps(name)}: {json.dumps(part)}" for name, part in OUT.items()]
    path.write_text("{\n" + ",\n".join(parts) + "\n}\n")


main()
