"""What was recorded in a file? Standing, squats on which leg, or something else: by stillness, drop and the feet."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

import numpy as np

from condyle.draft.mapping import Sureness
from condyle.draft.squatting_legs import Task, squatting_legs
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.stillness import stillest_window

Content = Task | Literal["static", "other"]

Feet = Mapping[str, Mapping[str, str]]  # side -> landmark without its side -> label

STILL_MM = 5.0  # ours: spread of the markers in the stillest half second of a standing trial
DROP_MM = 60.0  # ours: the least drop of the pelvis in a squat
ROAM_MM = 500.0  # ours: a pelvis that goes further over the floor is walking, not squatting
STAY_MM = 100.0  # ours: a pelvis that goes further over the floor did not only stand
SURE, FAIRLY_SURE = 0.9, 0.6  # ours: at least this sure is `high`, at least that `medium`
_AT_MOST: dict[Sureness, float] = {"high": 1.0, "medium": FAIRLY_SURE, "low": 0.0}
_BY = "by the drop of the pelvis, the height of the feet and their stillness"


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

    def no_surer(self, confidence: Sureness, why: str) -> "Recorded":
        """The same, no surer than this, with the reason beside its own where there is one."""
        return replace(self, sure=min(self.sure, _AT_MOST[confidence]), why=f"{self.why}; {why}" if why else self.why)


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
    feet: Feet,
    pelvis: list[str],
    rate_hz: float,
    sides: tuple[Sureness, str] = ("high", ""),
) -> Recorded:
    """Say what a file holds.

    ``points`` label -> (frames, 3), y up; ``feet`` and ``pelvis`` are the labels that were told to be of these;
    ``sides``: how sure it is which foot is the right one, and why no surer.
    """
    cloud = np.stack(list(points.values()), axis=1)
    window = stillest_window(cloud, max(2, round(0.5 * rate_hz)))
    spread = np.inf if window is None else window.spread
    standing: dict[str, FloatArray] = {}
    if window is not None:
        part = {n: p[window.start : window.stop] for n, p in points.items()}
        standing = {n: np.nanmean(p, axis=0) for n, p in part.items() if not np.isnan(p).all()}
    content, side, sure, why = _content(points, feet, pelvis, spread, rate_hz)
    file = Recorded(path, points, standing, content, side, sure, spread, rate_hz, why)
    return file.no_surer(*sides) if side in feet and _AT_MOST[sides[0]] < sure else file


def _content(
    points: dict[str, FloatArray], feet: Feet, pelvis: list[str], spread: float, rate_hz: float
) -> tuple[Content, str, float, str]:
    """What was done, on which side, how surely, and why."""
    middle = mean_course([points[n] for n in pelvis if n in points]) if pelvis else mean_course(list(points.values()))
    drop = float(np.nanpercentile(middle[:, 1], 95) - np.nanpercentile(middle[:, 1], 5))
    along, across = (float(np.nanpercentile(middle[:, k], 95) - np.nanpercentile(middle[:, k], 5)) for k in (0, 2))
    roam = float(np.hypot(along, across))
    if drop < DROP_MM / 2 and roam < ROAM_MM and spread < STILL_MM:
        if roam < STAY_MM:
            return "static", "both", SURE, "its markers stand still"
        return "static", "both", FAIRLY_SURE, "its markers stand still, but not in all of it"
    if drop < DROP_MM / 2 and roam < STAY_MM:
        return "other", "auto", 0.3, _BY
    if roam > ROAM_MM or drop < DROP_MM:
        return "other", "auto", 0.7, _BY
    seen = {side: {name: points[n] for name, n in names.items() if n in points} for side, names in feet.items()}
    legs = squatting_legs(middle[:, 1], seen, rate_hz)
    return legs.task, legs.side, legs.sure, f"{_BY}; {legs.why}" if legs.why else _BY


def mean_course(courses: list[FloatArray]) -> FloatArray:
    """The mean of courses (frames, 3) over those that are seen in a frame; NaN where none is, (0, 3) of none."""
    if not courses:
        return np.empty((0, 3))
    stack = np.stack(courses)
    seen = ~np.isnan(stack)
    total = np.where(seen, stack, 0.0).sum(axis=0)
    return np.where(seen.any(axis=0), total / np.maximum(seen.sum(axis=0), 1), np.nan)
