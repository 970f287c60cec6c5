"""Independent computation of the pin-mixing and heating metrics of one run each, with numpy and scipy.

Reads pin-run.csv and heating-run.csv beside itself (invented runs in two of the tool's layouts) and
writes pin_and_heating.json. Shares no code with the tool: definitions are those of the metrics'
cards, algorithms are those of numpy and scipy.

    python tests/reference/pin_and_heating.py
"""

import json
import platform
from pathlib import Path

import numpy as np
import scipy
from numpy.lib.stride_tricks import sliding_window_view
from scipy import integrate, interpolate, ndimage, optimize, signal, stats

HERE = Path(__file__).resolve().parent


def read_pin():
    lines = (HERE / "pin-run.csv").read_text(encoding="utf-8").splitlines()
    begin = lines.index("s;deflection %;head 1/min") + 1
    facts = dict(line.split(" > ") for line in lines[1 : begin - 2])
    rows = [[float(c.replace(",", ".")) for c in line.split(";")] for line in lines[begin:]]
    t, y, speed = np.array(rows).T
    number = lambda key: float(facts[key].replace(",", "."))
    return t, y, speed.mean(), number("N m per %"), number("Dough mass, g"), number("Protein, %")


def pin_metrics():
    t, y, speed, torque, dough_g, protein = read_pin()
    dt = t[1] - t[0]
    # Contours: extremes over 2 s of what is left beside a spline that follows the course only.
    trend = interpolate.make_smoothing_spline(t, y, lam=50.0)(t)
    window = int(round(2.0 / dt)) + 1
    upper = trend + ndimage.maximum_filter1d(y - trend, window)
    lower = trend + ndimage.minimum_filter1d(y - trend, window)
    # A parabola through 30 s instead of a straight line through 20 s.
    smooth = lambda line: signal.savgol_filter(line, 2 * int(15.0 / dt) + 1, 2)
    upper, lower = smooth(upper), smooth(lower)
    centre = 0.5 * (upper + lower)
    later = t > 20.0

    def peak(line):
        # The vertex of a parabola through the 40 s around the highest point.
        top = t[later][np.argmax(line[later])]
        near = np.abs(t - top) < 20.0
        a, b, c = np.polyfit(t[near] - top, line[near], 2)
        return top - b / (2 * a), c - b * b / (4 * a)

    width = lambda at: np.interp(at, t, upper) - np.interp(at, t, lower)
    tp, hp = peak(centre)
    te, he = peak(upper)
    mean = 0.5 * (trend + smooth(y))

    def slope(a, b):
        part = (t >= a) & (t <= b)
        return 60 * np.polyfit(t[part], y[part], 1)[0]

    chord = lambda a, b: 60 * (np.interp(b, t, mean) - np.interp(a, t, mean)) / (b - a)
    area = lambda to: integrate.simpson(y[t <= to], x=t[t <= to]) / 60
    joule = lambda percent_min: percent_min * 60 * torque * 2 * np.pi * speed / 60
    return {
        "pin-mixing.centre_peak_time": tp / 60,
        "pin-mixing.centre_peak_height": torque * hp,
        "pin-mixing.centre_peak_width": torque * width(tp),
        "pin-mixing.edge_peak_time": te / 60,
        "pin-mixing.edge_peak_height": torque * he,
        "pin-mixing.edge_peak_width": torque * width(te),
        "pin-mixing.slope_before_peak regression-1-min": torque * slope(tp - 60, tp),
        "pin-mixing.slope_before_peak regression-2-min": torque * slope(tp - 120, tp),
        "pin-mixing.slope_before_peak chord": torque * chord(tp - 60, tp),
        "pin-mixing.slope_after_peak regression-1-min": torque * slope(tp, tp + 60),
        "pin-mixing.slope_after_peak regression-2-min": torque * slope(tp, tp + 120),
        "pin-mixing.slope_after_peak chord": torque * chord(tp, tp + 60),
        "pin-mixing.width_8min 8-min": torque * width(480.0),
        "pin-mixing.width_8min peak-plus-2-min": torque * width(tp + 120),
        "pin-mixing.area_to_peak": torque * area(tp),
        "pin-mixing.area_to_end": torque * area(t[-1]),
        "pin-mixing.work_to_peak": joule(area(tp)),
        "pin-mixing.work_to_end": joule(area(t[-1])),
        "pin-mixing.specific_work_to_peak": joule(area(tp)) / dough_g,
        "pin-mixing.specific_work_to_end": joule(area(t[-1])) / dough_g,
        "pin-mixing.absorption_hint": 1.5 * protein + 43.6,
    }


def read_heating():
    lines = (HERE / "heating-run.csv").read_text(encoding="utf-8").splitlines()
    begin = lines.index("time,torque,dough,block") + 2
    facts = dict(line.split("=") for line in lines[1 : begin - 2])
    rows = np.array([[float(c) for c in line.split(",")] for line in lines[begin:]])
    return (*rows.T, {key: facts[key] for key in ("hydration %", "moisture %")})


def heating_metrics():
    t, y, dough, _, facts = read_heating()
    # One cubic smoothing spline over the whole record.
    spline = interpolate.make_smoothing_spline(t, y, lam=2e-4)
    fine = np.linspace(0, 45, 45 * 600 + 1)
    curve = spline(fine)
    within = lambda a, b: (fine >= a) & (fine <= b)
    t1 = fine[within(0, 8)][np.argmax(curve[within(0, 8)])]
    hot = within(8, 30)
    tops, _ = signal.find_peaks(curve[hot], prominence=0.1)
    valleys, _ = signal.find_peaks(-curve[hot], prominence=0.1)
    t3 = fine[hot][tops[0]]
    t2 = fine[hot][valleys[0]]
    after = within(t3, 30)
    t4 = fine[after][np.argmin(curve[after])]
    points = dict(zip("12345", [t1, t2, t3, t4, 45.0]))
    c = {name: float(spline(at)) for name, at in points.items()}
    level = lambda at: float(spline(at)) - 0.89 * c["1"]
    rise = optimize.brentq(level, 0.05, t1)
    fall = optimize.brentq(level, t1 + 1.0, t2)

    def regression(a, b):
        cut = 0.1 * (b - a)
        part = (t >= a + cut) & (t <= b - cut)
        return stats.linregress(t[part], y[part]).slope

    def steepest(a, b):
        part = (t >= a) & (t <= b)
        n = int(round(1.0 / (t[1] - t[0])))
        x = np.arange(n) * (t[1] - t[0])
        windows = sliding_window_view(y[part], n)
        slopes = windows @ (x - x.mean()) / np.sum((x - x.mean()) ** 2)
        return slopes.max() if spline(b) > spline(a) else slopes.min()

    # Band: extremes over 8 whole turns (6 s), averaged over 20 s around T1.
    rest = y - spline(t)
    window = int(round(6.0 / 60 / (t[1] - t[0])))
    band = ndimage.maximum_filter1d(rest, window) - ndimage.minimum_filter1d(rest, window)
    amplitude = band[np.abs(t - t1) < 10 / 60].mean()
    h, m = float(facts["hydration %"]), float(facts["moisture %"])
    flour = 7500 / (100 + h) * 86 / (100 - m)
    found = {
        "heating.cs": float(spline(8.0)),
        "heating.stability": fall - rise,
        "heating.amplitude": amplitude,
        "heating.c1_minus_c2": c["1"] - c["2"],
        "heating.c3_minus_c2": c["3"] - c["2"],
        "heating.c3_minus_c4": c["3"] - c["4"],
        "heating.c5_minus_c4": c["5"] - c["4"],
        "heating.flour_to_weigh": flour,
        "heating.water_to_weigh": 75 - flour,
    }
    for name, at in points.items():
        found[f"heating.c{name}"] = c[name]
        found[f"heating.t{name}"] = float(at)
        found[f"heating.d{name}"] = float(np.interp(at, t, dough))
    for name, a, b in [("alpha", 8.0, t2), ("beta", t2, t3), ("gamma", t3, t4)]:
        found[f"heating.{name} regression"] = float(regression(a, b))
        found[f"heating.{name} chord"] = float((spline(b) - spline(a)) / (b - a))
        found[f"heating.{name} max-derivative"] = float(steepest(a, b))
    return found


def main():
    result = {
        "made_with": {
            "python": platform.python_version(),
            "numpy": np.__version__,
            "scipy": scipy.__version__,
        },
        "pin-run.csv": {k: round(float(v), 9) for k, v in sorted(pin_metrics().items())},
        "heating-run.csv": {k: round(float(v), 9) for k, v in sorted(heating_metrics().items())},
    }
    text = json.dumps(result, indent=1, ensure_ascii=False) + "\n"
    (HERE / "pin_and_heating.json").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
