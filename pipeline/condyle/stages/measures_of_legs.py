"""Where hip, knee, foot and centre of mass stand to one another in one repetition."""

import numpy as np

from condyle.measure_dictionary import OTHER_NAMES
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.extremes import extremes
from condyle.mechanics.path import medial_of_line, segment_tilt


def leg_values(
    points: dict[str, FloatArray],
    frames: tuple[int, int, int],
    rate_hz: float,
    leg_length: float,
    pelvis_over_foot: float,
    bottom_seen: bool,
) -> tuple[tuple[str, ...], FloatArray]:
    """Names and values; ``points`` (frames, 3) are forward, up, medial, from the repetition's start to its end."""
    start, bottom, end = frames
    hip, knee, ankle, heel, toe = (points[n] for n in ("hip", "knee", "ankle", "heel", "metatarsal"))
    over_foot = medial_of_line(knee, heel, toe)
    mass = medial_of_line(points["centre_of_mass"], heel, toe)
    pressure = medial_of_line(points["centre_of_pressure"], heel, toe)
    travel = knee[bottom, 2] - knee[start, 2]
    shift = hip[bottom, 2] - hip[start, 2]
    foot = toe[start] - heel[start]
    value = {
        "knee_travel_percent_leg": 100.0 * travel / leg_length,
        "hip_centre_shift": shift,
        "knee_relative_to_hip_travel": travel - shift,
        "knee_over_foot_bottom": over_foot[bottom],
        "thigh_tilt": segment_tilt(hip[bottom], knee[bottom], 2),
        "shank_tilt": -segment_tilt(knee[bottom], points["ankle_centre"][bottom], 2),
        "shank_forward_lean": -segment_tilt(points["knee_in_view"][bottom], ankle[bottom], 0),
        "depth": hip[start, 1] - hip[bottom, 1],
        "descent_time": (bottom - start) / rate_hz,
        "ascent_time": (end - bottom) / rate_hz,
        "com_offset_bottom": mass[bottom],
        "cop_offset_bottom": pressure[bottom],
    }
    if not bottom_seen:
        value = dict.fromkeys(value, np.nan)
    value |= {
        "knee_over_foot_start": over_foot[start],
        "knee_over_foot_peak": _largest(over_foot, bottom),
        "heel_lift": _largest(heel[:, 1] - heel[start, 1], bottom),
        "foot_axis_to_heading": np.rad2deg(np.arctan2(foot[2], foot[0])),
        "pelvis_over_foot_at_start": pelvis_over_foot,
        "com_offset_start": mass[start],
        "cop_offset_start": pressure[start],
    }
    return OTHER_NAMES, np.array([value[n] for n in OTHER_NAMES], dtype=float)


def _largest(curve: FloatArray, bottom: int) -> float:
    return float(extremes(curve[:, None], bottom).high[0])
