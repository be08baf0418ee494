"""Is the knee's flexion axis where the epicondyles put it?"""

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, SEGMENTS, SIDES
from condyle.findings import Finding
from condyle.mechanics.arrays import transposed
from condyle.mechanics.knee_axis import knee_axis
from condyle.stages.checks.judging import Limits

_EVERY = 4  # frames


def knee_axis_findings(trial: xr.Dataset, sides: list[str], limits: Limits) -> list[Finding]:
    """A row per measured knee whose adduction follows flexion; both range and correlation must say so."""
    pose = trial.variables["pose"].values[::_EVERY]
    column = JOINT_ANGLES.index("knee_adduction")
    out = []
    for side in sides:
        if np.isnan(trial.variables["angle"].values[:, SIDES.index(side), column]).all():
            continue
        thigh, shank = (pose[:, SEGMENTS.index(f"{n}_{side[0]}")] for n in ("thigh", "shank"))
        axis = knee_axis(transposed(thigh) @ shank)
        if not np.isfinite(axis.turn):
            continue
        off, turn, before, after = (
            float(np.rad2deg(v)) for v in (axis.axis_turn, axis.turn, axis.adduction_range, axis.corrected_range)
        )
        limit = limits["knee_axis_review"].value
        follows = abs(axis.correlation) >= limits["knee_axis_correlation"].value
        if abs(off) <= limit or not follows or before - after < limits["knee_axis_gain"].value:
            continue
        advice = (
            f"the knee's axis is turned by about {abs(off):.0f} degrees about the thigh: adduction follows flexion "
            f"(r = {axis.correlation:.2f}, range {before:.0f} degrees). Look where the epicondyle markers were placed; turning "
            f"the thigh by {turn:+.0f} degrees about its long axis leaves a range of {after:.0f} degrees (angles: "
            "{cross_talk: true} does so, and moves hip and knee rotation by as much)."
        )
        out.append(Finding("knee axis", f"thigh_{side[0]}", abs(off), limit, "deg", "review", advice))
    return out
