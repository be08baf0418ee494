"""What was in place at the beginning of the trial and is not at its end, standing both times?"""

import numpy as np

from condyle.body_names import SEGMENTS
from condyle.findings import Finding, Seconds
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigidity import pairs_of
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


def _knocked(seen: Recorded, frames: Posed, s: int, limits: Limits) -> Finding | None:
    """A distance that is another from some moment on: the moment is not known, so several are tried."""
    count, value, change = len(frames.near), 0.0, np.empty(0)
    for share in _KNOCKED_AT:
        split = round(share * count)
        if min(split, count - split) < LEAST_FRAMES:
            continue
        before, after = changes_of(frames, s, slice(0, split)), changes_of(frames, s, slice(split, count))
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


def drift_findings(seen: Recorded, posed: dict[str, Posed], stance: list[str], limits: Limits) -> list[Finding]:
    """What was in place at the beginning and is not at the end, standing both times."""
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
        if len(seen.rig.riders[s]) == 0 or min(early.sum(), late.sum()) < LEAST_FRAMES:
            continue
        off = frames.told.rider[frames.standing, s]
        known = np.isfinite(off)
        if min((early & known).sum(), (late & known).sum()) < LEAST_FRAMES:
            continue
        value = abs(float(np.median(off[late & known]) - np.median(off[early & known])))
        advice = "from the first to the last standing frames the cluster slid on this segment by this much against its landmarks."
        out.append(finding(limits, "slid", "cluster slides", segment, value, advice))
    return [f for f in out if f is not None]
