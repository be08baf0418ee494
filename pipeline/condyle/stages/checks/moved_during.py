"""What was in place at the beginning of the trial and is not at its end, standing both times?"""

from collections.abc import Collection

import numpy as np

from condyle.body_names import SEGMENTS
from condyle.findings import Finding, Seconds
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigidity import Meeting, pairs_of
from condyle.stages.checks.judging import Limits, finding, judged
from condyle.stages.checks.near_standing import LEAST_FRAMES, Posed, changes_of, side_of
from condyle.stages.checks.recorded import Recorded

_EARLY = 0.4  # of the trial; as much at its end is late
_KNOCKED_AT = (
    0.2,
    0.4,
    0.6,
    0.8,
)  # of the standing frames: one of them is near any moment between the first and the last


def _parts(count: int) -> list[tuple[slice, slice]]:
    """The standing frames before and after each moment that is tried."""
    splits = [round(share * count) for share in _KNOCKED_AT]
    return [(slice(0, k), slice(k, count)) for k in splits if min(k, count - k) >= LEAST_FRAMES]


def _knocked(seen: Recorded, frames: Posed, s: int, limits: Limits) -> Finding | None:
    """A distance that is another from some moment on: the moment is not known, so several are tried."""
    value, change = 0.0, np.empty(0)
    for first, second in _parts(len(frames.near)):
        before, after = changes_of(frames, s, first), changes_of(frames, s, second)
        if before is None or after is None:
            continue
        apart = np.nan_to_num(np.abs(after - before))
        if apart.max(initial=0.0) > value:
            value, change = float(apart.max()), apart
    if judged(limits, f"knocked_{seen.kinds[s]}", value)[0] == "pass":
        return None
    told, when = _which_and_when(seen, frames, s, change)
    advice = f"distances inside this segment are others from some moment on, standing before and after: {told}."
    return finding(limits, f"knocked_{seen.kinds[s]}", "marker knocked", SEGMENTS[s], value, advice, times_s=when)


def _which_and_when(seen: Recorded, frames: Posed, s: int, change: FloatArray) -> tuple[str, tuple[Seconds, ...]]:
    """The marker whose distances changed most, and the standing frames between which the largest one changed."""
    assert seen.rig is not None
    columns = seen.rig.columns[s]
    pairs = pairs_of(columns)
    most = max(columns.tolist(), key=lambda c: float(change[(pairs == c).any(axis=1)].sum()))
    own = frames.edge[s] + np.flatnonzero((pairs == most).any(axis=1))
    course = frames.change[frames.standing, own]
    known = np.flatnonzero(np.isfinite(course).all(axis=1))
    # The split that leaves the least spread within its two parts, over all distances of that marker.
    best, most_gained = None, 0.0
    for k in range(LEAST_FRAMES, len(known) - LEAST_FRAMES + 1):
        step = course[known[:k]].mean(axis=0) - course[known[k:]].mean(axis=0)
        gained = k * (len(known) - k) * float(step @ step)
        if gained > most_gained:
            best, most_gained = k, gained
    label = seen.labels[most]
    if best is None:
        return f"most likely {label} moved", ()
    first, last = (frames.near[known[k]] / seen.rate_hz for k in (best - 1, best))
    return f"most likely {label} moved, between {first:.1f} and {last:.1f} s", ((float(first), float(last)),)


def drift_findings(
    seen: Recorded, posed: dict[str, Posed], stance: list[str], limits: Limits, leapt: Collection[str] = ()
) -> list[Finding]:
    """What was in place at the beginning and is not at the end, standing both times; segments that ``leapt`` have their row."""
    assert seen.rig is not None
    out: list[Finding | None] = []
    for s, segment in enumerate(SEGMENTS):
        side = side_of(segment, stance)
        if side not in posed:
            continue
        frames = posed[side]
        if len(seen.rig.columns[s]) >= 3 and segment != "trunk":
            out.append(_knocked(seen, frames, s, limits))
        early = frames.near < _EARLY * len(seen.point)
        late = frames.near > (1.0 - _EARLY) * len(seen.point)
        if segment in leapt or len(seen.rig.riders[s]) == 0 or min(early.sum(), late.sum()) < LEAST_FRAMES:
            continue
        off = frames.told.rider[frames.standing, s]
        known = np.isfinite(off)
        if min((early & known).sum(), (late & known).sum()) < LEAST_FRAMES:
            continue
        value = abs(float(np.median(off[late & known]) - np.median(off[early & known])))
        advice = "from the first to the last standing frames the cluster slid on this segment by this much against its landmarks."
        out.append(finding(limits, "slid", "cluster slides", segment, value, advice))
    told = [f for f in out if f is not None]
    return [*told, *_joints_slid(seen, posed, {f.subject for f in told} | set(leapt), limits)]


def _joints_slid(seen: Recorded, posed: dict[str, Posed], told: set[str], limits: Limits) -> list[Finding]:
    """Segments on which no landmark rides, such as the pelvis, by the joint centres that they and their neighbours carry.

    A row a segment; none where the neighbour, ``told``, is known to be what moved.
    """
    assert seen.rig is not None
    largest: dict[str, tuple[float, str]] = {}
    for m in seen.rig.meetings:
        upper, lower = SEGMENTS[m.upper], SEGMENTS[m.lower]
        side = "left" if lower.endswith("_l") else "right"
        bare = [SEGMENTS[s] for s in (m.upper, m.lower) if not len(seen.rig.riders[s])]
        if side not in posed or not bare or told & {upper, lower}:
            continue
        joint = {"thigh": "hip", "shank": "knee", "foot": "ankle"}[lower[:-2]]
        value = _joint_moved(posed[side], m)
        if judged(limits, f"{joint}_slid", value)[0] != "pass" and value > largest.get(bare[0], (0.0, ""))[0]:
            largest[bare[0]] = (value, joint)
    out = []
    for segment, (value, joint) in largest.items():
        advice = (
            f"standing before and after some moment of the trial, the {joint} centre by this segment and by its neighbour has "
            "moved by this much, one from the other: its markers slid or leapt as a whole."
        )
        out.append(finding(limits, f"{joint}_slid", "cluster slides", segment, value, advice))
    return [f for f in out if f is not None]


def _joint_moved(frames: Posed, m: Meeting) -> float:
    """[mm] how far a joint's centre by the lower segment, seen from the upper one, is elsewhere from some moment on."""
    rotation, translation = (v[frames.standing] for v in (frames.told.rotation, frames.told.translation))
    upper = rotation[:, m.upper] @ m.upper_local + translation[:, m.upper]
    lower = rotation[:, m.lower] @ m.lower_local + translation[:, m.lower]
    local = np.einsum("tij,ti->tj", rotation[:, m.upper], lower - upper)
    known = local[np.isfinite(local).all(axis=1)]
    moved = [np.median(known[b], axis=0) - np.median(known[a], axis=0) for a, b in _parts(len(known))]
    return float(max((np.linalg.norm(change) for change in moved), default=0.0))
