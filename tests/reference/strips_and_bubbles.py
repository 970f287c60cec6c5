"""Strip and inflation metrics of three committed curves, with numpy and scipy only.

Shares no code with the tool and goes other ways where it can: rupture as the steepest fall of the
trace, forces and pressures from local parabolas (Savitzky and Golay), areas by Simpson's rule,
heights of caps by root finding, fits by scipy.stats.linregress. Definitions: HANDBOOK 5 and 6.

    python tests/reference/strips_and_bubbles.py
"""

import json
import platform
from pathlib import Path

import numpy as np
import scipy
from scipy.integrate import simpson, trapezoid
from scipy.optimize import brentq
from scipy.signal import savgol_filter
from scipy.stats import linregress

HERE = Path(__file__).parent
MM_WATER_KPA = 9.80665e-3


def split(name, separator, header_rows):
    """Returns the block of keys and values and the lines of data."""
    lines = (HERE / "curves" / name).read_text(encoding="utf-8").splitlines()[1:]
    block = {}
    for number, line in enumerate(lines):
        if separator not in line:
            return block, lines[number : number + header_rows], lines[number + header_rows :]
        key, value = line.split(separator, 1)
        block[key.strip()] = value.strip()
        if line.startswith("chart"):
            return block, [line], lines[number + 1 :]
    raise ValueError(name)


def last_before_fall(y, share):
    """Index of the last reading before the steepest fall of the trace."""
    fall = np.diff(y)
    steepest = int(np.argmin(fall))
    while steepest > 0 and fall[steepest - 1] < -share * np.max(y):
        steepest -= 1
    return steepest


def laws(strain, stress, failure):
    inside = (strain >= 0.3) & (strain <= 0.9 * failure) & (stress > 0)
    exponential = linregress(strain[inside], np.log(stress[inside]))
    power = linregress(np.log(strain[inside]), np.log(stress[inside]))
    return {
        "n_exp": exponential.slope,
        "k_exp": float(np.exp(exponential.intercept)),
        "n_pow": power.slope,
        "k_pow": float(np.exp(power.intercept)),
    }


def strip(name):
    block, _, rows = split(name, "=", 1)
    x, f = np.array([[float(c) for c in row.split("|")] for row in rows]).T
    f = f - np.median(f[x < 0])
    a, y0 = float(block["half gap mm"]), float(block["sag mm"])
    section, speed = float(block["section mm2"]), float(block["hook speed mm/s"])
    end = last_before_fall(f, 0.1)
    held = (x >= 0) & (np.arange(len(x)) <= end)
    x, f = x[held], f[held]
    smooth = savgol_filter(f, 21, 2)
    depth = x + y0
    length = 2 * np.sqrt(a * a + depth**2)
    length0 = 2 * np.sqrt(a * a + y0 * y0)
    strain = np.log(length / length0)
    to_stress = 1000 * length / (4 * depth) * length / (section * length0)
    at = int(np.argmax(smooth * to_stress))
    found = laws(strain, f * to_stress, strain[at])
    return block["strip"], {
        "strip.maximum_force": float(np.max(smooth)),
        "strip.area": float(simpson(f, x=x)),
        "strip.failure_stress": float((smooth * to_stress)[at]),
        "strip.failure_strain": float(strain[at]),
        "strip.strain_rate at-failure": float(4 * depth[at] * speed / length[at] ** 2),
        "strip.pre_strain": float(np.log(length0 / (2 * a))),
        **{f"strip.{law}": float(value) for law, value in found.items()},
    }


def cap(volume_ml, a):
    held = lambda h: np.pi * h / 6 * (3 * a * a + h * h) / 1000 - volume_ml
    return brentq(held, 0, 1000, xtol=1e-12)


def disc(x_mm, water, ml_per_mm, radius, thickness):
    """Returns the metrics of one disc from chart length and mm of water."""
    end = last_before_fall(water, 0.05)
    x, p = x_mm[: end + 1], water[: end + 1]
    smooth = savgol_filter(p, 9, 2)
    height = np.array([cap(v, radius) for v in x * ml_per_mm])
    strain = np.log(1 + height**2 / radius**2)
    with np.errstate(divide="ignore", invalid="ignore"):
        wall = thickness * (radius**2 / (radius**2 + height**2)) ** 2
        sphere = (radius**2 + height**2) / (2 * height)
        stress = p * MM_WATER_KPA * sphere / (2 * wall)
    inside = np.isfinite(stress)
    found = laws(strain[inside], stress[inside], strain[-1])
    return (x, smooth), {
        "inflation.disc_overpressure": float(np.max(smooth)),
        "inflation.disc_extensibility 4.955": float(x[-1]),
        "inflation.disc_energy": float(1.32 * 2.226**2 * simpson(p, x=x) / 1.1 / 100),
        "inflation.nominal_failure_strain": float(strain[-1]),
        **{f"inflation.nominal_{law}": float(value) for law, value in found.items()},
    }


def pressure(name):
    block, _, rows = split(name, ":", 2)
    rows = [[float(c.replace(",", ".")) for c in row.split("\t")] for row in rows]
    t, pascal = np.array(rows).T
    number = lambda key: float(block[key].replace(",", "."))
    per_mm = 2.226**2
    x = t * number("Air (l/h)") / 3.6 / per_mm
    _, found = disc(x, pascal / 9.80665, per_mm, number("Radius (mm)"), number("Thickness (mm)"))
    found["inflation.rupture_volume measured"] = found["inflation.disc_extensibility 4.955"] * per_mm
    return block["Disc"], found


def discs(name):
    block, header, rows = split(name, ",", 1)
    names = [cell.removeprefix("height of ") for cell in header[0].split(",")[1:]]
    cells = [[float(c) if c else np.nan for c in row.split(",")] for row in rows]
    table = np.array(cells)
    per_mm = 96000 / 3600 / 5.5
    radius, thickness = float(block["opening radius mm"]), float(block["disc thickness mm"])
    runs, curves = {}, []
    for column, run in enumerate(names, start=1):
        there = np.isfinite(table[:, column])
        x, water = table[there, 0], 1.1 * table[there, column]
        curve, runs[run] = disc(x, water, per_mm, radius, thickness)
        curves.append(curve)
    p = np.mean([runs[run]["inflation.disc_overpressure"] for run in names])
    length = np.mean([runs[run]["inflation.disc_extensibility 4.955"] for run in names])
    grid = np.linspace(0, length, 4001)
    whole = [np.where(grid <= x[-1], np.interp(grid, x, y), np.nan) for x, y in curves]
    mean = np.nanmean(whole, axis=0)
    at = lambda x: float(np.interp(x, grid, mean))
    dough = {
        "inflation.overpressure": p,
        "inflation.extensibility": length,
        "inflation.swelling_index": 2.226 * np.sqrt(length),
        "inflation.deformation_energy": 1.32 * 2.226**2 * trapezoid(mean, grid) / 1.1 / 100,
        "inflation.configuration_ratio": p / length,
        "inflation.elasticity_index 200ml-4.955": 100 * at(200 / 2.226**2) / p,
        "inflation.elasticity_index 200ml-4.848": 100 * at(200 / per_mm) / p,
        "inflation.elasticity_index 40mm": 100 * at(40) / p,
        "inflation.salt_water": 191.175 - 4.41175 * float(block["moisture %"]),
    }
    return runs, f"dough {block['dough']}, inflation", {k: float(v) for k, v in dough.items()}


def main():
    runs = dict([strip("ST-625.txt"), pressure("BU-716.tsv")])
    of_dough, name, dough = discs("bubbles-spiral.csv")
    runs.update(of_dough)
    output = {
        "made_with": {
            "python": platform.python_version(),
            "numpy": np.__version__,
            "scipy": scipy.__version__,
        },
        "runs": runs,
        "doughs": {name: dough},
    }
    text = json.dumps(output, indent=2) + "\n"
    (HERE / "strips_and_bubbles.json").write_text(text, encoding="utf-8")


main()
