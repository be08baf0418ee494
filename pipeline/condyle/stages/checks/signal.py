"""Is the signal sound: noise, steps of storage, frames lost or doubled, and the cutoff that the trial itself offers?"""

from typing import Any

import numpy as np

from condyle.findings import Finding, moments, stretches
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.noise_floor import doubled_frames, dropped_frames, noise_floor, offered_cutoff, quantum
from condyle.stages.checks.judging import Limits, finding
from condyle.stages.checks.recorded import Recorded

_FRAMES = 100  # of each of five parts of the trial: enough for a median
_TICKING = 15  # markers that tell of lost frames
_CURVES = 4  # markers whose vertical course is analysed
_LISTED = 5


def lost_frames(seen: Recorded, limits: Limits) -> IntArray:
    """(T,) how many frames are missing before each."""
    some = seen.point[:, :: max(1, seen.point.shape[1] // _TICKING)]
    return dropped_frames(some, limits["dropped_moving"].value, limits["dropped_ratio"].value)


def signal_findings(seen: Recorded, lost: IntArray, limits: Limits) -> tuple[list[Finding], dict[str, Any]]:
    """Findings on the signal, frames that are ``lost`` among them, and what later stages and tables want to know of it."""
    count = len(seen.point)
    starts = sorted({int(share * max(0, count - _FRAMES)) for share in (0.0, 0.25, 0.5, 0.75, 1.0)})
    parts = [seen.point[a : a + _FRAMES] for a in starts]
    out = [*_noise(seen, parts, limits), *_steps(seen, parts[len(parts) // 2], limits), *_clock(seen, lost, limits)]
    cutoff = _cutoff(seen)
    return out, {"residual_cutoff_hz": cutoff} if np.isfinite(cutoff) else {}


def _noise(seen: Recorded, parts: list[FloatArray], limits: Limits) -> list[Finding]:
    """The usual noise, and the markers that shake in any part of the trial: more than a few are one fault."""
    floor = np.array([noise_floor(part) for part in parts])  # (part, marker)
    known = np.isfinite(floor)
    if not known.any():
        return []
    advice = "median over markers of the noise per axis, from frame to frame."
    out: list[Finding | None] = [
        Finding("noise floor", "file", float(np.median(floor[known])), None, "mm", "pass", advice)
    ]
    worst = np.where(known, floor, 0.0).max(axis=0)
    loud = np.flatnonzero(worst > limits["noise_review"].value)
    loud = loud[np.argsort(-worst[loud], kind="stable")]
    if len(loud) > _LISTED:
        names = seen.named(loud[:_LISTED])
        advice = (
            f"{len(loud)} markers shake from frame to frame in a part of the trial, most of all {names}; look at the cameras' "
            "calibration, and at what else moved them all."
        )
        return [f for f in (*out, finding(limits, "noise", "noise floor", "file", float(worst[loud[0]]), advice)) if f]
    for k in loud:
        advice = "this marker shakes from frame to frame; look at how many cameras see it, and whether it is loose."
        out.append(finding(limits, "noise", "noise floor", seen.labels[k], float(worst[k]), advice))
    return [f for f in out if f is not None]


def _steps(seen: Recorded, part: FloatArray, limits: Limits) -> list[Finding]:
    """One coordinate tells how the file stores all of them."""
    seen_most = int(np.isfinite(part[..., 0]).sum(axis=0).argmax())
    step = quantum(part[:, seen_most, :].ravel())
    advice = "coordinates are stored in steps this coarse; export the file with real numbers or a smaller scale."
    row = finding(limits, "quantum", "steps of storage", "file", step, advice)
    return [row] if row else []


def _clock(seen: Recorded, lost: IntArray, limits: Limits) -> list[Finding]:
    doubled = doubled_frames(seen.point)
    out = []
    if doubled.any() and not doubled[1:].all():
        advice = "repeat the frame before to the last digit, so time stood still there; export the trial again."
        advice = f"frames at {moments(np.flatnonzero(doubled).tolist(), seen.rate_hz)} s {advice}"
        when = stretches(doubled, seen.rate_hz)
        count = float(doubled.sum())
        out.append(finding(limits, "doubled_frames", "doubled frames", "file", count, advice, times_s=when))
    if lost.any():
        times = moments(np.flatnonzero(lost).tolist(), seen.rate_hz)
        advice = (
            f"before {times} s all markers go on in one step as far as in several: by their speed about "
            "so many frames are missing there; export the trial again."
        )
        when = stretches(np.asarray(lost > 0), seen.rate_hz)
        out.append(finding(limits, "dropped_frames", "dropped frames", "file", float(lost.sum()), advice, times_s=when))
    return [row for row in out if row is not None]


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
