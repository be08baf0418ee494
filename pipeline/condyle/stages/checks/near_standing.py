"""Where the joints are as in the standing trial, skin is too: what is elsewhere there was moved in between.

At depth skin deforms and slides; that is a finding of its own, and never a reason to reject.
"""

from dataclasses import dataclass

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, SEGMENTS, SIDES
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.rigidity import Carried, Rig, carried, leave_one_out, pair_distances, pairs_of
from condyle.stages.checks.judging import Limits, finding, judged
from condyle.stages.checks.recorded import Recorded

_MOST_FRAMES = 30
LEAST_FRAMES = 5
_JOINT_WORDS = {"hip": "pelvis and thigh", "knee": "thigh and shank", "ankle": "shank and foot"}


@dataclass(frozen=True)
class Posed:
    """Markers in frames like the standing trial and in deep ones, as one side's knee tells them."""

    near: IntArray
    deep: IntArray
    told: Carried  # in the near frames, then in the deep ones
    change: FloatArray  # (near and deep, K) mm, of every distance inside a segment
    edge: IntArray  # (S + 1,) where the distances of each segment begin

    @property
    def standing(self) -> slice:
        """Rows of the near frames."""
        return slice(0, len(self.near))

    @property
    def bent(self) -> slice:
        """Rows of the deep frames."""
        return slice(len(self.near), None)


def posed_sides(trial: xr.Dataset, seen: Recorded, limits: Limits) -> dict[str, Posed]:
    """Side -> its frames; a side whose knee is never near the standing trial's is left out."""
    assert seen.rig is not None
    columns = [JOINT_ANGLES.index(n) for n in ("knee_flexion", "hip_flexion", "ankle_dorsiflexion")]
    within = np.array([limits[f"near_standing{n}"].value for n in ("", "_hip", "_ankle")])
    change = (
        trial.variables["angle"].values[:, :, columns] - trial.variables["static_angle"].values[:, columns]
    )  # (T, side, joint)
    pairs = [pairs_of(c) for c in seen.rig.columns]
    edge = np.concatenate([[0], np.cumsum([len(p) for p in pairs])])
    every = np.concatenate(pairs)
    assert seen.static is not None
    static = pair_distances(seen.static, every)
    out = {}
    for s, side in enumerate(SIDES):
        with np.errstate(invalid="ignore"):
            other = (np.abs(change[:, s, 1:]) < within[1:]) | np.isnan(change[:, s, 1:])
            near = _thinned((np.abs(change[:, s, 0]) < within[0]) & other.all(axis=1))
            deep = _thinned(change[:, s, 0] > limits["deep"].value)
        if len(near) >= LEAST_FRAMES:
            deep = deep if len(deep) >= LEAST_FRAMES else deep[:0]
            point = seen.point[np.concatenate([near, deep])]
            out[side] = Posed(near, deep, carried(point, seen.rig), pair_distances(point, every) - static, edge)
    return out


def _thinned(mask: BoolArray) -> IntArray:
    frames = np.flatnonzero(mask)
    return frames[:: max(1, len(frames) // _MOST_FRAMES)]


def side_of(segment: str, stance: list[str]) -> str | None:
    """The side whose knee says whether this segment is as in the standing trial."""
    if segment[-2:] in ("_l", "_r"):
        return "left" if segment.endswith("_l") else "right"
    return stance[0] if stance else None


def shape_findings(seen: Recorded, posed: dict[str, Posed], stance: list[str], limits: Limits) -> list[Finding]:
    """Markers moved since the standing trial, and skin that deforms at depth."""
    assert seen.rig is not None
    out: list[Finding | None] = []
    for s, segment in enumerate(SEGMENTS):
        side = side_of(segment, stance)
        if side not in posed or len(seen.rig.columns[s]) < 3:
            continue
        frames = posed[side]
        near = changes_of(frames, s, frames.standing)
        if near is None:
            continue
        out.append(_moved(seen, s, frames, near, limits))
        deep = changes_of(frames, s, frames.bent) if len(frames.deep) else None
        if deep is not None and segment != "trunk":
            value = float(np.nanmax(np.abs(deep - near), initial=0.0))
            advice = "distances inside this segment change by this much from standing to depth: skin slides, or a plate is loose."
            out.append(finding(limits, f"deform_{seen.kinds[s]}", "skin deforms at depth", segment, value, advice))
        out += _ridden(seen.rig, s, frames, limits)
    return [f for f in out if f is not None]


def changes_of(frames: Posed, s: int, rows: slice | BoolArray) -> FloatArray | None:
    """(K,) median change of each distance in the segment over some rows; None where none is seen."""
    change = frames.change[rows, frames.edge[s] : frames.edge[s + 1]]
    order = np.sort(change, axis=0)  # NaN last
    count = np.isfinite(change).sum(axis=0)
    middle = np.take_along_axis(order, np.maximum(count - 1, 0)[None] // 2, axis=0)[0] if len(change) else np.empty(0)
    out: FloatArray = np.where(count >= min(LEAST_FRAMES, len(change)), middle, np.nan) if len(middle) else middle
    return out if np.isfinite(out).any() else None


def _moved(seen: Recorded, s: int, frames: Posed, near: FloatArray, limits: Limits) -> Finding | None:
    """The largest change of a distance decides; the fit without each marker says which one it was."""
    assert seen.rig is not None
    value = float(np.nanmax(np.abs(near), initial=0.0))
    name = f"moved_{seen.kinds[s]}"
    rms = frames.told.rms[frames.standing, s]
    rms = rms[np.isfinite(rms)]
    loose = len(rms) > 0 and float(np.median(rms)) > limits[f"standing_fit_{seen.kinds[s]}"].value
    if not loose and judged(limits, name, value)[0] == "pass":
        return None
    columns = seen.rig.columns[s]
    without = leave_one_out(seen.rig.models[s], seen.point[frames.near][:, columns])
    if np.isfinite(without.rms_without).any():
        k = int(np.nanargmin(without.rms_without))
        value = max(value, float(without.offset[k]))  # out of the plane of the others distances hardly change
        which = f"most likely {seen.labels[columns[k]]}, by {without.offset[k]:.0f} mm"
    else:
        a, b = pairs_of(columns)[int(np.nanargmax(np.abs(near)))]
        which = f"{seen.labels[a]} or {seen.labels[b]}"
    advice = (
        f"where the joints are as in the standing trial a distance inside this segment has changed: {which}; put back elsewhere, "
        "or another standing trial."
    )
    return finding(limits, name, "moved since the standing trial", SEGMENTS[s], value, advice)


def _ridden(rig: Rig, s: int, frames: Posed, limits: Limits) -> list[Finding | None]:
    """Landmarks that are still on the segment, against its cluster: a cluster turned as a whole shows only here."""
    off = frames.told.rider[frames.standing, s]
    known = off[np.isfinite(off)]
    if len(rig.riders[s]) == 0 or len(known) < LEAST_FRAMES:
        return []
    advice = (
        "where the joints are as in the standing trial the landmarks on this segment lie this far from where its cluster carries "
        "them: the cluster was turned or shifted as a whole, or a landmark was put back elsewhere."
    )
    kind = "cluster against landmarks"
    return [finding(limits, "ridden", kind, SEGMENTS[s], float(np.median(known)), advice)]


def joint_findings(seen: Recorded, posed: dict[str, Posed], limits: Limits) -> list[Finding]:
    """Joint centres by the segment above and below: apart already standing, drifting apart at depth, moving in between."""
    assert seen.rig is not None
    out: list[Finding | None] = []
    for j, meeting in enumerate(seen.rig.meetings):
        upper, lower = SEGMENTS[meeting.upper], SEGMENTS[meeting.lower]
        joint = {"thigh": "hip", "shank": "knee", "foot": "ankle"}[lower[:-2]]
        side = "left" if lower.endswith("_l") else "right"
        if side not in posed:
            continue
        frames = posed[side]
        standing, bent = frames.told.gap[frames.standing, j], frames.told.gap[frames.bent, j]
        standing, bent = standing[np.isfinite(standing)], bent[np.isfinite(bent)]
        if len(standing) < LEAST_FRAMES:
            continue
        where = f"{joint} centre by {_JOINT_WORDS[joint]}"
        value = float(np.median(standing))
        advice = f"{where} apart although the leg stands as in the standing trial: the cluster of {upper} or {lower} was moved."
        out.append(finding(limits, f"{joint}_gap", f"{joint} centre, standing", lower, value, advice))
        if len(bent) >= LEAST_FRAMES and joint != "ankle":
            value = float(np.median(bent)) - value
            advice = f"{where} drift this far apart from standing to depth: soft tissue, or a misplaced {joint} centre."
            out.append(finding(limits, f"{joint}_drift", f"{joint} centre over flexion", lower, value, advice))
    return [f for f in out if f is not None]
