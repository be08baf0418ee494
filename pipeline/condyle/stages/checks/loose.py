"""Landmarks that track nothing, one against another: under each other's names they move no segment."""

from itertools import combinations

import numpy as np

from condyle.body_names import SEGMENTS
from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.gaps import runs_of
from condyle.mechanics.relabelling import exchanged
from condyle.mechanics.rigidity import Loose
from condyle.stages.checks.exchanges import Swap
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded

_LEVEL = [0, 2]  # components of a vector seen from above


def landmarks_crossed(seen: Recorded, limits: Limits) -> BoolArray:
    """(T, S) True where two landmarks that track nothing lie where their segments carry them under each other's names.

    Looked for are the two sides of a landmark and any two of a leg, thinly at first.
    """
    thin = max(1, round(seen.rate_hz / limits["swap_screen_hz"].value))
    out = _crossed(seen, limits, thin)
    return _crossed(seen, limits, 1) if thin > 1 and out.any() else np.repeat(out, thin, axis=0)[: len(seen.point)]


def _crossed(seen: Recorded, limits: Limits, every_nth: int) -> BoolArray:
    on = _carried(seen)
    rows = slice(None, None, every_nth)
    point, rotation, origin = (v[rows] for v in (seen.point, seen.every.rotation, seen.every.translation))
    out = np.zeros((len(point), len(SEGMENTS)), dtype=np.bool_)
    pairs = _pairs(seen, on)
    if not len(pairs):
        return out
    placed = np.einsum("tlij,lj->tli", rotation[:, on.segments], on.places) + origin[:, on.segments]
    seen_at = point[:, on.columns]
    named = np.linalg.norm(seen_at - placed, axis=-1)[:, pairs].sum(axis=-1)
    crossed = np.linalg.norm(seen_at[:, pairs] - placed[:, pairs[:, ::-1]], axis=-1).sum(axis=-1)
    with np.errstate(invalid="ignore"):
        better = (named - crossed >= limits["swap_gain"].value) & (crossed < limits["swap_share"].value * named)
    for k in np.flatnonzero(better.any(axis=0)):
        for s in on.segments[pairs[k]]:
            out[:, s] |= better[:, k]
    return out


def _carried(seen: Recorded) -> Loose:
    """Riders and loose landmarks alike."""
    assert seen.rig is not None
    rig = seen.rig
    segments = [np.full(len(own), s, dtype=np.int64) for s, own in enumerate(rig.riders)]
    return Loose(
        np.concatenate([*rig.riders, rig.loose.columns]),
        np.concatenate([*segments, rig.loose.segments]),
        np.concatenate([*rig.rider_models, rig.loose.places]),
    )


def _pairs(seen: Recorded, on: Loose) -> IntArray:
    """(K, 2) the right and the left one of a landmark, and any two of one leg."""
    names = [seen.names[c] for c in on.columns]
    tails = [SEGMENTS[s][-2:] for s in on.segments]
    pairs = [
        (a, b)
        for a, b in combinations(range(len(names)), 2)
        if (names[a][:-2] == names[b][:-2]) or (tails[a] == tails[b] and tails[a] in ("_r", "_l"))
    ]
    return np.array(pairs, dtype=np.int64).reshape(-1, 2)


def turned_shoulders(seen: Recorded, limits: Limits) -> list[Swap]:
    """Acromia under each other's names where no markers carry the trunk: their line points against the pelvis'.

    Nobody turns the shoulders by more than a right angle against the pelvis.
    """
    assert seen.rig is not None
    assert seen.static is not None
    if len(seen.rig.columns[SEGMENTS.index("trunk")]) >= 3:
        return []
    lines = [_line(seen, name) for name in ("acromion", "asis")]
    if any(line is None for line in lines):
        return []
    shoulders, pelvis = (seen.point[:, line[0]] - seen.point[:, line[1]] for line in lines if line)
    before, by = (seen.static[line[0]] - seen.static[line[1]] for line in lines if line)
    if not float(before[_LEVEL] @ by[_LEVEL]) > 0:
        return []
    along = np.einsum("ti,ti->t", shoulders[:, _LEVEL], pelvis[:, _LEVEL])
    fit = seen.every.rms[:, SEGMENTS.index("pelvis")]
    with np.errstate(invalid="ignore"):
        told = np.isfinite(along) & ~(fit > limits["fit_skin_reject"].value)
        against: BoolArray = np.asarray(told & (along < 0))
    for start, stop in runs_of(~told):  # hidden frames between two such ones, or towards an end, belong to them
        if against.any() and (start == 0 or against[start - 1]) and (stop == len(told) or against[stop]):
            against[start:stop] = True
    order = exchanged(len(seen.names), [lines[0]] if lines[0] else [])
    width = float(np.linalg.norm(before))
    return [Swap(int(a), int(b), order, *_misfits(along[a:b], pelvis[a:b], width)) for a, b in runs_of(against)]


def _misfits(along: FloatArray, pelvis: FloatArray, width: float) -> tuple[float, float]:
    """[mm] how far an acromion lies from its side of the pelvis' line, as named and exchanged."""
    reach = float(np.nanmedian(along / np.linalg.norm(pelvis[:, _LEVEL], axis=1)))
    return 0.5 * (width - reach), max(0.0, 0.5 * (width + reach))


def _line(seen: Recorded, stem: str) -> tuple[int, int] | None:
    names = (f"{stem}_r", f"{stem}_l")
    return (seen.names.index(names[0]), seen.names.index(names[1])) if set(names) <= set(seen.names) else None
