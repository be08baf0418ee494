"""When does a repetition not count? The free foot lands, the stance foot leaves its place, the free leg goes elsewhere."""

from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import JOINTS, SIDES
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.stages.accounts import Row
from condyle.stages.causes import Limits
from condyle.stages.free_leg import Held, free_leg_held
from condyle.stages.measured_points import landmark
from condyle.trial_data import labels_along

_FOOT = ("calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5")
NOT_LOOKED_FOR = "not looked for"
_WHICH = "which repetition is the odd one cannot be told"


class Fault(NamedTuple):
    """What may make a repetition invalid: words, the deed, whose foot, value found, the limit's name, what was not seen."""

    words: str
    deed: str
    side: str
    value: float  # NaN where nothing could be told
    limit: str
    blind: float  # share of the repetition in which it could not be looked for
    beside: str = ""  # what must be said with it


def looked_at(trial: xr.Dataset, rows: list[Row], limits: Limits) -> list[list[Fault]]:
    """Everything that is looked for in every repetition, found or not."""
    held = free_leg_held(trial, rows, limits["free_leg_moved_mm"].value)
    foot = {side: _foot(trial, side) for side in (SIDES if rows else ())}
    out: list[list[Fault]] = []
    for row, leg in zip(rows, held, strict=True):
        looks = _stance_foot(row.side, foot[row.side][row.start : row.end + 1])
        if str(trial.variables["bout_side"].values[row.bout]) != "both":
            looks += _free_foot(trial, row, foot[_other(row.side)][row.start : row.end + 1])
            looks += _free_leg(row, leg)
        out.append(looks)
    return out


def faults_of(looked: list[list[Fault]], limits: Limits) -> list[list[Fault]]:
    """What makes each repetition invalid."""
    return [[look for look in looks if _beyond(look, limits)] for looks in looked]


def _beyond(look: Fault, limits: Limits) -> bool:
    limit = limits[look.limit].value
    near = look.limit in ("free_foot_floor_mm", "free_leg_touch_mm")  # these are faults where the value is small
    return bool(np.isfinite(look.value) and (look.value <= limit if near else look.value >= limit))


def not_looked_for(trial: xr.Dataset, rows: list[Row], looked: list[list[Fault]]) -> list[Finding]:
    """What could not be seen: a row for each foot where it is so in the whole trial, else one for each repetition."""
    blind: dict[tuple[str, str], list[float]] = {}
    for look in (look for looks in looked for look in looks):
        blind.setdefault((look.side, look.deed), []).append(look.blind)
    never = {key for key, shares in blind.items() if min(shares) == 1.0}
    out = []
    for side in SIDES:
        if deeds := [deed for s, deed in blind if (s, deed) in never and s == side]:
            advice = (
                f"too little of this foot is seen to look for {_its(deeds)}: repetitions count as valid without that."
            )
            out.append(Finding(NOT_LOOKED_FOR, f"foot_{side[0]}", None, None, "", "review", advice))
    numbers = trial.variables["repetition_number"].values.tolist()
    for row, number, looks in zip(rows, numbers, looked, strict=True):
        for side in SIDES:
            lost = [k for k in looks if k.side == side and k.blind > 0.0 and (side, k.deed) not in never]
            if lost:
                seconds = max(k.blind for k in lost) * (row.end - row.start + 1) / float(trial.attrs["rate_hz"])
                advice = (
                    f"for {seconds:.2f} s of it too little of the {side} foot is seen to look for "
                    f"{_its([k.deed for k in lost])}: it counts as valid without that."
                )
                subject = f"repetition {number}, {row.side}"
                out.append(Finding(NOT_LOOKED_FOR, subject, seconds, 0.0, "s", "review", advice))
    return [*out, *_alone(trial, rows)]


def _alone(trial: xr.Dataset, rows: list[Row]) -> list[Finding]:
    """Bouts of one repetition, which has none to be compared with."""
    bouts = [r.bout for r in rows if str(trial.variables["bout_side"].values[r.bout]) != "both"]
    advice = (
        "one repetition alone cannot tell whether the free leg's position changed: it counts as valid without that."
    )
    return [
        Finding(NOT_LOOKED_FOR, f"bout {b + 1}, {r.side}", 1.0, 2.0, "1", "review", advice)
        for r in rows
        if bouts.count(b := r.bout) == 1
    ]


def _its(deeds: list[str]) -> str:
    *first, last = deeds
    return f"its {', '.join(first)}{' and ' if first else ''}{last}"


def _other(side: str) -> str:
    return SIDES[1 - SIDES.index(side)]


def _foot(trial: xr.Dataset, side: str) -> FloatArray:
    """Foot markers (time, 4, 3)."""
    return np.stack([landmark(trial, f"{n}_{side[0]}") for n in _FOOT], axis=1)


def _stance_foot(side: str, foot: FloatArray) -> list[Fault]:
    """By the markers (frames, 4, 3) of the stance foot through one repetition."""
    front = _mean(foot[:, 1:])  # the heel may lift without the foot leaving its place
    slide = np.hypot(*(front - front[0])[:, [0, 2]].T)
    line = front - foot[:, 0]
    heading = np.arctan2(-line[:, 2], line[:, 0])
    heading = heading[np.isfinite(heading)]
    pivot = np.rad2deg(np.abs(np.unwrap(heading) - heading[:1]))
    rise = foot[:, :, 1] - _least(foot[:, :, 1])
    hop = _nearest(rise)
    return [
        Fault("the stance foot slid", "sliding", side, _largest(slide), "foot_slide_mm", _blind(slide)),
        Fault("the stance foot pivoted", "pivoting", side, _largest(pivot), "foot_pivot_deg", _blind(line[:, 0])),
        Fault("the stance foot hopped", "hopping", side, _largest(hop), "foot_hop_mm", _blind(hop)),
    ]


def _free_foot(trial: xr.Dataset, row: Row, foot: FloatArray) -> list[Fault]:
    """By the markers (frames, 4, 3) of the free foot through one repetition."""
    frames, free = slice(row.start, row.end + 1), _other(row.side)
    names = labels_along(trial, "marker")
    static = trial.variables["static_point"].values
    flat = [static[names.index(n), 1] if (n := f"{m}_{free[0]}") in names else np.nan for m in _FOOT]
    found = []
    if trial.attrs.get("task") != "step_down":  # there the free foot reaches for the floor
        height = _nearest(foot[:, :, 1] - np.array(flat))
        low, blind = _smallest(height), _blind(height)
        found.append(
            Fault("the free foot touched the floor", "touching the floor", free, low, "free_foot_floor_mm", blind)
        )
    joint = trial.variables["joint_centre"].values[frames]
    hip, knee, ankle = (joint[:, JOINTS.index(f"{n}_{row.side[0]}")] for n in ("hip", "knee", "ankle"))
    points = np.concatenate([foot, joint[:, [JOINTS.index(f"ankle_{free[0]}")]]], axis=1)
    starts, ends = np.stack([hip, knee], axis=1), np.stack([knee, ankle], axis=1)
    near = _nearest(_distance(points[:, :, None], starts[:, None], ends[:, None]).reshape(len(points), -1))
    close, blind = _smallest(near), _blind(near)
    words = "touching the stance leg"
    return [*found, Fault("the free foot touched the stance leg", words, free, close, "free_leg_touch_mm", blind)]


def _free_leg(row: Row, held: Held) -> list[Fault]:
    """Whether the free leg is held where it is in the bout's other repetitions."""
    if held.alone:
        return []
    free, blind, beside = _other(row.side), float(np.isnan(held.apart)), f", and {_WHICH}" if held.even else ""
    return [
        Fault("the free leg's position changed", "changing place", free, held.apart, "free_leg_moved_mm", blind, beside)
    ]


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


def _smallest(values: FloatArray) -> float:
    return -_largest(-values)


def _nearest(values: FloatArray) -> FloatArray:
    """(frames,) The smallest of each frame's values (frames, n) that are seen; NaN where none is."""
    return np.where(np.isnan(values).all(axis=1), np.nan, np.min(np.where(np.isnan(values), np.inf, values), axis=1))


def _blind(values: FloatArray) -> float:
    """Share of the frames that show nothing."""
    return float(np.isnan(values).mean())
