"""Whole curves, as a check of numerics::functional.

The band is written again with numpy on invented differences (six blocks, fifteen times), every sign
taken one by one. Principal components by scikit-learn on invented curves at uneven times, weighted by
the trapezoidal rule. Separation of good and bad flours by scikit-learn's principal components and
linear discriminant on the open data set of 115 kneading curves, when it lies beside the project.

    python tests/reference/statistics_functional.py
"""

import itertools
import json
import platform
from pathlib import Path

import numpy as np
import pandas as pd
import scipy
import sklearn
from sklearn.decomposition import PCA
from sklearn.discriminant_analysis import LinearDiscriminantAnalysis
from sklearn.metrics import roc_auc_score
from sklearn.model_selection import StratifiedKFold
from sklearn.pipeline import make_pipeline

HERE = Path(__file__).resolve().parent
rng = np.random.default_rng(3)

x = np.linspace(0, 1, 15)
d = np.round(
    [1.2 * np.exp(-(((x - 0.6) / 0.2) ** 2)) + rng.normal(0, 0.3) + rng.normal(0, 0.4) * x + rng.normal(0, 0.1, 15) for _ in range(6)], 3
)


def statistic(rows):
    mean = rows.mean(0)
    variance = rows.var(0, ddof=1) / len(rows)
    return np.abs(mean / np.sqrt((variance + variance.mean()) / 2)).max()


def band(d):
    signs = [np.array(s)[:, None] for s in itertools.product([1, -1], repeat=len(d))]
    residual = d - d.mean(0)
    plain = np.sort([statistic(d * s) for s in signs])
    flipped = np.sort([statistic(residual * s) for s in signs])
    k = int(np.ceil(0.95 * len(signs))) - 1
    critical = max(plain[k], flipped[k])
    variance = d.var(0, ddof=1) / len(d)
    error = np.sqrt((variance + variance.mean()) / 2)
    p = np.mean(plain >= statistic(d) * (1 - 1e-12))
    return {
        "differences": d.tolist(),
        "critical": critical,
        "p": p,
        "low": (d.mean(0) - critical * error).tolist(),
        "high": (d.mean(0) + critical * error).tolist(),
    }


def components():
    t = np.cumsum(0.5 + rng.random(20))
    c = np.round([rng.normal() * np.sin(t / 3) + rng.normal() * np.cos(t / 5) + 0.1 * rng.normal(size=20) for _ in range(9)], 3)
    w = np.gradient(t)
    w[0], w[-1] = (t[1] - t[0]) / 2, (t[-1] - t[-2]) / 2
    w[1:-1] = (t[2:] - t[:-2]) / 2
    pca = PCA(3).fit(c * np.sqrt(w))
    return {
        "times": t.tolist(),
        "curves": c.tolist(),
        "variances": pca.explained_variance_.tolist(),
        "share": pca.explained_variance_ratio_.tolist(),
        "absolute_scores_of_first": np.abs(pca.transform(c * np.sqrt(w))[0]).tolist(),
    }


def separation():
    folder = HERE.parents[2] / "shared" / "data" / "kneading_flours"
    if not folder.is_dir():
        return None
    curves = pd.read_csv(folder / "curves_wide.csv")
    flours = pd.read_csv(folder / "flours.csv").set_index("flour")["cookie_quality"]
    X = curves.iloc[:, 1:].T.values.astype(float)
    q = flours.loc[curves.columns[1:]].values
    X, q = X[q != "medium"], q[q != "medium"]
    y = (q == "good").astype(int)
    found = {"mean_resistance": roc_auc_score(y, X.mean(1))}
    for k in (1, 2, 4, 6, 8):
        areas = []
        for seed in range(20):
            score = np.zeros(len(y))
            for train, test in StratifiedKFold(10, shuffle=True, random_state=seed).split(X, y):
                m = make_pipeline(PCA(k), LinearDiscriminantAnalysis()).fit(X[train], y[train])
                score[test] = m.decision_function(X[test])
            areas.append(roc_auc_score(y, score))
        found[f"components_{k}"] = [float(np.mean(areas)), float(np.std(areas))]
    return found


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
        "scikit-learn": sklearn.__version__,
    },
    "band": band(d),
    "components": components(),
    "good_and_bad_flours": separation(),
}
text = json.dumps(rounded(found), indent=1)
Path(__file__).with_suffix(".json").write_text(text + "\n", encoding="utf-8")
print(text)
