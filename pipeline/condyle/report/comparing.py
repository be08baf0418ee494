"""Left against right: changes and ranges only, and at equal knee flexion where the depths differ."""

import math
from typing import NamedTuple

import numpy as np

from condyle.report.depths import EQUAL_DEPTH_DEG, pooled_words, to_60
from condyle.report.equal_depth import change_to, shared_flexion, shared_words
from condyle.report.legs import Estimate, Leg
from condyle.report.words import digits_for, number, with_interval

_TO_60 = (
    ("fppa", "FPPA"),
    ("thigh_axial_rotation", "thigh axial rotation"),
    ("pelvis_rotation", "pelvis rotation"),
    ("pelvis_obliquity", "pelvis obliquity"),
    ("hip_adduction", "hip adduction"),
    ("hip_internal_rotation", "hip rotation"),
    ("trunk_lean", "trunk lean"),
)
_DEPTH = (("depth", "drop of the hip centre"), ("knee_flexion_change", "knee flexion, change"))
_AT_BOTTOM = (
    ("knee_travel", "knee travel, medial +"),
    ("knee_relative_to_hip_travel", "knee travel relative to the hip centre"),
    ("hip_centre_shift", "shift of the hip centre, medial +"),
    ("knee_range", "knee, medio-lateral range"),
    ("knee_path_length", "knee, medio-lateral path"),
    ("pelvis_range", "pelvis, medio-lateral range"),
    ("shoulders_range", "shoulders, medio-lateral range"),
    *((f"{a}_change", f"{words}, change") for a, words in _TO_60),
    ("hip_adduction_range", "hip adduction, range"),
    ("hip_internal_rotation_range", "hip rotation, range"),
    ("trunk_lean_range", "trunk lean, range"),
)


class Compared(NamedTuple):
    """One line of a comparison, as text."""

    what: str
    unit: str
    first: str
    second: str
    difference: str
    judgement: str


class Comparison(NamedTuple):
    """A table with its headings and what must be known to read it."""

    first: str
    second: str
    rows: list[Compared]
    note: str


def difference(first: Estimate, second: Estimate) -> Estimate:
    """First less second, with limits from both (method of variance estimates recovery, Zou & Donner 2008, from memory)."""
    value = first.value - second.value
    if not all(map(math.isfinite, (first.lower, first.upper, second.lower, second.upper))):
        return Estimate(value, np.nan, np.nan, np.nan, min(first.n, second.n))
    lower = value - math.hypot(first.value - first.lower, second.upper - second.value)
    upper = value + math.hypot(first.upper - first.value, second.value - second.lower)
    return Estimate(value, lower, upper, np.nan, min(first.n, second.n))


def depths_differ(first: Leg, second: Leg) -> float:
    """Difference of knee flexion at the bottom [deg]; 0 where it is within the limit, NaN where it is not known."""
    apart = first.measure("knee_flexion_at_bottom").value - second.measure("knee_flexion_at_bottom").value
    return apart if not math.isfinite(apart) or abs(apart) > EQUAL_DEPTH_DEG else 0.0


def sides(legs: list[Leg]) -> Comparison | None:
    """Right against left of one task and condition; None where only one side was measured."""
    by_side = {leg.side: leg for leg in legs}
    if set(by_side) != {"right", "left"} or not all(len(leg.valid) for leg in legs):
        return None
    right, left = by_side["right"], by_side["left"]
    apart = depths_differ(right, left)
    rows = [_row(words, right.unit(m), right.measure(m), left.measure(m)) for m, words in _DEPTH]
    rows += [
        _row(f"{words}, change to 60° knee flexion", "deg", to_60(right, a), to_60(left, a)) for a, words in _TO_60
    ]
    rows += at_shared_flexion(shared := shared_flexion(right, left), right, left)
    unlike = [words for leg in (right, left) if (words := pooled_words(leg))]
    if apart == 0.0 and not unlike:
        rows += [_row(words, right.unit(m), right.measure(m), left.measure(m)) for m, words in _AT_BOTTOM]
    shown = [row for row in rows if row is not None]
    note = f"{_note(apart, unlike)} {shared_words(shared)}".strip()
    return Comparison("Right", "Left", shown, note) if shown else None


def at_shared_flexion(flexion: float | None, first: Leg, second: Leg) -> list[Compared]:
    """Changes of the angles to the deepest knee flexion that all squats of two legs reach; none where there is no such."""
    if flexion is None:
        return []
    legs = (first, second)
    rows = [
        _row(f"{words}, change to {flexion:.0f}° knee flexion", "deg", *(change_to(leg, a, flexion) for leg in legs))
        for a, words in _TO_60
    ]
    return [row for row in rows if row is not None]


def _note(apart: float, unlike: list[str]) -> str:
    words = (
        "Changes and ranges, not postures: a marker misplaced on one side shifts every posture of that side, but changes less. "
        "A difference whose interval holds 0 cannot be told from measurement error."
    )
    if not math.isfinite(apart):
        return f"{words} The depth was not measured on both sides, so values at the bottom are not compared."
    if unlike:
        return (
            f"{words} {' '.join(unlike)} Depth drives these values, so they are compared at equal knee flexion only: at 60 "
            "degrees in the repetitions that reach it."
        )
    if apart:
        return (
            f"{words} At the bottom the knees were bent {number(abs(apart), 0)} degrees apart (right less left: "
            f"{number(apart, 0)}); depth drives these values, so they are compared at equal knee flexion only: at 60 degrees "
            "in the repetitions that reach it."
        )
    return words


def _row(what: str, unit: str, first: Estimate, second: Estimate) -> Compared | None:
    if not (first.known and second.known):
        return None
    digits = digits_for(unit)
    apart = difference(first, second)
    inside = math.isfinite(apart.lower) and apart.lower <= 0 <= apart.upper
    judgement = "cannot be told from measurement error" if inside else "" if math.isnan(apart.lower) else "differs"
    one, other, between = (with_interval(e.value, e.lower, e.upper, digits) for e in (first, second, apart))
    return Compared(what, unit, one, other, between, judgement)
