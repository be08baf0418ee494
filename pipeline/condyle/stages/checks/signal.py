"""Is the signal sound: noise, steps of storage, frames lost or doubled, and the cutoff that the trial itself offers?"""

from typing import Any

import numpy as np

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.noise_floor import doubled_frames, dropped_frames, noise_floor, offered_cutoff, quantum
from condyle.stages.checks.judging import Limits, finding
from condyle.stages.checks.recorded import Recorded

_FRAMES = 200  # of the trial's middle: enough for a median
_TICKING = 15  # markers that tell of lost frames
_CURVES = 4  # markers whose vertical course is analysed
_LISTED = 5


def signal_findings(seen: Recorded, limits: Limits) -> tuple[list[Finding], dict[str, Any]]:
    """Findings on the signal, and what later stages and tables want to know of it."""
    middle = len(seen.point) // 2
    part = seen.point[max(0, middle - _FRAMES // 2) : middle + _FRAMES // 2]
    out = [*_noise(seen, part, limits), *_steps(seen, part, limits), *_clock(seen, limits)]
    cutoff = _cutoff(seen)
    return out, {"residual_cutoff_hz": cutoff} if np.isfinite(cutoff) else {}


def _noise(seen: Recorded, part: FloatArray, limits: Limits) -> list[Finding]:
    floor = noise_floor(part)
    known = floor[np.isfinite(floor)]
    if not len(known):
        return []
    advice = "median over markers of the noise per axis, from frame to frame."
    out: list[Finding | None] = [Finding("noise floor", "file", float(np.median(known)), None, "mm", "pass", advice)]
    for k in np.flatnonzero(floor > limits["noise_review"].value):
        advice = "this marker shakes from frame to frame; look at how many cameras see it, and whether it is loose."
        out.append(finding(limits, "noise", "noise floor", seen.labels[k], float(floor[k]), advice))
    return [f for f in out if f is not None]


def _steps(seen: Recorded, part: FloatArray, limits: Limits) -> list[Finding]:
    """One coordinate tells how the file stores all of them."""
    seen_most = int(np.isfinite(part[..., 0]).sum(axis=0).argmax())
    step = quantum(part[:, seen_most, :].ravel())
    advice = "coordinates are stored in steps this coarse; export the file with real numbers or a smaller scale."
    row = finding(limits, "quantum", "steps of storage", "file", step, advice)
    return [row] if row else []


def _clock(seen: Recorded, limits: Limits) -> list[Finding]:
    out = []
    doubled = doubled_frames(seen.point)
    if doubled.any() and not doubled[1:].all():
        out.append(("doubled frames", doubled, "repeat the frame before to the last digit, so time stood still there"))
    some = seen.point[:, :: max(1, seen.point.shape[1] // _TICKING)]
    dropped = dropped_frames(some, limits["dropped_moving"].value, limits["dropped_ratio"].value)
    if dropped.any():
        out.append(
            ("dropped frames", dropped, "come after a step of all markers as long as two: a frame is missing there")
        )
    rows = []
    for check, which, words in out:
        frames = np.flatnonzero(which)
        times = ", ".join(f"{f / seen.rate_hz:.2f}" for f in frames[:_LISTED]) + (
            " ..." if len(frames) > _LISTED else ""
        )
        advice = f"frames at {times} s {words}; export the trial again."
        name = check.replace(" ", "_")
        if row := finding(limits, name, check, "file", float(len(frames)), advice):
            rows.append(row)
    return rows


def _middle(spread: FloatArray) -> IntArray:
    """Markers that move as most do: feet that stand or strike the floor say little about a filter for the body."""
    order = np.argsort(spread, kind="stable")
    first = max(0, len(order) // 2 - _CURVES // 2)
    return order[first : first + _CURVES]


def _cutoff(seen: Recorded) -> float:
    """Median over a few whole, moving markers of the cutoff that residual analysis offers for the vertical."""
    whole = np.flatnonzero(np.isfinite(seen.point[..., 1]).all(axis=0))
    if not len(whole) or len(seen.point) < 50 or seen.rate_hz < 40:
        return float("nan")
    spread = np.ptp(seen.point[:, whole, 1], axis=0)
    chosen = whole[_middle(spread)]
    grid = np.arange(1.0, 0.3 * seen.rate_hz + 1e-9, 0.5)
    offered = offered_cutoff(seen.point[:, chosen, 1], seen.rate_hz, grid)
    known = offered[np.isfinite(offered)]
    return float(np.median(known)) if len(known) else float("nan")
