"""Which markers are likely to have been exchanged, where some segments are wrong?"""

from collections.abc import Iterable
from itertools import combinations

import numpy as np

from condyle.body_names import LANDMARK_SEGMENT, SEGMENTS
from condyle.mechanics.arrays import IntArray
from condyle.mechanics.relabelling import exchanged, orders_within
from condyle.mechanics.rigidity import Rig
from condyle.stages.checks.recorded import Recorded, whole_segment

_TAILS = {"_r": "_l", "_l": "_r"}
_LEGS = ("thigh", "shank", "foot")


def candidates_for(seen: Recorded, rig: Rig, hit: Iterable[int]) -> list[IntArray]:
    """Orders of names to try where these segments are wrong: within one, between two, left for right."""
    hit = list(hit)
    n = len(seen.names)
    out: list[IntArray] = []
    for s in hit:
        out += orders_within(n, rig.columns[s].tolist())
        out += [exchanged(n, [(int(a), int(b))]) for a in rig.columns[s] for b in rig.riders[s]]
        out += [exchanged(n, [pair]) for pair in combinations(rig.riders[s].tolist(), 2)]
        out += [exchanged(n, [(int(a), int(b))]) for a in whole_segment(rig, s) for b in rig.loose.columns]
    for s, t in combinations(hit, 2):
        a, b = whole_segment(rig, s), whole_segment(rig, t)
        out += [exchanged(n, [(int(x), int(y))]) for x in a for y in b]
        if len(rig.columns[s]) == len(rig.columns[t]):
            out.append(exchanged(n, zip(rig.columns[s].tolist(), rig.columns[t].tolist(), strict=True)))
    out += [exchanged(n, [pair]) for pair in combinations(rig.loose.columns.tolist(), 2)]
    return [*out, *_sides(seen, rig, n)]


def _sides(seen: Recorded, rig: Rig, n: int) -> list[IntArray]:
    """Left for right: the pelvis, a segment's cluster, a segment with all its markers, a whole leg, everything."""
    out = []
    partner = _partners(seen, rig)
    tracks = {c: s for s in reversed(range(len(SEGMENTS))) for c in rig.columns[s].tolist()}
    segment_of = [SEGMENTS[tracks[c]] if c in tracks else LANDMARK_SEGMENT.get(seen.names[c], "") for c in range(n)]

    def flip(columns: IntArray) -> None:
        pairs = {(min(int(c), p), max(int(c), p)) for c in columns if (p := partner[int(c)]) is not None}
        if pairs:
            out.append(exchanged(n, sorted(pairs)))

    flip(whole_segment(rig, SEGMENTS.index("pelvis")))
    for which in (*((name,) for name in _LEGS), _LEGS, _LEGS[1:]):
        own = [SEGMENTS.index(f"{name}_r") for name in which]
        flip(np.concatenate([rig.columns[s] for s in own]))
        flip(np.concatenate([whole_segment(rig, s) for s in own]))
        flip(np.array([c for c in range(n) if segment_of[c] in {f"{name}_r" for name in which}], dtype=np.int64))
    flip(np.arange(n))
    return out


def sides_exchanged(seen: Recorded, rig: Rig) -> IntArray | None:
    """The order of names in which every right marker is a left one; None where no marker has a partner."""
    pairs = {(min(c, p), max(c, p)) for c, p in _partners(seen, rig).items() if p is not None}
    return exchanged(len(seen.names), sorted(pairs)) if pairs else None


def _partners(seen: Recorded, rig: Rig) -> dict[int, int | None]:
    """Column -> the same marker of the other side."""
    column_of = {name: c for c, name in enumerate(seen.names)}
    sided = {
        c: s for s in reversed(range(len(SEGMENTS))) for c in rig.columns[s].tolist() if SEGMENTS[s][-2:] in _TAILS
    }
    return {c: _partner(seen, rig, c, sided, column_of) for c in range(len(seen.names))}


def _partner(seen: Recorded, rig: Rig, column: int, sided: dict[int, int], column_of: dict[str, int]) -> int | None:
    """The same marker of the other side: by anatomical name, else by its place in the other side's cluster.

    ``sided`` tells the segment of a side that a column tracks, ``column_of`` the column of a name.
    """
    name = seen.names[column]
    other = _TAILS.get(name[-2:])
    if other is not None and name[:-2] + other in column_of:
        return column_of[name[:-2] + other]
    if column not in sided:
        return None
    segment = SEGMENTS[sided[column]]
    t = SEGMENTS.index(segment[:-2] + _TAILS[segment[-2:]])
    place = rig.columns[sided[column]].tolist().index(column)
    return int(rig.columns[t][place]) if place < len(rig.columns[t]) else None
