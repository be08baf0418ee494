"""What a page on quality is drawn from: when each marker was seen, and how well each segment kept its shape."""

from typing import Any

import numpy as np
import xarray as xr

from condyle.mechanics.rigidity import carried
from condyle.stages.checks.recorded import recorded
from condyle.vocabulary import JOINT_SEGMENTS, JOINTS, SEGMENTS

_DRAWN = 1000  # frames


def quality_traces(trial: xr.Dataset) -> dict[str, Any]:
    """Arrays to draw from, for a trial as read or after any stage.

    ``time`` (T) s; ``marker`` names, ``label`` (M), ``expected`` (M) bool; ``seen`` (T, M) int8: 0 missing, 1 seen, 2 filled;
    ``segment`` (S) with ``rms``, ``rider`` (T, S) mm (fit to the standing trial; farthest landmark off its cluster);
    ``joint`` (J) with ``gap`` (T, J) mm (centre by upper against lower segment). About a thousand frames; without a standing
    trial the last are empty.
    """
    seen = recorded(trial, sampled=False)
    step = max(1, len(seen.point) // _DRAWN)
    point = seen.point[::step]
    visible = np.isfinite(point[..., 0]).astype(np.int8)
    if "filled" in trial:
        visible[(trial.variables["filled"].values[::step] > 0) & (visible > 0)] = 2
    out: dict[str, Any] = {
        "time": trial.variables["time"].values[::step],
        "marker": np.array(seen.names),
        "label": np.array(seen.labels),
        "expected": seen.wanted,
        "seen": visible,
        "segment": np.array(SEGMENTS),
        "rms": np.full((len(point), len(SEGMENTS)), np.nan),
        "rider": np.full((len(point), len(SEGMENTS)), np.nan),
        "joint": np.array([], dtype="U7"),
        "gap": np.empty((len(point), 0)),
    }
    if seen.rig is not None and len(point):
        told = carried(point, seen.rig)
        out |= {"rms": told.rms, "rider": told.rider, "gap": told.gap}
        names = {tuple(SEGMENTS.index(s) for s in JOINT_SEGMENTS[j]): j for j in JOINTS}
        out["joint"] = np.array([names[(m.upper, m.lower)] for m in seen.rig.meetings], dtype="U7")
    return out
