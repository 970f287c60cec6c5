"""Models of ordered grades, as a check of numerics::ordinal.

Invented grades 0..4: six blocks, two treatments, three pieces a dough, three graders. Fixed factors by
statsmodels' ordered model; penalised fits, score test and random intercepts written again with
scipy in another way: expected information by enumerating grades with numerical slopes, random
intercepts of one grouping by adaptive numerical integration, of two by a joint optimisation.

    python tests/reference/statistics_ordinal.py
"""

import itertools
import json
import platform
import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import scipy
import statsmodels
from scipy import integrate, optimize, stats
from statsmodels.miscmodels.ordinal_model import OrderedModel

warnings.simplefilter("ignore")

rng = np.random.default_rng(20260611)
rows = []
for block, treatment in itertools.product(range(6), range(2)):
    dough = 2 * block + treatment
    lean = 0.9 * treatment + 0.5 * np.sin(2 * block) + 0.8 * rng.standard_normal()
    for piece in range(3):
        for grader in range(3):
            latent = lean + [0.0, 1.0, -0.3][grader] + rng.logistic()
            rows.append([int(np.digitize(latent, [-1.8, -0.4, 1.0, 2.4])), treatment, block, dough, grader])
grade, treatment, block, dough, grader = np.array(rows).T
blocks = np.column_stack([block == b for b in range(1, 6)]).astype(float)
X = np.column_stack([treatment, blocks]).astype(float)


def cut_probabilities(theta, eta):
    """Probability of each grade; eta is one row of cuts' shifts for each observation."""
    F = 1.0 / (1.0 + np.exp(-(theta - eta)))
    return np.diff(np.column_stack([np.zeros(len(F)), F, np.ones(len(F))]), axis=1)


def log_likelihood(p, y, X, nominal=None):
    cuts = y.max()
    eta = (X @ p[cuts : cuts + X.shape[1]])[:, None] * np.ones(cuts)
    if nominal is not None:
        eta = eta + np.column_stack([np.zeros(len(y)), np.outer(nominal, p[cuts + X.shape[1] :])])
    prob = cut_probabilities(p[:cuts], eta)
    return prob


def total(p, y, X, nominal=None):
    prob = log_likelihood(p, y, X, nominal)[np.arange(len(y)), y]
    return np.log(prob).sum() if (prob > 0).all() else -np.inf


def expected_information(p, y, X, nominal=None, step=1e-5):
    prob = log_likelihood(p, y, X, nominal)
    slopes = []
    for k in range(len(p)):
        e = np.zeros(len(p))
        e[k] = step
        slopes.append((log_likelihood(p + e, y, X, nominal) - log_likelihood(p - e, y, X, nominal)) / (2 * step))
    S = np.array(slopes).reshape(len(p), -1)
    return (S / prob.ravel()) @ S.T


def fixed():
    fit = OrderedModel(grade, X, distr="logit").fit(method="bfgs", maxiter=2000, gtol=1e-10, disp=False)
    k = X.shape[1]
    theta = fit.model.transform_threshold_params(fit.params)[1:-1]
    p = np.concatenate([theta, fit.params[:k]])
    nominal = X[:, 0]
    extended = np.concatenate([p, np.zeros(3)])
    score = optimize.approx_fprime(extended, lambda q: total(q, grade, X, nominal), 1e-6)
    score = np.array([
        (total(extended + d, grade, X, nominal) - total(extended - d, grade, X, nominal)) / 2e-5
        for d in np.eye(len(extended)) * 1e-5
    ])
    info = expected_information(extended, grade, X, nominal)
    statistic = score @ np.linalg.solve(info, score)

    # Profile interval of the treatment.
    def fall(value):
        def f(q):
            full = np.insert(q, 4, value)
            return -total(full, grade, X)

        best = optimize.minimize(f, np.delete(p, 4), method="BFGS", options={"gtol": 1e-9})
        return 2 * (total(p, grade, X) + best.fun) - stats.chi2.ppf(0.95, 1)

    return p, {
        "thresholds": theta.tolist(),
        "coefficients": fit.params[:k].tolist(),
        "standard_errors": fit.bse[:k].tolist(),
        "log_likelihood": fit.llf,
        "score_test": [statistic, 3, stats.chi2.sf(statistic, 3)],
        "profile_of_treatment": [
            optimize.brentq(fall, p[4] - 3, p[4]),
            optimize.brentq(fall, p[4], p[4] + 3),
        ],
    }


def penalised(y, X):
    cuts = y.max()
    share = np.cumsum(np.bincount(y))[:-1] / len(y)
    start = np.concatenate([np.log(share / (1 - share)), np.zeros(X.shape[1])])

    def f(p):
        if not np.isfinite(total(p, y, X)):
            return np.inf
        return -total(p, y, X) - 0.5 * np.linalg.slogdet(expected_information(p, y, X))[1]

    best = optimize.minimize(f, start, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-13, "maxiter": 20000, "maxfev": 20000})
    top = -best.fun
    k = cuts

    def fall(value):
        g = lambda q: f(np.insert(q, k, value))
        out = optimize.minimize(g, np.delete(best.x, k), method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 20000, "maxfev": 20000})
        return 2 * (top + out.fun) - stats.chi2.ppf(0.95, 1)

    low = optimize.brentq(fall, best.x[k] - 8, best.x[k])
    try:
        high = optimize.brentq(fall, best.x[k], best.x[k] + 12)
    except ValueError:
        high = None
    return {"estimates": best.x.tolist(), "profile_of_first": [low, high]}


def random_intercept(p):
    """One grouping (dough) by adaptive integration; treatment is the only column."""
    X = treatment[:, None].astype(float)
    members = [np.flatnonzero(dough == d) for d in range(12)]

    def f(q):
        theta, beta, sigma = q[:4], q[4:-1], q[-1]
        if (np.diff(theta) <= 0).any():
            return np.inf
        eta = X @ beta
        value = 0.0
        for m in members:
            def integrand(u):
                prob = cut_probabilities(theta, (eta[m] + sigma * u)[:, None] * np.ones(4))
                return np.prod(prob[np.arange(len(m)), grade[m]]) * stats.norm.pdf(u)
            scale = integrand(0.0)
            value += np.log(integrate.quad(lambda u: integrand(u) / scale, -8, 8, epsabs=1e-11, epsrel=1e-11, points=[-1, 1])[0]) + np.log(scale)
        return -value

    best = optimize.minimize(f, np.append(p, 0.5), method="BFGS", options={"gtol": 1e-5})
    return {"estimates": best.x.tolist(), "log_likelihood": -best.fun}


def crossed(p):
    """Doughs and graders, Laplace's approximation; treatment is the only column."""
    X = treatment[:, None].astype(float)
    Z1 = np.eye(12)[dough]
    Z2 = np.eye(3)[grader]

    def f(q, full=False):
        theta, beta, s1, s2 = q[:4], q[4:-2], q[-2], q[-1]
        if (np.diff(theta) <= 0).any():
            return np.inf
        Z = np.column_stack([s1 * Z1, s2 * Z2])

        def h(u):
            prob = cut_probabilities(theta, (X @ beta + Z @ u)[:, None] * np.ones(4))
            return -np.log(prob[np.arange(len(grade)), grade]).sum() + 0.5 * u @ u

        def both(u):
            a = theta[np.minimum(grade, 3)] - X @ beta - Z @ u
            b = theta[np.maximum(grade - 1, 0)] - X @ beta - Z @ u
            Fa = np.where(grade < 4, 1 / (1 + np.exp(-a)), 1.0)
            Fb = np.where(grade > 0, 1 / (1 + np.exp(-b)), 0.0)
            grad = Z.T @ (1 - Fa - Fb) + u
            W = Fa * (1 - Fa) + Fb * (1 - Fb)
            return grad, Z.T @ (W[:, None] * Z) + np.eye(len(u))

        u = np.zeros(15)
        for _ in range(50):
            g, H = both(u)
            step = np.linalg.solve(H, g)
            u = u - step
            if np.abs(step).max() < 1e-13:
                break
        return h(u) + 0.5 * np.linalg.slogdet(both(u)[1])[1]

    best = optimize.minimize(f, np.append(p, [0.5, 0.3]), method="BFGS", options={"gtol": 1e-6})
    return {"estimates": best.x.tolist(), "log_likelihood": -best.fun}


def superiority_by_cluster(clusters):
    """Obuchowski 1997 by explicit pairs."""
    n = sum(len(a) for a, _ in clusters)
    m = sum(len(b) for _, b in clusters)
    A = [x for a, _ in clusters for x in a]
    B = [x for _, b in clusters for x in b]
    psi = lambda a, b: float(a > b) + 0.5 * float(a == b)
    P = np.mean([psi(a, b) for a in A for b in B])
    VA = np.array([sum(np.mean([psi(x, b) for b in B]) for x in a) - len(a) * P for a, _ in clusters])
    VB = np.array([sum(np.mean([psi(a, x) for a in A]) for x in b) - len(b) * P for _, b in clusters])
    ia, ib, k = sum(bool(a) for a, _ in clusters), sum(bool(b) for _, b in clusters), len(clusters)
    var = ia / (ia - 1) * (VA**2).sum() / n**2 + ib / (ib - 1) * (VB**2).sum() / m**2
    if any(a and b for a, b in clusters):
        var += 2 * k / (k - 1) * (VA * VB).sum() / (n * m)
    return [P, var**0.5]


def stratified():
    """Weighted rank sums of invented grades of doughs, normal and by every arrangement."""
    strata = [([2, 3], [2, 3]), ([3, 3], [1, 2]), ([4, 4], [1, 2])]
    ranks = [stats.rankdata(a + b) for a, b in strata]

    def value(picks):
        return sum((r[list(pick)].sum() - 2 * 2.5) / 5 for r, pick in zip(ranks, picks))

    var = sum(np.var(r, ddof=1) * 2 * 2 / 4 / 25 for r in ranks)
    found = value([(0, 1)] * 3)
    every = [value(p) for p in itertools.product(itertools.combinations(range(4), 2), repeat=3)]
    p = np.mean(np.abs(every) >= abs(found) - 1e-12)
    z = found / var**0.5
    return {"strata": strata, "z": z, "p_normal": 2 * stats.norm.sf(abs(z)), "p_exact": p}


p, fixed_model = fixed()
separated_y = np.array([0, 0, 1, 1, 1, 0, 1, 2, 2, 2, 3, 3, 2, 3])
separated_x = np.array([[0] * 7 + [1] * 7], float).T
by_dough = [([], grade[dough == d].tolist()) if d % 2 == 0 else (grade[dough == d].tolist(), []) for d in range(12)]
by_block = [(by_dough[2 * b + 1][0], by_dough[2 * b][1]) for b in range(6)]
a, b = grade[treatment == 1], grade[treatment == 0]
bm = stats.brunnermunzel(b, a)
rank_sum = stats.mannwhitneyu(a, b, use_continuity=False, method="asymptotic")


def rounded(value):
    if isinstance(value, dict):
        return {k: rounded(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [rounded(v) for v in value]
    return value if value is None or isinstance(value, (str, int)) else float(f"{value:.10g}")


found = {
    "made_with": {
        "python": platform.python_version(),
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "statsmodels": statsmodels.__version__,
    },
    "data": {
        "grade": grade.tolist(),
        "treatment": treatment.tolist(),
        "block": block.tolist(),
        "dough": dough.tolist(),
        "grader": grader.tolist(),
    },
    "fixed": fixed_model,
    "two_grades_separated": penalised((separated_y > 1).astype(int), separated_x),
    "four_grades_separated": {"grade": separated_y.tolist(), **penalised(separated_y, separated_x)},
    "random_dough": random_intercept(p[:5]),
    "random_dough_and_grader_laplace": crossed(p[:5]),
    "superiority_by_dough": superiority_by_cluster(by_dough),
    "superiority_by_block": superiority_by_cluster(by_block),
    "brunner_munzel": [float(bm.statistic), float(bm.pvalue)],
    "rank_sum_p": float(rank_sum.pvalue),
    "stratified": stratified(),
}
text = json.dumps(rounded(found), indent=1)
Path(__file__).with_suffix(".json").write_text(text + "\n", encoding="utf-8")
print({k: v for k, v in rounded(found).items() if k != "data"})
