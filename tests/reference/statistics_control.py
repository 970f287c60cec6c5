"""A line with two jumps by ordinary least squares, as a check of numerics::control.

Invented: a reference flour that ages by -0.05 FU a day, an instrument that jumps by +8 FU at the
21st and by -5 FU at the 41st of 60 values. Noise is a fixed arithmetic sequence, so that any
program can make the same values without a random generator.

    python tests/reference/statistics_control.py
"""

import json
import platform
from pathlib import Path

import numpy as np
import statsmodels
import statsmodels.api as sm

n = 60
i = np.arange(n)
time = i + 0.5 * (i % 3)
noise = ((i * 37) % 23) / 11.0 - 1.0
value = 500.0 - 0.05 * time + 8.0 * (i >= 20) - 5.0 * (i >= 40) + noise

design = np.column_stack([np.ones(n), time - time[0], i >= 20, i >= 40]).astype(float)
fit = sm.OLS(value, design).fit()
found = {
    "made_with": {
        "python": platform.python_version(),
        "numpy": np.__version__,
        "statsmodels": statsmodels.__version__,
    },
    "start_slope_jumps": [round(v, 10) for v in fit.params.tolist()],
    "standard_errors": [round(v, 10) for v in fit.bse.tolist()],
    "residual_sd": round(float(np.sqrt(fit.scale)), 10),
}
text = json.dumps(found, indent=1)
Path(__file__).with_suffix(".json").write_text(text + "\n", encoding="utf-8")
print(text)
