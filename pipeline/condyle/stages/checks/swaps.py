"""Were markers exchanged, for the whole trial or a part of it, and which relabelling makes them a body again?

Distances inside segments and, more thinly, the joints where segments meet are looked at first; where they are wrong the
stretch is cut out at its jumps, every likely exchange is tried, and the best is named with its frames.
"""

from dataclasses import dataclass
from itertools import combinations, pairwise

import numpy as np

from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.gaps import runs_of
from condyle.mechanics.relabelling import cycles, exchanged, misfits, orders_within
from condyle.mechanics.rigidity import Carried, Rig, carried, pair_distances, pairs_of
from condyle.mechanics.spikes import jerks
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded, whole_segment
from condyle.vocabulary import LANDMARK_SEGMENT, SEGMENTS

_LEGS = ("thigh", "shank", "foot")
_TRIED_FRAMES = 6
_FIRST_FRAMES = 2  # all candidates are tried on these, the best of them on the others
_BEST = 8
_MOST_STRETCHES = 20
_GIVE_UP = 5  # where none of the longest stretches is an exchange, the short ones are not looked at
_ROUNDS = 3  # two exchanges at once are found one after the other


@dataclass(frozen=True)
class Swap:
    """Frames start to stop (stop excluded) in which the markers should be read in another order."""

    start: int
    stop: int
    order: IntArray
    before: float  # misfit as labelled
    after: float

    @property
    def moved(self) -> list[tuple[int, ...]]:
        """Groups of columns that changed places."""
        return cycles(self.order)


def find_swaps(seen: Recorded, limits: Limits) -> list[Swap]:
    """Every stretch in which another order of names fits far better."""
    if seen.rig is None or seen.static is None:
        return []
    wrong = _wrong_segments(seen, limits)
    if wrong is None:
        return []
    found: list[Swap] = []
    candidates: dict[tuple[int, ...], list[IntArray]] = {}
    for tried, (start, stop) in enumerate(_stretches(seen, wrong, limits)):
        if tried == _GIVE_UP and not found:
            break
        known = list({swap.order.tobytes(): swap.order for swap in found}.values())
        if swap := _best(seen, seen.rig, wrong[start:stop], start, stop, known, candidates, limits):
            found.append(swap)
    return _joined(sorted(found, key=lambda swap: swap.start))


def relabelled(point: FloatArray, swaps: list[Swap]) -> FloatArray:
    """The markers under the names they should have had."""
    out = point.copy()
    for swap in swaps:
        out[swap.start : swap.stop] = point[swap.start : swap.stop][:, swap.order]
    return out


def swap_findings(seen: Recorded, swaps: list[Swap], repair: bool) -> list[Finding]:
    """One row per exchange; rejecting unless the pipeline repairs it."""
    out = []
    for swap in swaps:
        groups = "; ".join(seen.named(group) for group in swap.moved)
        share = 100.0 * (swap.stop - swap.start) / max(1, len(seen.point))
        first, last = swap.start / seen.rate_hz, (swap.stop - 1) / seen.rate_hz
        rest = (
            "the stage repair exchanges them back."
            if repair
            else "exchange them in the recording software, or ask for it with repair: {swaps: true}."
        )
        advice = (
            f"exchanged: {groups}, frames {swap.start} to {swap.stop - 1} ({first:.2f} to {last:.2f} s, counted from 0); "
            f"exchanged back, the body's misfit falls from {swap.before:.0f} to {swap.after:.0f} mm; {rest}"
        )
        for subject in _subjects(seen, swap):
            out.append(Finding("markers exchanged", subject, share, 0.0, "%", "review" if repair else "reject", advice))
    return out


def _subjects(seen: Recorded, swap: Swap) -> list[str]:
    """The segments whose markers changed places; the label of a marker that belongs to none."""
    assert seen.rig is not None
    columns = [c for group in swap.moved for c in group]
    out: dict[str, None] = {}
    for c in columns:
        own = [SEGMENTS[s] for s in range(len(SEGMENTS)) if c in seen.rig.columns[s]]
        out |= dict.fromkeys(own or [LANDMARK_SEGMENT.get(seen.names[c], seen.labels[c])])
    return list(out)


def _wrong_segments(seen: Recorded, limits: Limits) -> BoolArray | None:
    """(T, S) where a segment's distances or joints are far off; None, after a thin look, where nothing is."""
    assert seen.rig is not None
    assert seen.told is not None
    coarse = seen.point[:: max(1, round(seen.rate_hz / limits["swap_screen_hz"].value))]
    if not _off(seen, coarse, limits).any() and not _apart(seen.told, seen.rig, limits).any():
        return None
    return np.asarray(_off(seen, seen.point, limits) | _apart(carried(seen.point, seen.rig), seen.rig, limits))


def _off(seen: Recorded, point: FloatArray, limits: Limits) -> BoolArray:
    """(T, S) True where a distance inside a segment is far from the standing trial's."""
    assert seen.rig is not None
    assert seen.static is not None
    members = [whole_segment(seen.rig, s) for s in range(len(SEGMENTS))]
    pairs = [pairs_of(m) for m in members]
    every = np.concatenate(pairs)
    change = np.abs(pair_distances(point, every) - pair_distances(seen.static, every))
    plate, skin = limits["swap_screen_plate"].value, limits["swap_screen_skin"].value
    limit = np.concatenate(
        [
            np.where(np.isin(p, seen.rig.columns[s]).all(axis=1) & (seen.kinds[s] == "plate"), plate, skin)
            for s, p in enumerate(pairs)
        ]
    )
    with np.errstate(invalid="ignore"):
        far = change > limit
    edge = np.concatenate([[0], np.cumsum([len(p) for p in pairs])])
    return np.stack([far[:, a:b].any(axis=1) for a, b in pairwise(edge)], axis=-1)


def _apart(told: Carried, rig: Rig, limits: Limits) -> BoolArray:
    """(T, S) True where segments that meet in a joint are far from each other, or a segment does not fit at all."""
    with np.errstate(invalid="ignore"):
        out = np.asarray(
            (told.rms > limits["swap_screen_skin"].value) | (told.rider > limits["swap_screen_joint"].value)
        )
        far = told.gap > limits["swap_screen_joint"].value
    for j, m in enumerate(rig.meetings):
        out[:, m.upper] |= far[:, j]
        out[:, m.lower] |= far[:, j]
    return out


def _stretches(seen: Recorded, wrong: BoolArray, limits: Limits) -> list[tuple[int, int]]:
    """Stretches of wrong frames, cut where a marker jumps or comes back from a gap; the longest of them first."""
    hit: BoolArray = np.asarray(wrong.any(axis=1))
    bend = jerks(seen.point)
    with np.errstate(invalid="ignore"):
        jump: BoolArray = np.zeros(len(hit), dtype=np.bool_)
        jump[1:-1] = (bend > limits["swap_jump"].value).any(axis=1)
    missing = np.isnan(seen.point[..., 0])
    back: BoolArray = np.zeros(len(hit), dtype=np.bool_)
    back[1:] = (missing[1:] != missing[:-1]).any(axis=1)
    out: list[tuple[int, int]] = []
    for start, stop in runs_of(hit):
        cuts = [start, *(start + 1 + np.flatnonzero(jump[start + 1 : stop] | back[start + 1 : stop])).tolist(), stop]
        out += [(a, b) for a, b in pairwise(cuts) if b > a]
    return sorted(out, key=lambda s: s[0] - s[1])[:_MOST_STRETCHES]


def _best(
    seen: Recorded,
    rig: Rig,
    wrong: BoolArray,
    start: int,
    stop: int,
    known: list[IntArray],
    candidates: dict[tuple[int, ...], list[IntArray]],
    limits: Limits,
) -> Swap | None:
    """The best exchange of this stretch, where it is far better than the names as they are; known ones are tried first.

    ``candidates`` keeps what may be exchanged by the segments that are wrong, for the stretches to come.
    """
    frames = np.unique(np.linspace(start, stop - 1, _TRIED_FRAMES).round().astype(int))
    point = seen.point[frames]
    same = np.arange(len(seen.names))
    if known:
        tried = misfits(point, rig, [same, *known])
        k = int(tried.sum(axis=1).argmin())
        if k and (found := _accepted(seen, rig, Swap(start, stop, known[k - 1], 0.0, 0.0), tried[0], tried[k], limits)):
            return found
    share = wrong.mean(axis=0)
    hit = tuple(int(s) for s in np.flatnonzero(share >= 0.5)) or (int(share.argmax()),)
    order, first, last = same, np.zeros(0), np.zeros(0)
    names_as_they_are = misfits(point, rig, [order])[0]
    if names_as_they_are.sum() < limits["swap_gain"].value:
        return None  # no exchange can gain more than there is
    if hit not in candidates:
        candidates[hit] = _candidates(seen, rig, list(hit))
    few = point[np.unique(np.linspace(0, len(point) - 1, _FIRST_FRAMES).round().astype(int))]
    for _ in range(_ROUNDS):
        thin = misfits(few[:, order], rig, candidates[hit]).sum(axis=1)
        likely = [candidates[hit][k] for k in np.argsort(thin, kind="stable")[:_BEST]]
        tried = misfits(point[:, order], rig, [same, *likely])
        k = int(tried.sum(axis=1).argmin())
        first = first if len(first) else tried[0]
        if k == 0 or (tried[0] - tried[k]).sum() < limits["swap_gain"].value:
            break
        order, last = order[likely[k - 1]], tried[k]
        if tried[k].max() < limits["swap_settled"].value:
            break
    return _accepted(seen, rig, Swap(start, stop, order, 0.0, 0.0), first, last, limits) if len(last) else None


def _accepted(seen: Recorded, rig: Rig, swap: Swap, first: FloatArray, last: FloatArray, limits: Limits) -> Swap | None:
    """The exchange with its misfits where it takes most of them away and leaves sound segments; None otherwise."""
    changed = np.abs(first - last) > limits["swap_changed"].value
    before, after = float(first[changed].sum()), float(last[changed].sum())
    sound = all(last[s] <= limits[f"fit_{seen.kinds[s]}_reject"].value for s in _touched(rig, swap.order))
    gained = before - after >= limits["swap_gain"].value and after < limits["swap_share"].value * before
    return Swap(swap.start, swap.stop, swap.order, before, after) if sound and gained else None


def _touched(rig: Rig, order: IntArray) -> list[int]:
    """The segments whose pose rests on markers that changed places."""
    moved = np.flatnonzero(order != np.arange(len(order)))
    return [s for s, columns in enumerate(rig.columns) if len(columns) >= 3 and np.isin(columns, moved).any()]


def _candidates(seen: Recorded, rig: Rig, hit: list[int]) -> list[IntArray]:
    n = len(seen.names)
    out: list[IntArray] = []
    for s in hit:
        out += orders_within(n, rig.columns[s].tolist())
        out += [exchanged(n, [(int(a), int(b))]) for a in rig.columns[s] for b in rig.riders[s]]
    for s, t in combinations(hit, 2):
        a, b = whole_segment(rig, s), whole_segment(rig, t)
        out += [exchanged(n, [(int(x), int(y))]) for x in a for y in b]
        if len(rig.columns[s]) == len(rig.columns[t]):
            out.append(exchanged(n, zip(rig.columns[s].tolist(), rig.columns[t].tolist(), strict=True)))
    return [*out, *_sides(seen, rig, n)]


def _sides(seen: Recorded, rig: Rig, n: int) -> list[IntArray]:
    """Left for right: the pelvis, a segment's cluster, a segment with all its markers, a whole leg, everything."""
    out = []
    partner = {c: _partner(seen, rig, c) for c in range(n)}
    segment_of = [_of(seen, rig, c) for c in range(n)]

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


def _of(seen: Recorded, rig: Rig, column: int) -> str:
    own = [SEGMENTS[s] for s in range(len(SEGMENTS)) if column in rig.columns[s]]
    return own[0] if own else LANDMARK_SEGMENT.get(seen.names[column], "")


def _partner(seen: Recorded, rig: Rig, column: int) -> int | None:
    """The same marker of the other side: by anatomical name, else by its place in the other side's cluster."""
    name = seen.names[column]
    other = {"_r": "_l", "_l": "_r"}.get(name[-2:])
    if other is not None and name[:-2] + other in seen.names:
        return seen.names.index(name[:-2] + other)
    for s, segment in enumerate(SEGMENTS):
        if column in rig.columns[s] and segment[-2:] in ("_r", "_l"):
            t = SEGMENTS.index(segment[:-2] + {"_r": "_l", "_l": "_r"}[segment[-2:]])
            place = rig.columns[s].tolist().index(column)
            return int(rig.columns[t][place]) if place < len(rig.columns[t]) else None
    return None


def _joined(swaps: list[Swap]) -> list[Swap]:
    """Neighbouring stretches with one and the same exchange are one."""
    out: list[Swap] = []
    for swap in swaps:
        last = out[-1] if out else None
        if last is not None and swap.start - last.stop <= 1 and np.array_equal(last.order, swap.order):
            out[-1] = Swap(
                last.start, swap.stop, swap.order, max(last.before, swap.before), max(last.after, swap.after)
            )
        else:
            out.append(swap)
    return out
