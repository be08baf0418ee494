"""How every draw changes the peaks of angles and paths: a draw's peak may lie at another moment than the trial's.

Draws are evaluated at the start and the bottom of a repetition; between these an error is taken in proportion to knee flexion.
The peak of a draw that reaches further is looked for along the whole repetition, for errors grow with depth: a course that is
largest at the start of the trial may well be largest at the bottom of a draw. One that does not is taken where the trial's is.
"""

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, SIDES
from condyle.measure_dictionary import POINTS
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.path import medial_of_line
from condyle.stages.accounts import Row
from condyle.stages.measured_points import measured_points

_KNEE_FLEXION = JOINT_ANGLES.index("knee_flexion")
_MOMENTS = 24  # of a repetition at which a peak is looked for: errors are smooth (ours)


def peaks_of_angles(
    trial: xr.Dataset, rows: list[Row], start: FloatArray, bottom: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Deviations (draw, repetition, joint_angle) of the largest and the smallest value of every angle.

    ``start`` and ``bottom`` (draw, repetition, joint_angle): deviations there.
    """
    angle = trial.variables["angle"].values[:, SIDES.index(rows[0].side)]
    found = []
    for k, row in enumerate(rows):
        frames = _moments(row)
        found.append(_peaks(angle[frames], _shares(angle[:, _KNEE_FLEXION], row, frames), start[:, k], bottom[:, k]))
    high, low = (np.stack(side, axis=1) for side in zip(*found, strict=True))
    return high, low


def peaks_of_paths(trial: xr.Dataset, rows: list[Row], deviation: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """Deviations (draw, repetition) of the peaks of paths, from those of travel and of the knee over the foot."""
    points = measured_points(trial, rows[0].side)
    flexion = trial.variables["angle"].values[:, SIDES.index(rows[0].side), _KNEE_FLEXION]
    over_foot = [f"knee_over_foot_{n}" for n in ("start", "bottom", "peak")]
    names = [*(f"{point}_peak_{way}" for point in POINTS for way in ("medial", "lateral")), over_foot[2]]
    out: dict[str, list[FloatArray]] = {name: [] for name in names}
    for k, row in enumerate(rows):
        frames = _moments(row)
        turned = points.turned(slice(row.start, row.end + 1), float(trial.variables["heading_deg"].values[row.start]))
        travelled = [turned[point][:, 2] - turned[point][0, 2] for point in POINTS]
        beside = medial_of_line(turned["knee"], turned["heel"], turned["metatarsal"])
        course = np.stack([*travelled, beside], axis=1)[frames - row.start]
        low = np.stack([deviation[n][:, k] for n in (*(f"{p}_travel" for p in POINTS), over_foot[1])], axis=1)
        first = np.zeros_like(low)  # a path is counted from its own start
        first[:, -1] = deviation[over_foot[0]][:, k]
        most, least = _peaks(course, _shares(flexion, row, frames), first, low)
        for p, point in enumerate(POINTS):
            out[f"{point}_peak_medial"].append(most[:, p])
            out[f"{point}_peak_lateral"].append(least[:, p])
        out[over_foot[2]].append(most[:, -1])
    return {name: np.stack(values, axis=1) for name, values in out.items()}


def _moments(row: Row) -> IntArray:
    spread = np.linspace(row.start, row.end, _MOMENTS).astype(np.int64)
    return np.unique(np.append(spread, row.bottom))


def _shares(flexion: FloatArray, row: Row, frames: IntArray) -> FloatArray:
    """How far between start and bottom the knee is bent in these frames, 0 to 1."""
    span = flexion[row.bottom] - flexion[row.start]
    return np.clip((flexion[frames] - flexion[row.start]) / span, 0.0, 1.0) if span > 0 else np.ones(len(frames))


def _peaks(
    course: FloatArray, share: FloatArray, start: FloatArray, bottom: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Deviations (draw, K) of the largest and the smallest of K courses (moment, K) with errors (draw, K) at both ends."""
    lost = np.isnan(course) | np.isnan(share)[:, None]
    error = np.where(lost, 0.0, start[:, None] + share[None, :, None] * (bottom - start)[:, None])
    none = lost.all(axis=0)
    both = []
    for sign in (1.0, -1.0):
        away = np.where(lost, -np.inf, sign * course)
        peak = away.argmax(axis=0)
        further = (away + sign * error).max(axis=1) - np.where(none, 0.0, away.max(axis=0))
        there = sign * np.take_along_axis(error, peak[None, None], axis=1)[:, 0]
        # the other moments do not hold a draw's peak up: what is measured of them is as wrong
        both.append(sign * np.where(none, np.nan, np.where(further > 0, further, there)))
    return both[0], both[1]
