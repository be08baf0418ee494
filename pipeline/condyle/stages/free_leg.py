"""Is the free leg held in one place through the repetitions of a bout? Where it is held changes the kinematics."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS, SIDES
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.normalise import at_frames, percent_frames
from condyle.mechanics.path import medial_frame
from condyle.stages.accounts import Row

PERCENT = np.arange(10.0, 91.0, 4.0)  # a bout begins and ends with lifting the foot and putting it down
_LEAST_SEEN = 0.5  # share of these places that a repetition must show together with another; ours


class Held(NamedTuple):
    """How far the free ankle lies from where it lies in the other repetitions of the bout, and whether that was asked.

    ``apart`` is NaN where it could not be told; ``alone`` where the bout has no other repetition on this leg; ``even``
    where at the worst moment no more repetitions lie together elsewhere than with this one, so that nobody can say which
    are the odd ones.
    """

    apart: float
    alone: bool
    even: bool = False


def free_leg_held(trial: xr.Dataset, rows: list[Row], limit_mm: float) -> list[Held]:
    """Every repetition against the others of its bout, moment by moment through the middle of the squat.

    A repetition lies as far apart as it does, at its worst moment, from the nearer half of the others: one odd repetition
    does not make the others odd, two that differ are both odd, and so are the halves of a bout that changes half-way.
    """
    course = [_course(trial, row) for row in rows]
    out = []
    for k, row in enumerate(rows):
        others = [course[j] for j, r in enumerate(rows) if j != k and (r.bout, r.side) == (row.bout, row.side)]
        out.append(_held(np.stack([course[k], *others]), limit_mm))
    return out


def _course(trial: xr.Dataset, row: Row) -> FloatArray:
    """(place, 2) [mm] Free ankle before and medial of the pelvis, seen from above along the heading of the bottom."""
    free = SIDES[1 - SIDES.index(row.side)]
    frames = slice(row.start, row.end + 1)
    ankle = trial.variables["joint_centre"].values[frames, JOINTS.index(f"ankle_{free[0]}")]
    pelvis = trial.variables["origin"].values[frames, SEGMENTS.index("pelvis")]
    heading = np.deg2rad(float(trial.variables["heading_deg"].values[row.bottom]))
    at = percent_frames(0, row.bottom - row.start, row.end - row.start, PERCENT)
    return at_frames(medial_frame(ankle - pelvis, row.side, heading)[:, [0, 2]], at)


def _held(course: FloatArray, limit_mm: float) -> Held:
    """The first of the courses (repetition, place, 2) against the others."""
    if len(course) == 1:
        return Held(float("nan"), alone=True)
    between = np.linalg.norm(course[:, None] - course, axis=-1)
    known = np.isfinite(between[0, 1:]).sum(axis=0)
    nearer = np.take_along_axis(np.sort(between[0, 1:], axis=0), (np.maximum(known, 1) - 1)[None] // 2, axis=0)[0]
    seen = np.flatnonzero(known)
    if len(seen) < _LEAST_SEEN * len(known):
        return Held(float("nan"), alone=False)
    worst = seen[nearer[seen].argmax()]
    together = (between[..., worst] < limit_mm).sum(axis=1)
    return Held(float(nearer[worst]), alone=False, even=bool(together[0] >= together[1:].max()))
