"""When does a repetition not count? The free foot lands, the stance foot leaves its place, the free leg goes elsewhere."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.path import medial_frame
from condyle.stages.accounts import Row
from condyle.stages.causes import Limits
from condyle.stages.measured_points import landmark
from condyle.vocabulary import JOINTS, SIDES, labels_along

_FOOT = ("calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5")


class Fault(NamedTuple):
    """What makes a repetition invalid: words, the value found, and the limit's name."""

    words: str
    value: float
    limit: str


def faults_of(trial: xr.Dataset, rows: list[Row], limits: Limits) -> list[list[Fault]]:
    """The faults of every repetition; what needs markers that are not there is not looked for."""
    one_leg = [str(trial.variables["bout_side"].values[r.bout]) != "both" for r in rows]
    away = _free_leg_away(trial, rows)
    foot = {side: _foot(trial, side) for side in (SIDES if rows else ())}
    out: list[list[Fault]] = []
    for row, single in zip(rows, one_leg, strict=True):
        found = _stance_foot(foot[row.side][row.start : row.end + 1])
        if single:
            found += _free_foot(trial, row, foot[_other(row.side)][row.start : row.end + 1])
            others = [a for a, r in zip(away, rows, strict=True) if r.bout == row.bout and np.isfinite(a)]
            moved = abs(away[len(out)] - np.median(others)) if others else float("nan")
            found.append(Fault("the free leg's position changed", float(moved), "free_leg_moved_mm"))
        out.append([f for f in found if _beyond(f, limits)])
    return out


def not_looked_for(trial: xr.Dataset, rows: list[Row]) -> list[Finding]:
    """What can make a repetition invalid and could not be seen, a row for each foot without markers."""
    out = []
    for side in SIDES:
        if not np.isnan(_foot(trial, side)).all():
            continue
        stance = any(r.side == side for r in rows)
        free = any(r.side != side and str(trial.variables["bout_side"].values[r.bout]) != "both" for r in rows)
        words = ["sliding, pivoting or hopping on it"] * stance + ["its touching the floor or the other leg"] * free
        if words:
            advice = (
                f"no marker of this foot is seen, so {' and '.join(words)} is not looked for: repetitions count as valid "
                "without it."
            )
            out.append(Finding("repetition valid", f"foot_{side[0]}", None, None, "", "review", advice))
    return out


def _beyond(fault: Fault, limits: Limits) -> bool:
    limit = limits[fault.limit].value
    near = fault.limit in ("free_foot_floor_mm", "free_leg_touch_mm")  # these are faults where the value is small
    return bool(np.isfinite(fault.value) and (fault.value <= limit if near else fault.value >= limit))


def _other(side: str) -> str:
    return SIDES[1 - SIDES.index(side)]


def _foot(trial: xr.Dataset, side: str) -> FloatArray:
    """Foot markers (time, 4, 3)."""
    return np.stack([landmark(trial, f"{n}_{side[0]}") for n in _FOOT], axis=1)


def _stance_foot(foot: FloatArray) -> list[Fault]:
    """By the markers (frames, 4, 3) of the stance foot through one repetition."""
    front = _mean(foot[:, 1:])  # the heel may lift without the foot leaving its place
    slide = np.hypot(*(front - front[0])[:, [0, 2]].T)
    line = front - foot[:, 0]
    heading = np.unwrap(np.where(np.isnan(line[:, 2]), 0.0, np.arctan2(-line[:, 2], line[:, 0])))
    pivot = np.rad2deg(np.abs(heading - heading[0])) if np.isfinite(line).all() else np.array([np.nan])
    rise = foot[:, :, 1] - _least(foot[:, :, 1])
    hop = np.where(np.isnan(rise).all(axis=1), np.nan, np.min(np.where(np.isnan(rise), np.inf, rise), axis=1))
    return [
        Fault("the stance foot slid", _largest(slide), "foot_slide_mm"),
        Fault("the stance foot pivoted", _largest(pivot), "foot_pivot_deg"),
        Fault("the stance foot hopped", _largest(hop), "foot_hop_mm"),
    ]


def _free_foot(trial: xr.Dataset, row: Row, foot: FloatArray) -> list[Fault]:
    """By the markers (frames, 4, 3) of the free foot through one repetition."""
    frames, free = slice(row.start, row.end + 1), _other(row.side)
    names = labels_along(trial, "marker")
    static = trial.variables["static_point"].values
    flat = [static[names.index(n), 1] if (n := f"{m}_{free[0]}") in names else np.nan for m in _FOOT]
    found = []
    if trial.attrs.get("task") != "step_down":  # there the free foot reaches for the floor
        height = foot[:, :, 1] - np.array(flat)
        found.append(Fault("the free foot touched the floor", -_largest(-height), "free_foot_floor_mm"))
    joint = trial.variables["joint_centre"].values[frames]
    hip, knee, ankle = (joint[:, JOINTS.index(f"{n}_{row.side[0]}")] for n in ("hip", "knee", "ankle"))
    points = np.concatenate([foot, joint[:, [JOINTS.index(f"ankle_{free[0]}")]]], axis=1)
    starts, ends = np.stack([hip, knee], axis=1), np.stack([knee, ankle], axis=1)
    near = _distance(points[:, :, None], starts[:, None], ends[:, None])
    found.append(Fault("the free foot touched the stance leg", -_largest(-near), "free_leg_touch_mm"))
    return found


def _free_leg_away(trial: xr.Dataset, rows: list[Row]) -> list[float]:
    """How far the free ankle lies before the stance ankle at the bottom of each repetition, mm."""
    joint = trial.variables["joint_centre"].values
    out = []
    for row in rows:
        free = _other(row.side)
        between = (
            joint[row.bottom, JOINTS.index(f"ankle_{free[0]}")]
            - joint[row.bottom, JOINTS.index(f"ankle_{row.side[0]}")]
        )
        heading = np.deg2rad(trial.variables["heading_deg"].values[row.bottom])
        out.append(float(medial_frame(between, row.side, heading)[0]))
    return out


def _distance(points: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Distance of points (..., 3) from line segments (..., 3)."""
    along = end - start
    square = np.einsum("...i,...i->...", along, along)
    share = np.einsum("...i,...i->...", points - start, along) / np.where(square > 0, square, 1.0)
    apart = points - start - np.clip(share, 0.0, 1.0)[..., None] * along
    return np.asarray(np.sqrt(np.einsum("...i,...i->...", apart, apart)))


def _mean(points: FloatArray) -> FloatArray:
    """Mean over the markers that are seen through the whole repetition, so that a gap does not move it."""
    whole = np.isfinite(points).all(axis=(0, 2))
    return points[:, whole].mean(axis=1) if whole.any() else np.full((len(points), 3), np.nan)


def _least(height: FloatArray) -> FloatArray:
    return np.asarray(np.min(np.where(np.isnan(height), np.inf, height), axis=0))


def _largest(values: FloatArray) -> float:
    seen = values[np.isfinite(values)]
    return float(seen.max()) if seen.size else float("nan")
