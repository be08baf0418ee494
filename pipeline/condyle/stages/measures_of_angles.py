"""The measures of every joint angle through one repetition, all angles at once."""

import numpy as np

from condyle.body_names import JOINT_ANGLES
from condyle.measure_dictionary import ANGLE_SUFFIXES
from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.extremes import extremes
from condyle.mechanics.normalise import at_frames

_FPPA = [JOINT_ANGLES.index(n) for n in ("fppa", "fppa_lateral_markers")]
_SEEN_WITH_IT = [JOINT_ANGLES.index(n) for n in ("hip_flexion", "knee_flexion")]
ANGLE_MEASURES = tuple(f"{angle}_{suffix}" for suffix in ANGLE_SUFFIXES for angle in JOINT_ANGLES)


def angle_values(
    angle: FloatArray, static: FloatArray, frames: tuple[int, int, int], at_60: float, bottom_seen: bool
) -> tuple[tuple[str, ...], FloatArray]:
    """Names and values, in the order of :data:`ANGLE_MEASURES`.

    ``angle`` (time, joint_angle) and ``static`` (joint_angle) in degrees, ``frames`` start, bottom, end, ``at_60`` the
    frame of 60 degrees of knee flexion. A value whose own frame is missing is NaN, and so is a peak that a gap may
    hold. Those of FPPA are NaN in any case where the leg was seen and yet too little of it showed in the frontal plane:
    the angle grows towards such frames, and a peak without them would be a number of the limit, not of the squat.
    """
    start, bottom, end = frames
    part = angle[start : end + 1]
    lost: BoolArray = np.isnan(part)
    legs_seen = ~lost[:, _SEEN_WITH_IT].any(axis=1, keepdims=True)
    peak = extremes(part, bottom - start)
    high, low = peak.high.copy(), peak.low.copy()
    for value in (high, low):
        value[_FPPA] = np.where((lost[:, _FPPA] & legs_seen).any(axis=0), np.nan, value[_FPPA])
    percent = np.interp(peak.high_frame, [0, bottom - start, end - start], [0.0, 50.0, 100.0])
    percent = np.where(np.isnan(high), np.nan, percent)
    at_bottom = angle[bottom] if bottom_seen else np.full(part.shape[1], np.nan)
    by_suffix = {
        "at_start": part[0],
        "start_from_static": part[0] - static,
        "at_bottom": at_bottom,
        "at_60_knee_flexion": at_frames(angle, np.array([at_60]))[0],
        "change": at_bottom - part[0],
        "max": high,
        "min": low,
        "max_percent": percent,
        "range": high - low,
    }
    return ANGLE_MEASURES, np.concatenate([by_suffix[suffix] for suffix in ANGLE_SUFFIXES])
