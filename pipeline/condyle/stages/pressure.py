"""Does the centre of pressure lie under the foot that stands? Else the force plates are elsewhere than their file says."""

import numpy as np
import xarray as xr
from scipy.spatial import ConvexHull, QhullError

from condyle.body_names import SIDES
from condyle.findings import Finding, stretches
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.base_of_support import outside_polygon
from condyle.stages.checks.judging import Limits, judged
from condyle.stages.measured_points import landmark
from condyle.trial_data import put

_FOOT = ("calcaneus", "metatarsal_5", "metatarsal_2", "metatarsal_1")
_LEVEL = [0, 2]
_ADVICE = (
    "the place or the axes of the force plates in the file are wrong, the plates were not zeroed, or the foot did not stand on "
    "them; measures of the centre of pressure (cop_*) are left out there."
)


def pressure_under_the_foot(trial: xr.Dataset, limits: Limits) -> tuple[xr.Dataset, list[Finding]]:
    """The trial without the centre of pressure of bouts in which it is not under the stance foot, and a row if there are any."""
    if "centre_of_pressure" not in trial or not trial.sizes["bout"]:
        return trial, []
    pressure: FloatArray = trial.variables["centre_of_pressure"].values.copy()
    rate, frames = float(trial.attrs["rate_hz"]), np.arange(len(pressure))
    start, end, stance, stance_end = (
        np.rint(trial.variables[f"{n}_s"].values * rate).astype(int).tolist()
        for n in ("bout_start", "bout_end", "stance_start", "stance_end")
    )
    far: dict[int, float] = {}
    off, limit = np.zeros(len(pressure), dtype=bool), 0.0
    for k, side in enumerate(trial.variables["bout_side"].values.tolist()):
        bout, standing = ((frames >= a[k]) & (frames <= b[k]) for a, b in ((start, end), (stance, stance_end)))
        carried = np.isfinite(pressure).all(axis=-1)
        used = standing & carried if (standing & carried).any() else bout & carried
        outside = _outside(trial, side, pressure, used)
        verdict, limit = judged(limits, "pressure_outside_foot", outside)
        if verdict != "pass":
            far[k + 1] = outside
            off |= bout
    if not far:
        return trial, []
    pressure[off] = np.nan
    where = ", ".join(f"{mm:.0f} mm in bout {number}" for number, mm in far.items())
    advice = f"while the stance foot stands, the centre of pressure lies outside its markers by {where}: {_ADVICE}"
    row = Finding(
        "centre of pressure under the foot",
        "force plates",
        max(far.values()),
        limit,
        "mm",
        "review",
        advice,
        stretches(off, rate),
    )
    return put(trial, centre_of_pressure=pressure), [row]


def _outside(trial: xr.Dataset, side: str, pressure: FloatArray, used: np.ndarray) -> float:
    """Median distance [mm] outside the markers of the feet that stand, negative inside; NaN where too little is seen."""
    feet = SIDES if side == "both" else (side,)
    seen = np.stack([landmark(trial, f"{n}_{s[0]}")[used][:, _LEVEL] for s in feet for n in _FOOT], axis=1)
    corners = [c[np.isfinite(c).all(axis=-1)] for c in np.moveaxis(seen, 1, 0)]
    around = np.array([np.median(c, axis=0) for c in corners if len(c)])
    if len(around) < 2:
        return float("nan")
    try:
        around = around[ConvexHull(around).vertices]
    except QhullError:  # two markers, or all in one line: the distance from that line
        around = np.stack([around[0], *around[1:], around[-1]])
    return float(np.median(outside_polygon(pressure[used][:, _LEVEL], around)))
