"""How every draw changes the measures: the deviation of each signed value from the trial as processed.

Ranges, path lengths, counts, percents and times get none, nor does the pelvis' turn over the foot at the start: misplaced
landmarks cancel in it, and what is left of its error is not drawn. Where the knee passes 60 degrees, each draw has a moment of
its own.
"""

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, SIDES
from condyle.measure_dictionary import POINTS
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.body_angles import all_angles
from condyle.mechanics.normalise import at_frames
from condyle.mechanics.path import medial_of_line, path_angle, segment_tilt
from condyle.stages.accounts import Row
from condyle.stages.body import unknown_angles
from condyle.stages.drawn_accounts import Moments
from condyle.stages.drawn_peaks import peaks_of_angles, peaks_of_paths
from condyle.stages.drawn_points import drawn_points, drawn_shoulders, drawn_static_shoulders
from condyle.stages.drawn_views import PlanarView, adduction_parts, foot_values, planar_values
from condyle.stages.draws import Draws

_KNEE_FLEXION = JOINT_ANGLES.index("knee_flexion")


def measure_deviations(
    trial: xr.Dataset, rows: list[Row], moments: Moments, draws: Draws, frames: IntArray, planar: PlanarView
) -> dict[str, FloatArray]:
    """Measure -> (draw, repetition) deviations, for the repetitions ``rows`` of one side; the nominal draw left out."""
    side = rows[0].side
    out = _of_angles(trial, rows, moments, draws, frames)
    points = drawn_points(trial, side, draws, frames)
    start, bottom, end = ({n: p[:, m] for n, p in points.items()} for m in moments[:3])
    value = _of_legs(start, bottom, float(trial.variables["leg_length"].values[SIDES.index(side)]))
    for point in POINTS:
        low = bottom[point]
        value[f"{point}_travel"] = low[..., 2] - start[point][..., 2]
        value[f"{point}_end_offset"] = end[point][..., 2] - start[point][..., 2]
        for name, upper in (("descent", start[point]), ("ascent", end[point])):
            value[f"{point}_path_angle_{name}"] = path_angle(low[..., 2] - upper[..., 2], upper[..., 1] - low[..., 1])
    value |= planar_values(trial, rows, moments, draws, frames, planar)
    value |= foot_values(trial, rows, moments, draws, frames, points["centre_of_mass"])
    value |= adduction_parts(side, moments, draws)
    out |= {name: v[1:] - v[:1] for name, v in value.items()}
    out |= peaks_of_paths(trial, rows, out)
    return out


def _of_angles(
    trial: xr.Dataset, rows: list[Row], moments: Moments, draws: Draws, frames: IntArray
) -> dict[str, FloatArray]:
    s = SIDES.index(rows[0].side)
    angle = all_angles(draws.rotation, draws.joint, drawn_shoulders(trial, draws, frames))
    static = all_angles(draws.static_rotation, draws.static_joint, drawn_static_shoulders(trial, draws))
    unknown = unknown_angles(trial.variables["lateral_only"].values)
    angle[..., unknown], static[..., unknown] = np.nan, np.nan
    angle, static = angle[1:, :, s] - angle[:1, :, s], static[1:, s] - static[:1, s]
    start, bottom, sixty = (angle[:, m] for m in (moments.start, moments.bottom, moments.sixty))
    sixty = sixty + _by_another_moment(trial, rows, sixty[..., _KNEE_FLEXION])
    largest, smallest = peaks_of_angles(trial, rows, start, bottom)
    by_suffix = {
        "at_start": start,
        "start_from_static": start - static[:, None],
        "at_bottom": bottom,
        "at_60_knee_flexion": sixty,
        "change": bottom - start,
        "max": largest,
        "min": smallest,
    }
    return {f"{name}_{suffix}": v[..., k] for suffix, v in by_suffix.items() for k, name in enumerate(JOINT_ANGLES)}


def _by_another_moment(trial: xr.Dataset, rows: list[Row], bent_more: FloatArray) -> FloatArray:
    """(draw, repetition, joint_angle) What the angles differ by because a draw bends the knee to 60 degrees sooner or later.

    ``bent_more`` (draw, repetition): the draw's knee flexion less that of the trial, degrees. The moment is looked for on the
    way down; a draw that never bends that far is taken at the bottom.
    """
    angle = trial.variables["angle"].values[:, SIDES.index(rows[0].side)]
    out = np.zeros((*bent_more.shape, angle.shape[-1]))
    for k, row in enumerate(rows):
        if np.isfinite(row.at_60):
            way_down = np.arange(row.start, row.bottom + 1)
            bent = np.maximum.accumulate(np.nan_to_num(angle[way_down, _KNEE_FLEXION], nan=-np.inf))
            then = np.interp(60.0 - bent_more[:, k], bent, way_down)
            out[:, k] = at_frames(angle, then) - at_frames(angle, np.array([row.at_60]))
    return np.nan_to_num(out)


def _of_legs(start: dict[str, FloatArray], bottom: dict[str, FloatArray], leg_length: float) -> dict[str, FloatArray]:
    """The measures of measures_of_legs that are signed values, from points (draw, repetition, 3)."""
    travel = bottom["knee"][..., 2] - start["knee"][..., 2]
    shift = bottom["hip"][..., 2] - start["hip"][..., 2]
    foot = start["metatarsal"] - start["heel"]
    return {
        "knee_travel_percent_leg": 100.0 * travel / leg_length,
        "hip_centre_shift": shift,
        "knee_relative_to_hip_travel": travel - shift,
        "knee_over_foot_start": medial_of_line(start["knee"], start["heel"], start["metatarsal"]),
        "knee_over_foot_bottom": medial_of_line(bottom["knee"], bottom["heel"], bottom["metatarsal"]),
        "thigh_tilt": segment_tilt(bottom["hip"], bottom["knee"], 2),
        "shank_tilt": -segment_tilt(bottom["knee"], bottom["ankle_centre"], 2),
        "shank_forward_lean": -segment_tilt(bottom["knee_in_view"], bottom["ankle"], 0),
        "foot_axis_to_heading": np.rad2deg(np.arctan2(foot[..., 2], foot[..., 0])),
        "depth": start["hip"][..., 1] - bottom["hip"][..., 1],
        "com_offset_start": medial_of_line(start["centre_of_mass"], start["heel"], start["metatarsal"]),
        "com_offset_bottom": medial_of_line(bottom["centre_of_mass"], bottom["heel"], bottom["metatarsal"]),
        "cop_offset_start": medial_of_line(start["centre_of_pressure"], start["heel"], start["metatarsal"]),
        "cop_offset_bottom": medial_of_line(bottom["centre_of_pressure"], bottom["heel"], bottom["metatarsal"]),
    }
