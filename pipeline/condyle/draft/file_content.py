"""What was recorded in a file? Standing, squats on which leg, or something else: by stillness, drop and the still foot."""

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.stillness import stillest_window

Content = Literal["static", "single_leg_squat", "step_down", "double_leg_squat", "other"]

STILL_MM = 5.0  # ours: spread of the markers in the stillest half second of a standing trial
DROP_MM = 60.0  # ours: the least drop of the pelvis in a squat
ROAM_MM = 500.0  # ours: a pelvis that goes further over the floor is walking, not squatting
STILL_FOOT_MM = 60.0  # ours: a foot that stays within this far of one place stands


@dataclass(frozen=True)
class Recorded:
    """One file: mean standing points where it stands still, and what was probably done in it."""

    path: Path
    points: dict[str, FloatArray]
    standing: dict[str, FloatArray]
    content: Content
    side: str
    sure: float
    spread: float
    rate_hz: float


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
    path: Path, points: dict[str, FloatArray], feet: dict[str, list[str]], pelvis: list[str], rate_hz: float
) -> Recorded:
    """Say what a file holds; ``points`` label -> (frames, 3), y up; ``feet`` and ``pelvis`` are labels known by words."""
    cloud = np.stack(list(points.values()), axis=1)
    window = stillest_window(cloud, max(2, round(0.5 * rate_hz)))
    spread = np.inf if window is None else window.spread
    standing: dict[str, FloatArray] = {}
    if window is not None:
        part = {n: p[window.start : window.stop] for n, p in points.items()}
        standing = {n: np.nanmean(p, axis=0) for n, p in part.items() if not np.isnan(p).all()}
    content, side, sure = _content(points, feet, pelvis, spread)
    return Recorded(path, points, standing, content, side, sure, spread, rate_hz)


def _content(
    points: dict[str, FloatArray], feet: dict[str, list[str]], pelvis: list[str], spread: float
) -> tuple[Content, str, float]:
    middle = _mean([points[n] for n in pelvis if n in points]) if pelvis else _mean(list(points.values()))
    drop = float(np.nanpercentile(middle[:, 1], 95) - np.nanpercentile(middle[:, 1], 5))
    along, across = (float(np.nanpercentile(middle[:, k], 95) - np.nanpercentile(middle[:, k], 5)) for k in (0, 2))
    roam = float(np.hypot(along, across))
    if drop < DROP_MM / 2 and roam < 100.0:
        return ("static", "both", 0.9) if spread < STILL_MM else ("other", "auto", 0.3)
    if roam > ROAM_MM or drop < DROP_MM:
        return "other", "auto", 0.7
    course = {side: _mean([points[n] for n in names if n in points]) for side, names in feet.items()}
    course = {side: c for side, c in course.items() if len(c) and not np.isnan(c).all()}
    if set(course) != {"left", "right"}:
        return "single_leg_squat", "auto", 0.4
    low = _deepest(middle[:, 1])
    wander = {side: float(np.nanmax(np.nanstd(c[low][:, [0, 2]], axis=0))) for side, c in course.items()}
    height = {side: float(np.nanmedian(c[low][:, 1])) for side, c in course.items()}
    still = min(wander, key=lambda s: wander[s])
    other = "left" if still == "right" else "right"
    if wander[other] < 5.0 and abs(height["left"] - height["right"]) < 40.0:
        return "double_leg_squat", "both", 0.7
    if height[other] < height[still] - 40.0:
        return "step_down", still, 0.6
    return (
        "single_leg_squat",
        still,
        0.9 if wander[other] > 2.0 * wander[still] or height[other] > height[still] + 40 else 0.5,
    )


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
