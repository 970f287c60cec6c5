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
from scipy import integrate, optimize, stats

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


def restricted(params, y, x, zs):
    """Twice the negative restricted log-likelihood at the variances `params`, by dense algebra."""
    v = params[0] * np.eye(len(y)) + sum(p * z @ z.T for p, z in zip(params[1:], zs))
    c = np.linalg.cholesky(v)
    xs, ys = np.linalg.solve(c, x), np.linalg.solve(c, y)
    beta, *_ = np.linalg.lstsq(xs, ys, rcond=None)
    information = xs.T @ xs
    rest = ys - xs @ beta
    value = (2 * np.log(np.diag(c)).sum() + np.linalg.slogdet(information)[1] + rest @ rest
             + (len(y) - x.shape[1]) * np.log(2 * np.pi))
    return value, beta, np.linalg.inv(information)


def derivatives(f, at):
    """Gradient and Hessian by central differences with one extrapolation."""
    k = len(at)
    def pair(h):
        step = np.diag(h * at)
        g = np.array([(f(at + s) - f(at - s)) / (2 * s.sum()) for s in step])
        hessian = np.empty((k, k))
        for i in range(k):
            for j in range(k):
                si, sj = step[i], step[j]
                hessian[i, j] = (f(at + si + sj) - f(at + si - sj) - f(at - si + sj)
                                 + f(at - si - sj)) / (4 * si.sum() * sj.sum())
        return g, hessian
    (g1, h1), (g2, h2) = pair(0.02), pair(0.01)
    return (4 * g2 - g1) / 3, (4 * h2 - h1) / 3


def satterthwaite(weights, params, y, x, zs):
    """Degrees of freedom of a contrast from numerical derivatives over the variances."""
    variance = lambda p: weights @ restricted(p, y, x, zs)[2] @ weights
    g, _ = derivatives(variance, params)
    _, hessian = derivatives(lambda p: restricted(p, y, x, zs)[0], params)
    return 2 * variance(params) ** 2 / (g @ (2 * np.linalg.inv(hessian)) @ g)


def mixed():
    """Unbalanced, crossed and nested: methods over flours, days, doughs within days."""
    rng = np.random.default_rng(21)
    rows = []
    for day in range(9):
        for dough in range(int(rng.integers(2, 5))):
            method, flour = int(rng.integers(0, 3)), int(rng.integers(0, 6))
            for piece in range(int(rng.integers(1, 4))):
                rows.append((day, dough, method, flour))
    day, dough, method, flour = np.array(rows).T
    nested = day * 10 + dough
    effect = lambda codes, s: rng.normal(0, s, codes.max() + 1)[codes]
    y = np.round(100 + 4.0 * method + effect(flour, 5) + effect(day, 3) + effect(nested, 2)
                 + rng.normal(0, 1.5, len(day)), 2)
    x = np.column_stack([np.ones(len(y)), method == 1, method == 2]).astype(float)
    indicator = lambda codes: (codes[:, None] == np.unique(codes)[None, :]).astype(float)
    zs = [indicator(flour), indicator(day), indicator(nested)]
    objective = lambda logs: restricted(np.exp(logs), y, x, zs)[0]
    found = np.log([2.0, 20.0, 9.0, 4.0])
    for _ in range(4):
        found = optimize.minimize(objective, found, method="Nelder-Mead",
                                  options={"xatol": 1e-11, "fatol": 1e-13, "maxiter": 20000}).x
    found = optimize.minimize(objective, found, method="BFGS", options={"gtol": 1e-9}).x
    params = np.exp(found)
    value, beta, covariance = restricted(params, y, x, zs)
    answers = []
    for weights in ([0, 1, 0], [0, 0, 1], [0, -1, 1], [1, 1 / 3, 1 / 3]):
        w = np.array(weights, float)
        answers.append([float(w @ beta), float(np.sqrt(w @ covariance @ w)),
                        float(satterthwaite(w, params, y, x, zs))])
    # Test of both differences: contrasts turned to their own axes, Fai and Cornelius 1996.
    block = covariance[1:, 1:]
    variances, axes = np.linalg.eigh(block)
    squares, dfs = [], []
    for v, axis in zip(variances, axes.T):
        w = np.array([0, *axis])
        squares.append((w @ beta) ** 2 / v)
        dfs.append(satterthwaite(w, params, y, x, zs))
    expected = sum(d / (d - 2) for d in dfs)
    OUT["mixed"] = {
        "y": y.tolist(), "method": method.tolist(), "flour": flour.tolist(), "day": day.tolist(),
        "dough": dough.tolist(), "deviance": float(value), "error_variance": float(params[0]),
        "variances": params[1:].tolist(), "contrasts": answers,
        "F": float(np.mean(squares)), "F_df": float(2 * expected / (expected - 2)),
    }


def fieller(beta, covariance, above, below, df, confidence):
    """Limits of a ratio by root finding on the t statistic of above - ratio * below."""
    t = stats.t.ppf(0.5 + confidence / 2, df)
    def excess(ratio):
        w = above - ratio * below
        return (w @ beta) ** 2 - t * t * (w @ covariance @ w)
    value = (above @ beta) / (below @ beta)
    ends = []
    for direction in (-1, 1):
        step = 1e-3
        while excess(value + direction * step) < 0:
            step *= 2
        ends.append(optimize.brentq(excess, value, value + direction * step, xtol=1e-14, rtol=1e-14))
    return [float(value), *map(float, ends)]


def parallel():
    """Consistency against water for three methods in three blocks, one cell missing."""
    rng = np.random.default_rng(5)
    rows = [(b, m, d) for b in range(3) for m in range(3) for d in (56.0, 58.0, 60.0, 62.0)]
    rows.remove((1, 2, 58.0))
    block, method, dose = (np.array(c) for c in zip(*rows))
    shift = np.array([0.0, 0.4, 2.0])[method]
    y = np.round(500 - 21 * (dose - shift - 59) + np.array([0, 6, -5])[block]
                 + rng.normal(0, 8, len(dose)), 1)
    frame = pd.DataFrame({"y": y, "d": dose, "b": block, "m": method})
    common = smf.ols("y ~ C(b) + C(m) + d", frame).fit()
    separate = smf.ols("y ~ C(b) + C(m) + d + C(m):d", frame).fit()
    curved = smf.ols("y ~ C(b) + C(m) + d + C(m):d + I(d**2) + C(m):I(d**2)", frame).fit()
    full = smf.ols("y ~ C(b) + C(m):C(d)", frame).fit()
    table = sm.stats.anova_lm(separate, full)
    bends = sm.stats.anova_lm(separate, curved)
    slopes = sm.stats.anova_lm(common, separate)
    unit = lambda fit, *names: np.array([float(n in names) for n in fit.params.index])
    # Shift of method 2 against 0: (height of 0 - height of 2) / slope.
    covariance = np.asarray(common.cov_params())
    OUT["parallel"] = {
        "y": y.tolist(), "dose": dose.tolist(), "method": method.tolist(), "block": block.tolist(),
        "shift": fieller(np.asarray(common.params), covariance, -unit(common, "C(m)[T.2]"),
                         unit(common, "d"), common.df_resid, 0.90),
        "slope_ratio": fieller(np.asarray(separate.params), np.asarray(separate.cov_params()),
                               unit(separate, "d", "C(m)[T.2]:d"), unit(separate, "d"),
                               separate.df_resid, 0.90),
        "slope": [float(common.params["d"]), float(common.bse["d"])],
        "parallelism": [float(slopes["F"].iloc[1]), float(slopes["Pr(>F)"].iloc[1])],
        "curvature": [float(bends["F"].iloc[1]), float(bends["Pr(>F)"].iloc[1])],
        "lack_of_fit": [float(table["F"].iloc[1]), float(table["Pr(>F)"].iloc[1])],
    }
    # Slope ratio from a common start: dose counted from 50.
    z = [np.where(method == m, dose - 50, 0.0) for m in range(3)]
    frame = pd.DataFrame({"y": y, "b": block, "m": method, "z0": z[0], "z1": z[1], "z2": z[2]})
    start = smf.ols("y ~ C(b) + z0 + z1 + z2", frame).fit()
    apart = smf.ols("y ~ C(b) + z0 + z1 + z2 + C(m)", frame).fit()
    test = sm.stats.anova_lm(start, apart)
    OUT["parallel"]["from_start"] = fieller(
        np.asarray(start.params), np.asarray(start.cov_params()), unit(start, "z2"),
        unit(start, "z0"), start.df_resid, 0.90)
    OUT["parallel"]["common_start"] = [float(test["F"].iloc[1]), float(test["Pr(>F)"].iloc[1])]


def power():
    """Noncentral t by scipy; power of two one-sided tests by adaptive quadrature."""
    cases = []
    for t, df, shift in [(1.7, 3, 0.0), (1.9, 7, 2.5), (2.0, 60, -1.0), (-0.5, 1.5, 1.2),
                         (1.66, 400, 3.3), (12.7, 1, 5.0)]:
        cases.append([t, df, shift, float(stats.nct.sf(t, df, shift))])
    equivalence = []
    for half, truth, error, df, alpha in [(1.5, 0.0, 0.5, 14, 0.05), (1.5, 0.5, 0.5, 16, 0.05),
                                          (1.0, 0.0, 0.6, 5, 0.05), (0.3, 0.05, 0.1, 8, 0.025),
                                          (1.0, 0.0, 0.9, 2, 0.05)]:
        t = stats.t.ppf(1 - alpha, df)
        density = lambda s: 2 * df * s * stats.chi2.pdf(df * s * s, df)
        inner = lambda s: (stats.norm.cdf((half - truth) / error - t * s)
                           - stats.norm.cdf((-half - truth) / error + t * s)) * density(s)
        value, _ = integrate.quad(inner, 0, half / (error * t), epsabs=1e-13, epsrel=1e-12, limit=400)
        equivalence.append([half, truth, error, df, alpha, float(value)])
    from statsmodels.stats.power import TTestIndPower, TTestPower
    two = TTestIndPower()
    OUT["power"] = {
        "noncentral": cases, "equivalence": equivalence,
        "two_groups": [float(two.power(1.2, n, 0.05)) for n in (4, 10, 25)],
        "pairs_above": [float(TTestPower().power(0.8, n, 0.025, alternative="larger"))
                        for n in (5, 12, 30)],
    }


def dunnett_upper(t, loadings, df, sides):
    """Probability that any |t| (or t) exceeds `t`, by nested adaptive quadrature."""
    loadings = np.asarray(loadings)
    own = np.sqrt(1 - loadings**2)
    def inner(s):
        def at(z):
            high = stats.norm.cdf((t * s - loadings * z) / own)
            low = stats.norm.cdf((-t * s - loadings * z) / own) if sides == 2 else 0.0
            return np.prod(high - low) * stats.norm.pdf(z)
        return integrate.quad(at, -9, 9, epsabs=1e-12, epsrel=1e-11, limit=200)[0]
    if np.isinf(df):
        return 1 - inner(1.0)
    density = lambda s: 2 * df * s * stats.chi2.pdf(df * s * s, df)
    # Ends within which all of the density lies that counts.
    low, high = np.sqrt(stats.chi2.ppf([1e-14, 1 - 1e-14], df) / df)
    return 1 - integrate.quad(lambda s: inner(s) * density(s), low, high, epsabs=1e-11,
                              epsrel=1e-10, limit=200)[0]


def multiple():
    """Studentised range by scipy, Dunnett by quadrature, Holm by statsmodels."""
    from statsmodels.stats.multitest import multipletests
    ranges = []
    for groups, df in [(2, 4), (3, 9), (4, 2), (5, 20), (17, 64), (10, 1000)]:
        for p in (0.5, 0.99) if groups == 4 else (0.95,):
            ranges.append([groups, df, p, float(stats.studentized_range.ppf(p, groups, df))])
    tails = [[q, k, df, float(stats.studentized_range.sf(q, k, df))]
             for q, k, df in [(3.0, 3, 12), (6.5, 4, 8), (1.2, 6, 30), (4.4, 3, 3.7)]]
    control = []
    for t, counts, n0, df, sides in [(2.5, [6, 6, 6], 6, 20, 2), (2.1, [4, 7, 5, 9], 8, 28, 2),
                                     (2.1, [4, 7, 5, 9], 8, 28, 1), (3.2, [3, 3], 3, 6, 2),
                                     (2.4, [5, 5, 5], 10, np.inf, 2)]:
        loadings = [np.sqrt(n / (n + n0)) for n in counts]
        control.append([t, counts, n0, 1e300 if np.isinf(df) else df, sides,
                        float(dunnett_upper(t, loadings, df, sides))])
    rng = np.random.default_rng(17)
    groups = [np.round(rng.normal(m, 2, n), 2) for m, n in [(10, 7), (11.5, 5), (13, 6), (10.5, 4)]]
    found = stats.dunnett(*groups[1:], control=groups[0], rng=np.random.default_rng(1))
    p_values = [0.012, 0.31, 0.0004, 0.04, 0.019, 0.2]
    rejected, adjusted, _, _ = multipletests(p_values, 0.05, method="holm")
    tukey = stats.tukey_hsd(*groups)
    OUT["multiple"] = {
        "ranges": ranges, "tails": tails, "control": control,
        "values": np.concatenate(groups).tolist(),
        "groups": np.repeat(range(4), [len(g) for g in groups]).tolist(),
        "dunnett_p": found.pvalue.tolist(),
        "tukey_p": [float(tukey.pvalue[i, j]) for i in range(4) for j in range(i)],
        "tukey_low": [float(tukey.confidence_interval(0.9).low[i, j])
                      for i in range(4) for j in range(i)],
        "p_values": p_values, "holm": adjusted.tolist(), "rejected": rejected.tolist(),
    }


def main():
    linear()
    blocks()
    assumptions()
    mixed()
    parallel()
    power()
    multiple()
    path = pathlib.Path(__file__).with_suffix(".json")
    parts = [f"{json.dumps(name)}: {json.dumps(part)}" for name, part in OUT.items()]
    path.write_text("{\n" + ",\n".join(parts) + "\n}\n")


main()
