"""Was a landmark placed differently? Each in turn is told by all others, and the one that is off stops telling them."""

from typing import NamedTuple

import numpy as np
from scipy.stats import f as f_distribution

from condyle.mechanics.arrays import FloatArray, transposed
from condyle.mechanics.bone_alignment import Laid, TwoSessions, carried, laid_over, response, spread

_ROUNDS = 20
_SETTLED = 1e-3


class SearchLimits(NamedTuple):
    """What the search for moved landmarks goes by."""

    false_alarm_share: float  # [1] pairs of sound sessions in which a landmark is named
    odds: float  # [1] how many times likelier a landmark must be than any other to be named alone
    prior_freedom: float  # [1] residuals that the published spread counts for beside the sessions' own
    least_told: float  # [1] share of a direction's variance that the others must leave to be seen in it
    most_moved: float  # [1] share of the landmarks that may have moved
    tail_freedom: float  # [1] of the errors' distribution (Student's t) when bones are laid on each other
    scatter_review: float  # [1] multiple of the published spread beyond which none is named


class Told(NamedTuple):
    """Where the others put each landmark: how far it lies from there, as far as they can tell."""

    displacement: FloatArray  # (P, 3) [mm] second less first, in the first session's frame; 0 along what is not told
    statistic: FloatArray  # (P,) [1] square of the displacement in units of its spread
    directions: FloatArray  # (P,) [1] in how many directions it is told, 0 to 3


class Moved(NamedTuple):
    """What the search found."""

    laid: Laid  # the bones, by the landmarks that have not moved
    told: Told
    threshold: FloatArray  # (P,) [1] of told.statistic: what chance exceeds in the share of false alarms
    scale: float  # [1] palpation of these sessions spreads this many times as far as it is held to
    moved: list[int]
    or_else: dict[int, dict[int, FloatArray]]  # moved one -> others that explain it about as well, (3,) [mm] each
    scattered: bool  # so many are off, or all so far, that none is named


def find_moved(two: TwoSessions, limits: SearchLimits) -> Moved:
    """Landmarks placed differently, one after another: the worst stops telling the others, and all are told again.

    two       : TwoSessions [mm] landmarks and joints
    limits    : SearchLimits [1] what decides
    returns   : Moved [mm] which moved, by how much, and what else could explain it
    undefined : a landmark of which the others tell nothing is never named
    missing   : landmarks with NaN may not be among them
    source    : data snooping (Baarda 1968, Publ. on Geodesy 2/5, from memory), forwards with a look back; else ours
    """
    moved: list[int] = []
    most = max(1, int(limits.most_moved * len(two.first)))
    found = _settled(two, moved, limits)
    while found.worst >= 0 and len(moved) <= most:
        moved.append(found.worst)
        found = _settled(two, moved, limits)
        within = [k for k in moved if found.told.statistic[k] <= found.threshold[k]]
        if within:
            moved = [k for k in moved if k not in within]
            found = _settled(two, moved, limits)
            if found.worst in within:  # neither with nor without it: then without
                break
    scattered = len(moved) > most or found.scale > limits.scatter_review
    if scattered:
        moved = []
        found = _settled(two, moved, limits, apart=False)
    or_else = {k: _or_else(two, moved, k, limits) for k in moved}
    return Moved(found.laid, found.told, found.threshold, found.scale, moved, or_else, scattered)


def told_by_others(two: TwoSessions, laid: Laid, scale: float, weight: FloatArray, least_told: float) -> Told:
    """How far each landmark lies from where the others put it, and how sure that is.

    two        : TwoSessions [mm] landmarks and joints
    laid       : Laid [mm] the bones' motions by landmarks of these weights
    scale      : () [1] palpation spreads this many times as far as its covariance says
    weight     : (P,) [1] how much a landmark counts, 0 to 1
    least_told : () [1] share of a direction's variance that the others must leave to be seen in it
    returns    : Told [mm] displacements with their certainty
    undefined  : what the others do not tell has displacement and statistic 0
    missing    : landmarks with NaN may not be among them
    source     : deletion residuals of linear least squares
    """
    root = np.linalg.cholesky(spread(two, scale))
    white = np.linalg.inv(root)
    miss = np.einsum("pij,pj->pi", white, carried(laid, two.bone, two.second) - two.first)
    follow = white @ response(laid, two.bone, two.second)
    held, vector = np.linalg.eigh(follow @ laid.cofactor @ transposed(follow))
    left = np.maximum(1.0 - weight[:, None] * held, np.finfo(float).tiny)  # a landmark hides part of its own misfit
    certainty = 1.0 / (1.0 + held / left)  # its own variance, and that of its place by the others, who do without it
    seen = certainty > least_told
    own = np.where(seen, np.einsum("pji,pj->pi", vector, miss) / left, 0.0)
    statistic = (certainty * own**2).sum(axis=-1)
    displacement = np.einsum("pij,pjk,pk->pi", root, vector, own)
    return Told(displacement, statistic, seen.sum(axis=-1).astype(np.float64))


def tail_weight(told: Told, tail_freedom: float) -> FloatArray:
    """How much a landmark counts that lies so far from where the others put it.

    told         : Told [mm] displacements with their certainty
    tail_freedom : () [1] degrees of freedom of the errors' distribution: the fewer, the longer its tails
    returns      : (P,) [1] 1 up to what is expected, less beyond
    undefined    : nowhere
    missing      : not applicable
    source       : weights of Student's t, Lange, Little & Taylor 1989, J Am Stat Assoc 84:881 (from memory); at most 1: ours
    """
    expected = np.maximum(told.directions, 1.0)
    return np.asarray(np.minimum(1.0, (tail_freedom + expected) / (tail_freedom + told.statistic)))


def own_spread(
    two: TwoSessions, laid: Laid, scale: float, used: FloatArray, prior_freedom: float
) -> tuple[float, float]:
    """How far palpation really spreads, as a multiple of what it is held to be, and from how many residuals.

    two           : TwoSessions [mm] landmarks and joints
    laid          : Laid [mm] the bones' motions by the landmarks used
    scale         : () [1] multiple at which these were laid
    used          : (P,) [1] 1 where a landmark holds its bone
    prior_freedom : () [1] residuals that the published spread counts for
    returns       : () [1] multiple, () [1] degrees of freedom, the published ones among them
    undefined     : nothing left over: 1
    missing       : landmarks with NaN may not be among them
    source        : variance component by its share of the residuals (Foerstner's estimator, from memory); prior ours
    """
    white = np.linalg.inv(np.linalg.cholesky(spread(two, scale))) * used[:, None, None]
    miss = np.einsum("pij,pj->pi", white, carried(laid, two.bone, two.second) - two.first)
    follow = white @ response(laid, two.bone, two.second)
    part = scale**2 * white @ two.palpation @ transposed(white)
    left = np.eye(3) - follow @ laid.cofactor @ transposed(follow)
    freedom = max(float(np.einsum("pij,pji->", part, left)), 0.0) + prior_freedom
    misfit = scale**2 * float(np.einsum("pi,pij,pj->", miss, part, miss))
    return float(np.sqrt((prior_freedom + misfit) / freedom)), freedom


def least_found(told: Told, threshold: FloatArray) -> FloatArray:
    """The displacement, in the direction found, from which on a landmark is named.

    told      : Told [mm] displacements with their certainty
    threshold : (P,) [1] of their statistic
    returns   : (P,) [mm] smallest displacement beyond chance
    undefined : no displacement, or none that is told: NaN
    missing   : not applicable
    source    : the statistic grows with the square of the displacement
    """
    usable = told.statistic > 0
    ratio = np.sqrt(threshold / np.where(usable, told.statistic, 1.0))
    return np.where(usable, np.linalg.norm(told.displacement, axis=-1) * ratio, np.nan)


class _Settled(NamedTuple):
    """Bones and spread that agree with each other, and the landmark to be named next; -1 where none is."""

    laid: Laid
    told: Told
    threshold: FloatArray
    scale: float
    worst: int


def _settled(two: TwoSessions, moved: list[int], limits: SearchLimits, apart: bool = True) -> _Settled:
    """Bones without the moved landmarks, at the spread of all but the one that is off most (``apart``)."""
    used = np.ones(len(two.first))
    used[moved] = 0.0
    scale, freedom, weight = 1.0, limits.prior_freedom, used.copy()
    laid = bare = laid_over(two, scale, weight)
    for _ in range(_ROUNDS):
        laid = laid_over(two, scale, weight, laid)
        told = told_by_others(two, laid, scale, weight, limits.least_told)
        rest = used.copy()
        rest[int(np.argmax(np.where(used > 0, told.statistic, -1.0)))] = 0.0 if apart else 1.0
        last, before = scale, weight
        weight = used * tail_weight(told, limits.tail_freedom)
        bare = laid_over(two, scale, rest, bare)
        scale, freedom = own_spread(two, bare, scale, rest, limits.prior_freedom)
        if abs(scale - last) < _SETTLED and np.abs(weight - before).max() < _SETTLED:
            break
    laid = laid_over(two, scale, weight, laid)
    told = told_by_others(two, laid, scale, weight, limits.least_told)
    # each landmark is one chance of a false alarm
    share = 1.0 - (1.0 - limits.false_alarm_share) ** (1.0 / len(two.first))
    directions = np.maximum(told.directions, 1.0)
    threshold = directions * f_distribution.isf(share, directions, freedom)
    worst = int(np.argmax(np.where(used > 0, told.statistic, -1.0)))
    beyond = told.statistic[worst] > threshold[worst]
    return _Settled(laid, told, threshold, scale, worst if beyond else -1)


def _or_else(two: TwoSessions, moved: list[int], one: int, limits: SearchLimits) -> dict[int, FloatArray]:
    """The unmoved landmarks that explain what ``one`` does nearly as well as it does itself, and their displacements."""
    used = np.ones(len(two.first))
    used[moved] = 0.0
    scale = _settled(two, moved, limits).scale
    used[one] = 1.0  # all count alike: what is asked is how well each alone explains the whole
    laid = laid_over(two, scale, used)
    told = told_by_others(two, laid, scale, used, limits.least_told)
    near = told.statistic[one] - told.statistic < 2.0 * np.log(limits.odds)
    out = {}
    for k in (int(k) for k in np.flatnonzero(near) if k not in moved):
        without = used.copy()
        without[k] = 0.0
        left = told_by_others(two, laid_over(two, scale, without, laid), scale, without, limits.least_told)
        if (
            left.statistic[one] < 0.5 * told.statistic[one]
        ):  # else it is off for itself, and explains nothing of the other
            out[k] = told.displacement[k]
    return out
