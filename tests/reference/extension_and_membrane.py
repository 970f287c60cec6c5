"""Independent computation of every extension and membrane metric, with general-purpose libraries.

Reads the invented sample runs of the full day and writes extension_and_membrane.json beside itself.
Shares no code with the tool: definitions are those of the metrics' cards, algorithms are those of
numpy, scipy and scikit-learn.

    python tests/reference/extension_and_membrane.py
"""

import csv
import json
import platform
from collections import defaultdict
from pathlib import Path

import numpy as np
import scipy
import sklearn
from scipy import integrate, optimize, signal, stats
from sklearn.metrics import cohen_kappa_score

HERE = Path(__file__).resolve().parent
DAY = HERE.parent.parent / "sample-runs" / "full-day"
PIECES = ["EX-401", "EX-411", "EX-418", "EX-426", "EX-435"]
SHEETS = ["window-morning.csv", "window-afternoon.tsv"]


def read_piece(name):
    """x in chart mm, y in EU, and EU per cm of a block-layout file."""
    lines = (DAY / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    begin = lines.index("chart mm;resistance EU") + 1
    scale = next(l.split(":")[1] for l in lines if l.startswith("EU per cm"))
    rows = [[float(c.replace(",", ".")) for c in l.split(";")] for l in lines[begin:]]
    x, y = np.array(rows).T
    return x, y, float(scale.replace(",", "."))


def contact_of(x, y):
    """Contact as the origin of a power law fitted to the first 12 mm of the rise."""
    start = np.argmax(y > 12.0)
    part = slice(start, np.searchsorted(x, x[start] + 12.0))
    law = lambda t, a, c, p: a * np.clip(t - c, 1e-9, None) ** p
    guess = [30.0, x[start] - 0.3, 0.6]
    bounds = ([1.0, x[start] - 2.0, 0.2], [200.0, x[start], 1.5])
    fitted, _ = optimize.curve_fit(law, x[part], y[part], p0=guess, bounds=bounds)
    return fitted[1]


def rupture_of(x, y):
    """Rupture where a line through the 4 mm before meets a line through the tear."""
    steepest = np.argmin(np.diff(y))
    level = np.median(y[steepest - 8 : steepest - 3])
    torn = [i for i in range(steepest - 3, steepest + 5) if 0.1 * level < y[i] < 0.93 * level]
    last = torn[0] - 1
    before = np.polyfit(x[last - 8 : last + 1], y[last - 8 : last + 1], 1)
    if len(torn) < 2:
        return 0.5 * (x[last] + x[torn[0]]), before, last
    tear = np.polyfit(x[torn], y[torn], 1)
    return (tear[1] - before[1]) / (before[0] - tear[0]), before, last


def piece_metrics(name):
    x, y, scale = read_piece(name)
    contact = contact_of(x, y)
    rupture, before, last = rupture_of(x, y)
    e = rupture - contact
    inside = (x > contact) & (np.arange(len(x)) <= last)
    # A cubic spline through lightly smoothed readings for R50; a 7-point line for the maximum.
    smooth = signal.savgol_filter(y[inside], 7, 1)
    rm = smooth.max()
    near = np.abs(x - contact - 50.0) < 4.0
    r50 = np.polyval(np.polyfit(x[near] - contact - 50.0, y[near], 2), 0.0)
    xs = np.concatenate([[contact], x[inside], [rupture]])
    ys = np.concatenate([[0.0], y[inside], [np.polyval(before, rupture)]])
    area = integrate.simpson(ys, x=xs)
    return {
        "extension.resistance_50mm": r50,
        "extension.maximum_resistance": rm,
        "extension.extensibility": e,
        "extension.energy_area": area / (10.0 * scale),
        "extension.energy_work": area * 12.3e-3 * (14.5 / 6.5) * 1e-3,
        "extension.ratio_r50_e": r50 / e,
        "extension.ratio_rm_e": rm / e,
    }


def read_sheet(name):
    """Rows of a sheet with the same keys for both layouts; blind repeats left out."""
    text = (DAY / name).read_text(encoding="utf-8")
    lines = text.splitlines()
    if name.endswith(".tsv"):
        lines = lines[1:]
    rows = list(csv.reader(lines, delimiter="\t" if name.endswith(".tsv") else ","))
    keys = ["batch", "treatment", "block", "piece", "mix", "rest", "grade", "overmixed", "edge",
            "grader", "code", "order", "codebook", "photo", "scale", "note"]
    sheet = [dict(zip(keys, row)) for row in rows[1:]]
    for row in sheet:
        row["mix"] = float(row["mix"].replace(",", "."))
        row["failed"] = row["overmixed"] == "yes" or row["grade"] == "X"
        row["grade"] = int(row["grade"]) if row["grade"] in "01234" and row["grade"] else None
    return [row for row in sheet if row["note"] != "blind repeat"]


def dough_metrics(rows):
    groups = defaultdict(list)
    for row in rows:
        groups[(row["batch"], row["mix"])].append(row)
    found = []
    for (batch, mix), rows in sorted(groups.items()):
        grades = [r["grade"] for r in rows if not r["failed"]]
        pieces = len({r["piece"] for r in rows})
        full = sum(r["grade"] == 4 and not r["failed"] for r in rows)
        edges = [r["edge"] for r in rows if r["edge"]]
        record = {"batch": batch, "mix_time_min": mix, "membrane.full_window_share": 100 * full / len(rows)}
        if 2 * len(grades) >= len(rows) and grades:
            record["lower"] = int(np.percentile(grades, 50, method="lower"))
            record["upper"] = int(np.percentile(grades, 50, method="higher"))
        if edges:
            record["membrane.clean_edge_share"] = 100 * edges.count("clean") / len(edges)
        trials = full * pieces / len(rows)
        if abs(trials - round(trials)) < 1e-9:
            interval = stats.binomtest(round(trials), pieces).proportion_ci(method="wilson")
            record["full_window_interval"] = [100 * interval.low, 100 * interval.high]
        found.append(record)
    return found


def alpha(units, ordinal):
    """Krippendorff's alpha written pair by pair, without a coincidence matrix."""
    units = [u for u in units if len(u) > 1]
    values = np.concatenate([np.array(u) for u in units])
    n = len(values)
    share = {v: np.sum(values == v) for v in np.unique(values)}

    def apart(a, b):
        if a == b:
            return 0.0
        if not ordinal:
            return 1.0
        low, high = min(a, b), max(a, b)
        return (sum(c for v, c in share.items() if low <= v <= high) - (share[a] + share[b]) / 2) ** 2

    observed = sum(
        apart(a, b) / (len(u) - 1) for u in units for i, a in enumerate(u) for j, b in enumerate(u) if i != j
    ) / n
    expected = sum(apart(a, b) for a in values for b in values) / (n * (n - 1))
    return 1.0 - observed / expected


def agreement(rows):
    pieces = defaultdict(dict)
    for row in rows:
        if row["grade"] is not None:
            pieces[(row["batch"], row["piece"], row["mix"])][row["grader"]] = row["grade"]
    pairs = [(p["grader-1"], p["grader-2"]) for p in pieces.values() if len(p) == 2]
    a, b = zip(*pairs)
    labels = [0, 1, 2, 3, 4]
    rng = np.random.default_rng(1)
    resampled = []
    for _ in range(4000):
        drawn = rng.integers(0, len(pairs), len(pairs))
        resampled.append(
            cohen_kappa_score(np.array(a)[drawn], np.array(b)[drawn], labels=labels, weights="linear")
        )
    return {
        "pieces": len(pairs),
        "membrane.weighted_kappa": {
            "none": cohen_kappa_score(a, b, labels=labels),
            "linear": cohen_kappa_score(a, b, labels=labels, weights="linear"),
            "quadratic": cohen_kappa_score(a, b, labels=labels, weights="quadratic"),
        },
        "linear_kappa_interval": list(np.percentile(resampled, [2.5, 97.5])),
        "membrane.krippendorff_alpha": {
            "ordinal": alpha([list(p.values()) for p in pieces.values()], True),
            "nominal": alpha([list(p.values()) for p in pieces.values()], False),
        },
    }


def superiority(rows):
    """High-speed over spiral at 4 min; overmixed below every grade."""
    rank = lambda r: -1 if r["failed"] else r["grade"]
    at = lambda t: [rank(r) for r in rows if r["treatment"] == t and r["mix"] == 4.0]
    above, below = at("high-speed"), at("spiral")
    test = stats.mannwhitneyu(above, below, method="asymptotic", use_continuity=True)
    return {"probability": test.statistic / (len(above) * len(below)), "p": test.pvalue}


def handbook_superiority():
    """Grades of HANDBOOK V-O1."""
    a = [0] * 1 + [1] * 4 + [2] * 9 + [3] * 6
    b = [1] * 2 + [2] * 6 + [3] * 12
    test = stats.mannwhitneyu(b, a, method="asymptotic", use_continuity=True)
    return {"u": test.statistic, "p": test.pvalue}


def main():
    sheets = {name: read_sheet(name) for name in SHEETS}
    wilson = stats.binomtest(2, 4).proportion_ci(method="wilson")
    answer = {
        "made_with": {
            "python": platform.python_version(),
            "numpy": np.__version__,
            "scipy": scipy.__version__,
            "scikit-learn": sklearn.__version__,
        },
        "pieces": {name: piece_metrics(name) for name in PIECES},
        "doughs": {name: dough_metrics(rows) for name, rows in sheets.items()},
        "agreement": {name: agreement(rows) for name, rows in sheets.items()},
        "superiority_4_min": superiority(sum(sheets.values(), [])),
        "superiority_v_o1": handbook_superiority(),
        "wilson_2_of_4": [100 * wilson.low, 100 * wilson.high],
    }
    rounded = json.loads(json.dumps(answer, default=float), parse_float=lambda t: round(float(t), 9))
    (HERE / "extension_and_membrane.json").write_text(json.dumps(rounded, indent=1) + "\n")


main()
