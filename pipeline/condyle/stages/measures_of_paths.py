"""The measures of every point's path through one repetition, all points at once."""

import numpy as np

from condyle.measure_dictionary import POINT_SUFFIXES, POINTS
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.path import path_measures

_AT_BOTTOM = np.isin(POINT_SUFFIXES, ("travel", "path_angle_descent", "path_angle_ascent", "path_ratio"))
_NAMES = {point: tuple(f"{point}_{suffix}" for suffix in POINT_SUFFIXES) for point in POINTS}


def path_values(
    points: dict[str, FloatArray], frames: tuple[int, int, int], rate_hz: float, reversal_mm: float, bottom_seen: bool
) -> tuple[tuple[str, ...], FloatArray]:
    """Names and values of each point that was seen; ``points`` (frames, 3): forward, up, medial."""
    seen = [point for point in POINTS if not np.isnan(points[point][:, 2]).all()]
    if not seen:
        return (), np.empty(0)
    position = np.stack([points[point] for point in seen], axis=1)
    values = np.array(path_measures(position, *frames, rate_hz, reversal_mm))
    if not bottom_seen:
        values[_AT_BOTTOM] = np.nan
    return tuple(name for point in seen for name in _NAMES[point]), values.T.ravel()
