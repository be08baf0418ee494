"""Which exchange of names makes one stretch of frames a body again, far better than the names as they are?"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.relabelling import cycles, misfit_as_named, misfits, misfits_of_each
from condyle.mechanics.rigidity import Carried, Rig
from condyle.stages.checks.candidates import candidates_for
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded

_TRIED_FRAMES = 6
_FIRST_FRAMES = 2  # all candidates are tried on these, the best of them on the others
_BEST = 8
_ROUNDS = 3  # two exchanges at once are found one after the other

Candidates = dict[tuple[int, ...], list[IntArray]]  # what may be exchanged, by the segments that are wrong


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


class Look(NamedTuple):
    """The first round of candidates in a stretch."""

    hit: tuple[int, ...]  # segments that are wrong
    likely: list[IntArray]  # orders that fit a few frames best
    tried: FloatArray  # (1 + len(likely), N) misfits of the names as they are, and of these


def first_looks(
    seen: Recorded,
    rig: Rig,
    told: Carried,
    wrong: BoolArray,
    stretches: list[tuple[int, int]],
    candidates: Candidates,
    limits: Limits,
) -> list[Look]:
    """The first round of each stretch; of all stretches together, for few frames cost hardly less than many.

    ``told`` is every frame under the names as they are; ``candidates`` keeps what may be exchanged, for the stretches to come.
    """
    if not stretches:
        return []
    same = np.arange(len(seen.names))
    frames = [_some(start, stop, _TRIED_FRAMES) for start, stop in stretches]
    points = [seen.point[own] for own in frames]
    hits = [_hit(wrong[start:stop]) for start, stop in stretches]
    looks = [
        Look(hit, [], misfit_as_named(Carried(*(part[own] for part in told)))[None])
        for hit, own in zip(hits, frames, strict=True)
    ]
    # no exchange can gain more than there is
    worth = [k for k, look in enumerate(looks) if look.tried[0].sum() >= limits["swap_gain"].value]
    for hit in dict.fromkeys(hits[k] for k in worth):
        own = [k for k in worth if hits[k] == hit]
        if hit not in candidates:
            candidates[hit] = candidates_for(seen, rig, hit)
        thin = misfits_of_each([_few(points[k]) for k in own], rig, candidates[hit])
        likely = [_likely(t) for t in thin]
        every = np.unique(np.concatenate(likely))
        tried = misfits_of_each([points[k] for k in own], rig, [same, *(candidates[hit][c] for c in every)])
        for k, best, misfit in zip(own, likely, tried, strict=True):
            rows = np.concatenate([[0], 1 + np.searchsorted(every, best)])
            looks[k] = Look(hit, [candidates[hit][c] for c in best], misfit[rows])
    return looks


def best_swap(
    seen: Recorded,
    rig: Rig,
    told: Carried,
    wrong: BoolArray,
    stretch: tuple[int, int],
    look: Look | None,
    known: list[IntArray],
    candidates: Candidates,
    limits: Limits,
) -> Swap | None:
    """The best exchange of this stretch, where it is far better than the names as they are; known ones are tried first."""
    start, stop = stretch
    point = seen.point[_some(start, stop, _TRIED_FRAMES)]
    same = np.arange(len(seen.names))
    if known:
        tried = misfits(point, rig, [same, *known])
        k = int(tried.sum(axis=1).argmin())
        if k and (found := _accepted(seen, rig, Swap(start, stop, known[k - 1], 0.0, 0.0), tried[0], tried[k], limits)):
            return found
    hit, likely, tried = look or first_looks(seen, rig, told, wrong, [stretch], candidates, limits)[0]
    order, first, last = same, tried[0], np.zeros(0)
    for again in range(_ROUNDS):
        if again:
            likely = [candidates[hit][c] for c in _likely(misfits(_few(point)[:, order], rig, candidates[hit]))]
            tried = misfits(point[:, order], rig, [same, *likely])
        k = int(tried.sum(axis=1).argmin())
        if k == 0 or (tried[0] - tried[k]).sum() < limits["swap_gain"].value:
            break
        order, last = order[likely[k - 1]], tried[k]
        if tried[k].max() < limits["swap_settled"].value:
            break
    return _accepted(seen, rig, Swap(start, stop, order, 0.0, 0.0), first, last, limits) if len(last) else None


def _hit(wrong: BoolArray) -> tuple[int, ...]:
    """The segments that are wrong in most of these frames, or the one that is most often."""
    share = wrong.mean(axis=0)
    return tuple(int(s) for s in np.flatnonzero(share >= 0.5)) or (int(share.argmax()),)


def _some(start: int, stop: int, n: int) -> IntArray:
    """Up to n frames, evenly spread."""
    return np.unique(np.linspace(start, stop - 1, n).round().astype(int))


def _few(point: FloatArray) -> FloatArray:
    return point[_some(0, len(point), _FIRST_FRAMES)]


def _likely(thin: FloatArray) -> IntArray:
    """The candidates that leave least over, the best first."""
    return np.argsort(thin.sum(axis=1), kind="stable")[:_BEST]


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
