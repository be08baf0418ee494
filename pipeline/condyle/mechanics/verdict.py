"""Which part may be named as the one that moved the knee, and how sure is that?

Pure rules on numbers; every limit comes in from outside. Two questions, one after the other: pelvis or leg, and only
where the leg is named, hip or knee. 'Not separable' is an answer.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from condyle.mechanics.arrays import BoolArray, FloatArray

CAUSES = ("none", "at_the_hip", "with_the_pelvis", "in_the_leg", "mixed", "not_separable")
FROM_BELOW = ("little", "foot_on_floor", "ankle", "knee", "mixed", "not_separable", "not_measured")
Words = NDArray[np.str_]


class VerdictLimits(NamedTuple):
    """Limits of the rule; sizes in the unit of the measure, shares from 0 to 1."""

    little: float  # a change whose whole interval lies within +-this is none
    least_part: float  # a part that may be named is at least this large
    draws_share: float  # share of the draws that must agree
    lead_share: float  # lead of the named part by the measured values, as a share of the change
    clear_share: float  # share of the draws in which it leads by that much
    mixed_share: float  # both parts at least this share of the change
    remainder: float  # a remainder larger than this ...
    remainder_share: float  # ... and than this share of the change: nothing is named


class Named(NamedTuple):
    """A word and the share of draws behind it (NaN without draws, or where nothing was named)."""

    word: Words
    confidence: FloatArray


def verdict(
    change: FloatArray,
    parts: FloatArray,
    remainder: FloatArray,
    limits: VerdictLimits,
    drawn_change: FloatArray | None = None,
    drawn_parts: FloatArray | None = None,
) -> Named:
    """The cause of a change: a word of CAUSES.

    change       : (...) [unit] measured change
    parts        : (6, ...) [unit] its parts, in the order of contributions.FACTORS
    remainder    : (...) [unit] what the angles do not explain
    limits       : VerdictLimits [unit, 1]
    drawn_change : (D, ...) [unit] the change in every Monte Carlo draw, or None
    drawn_parts  : (6, D, ...) [unit] its parts in every draw, or None
    returns      : Named [word, 1]
    undefined    : a change of exactly 0 has no sign: nothing is named
    missing      : NaN in change or parts: not_separable
    source       : ours
    """
    sign = np.sign(change)
    towards, size = sign * _grouped(parts), np.abs(change)
    small, doubtful = _little(change, limits, drawn_change)
    if drawn_change is None or drawn_parts is None:
        which, of_leg = _compared(towards[:2], size, limits), _compared(towards[2:], size, limits)
        certain = np.full((5, *change.shape), np.nan)
    else:
        drawn, drawn_size = sign * _grouped(drawn_parts), sign * drawn_change
        which = _compared(towards[:2], size, limits, drawn[:2], drawn_size)
        of_leg = _compared(towards[2:], size, limits, drawn[2:], drawn_size)
        within = (np.abs(drawn_change) <= limits.little).mean(axis=0)
        certain = np.stack([within, np.minimum(which.share[1], of_leg.share[0]), *which.share, which.share_mixed])
    lead, hip = which.lead, of_leg.lead[0]
    known = np.isfinite(change) & np.isfinite(parts).all(axis=0)
    nameable = known & ~small & ~doubtful & ~_unexplained(change, remainder, limits)
    chosen = [known & small, nameable & lead[1] & hip, nameable & lead[0], nameable & lead[1], nameable & which.mixed]
    return Named(np.select(chosen, CAUSES[:5], default=CAUSES[5]), np.select(chosen, list(certain), default=np.nan))


def verdict_from_below(
    change: FloatArray,
    parts: FloatArray,
    remainder: FloatArray,
    limits: VerdictLimits,
    drawn_change: FloatArray | None = None,
    drawn_parts: FloatArray | None = None,
) -> Words:
    """What moved the knee as seen from the floor: a word of FROM_BELOW.

    change       : (2, ...) [rad or deg] change of the shank's tilt and of the thigh's axial rotation
    parts        : (2, 3, ...) [rad or deg] foot on floor, ankle, knee
    remainder    : (2, ...) [rad or deg] unexplained
    limits       : VerdictLimits [rad or deg, 1]
    drawn_change : (2, D, ...) [rad or deg] in every draw, or None
    drawn_parts  : (2, 3, D, ...) [rad or deg] in every draw, or None
    returns      : (...) [word] by the shank's tilt (where the knee went), by the thigh's turn where that is little
    undefined    : nowhere
    missing      : no foot: not_measured
    source       : ours, by the rule of the account from above
    """
    found = [
        _below(
            change[m],
            parts[m],
            remainder[m],
            limits,
            None if drawn_change is None else drawn_change[m],
            None if drawn_parts is None else drawn_parts[m],
        )
        for m in (0, 1)
    ]
    return np.where(found[0] == "little", found[1], found[0])


def interval(draws: FloatArray, level: float = 0.95) -> tuple[FloatArray, FloatArray]:
    """Limits that hold this share of the draws, as much left out below as above.

    draws     : (D, ...) [unit] values
    level     : () [1] share inside
    returns   : (...) [unit], (...) [unit] lower and upper limit
    undefined : no draws: error
    missing   : a NaN in a draw makes its limits NaN
    source    : percentiles at rank p (D + 1), so that few draws do not make the interval too narrow
    """
    tail = 50.0 * (1.0 - level)
    low, high = np.percentile(draws, [tail, 100.0 - tail], axis=0, method="weibull")
    return low, high


def _grouped(parts: FloatArray) -> FloatArray:
    """Pelvis, leg, hip, knee from the six factors."""
    pelvis, hip, knee = (parts[i] + parts[i + 1] for i in (0, 2, 4))
    return np.stack([pelvis, hip + knee, hip, knee])


class _Compared(NamedTuple):
    """Parts beside one another: which leads, whether two or more share the change, and the draws behind it."""

    lead: BoolArray
    mixed: BoolArray
    share: FloatArray
    share_mixed: FloatArray


def _compared(
    towards: FloatArray,
    size: FloatArray,
    limits: VerdictLimits,
    drawn: FloatArray | None = None,
    drawn_size: FloatArray | None = None,
) -> _Compared:
    """The one rule of both accounts, for two parts or three: (part, ...) towards the change, and (part, draw, ...)."""
    lead = (towards >= limits.least_part) & (towards - _largest_other(towards) >= limits.lead_share * size)
    mixed = (towards >= limits.mixed_share * size).sum(axis=0) >= 2
    if drawn is None or drawn_size is None:
        return _Compared(lead, mixed & ~lead.any(axis=0), np.full(towards.shape, np.nan), np.full(size.shape, np.nan))
    # which part is larger must be nearly sure; that its lead is clear, likely: else parts of what is truly mixed would be named
    other = _largest_other(drawn)
    share = ((drawn >= limits.least_part) & (drawn > other)).mean(axis=1)
    clear = (drawn - other >= limits.lead_share * drawn_size).mean(axis=1)
    several = ((drawn >= limits.mixed_share * drawn_size).sum(axis=0) >= 2).mean(axis=0)
    mixed &= ~lead.any(axis=0) & (several >= limits.draws_share)
    return _Compared(lead & (share >= limits.draws_share) & (clear >= limits.clear_share), mixed, share, several)


def _largest_other(parts: FloatArray) -> FloatArray:
    """(part, ...) the largest of the other parts, for each part."""
    return np.stack([np.delete(parts, k, axis=0).max(axis=0) for k in range(len(parts))])


def _little(change: FloatArray, limits: VerdictLimits, drawn_change: FloatArray | None) -> tuple[BoolArray, BoolArray]:
    """Where the change is none, and where nobody can tell whether it is."""
    if drawn_change is None:
        return np.abs(change) <= limits.little, np.zeros(change.shape, dtype=bool)
    low, high = interval(drawn_change)
    return (low >= -limits.little) & (high <= limits.little), (low <= 0.0) & (high >= 0.0)


def _unexplained(change: FloatArray, remainder: FloatArray, limits: VerdictLimits) -> BoolArray:
    with np.errstate(invalid="ignore"):
        left = np.abs(remainder)
        return np.asarray((left > limits.remainder) & (left > limits.remainder_share * np.abs(change)))


def _below(
    change: FloatArray,
    parts: FloatArray,
    remainder: FloatArray,
    limits: VerdictLimits,
    drawn_change: FloatArray | None,
    drawn_parts: FloatArray | None,
) -> Words:
    sign = np.sign(change)
    drawn = None if drawn_parts is None else sign * drawn_parts
    found = _compared(
        sign * parts, np.abs(change), limits, drawn, None if drawn_change is None else sign * drawn_change
    )
    small, doubtful = _little(change, limits, drawn_change)
    known = np.isfinite(change) & np.isfinite(parts).all(axis=0)
    nameable = ~small & ~doubtful & ~_unexplained(change, remainder, limits)
    chosen = [~known, small, *(nameable & found.lead), nameable & found.mixed]
    return np.select(chosen, ["not_measured", "little", *FROM_BELOW[1:5]], default="not_separable")
