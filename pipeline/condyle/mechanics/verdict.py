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
    lead = _leads(towards[:2], limits, size)
    hip = _leads(towards[2:], limits, size)[0]
    mixed = (towards[:2] >= limits.mixed_share * size).all(axis=0)
    if drawn_change is None or drawn_parts is None:
        share = None
        small, doubtful = size <= limits.little, np.zeros(change.shape, dtype=bool)
        certain = np.full((4, *change.shape), np.nan)
    else:
        # which part is larger must be nearly sure; that its lead is clear, likely: else parts of what is truly mixed
        # would be named
        drawn, drawn_size = sign * _grouped(drawn_parts), sign * drawn_change
        share, clear = _share_leading(drawn[:2], limits), _share_clear(drawn[:2], drawn_size, limits)
        hip_share, hip_clear = _share_leading(drawn[2:], limits)[0], _share_clear(drawn[2:], drawn_size, limits)[0]
        both = (drawn[:2] >= limits.mixed_share * drawn_size).all(axis=0).mean(axis=0)
        mixed &= ~lead.any(axis=0) & (both >= limits.draws_share)
        lead &= (share >= limits.draws_share) & (clear >= limits.clear_share)
        hip &= (hip_share >= limits.draws_share) & (hip_clear >= limits.clear_share)
        low, high = interval(drawn_change)
        small = (low >= -limits.little) & (high <= limits.little)
        doubtful = (low <= 0.0) & (high >= 0.0)
        within = (np.abs(drawn_change) <= limits.little).mean(axis=0)
        certain = np.stack([within, np.minimum(share[1], hip_share), share[0], share[1]])
    known = np.isfinite(change) & np.isfinite(parts).all(axis=0)
    with np.errstate(invalid="ignore"):
        unexplained = (np.abs(remainder) > limits.remainder) & (
            np.abs(remainder) > limits.remainder_share * np.abs(change)
        )
    nameable = known & ~small & ~doubtful & ~unexplained
    chosen = [known & small, nameable & lead[1] & hip, nameable & lead[0], nameable & lead[1], nameable & mixed]
    word = np.select(chosen, CAUSES[:5], default=CAUSES[5])
    confidence = np.select(chosen[:4], list(certain), default=np.nan)
    if share is not None:
        confidence = np.where(word == "mixed", both, confidence)
    return Named(word, confidence)


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


def _leads(towards: FloatArray, limits: VerdictLimits, size: FloatArray) -> BoolArray:
    other = towards[::-1]
    return np.asarray((towards >= limits.least_part) & (towards - other >= limits.lead_share * size))


def _share_leading(drawn: FloatArray, limits: VerdictLimits) -> FloatArray:
    leads = (drawn >= limits.least_part) & (drawn > drawn[::-1])
    return np.asarray(leads.mean(axis=1))


def _share_clear(drawn: FloatArray, size: FloatArray, limits: VerdictLimits) -> FloatArray:
    return np.asarray((drawn - drawn[::-1] >= limits.lead_share * size).mean(axis=1))


def _below(
    change: FloatArray,
    parts: FloatArray,
    remainder: FloatArray,
    limits: VerdictLimits,
    drawn_change: FloatArray | None,
    drawn_parts: FloatArray | None,
) -> Words:
    sign = np.sign(change)
    if drawn_change is None or drawn_parts is None:
        towards, size = sign * parts, np.abs(change)
        ordered = np.sort(towards, axis=0)
        first = (towards == ordered[-1]) & (ordered[-1] - ordered[-2] >= limits.lead_share * size)
        lead = first & (towards >= limits.least_part)
        mixed = (towards >= limits.mixed_share * size).sum(axis=0) >= 2
        small, doubtful = size <= limits.little, np.zeros(change.shape, dtype=bool)
    else:
        towards, size = sign * drawn_parts, sign * drawn_change
        largest = towards == towards.max(axis=0)
        lead = ((towards >= limits.least_part) & largest).mean(axis=1) >= limits.draws_share
        mixed = ((towards >= limits.mixed_share * size).sum(axis=0) >= 2).mean(axis=0) >= limits.draws_share
        low, high = interval(drawn_change)
        small, doubtful = (low >= -limits.little) & (high <= limits.little), (low <= 0.0) & (high >= 0.0)
    with np.errstate(invalid="ignore"):
        unexplained = (np.abs(remainder) > limits.remainder) & (
            np.abs(remainder) > limits.remainder_share * np.abs(change)
        )
    known = np.isfinite(change) & np.isfinite(parts).all(axis=0)
    nameable = ~small & ~doubtful & ~unexplained
    chosen = [~known, small, *(nameable & lead), nameable & mixed]
    return np.select(chosen, ["not_measured", "little", *FROM_BELOW[1:5]], default="not_separable")
