"""The measures of every point's path through one repetition."""

import numpy as np

from condyle.measure_dictionary import POINT_SUFFIXES, POINTS
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.path import path_measures

_AT_BOTTOM = np.isin(POINT_SUFFIXES, ("travel", "path_angle_descent", "path_angle_ascent", "path_ratio"))
_NAMES = {point: tuple(f"{point}_{suffix}" for suffix in POINT_SUFFIXES) for point in POINTS}


def path_values(
    points: dict[str, FloatArray], frames: tuple[int, int, int], rate_hz: float, reversal_mm: float, bottom_seen: bool
) -> list[tuple[tuple[str, ...], FloatArray]]:
    """Names and values of each point that was seen; ``points`` (frames, 3): forward, up, medial."""
    out = []
    for point in POINTS:
        position = points[point]
        if np.isnan(position[:, 2]).all():
            continue
        values = np.array(path_measures(position, *frames, rate_hz, reversal_mm))
        if not bottom_seen:
            values[_AT_BOTTOM] = np.nan
        out.append((_NAMES[point], values))
    return out
