"""On which leg, or on both, was each squat of a file? By how high the feet are against each other, then by which stays still.

A lifted foot is well above the other, and a foot on the floor is not, however its markers come and go: height decides between
one leg and both. Stillness is read marker by marker, for the mean of those that are seen jumps where one is lost.
"""

from collections.abc import Mapping, Sequence
from typing import Literal, NamedTuple

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray

Task = Literal["single_leg_squat", "step_down", "double_leg_squat"]
Feet = Mapping[str, Mapping[str, FloatArray]]  # side -> landmark without its side -> (frames, 3) mm, y up

RAISED_MM = 40.0  # ours: a foot this much above the other is off the floor
STAYS_MM = 5.0  # ours: the markers of a foot on the floor wander less over it
CLEARLY = 2.0  # ours: the lifted foot wanders this many times as far as the one that stands
SHORTEST_DIP_S = 0.2  # ours: a stretch below half depth that is shorter is noise
HALF_SEEN = 0.5  # ours: the share of a dip in which a marker has to be seen to tell of it
_SURE, _FAIRLY, _LITTLE = 0.9, 0.6, 0.3


class Legs(NamedTuple):
    """What was done, on which side (`both`: on both at once; `auto`: told for each squat), how surely, and why no surer."""

    task: Task
    side: str
    sure: float
    why: str = ""


def squatting_legs(height: FloatArray, feet: Feet, rate_hz: float) -> Legs:
    """Judge every dip of the pelvis, then the file; dips that differ in more than the side make it unsure.

    ``height`` (frames,) of the pelvis, mm.
    """
    if not all(feet.get(side) for side in ("left", "right")):
        return Legs("single_leg_squat", "auto", _LITTLE, "the feet are not known")
    dips = [legs for part in _dips(height, rate_hz) if (legs := _legs_of({s: _cut(f, part) for s, f in feet.items()}))]
    if not dips:
        return Legs("single_leg_squat", "auto", _LITTLE, "the feet are not seen in the squats")
    kinds = [(legs.task, legs.side) for legs in dips]
    task, side = max(dict.fromkeys(kinds), key=kinds.count)
    own = [legs for legs in dips if legs.task == task]
    least = min(own, key=lambda legs: legs.sure)
    if len(own) < len(dips):
        return Legs(task, side, _LITTLE, f"only {len(own)} of {len(dips)} squats are so")
    if len(set(kinds)) > 1:
        side = "auto"  # some on each leg: a side would leave the others out
    return Legs(task, side, least.sure, least.why)


def _dips(height: FloatArray, rate_hz: float) -> list[slice]:
    """Stretches in the lower half of the pelvis' range: there a single-leg squat is on one leg for sure."""
    low, high = np.nanpercentile(height, [5, 95])
    deep: BoolArray = np.concatenate([[False], height < 0.5 * (low + high), [False]])
    edges = np.flatnonzero(np.diff(deep.astype(int)))
    shortest = max(1, round(SHORTEST_DIP_S * rate_hz))
    return [slice(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= shortest]


def _cut(foot: Mapping[str, FloatArray], part: slice) -> dict[str, FloatArray]:
    """A foot's markers in a dip, those that are seen in enough of it."""
    cut = {name: course[part] for name, course in foot.items()}
    return {n: c for n, c in cut.items() if len(c) and np.mean(~np.isnan(c).any(axis=1)) >= HALF_SEEN}


def _legs_of(foot: Feet) -> Legs | None:
    """One dip; None where a foot is not seen."""
    if not all(foot.values()):
        return None
    above = _above(foot["right"], foot["left"])
    upper, lower = ("right", "left") if above > 0 else ("left", "right")
    wander = {side: _wander(list(courses.values())) for side, courses in foot.items()}
    still, other = sorted(wander, key=lambda side: wander[side])
    clear = wander[other] > CLEARLY * wander[still]
    raised = f"the {upper} foot is {abs(above):.0f} mm above the other"
    if abs(above) <= RAISED_MM:
        if wander[other] < STAYS_MM:
            return Legs("double_leg_squat", "both", _FAIRLY, "both feet are equally high and stay")
        moves = f"{raised}, which is little for one leg, yet it wanders by {wander[other]:.0f} mm"
        if other == lower:
            moves = f"the feet are equally high to {abs(above):.0f} mm, yet the {other} one wanders by {wander[other]:.0f} mm"
        return Legs("single_leg_squat" if clear else "double_leg_squat", still if clear else "both", _LITTLE, moves)
    if not clear:
        return Legs("single_leg_squat", lower, _LITTLE, f"{raised}, but stays as still: it may stand on a step")
    if still == upper:
        return Legs("step_down", upper, _FAIRLY, f"{raised} and stays still: taken for standing on a step")
    return Legs("single_leg_squat", lower, _SURE)


def _above(right: Mapping[str, FloatArray], left: Mapping[str, FloatArray]) -> float:
    """How far the right foot is above the left one, mm: by landmarks of both feet, else by all there are."""
    high = [{name: float(np.nanmedian(course[:, 1])) for name, course in foot.items()} for foot in (right, left)]
    common = [name for name in high[0] if name in high[1]]
    if common:
        return float(np.median([high[0][name] - high[1][name] for name in common]))
    return float(np.mean(list(high[0].values())) - np.mean(list(high[1].values())))


def _wander(courses: Sequence[FloatArray]) -> float:
    """Standard deviation over the floor, mm, of the middle one of a foot's markers."""
    return float(np.median([np.nanstd(course[:, [0, 2]], axis=0).max() for course in courses]))
