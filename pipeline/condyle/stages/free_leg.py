"""Is the free leg held in one place through the repetitions of a bout? Where it is held changes the kinematics."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.normalise import at_frames, percent_frames
from condyle.mechanics.path import medial_frame
from condyle.stages.accounts import Row
from condyle.vocabulary import JOINTS, SEGMENTS, SIDES

PERCENT = np.arange(10.0, 91.0, 4.0)  # a bout begins and ends with lifting the foot and putting it down
_LEAST_SEEN = 0.5  # share of these places that two repetitions must show together; ours


class Held(NamedTuple):
    """How far the free ankle lies from where it lies in the other repetitions of the bout, and whether that was asked.

    ``apart`` is NaN where it could not be told; ``alone`` where the bout has no other repetition on this leg; ``even``
    where those that lie apart are no fewer than those that do not, so that nobody can say which are the odd ones.
    """

    apart: float
    alone: bool
    even: bool = False


def free_leg_held(trial: xr.Dataset, rows: list[Row], limit_mm: float) -> list[Held]:
    """Every repetition against the others of its bout, two by two, through the middle of the squat.

    A repetition lies as far apart as it does from the nearer half of the others: one odd repetition does not make the
    others odd, two that differ are both odd, and so are the halves of a bout that changes half-way.
    """
    course = [_course(trial, row) for row in rows]
    out = []
    for k, row in enumerate(rows):
        others = [j for j, r in enumerate(rows) if j != k and (r.bout, r.side) == (row.bout, row.side)]
        between = np.sort([d for j in others if np.isfinite(d := _between(course[k], course[j]))])
        apart = float(between[(between.size - 1) // 2]) if between.size else float("nan")
        out.append(Held(apart, not others))
    return [h._replace(even=_evenly(out, rows, k, limit_mm)) for k, h in enumerate(out)]


def _evenly(held: list[Held], rows: list[Row], k: int, limit_mm: float) -> bool:
    of_bout = [h.apart for h, r in zip(held, rows, strict=True) if (r.bout, r.side) == (rows[k].bout, rows[k].side)]
    known = [a for a in of_bout if np.isfinite(a)]
    return 2 * sum(a >= limit_mm for a in known) >= len(known)


def _course(trial: xr.Dataset, row: Row) -> FloatArray:
    """(place, 2) [mm] Free ankle before and medial of the pelvis, seen from above along the heading of the bottom."""
    free = SIDES[1 - SIDES.index(row.side)]
    frames = slice(row.start, row.end + 1)
    ankle = trial.variables["joint_centre"].values[frames, JOINTS.index(f"ankle_{free[0]}")]
    pelvis = trial.variables["origin"].values[frames, SEGMENTS.index("pelvis")]
    heading = np.deg2rad(float(trial.variables["heading_deg"].values[row.bottom]))
    at = percent_frames(0, row.bottom - row.start, row.end - row.start, PERCENT)
    return at_frames(medial_frame(ankle - pelvis, row.side, heading)[:, [0, 2]], at)


def _between(first: FloatArray, second: FloatArray) -> float:
    """[mm] The largest distance between two courses; NaN where too little of them was seen together."""
    apart = np.hypot(*(first - second).T)
    seen = np.isfinite(apart)
    return float(apart[seen].max()) if seen.mean() >= _LEAST_SEEN else float("nan")
