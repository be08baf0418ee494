"""What was recorded in a file? Standing, squats on which leg, or something else: by stillness, drop and the still foot."""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from condyle.draft.mapping import Sureness
from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.stillness import stillest_window

Content = Literal["static", "single_leg_squat", "step_down", "double_leg_squat", "other"]

STILL_MM = 5.0  # ours: spread of the markers in the stillest half second of a standing trial
DROP_MM = 60.0  # ours: the least drop of the pelvis in a squat
ROAM_MM = 500.0  # ours: a pelvis that goes further over the floor is walking, not squatting
STAY_MM = 100.0  # ours: a pelvis that goes further over the floor did not only stand
RAISED_MM = 40.0  # ours: a foot this much above the other is off the floor
SHORTEST_DIP_S = 0.2  # ours: a stretch below half depth that is shorter is noise
SURE, FAIRLY_SURE = 0.9, 0.6  # ours: at least this sure is `high`, at least that `medium`
_ON_BOTH_LEGS: dict[Content, float] = {"single_leg_squat": SURE, "step_down": FAIRLY_SURE}
_AT_MOST: dict[Sureness, float] = {"high": 1.0, "medium": FAIRLY_SURE, "low": 0.0}
_BY = "by stillness of the feet and the drop of the pelvis"


@dataclass(frozen=True)
class Recorded:
    """One file: mean standing points where it stands still, and what was probably done in it, how surely, and why."""

    path: Path
    points: dict[str, FloatArray]
    standing: dict[str, FloatArray]
    content: Content
    side: str
    sure: float
    spread: float
    rate_hz: float
    why: str = _BY

    @property
    def confidence(self) -> Sureness:
        """How sure the content is, in a word."""
        return "high" if self.sure >= SURE else "medium" if self.sure >= FAIRLY_SURE else "low"


def up_axis(points: FloatArray) -> tuple[str, bool]:
    """The file axis that is up, and whether that is clear: people are longer upright than wide.

    ``points`` (frames, markers, 3) in the file's own axes. The sign is taken positive: a lab's floor lies at 0.
    """
    seen = ~np.isnan(points)
    high = np.where(seen, points, -np.inf).max(axis=1)
    low = np.where(seen, points, np.inf).min(axis=1)
    whole = np.isfinite(high).all(axis=1) & np.isfinite(low).all(axis=1)
    extent = np.median((high - low)[whole], axis=0) if whole.any() else np.zeros(3)
    axis = int(np.argmax(extent))
    clear = bool(extent[axis] > 1.3 * np.delete(extent, axis).max())
    return f"+{'XYZ'[axis]}", clear


def judge_file(
    path: Path,
    points: dict[str, FloatArray],
    feet: dict[str, list[str]],
    pelvis: list[str],
    rate_hz: float,
    sides: tuple[Sureness, str] = ("high", ""),
) -> Recorded:
    """Say what a file holds.

    ``points`` label -> (frames, 3), y up; ``feet`` (by side) and ``pelvis`` are the labels that were told to be of these;
    ``sides``: how sure it is which foot is the right one, and why no surer.
    """
    cloud = np.stack(list(points.values()), axis=1)
    window = stillest_window(cloud, max(2, round(0.5 * rate_hz)))
    spread = np.inf if window is None else window.spread
    standing: dict[str, FloatArray] = {}
    if window is not None:
        part = {n: p[window.start : window.stop] for n, p in points.items()}
        standing = {n: np.nanmean(p, axis=0) for n, p in part.items() if not np.isnan(p).all()}
    content, side, sure = _content(points, feet, pelvis, spread, max(1, round(SHORTEST_DIP_S * rate_hz)))
    why = _BY
    if content == "static":
        why = "its markers stand still" if sure >= SURE else "its markers stand still, but not in all of it"
    if side in feet and _AT_MOST[sides[0]] < sure:
        sure, why = _AT_MOST[sides[0]], f"{_BY}; {sides[1]}"
    return Recorded(path, points, standing, content, side, sure, spread, rate_hz, why)


def _content(
    points: dict[str, FloatArray], feet: dict[str, list[str]], pelvis: list[str], spread: float, shortest: int
) -> tuple[Content, str, float]:
    middle = _mean([points[n] for n in pelvis if n in points]) if pelvis else _mean(list(points.values()))
    drop = float(np.nanpercentile(middle[:, 1], 95) - np.nanpercentile(middle[:, 1], 5))
    along, across = (float(np.nanpercentile(middle[:, k], 95) - np.nanpercentile(middle[:, k], 5)) for k in (0, 2))
    roam = float(np.hypot(along, across))
    if drop < DROP_MM / 2 and roam < ROAM_MM and spread < STILL_MM:
        return "static", "both", SURE if roam < STAY_MM else FAIRLY_SURE
    if drop < DROP_MM / 2 and roam < STAY_MM:
        return "other", "auto", 0.3
    if roam > ROAM_MM or drop < DROP_MM:
        return "other", "auto", 0.7
    course = {side: _mean([points[n] for n in names if n in points]) for side, names in feet.items()}
    course = {side: c for side, c in course.items() if len(c) and not np.isnan(c).all()}
    if set(course) != {"left", "right"}:
        return "single_leg_squat", "auto", 0.4
    low = _deepest(middle[:, 1])
    stances = _stances(course, low, shortest)
    for task, sure in _ON_BOTH_LEGS.items():
        if stances == {(task, "left"), (task, "right")}:
            return task, "auto", sure  # some on each leg: a side would leave the others out
    wander = {side: float(np.nanmax(np.nanstd(c[low][:, [0, 2]], axis=0))) for side, c in course.items()}
    height = {side: float(np.nanmedian(c[low][:, 1])) for side, c in course.items()}
    still = min(wander, key=lambda s: wander[s])
    other = "left" if still == "right" else "right"
    if wander[other] < 5.0 and abs(height["left"] - height["right"]) < RAISED_MM:
        return "double_leg_squat", "both", 0.7
    if height[other] < height[still] - RAISED_MM:
        return "step_down", still, 0.6
    return (
        "single_leg_squat",
        still,
        0.9 if wander[other] > 2.0 * wander[still] or height[other] > height[still] + RAISED_MM else 0.5,
    )


def _stances(course: dict[str, FloatArray], low: BoolArray, shortest: int) -> set[tuple[Content, str]]:
    """What each dip is, and on which leg: the stiller foot stands, on the floor or, where it is the upper one, on a step.

    A dip in which neither foot is clearly above the other says nothing.
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], low, [False]]).astype(int)))
    found: set[tuple[Content, str]] = set()
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        part = {side: c[start:stop] for side, c in course.items()}
        if stop - start < shortest or any(np.isnan(c).any(axis=1).all() for c in part.values()):
            continue
        height = {side: float(np.nanmedian(c[:, 1])) for side, c in part.items()}
        wander = {side: float(np.nanstd(c[:, [0, 2]], axis=0).max()) for side, c in part.items()}
        lower, upper = sorted(height, key=lambda side: height[side])
        if height[upper] - height[lower] > RAISED_MM:
            stands = min(wander, key=lambda side: wander[side])
            found.add(("single_leg_squat" if stands == lower else "step_down", stands))
    return found


def _deepest(height: FloatArray) -> BoolArray:
    """Frames in the lower half of the pelvis' range: there a single-leg squat is on one leg for sure."""
    low, high = np.nanpercentile(height, [5, 95])
    return np.asarray(height < 0.5 * (low + high))


def _mean(courses: list[FloatArray]) -> FloatArray:
    if not courses:
        return np.empty((0, 3))
    stack = np.stack(courses)
    seen = ~np.isnan(stack)
    total = np.where(seen, stack, 0.0).sum(axis=0)
    return np.where(seen.any(axis=0), total / np.maximum(seen.sum(axis=0), 1), np.nan)
