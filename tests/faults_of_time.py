"""Faults of time: frames lost, frames twice."""

import numpy as np

from tests.fault_case import Case


def _moving(case: Case, rng: np.random.Generator) -> int:
    """A frame in which the pelvis goes down or up as fast as it does around one of the bottoms."""
    height = case.point[:, case.tracking["pelvis"], 1]
    around = int(rng.choice(case.bottoms)) + np.arange(-round(0.8 * case.rate_hz), round(0.8 * case.rate_hz))
    around = around[(around > 2) & (around < len(height) - 6)]
    # Marker by marker: the mean of those seen leaps where one of them vanishes.
    step = np.nanmean(np.abs(height[around + 1] - height[around - 1]), axis=1)
    return int(around[np.nanargmax(step)])


def frames_dropped(case: Case, count: float, rng: np.random.Generator) -> None:
    """Frames lost in the middle of a descent."""
    at = _moving(case, rng)
    case.point = np.delete(case.point, np.arange(at, at + int(count)), axis=0)


def frames_doubled(case: Case, count: float, rng: np.random.Generator) -> None:
    """A frame written several times."""
    at = _moving(case, rng)
    case.point = np.insert(case.point, [at] * int(count), case.point[at], axis=0)
