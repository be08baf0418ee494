"""Which exchange of names makes recorded markers a body again?

A candidate is an order of columns: ``points[..., order, :]`` are the markers as they would be named. Every candidate is
tried on a few frames; the misfit counts shapes and joints of the whole body, for two congruent plates that changed places
fit perfectly where they are and meet nobody.
"""

from collections.abc import Iterable, Sequence
from itertools import combinations, permutations

import numpy as np

from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.rigidity import Carried, Rig, carried_in_orders

_ALL_ORDERS = 4  # of clusters up to this size every order is tried, of larger ones every exchange of two
_WORST = 200.0  # mm, so that one segment lost in space does not hide the others


def exchanged(n: int, pairs: Iterable[tuple[int, int]]) -> IntArray:
    """The order of columns in which these pairs have changed places.

    n         : int [1] number of markers
    pairs     : list [1] pairs of columns
    returns   : (n,) [1] order of columns
    undefined : nowhere
    missing   : does not apply
    source    : definition
    """
    order = list(range(n))
    for a, b in pairs:
        order[a], order[b] = order[b], order[a]
    return np.array(order, dtype=np.int64)


def orders_within(n: int, members: Sequence[int]) -> list[IntArray]:
    """Every order of a small cluster, every exchange of two of a larger one; not the order it has.

    n         : int [1] number of markers
    members   : list [1] columns of the cluster
    returns   : list of (n,) [1] orders of columns
    undefined : nowhere
    missing   : does not apply
    source    : definition
    """
    if len(members) > _ALL_ORDERS:
        return [exchanged(n, [pair]) for pair in combinations(members, 2)]
    out = []
    for order in permutations(members):
        if order != tuple(members):
            whole = np.arange(n)
            whole[list(members)] = order
            out.append(whole)
    return out


def misfits(points: FloatArray, rig: Rig, orders: Sequence[IntArray]) -> FloatArray:
    """What each order of names leaves over: residuals of the segments, riders and loose landmarks off them, joints apart.

    points    : (T, M, 3) [mm] markers in a few frames
    rig       : Rig [mm] the body in the standing trial
    orders    : list [1] orders of columns; the first is the one the others are compared with
    returns   : (C, N) [mm] parts of the misfit of each order, median over frames; 0 where nothing is known
    undefined : nowhere
    missing   : what the first order does not tell in a frame counts in none; what another one hides counts as in the first
    source    : ours
    """
    return misfits_of_each([points], rig, orders)[0]


def misfits_of_each(stretches: Sequence[FloatArray], rig: Rig, orders: Sequence[IntArray]) -> list[FloatArray]:
    """The same for several stretches under the same orders: a few frames each are fitted much quicker together.

    stretches : list of (T, M, 3) [mm] markers in a few frames of each stretch
    rig       : Rig [mm] the body in the standing trial
    orders    : list [1] orders of columns; the first is the one the others are compared with
    returns   : list of (C, N) [mm] what ``misfits`` gives of each stretch
    undefined : nowhere
    missing   : as in ``misfits``
    source    : ours
    """
    tried = _parts(carried_in_orders(np.concatenate(stretches), rig, np.stack(orders)))
    parts = np.minimum(np.where(np.isnan(tried[:1]), 0.0, np.where(np.isnan(tried), tried[:1], tried)), _WORST)
    edges = np.cumsum([len(points) for points in stretches])[:-1]
    return [np.asarray(np.median(own, axis=1)) for own in np.split(parts, edges, axis=1)]


def misfit_as_named(told: Carried) -> FloatArray:
    """The same for the names as they are, of markers whose poses are known already.

    told      : Carried [mm] what ``carried`` says of the markers in a few frames
    returns   : (N,) [mm] parts of the misfit, median over frames; 0 where nothing is known
    undefined : no frame: NaN
    missing   : as in ``misfits``
    source    : ours
    """
    parts = _parts(told)
    middle: FloatArray = np.median(np.where(np.isnan(parts), 0.0, np.minimum(parts, _WORST)), axis=0)
    return middle


def misfit_of_frames(told: Carried) -> FloatArray:
    """The same frame by frame.

    told      : Carried [mm] what ``carried`` says of the markers (T, ...)
    returns   : (T, N) [mm] parts of the misfit, none counted beyond 200 mm
    undefined : where a segment or a joint is not told: NaN
    missing   : as in ``carried``
    source    : ours
    """
    parts: FloatArray = np.minimum(_parts(told), _WORST)
    return parts


def _parts(told: Carried) -> FloatArray:
    return np.concatenate([told.rms, told.rider, told.gap, told.loose], axis=-1)


def cycles(order: IntArray) -> list[tuple[int, ...]]:
    """What changed places in an order of columns.

    order     : (n,) [1] order of columns
    returns   : list [1] groups of two or more columns that changed places
    undefined : nowhere
    missing   : does not apply
    source    : cycles of a permutation
    """
    seen, out = set(), []
    for start in range(len(order)):
        group, at = [], start
        while at not in seen:
            seen.add(at)
            group.append(at)
            at = int(order[at])
        if len(group) > 1:
            out.append(tuple(group))
    return out
