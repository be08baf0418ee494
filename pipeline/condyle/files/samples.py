"""Which samples of a recording are real? Missing ones become NaN, whatever their coordinates; odd ones are counted
and named.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from condyle.files.reading_limits import Limits, reading_limits
from condyle.findings import Finding, moments, stretches
from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.gaps import runs_of

LARGEST_INTEGER = 32767


@dataclass(frozen=True, slots=True)
class SampleCounts:
    """Samples of markers that are missing, by how the file says so, and all there are."""

    total: int
    negative_residual: int
    zero: int
    not_finite: int
    out_of_range: int

    @property
    def missing(self) -> int:
        """All that became NaN."""
        return self.negative_residual + self.zero + self.not_finite + self.out_of_range


def mark_missing(
    points: FloatArray, negative: BoolArray, is_marker: BoolArray, *, zero_is_missing: bool, largest: float
) -> tuple[FloatArray, SampleCounts]:
    """NaN into points (frames, points, 3), in place, where a sample is missing; their reach and counts over markers.

    ``largest`` is the size of a coordinate, in the file's unit, that only a damaged number or a full integer has.
    The reach (frames, points) is the largest of a sample's coordinates, NaN where it is missing.
    """
    x, y, z = (np.abs(points[..., k]) for k in range(3))
    reach: FloatArray = np.maximum(np.maximum(x, y), z)
    wild = ~np.isfinite(reach) & ~negative
    far = (reach >= largest) & ~negative & ~wild
    zero = (reach == 0) & ~negative if zero_is_missing else np.zeros_like(negative)
    missing = negative | wild | far | zero
    points[missing] = np.nan
    reach[missing] = np.nan
    counts = [int(np.count_nonzero(mask[:, is_marker])) for mask in (negative, zero, wild, far)]
    return reach, SampleCounts(points.shape[0] * int(is_marker.sum()), *counts)


def count_findings(counts: SampleCounts) -> list[Finding]:
    """One finding for each way in which samples are missing; plain gaps are a fact, not a fault."""
    total = float(counts.total)
    rows: list[tuple[str, int, str]] = [
        ("samples marked missing", counts.negative_residual, "their residual is negative; they were taken as missing"),
        (
            "samples at the origin",
            counts.zero,
            "all three coordinates are 0; they were taken as missing (read: zero_is_missing)",
        ),
    ]
    findings = [Finding(check, "file", float(n), total, "samples", "pass", text) for check, n, text in rows if n]
    if counts.not_finite:
        text = "coordinates are no numbers (NaN or infinite); they were taken as missing: export the file again"
        findings.append(Finding("samples not finite", "file", float(counts.not_finite), 0.0, "samples", "review", text))
    if counts.out_of_range:
        text = "coordinates are at the end of their range or over 100 m away; they count as missing: export it again"
        findings.append(
            Finding("samples out of range", "file", float(counts.out_of_range), 0.0, "samples", "review", text)
        )
    return findings


def leap_findings(
    points: FloatArray, labels: Sequence[str], rate_hz: float, limits: Limits | None = None
) -> list[Finding]:
    """A finding for every label of which a sample (frames, markers, 3), in mm, leaps from its neighbours (`leap`).

    ``limits`` are those of :func:`reading_limits`, here and below; the shipped ones where none are given.
    """
    limits = limits or reading_limits()
    leap = leaps(points, rate_hz, limits)
    worst: dict[str, Finding] = {}
    for k in map(int, np.flatnonzero((leap > 0).any(axis=0))):
        frames = np.flatnonzero(leap[:, k] > 0)
        largest = float(leap[frames, k].max())
        times = moments(frames.tolist(), rate_hz)
        text = (
            f"leaves its neighbours at {times} s ({len(frames)} samples); look there, or ask for the repair of spikes"
        )
        when = stretches(np.asarray(leap[:, k] > 0), rate_hz)
        finding = Finding("leap of a sample", labels[k], largest, limits["leap"].value, "mm", "review", text, when)
        if largest > (worst.get(labels[k], finding).value or 0.0) or labels[k] not in worst:
            worst[labels[k]] = finding  # of a name that stands several times, the worst column
    return list(worst.values())


def leaps(points: FloatArray, rate_hz: float, limits: Limits | None = None) -> FloatArray:
    """How far each sample (frames, markers) lies from the nearer of its neighbours, mm, where that is a leap; else 0.

    Fast motion also takes a sample far from both neighbours; but then it lies near the straight line between them, or
    the path is as bent two and three frames away, unless that were a greater acceleration than `leap_acceleration`. At
    the edge of a gap the line through two samples on one side stands in.
    """
    value = {name: limit.value for name, limit in (limits or reading_limits()).items()}
    count, markers = points.shape[:2]
    leap = np.zeros((count, markers))
    if count < 2:
        return leap
    step = np.full((count + 1, markers), np.nan)
    step[1:-1] = _length(points[1:] - points[:-1])
    nearest = np.fmin(step[:-1], step[1:])
    frame, marker = np.nonzero(nearest > value["leap"])
    if not frame.size:
        return leap
    bend = _bend(points, frame, marker, alone=nearest[frame, marker])
    nowhere = np.full(frame.shape, np.nan)
    around = np.array([_bend(points, frame + by, marker, alone=nowhere) for by in (-3, -2, 2, 3)])
    around[:, np.isnan(around).all(axis=0)] = 0.0
    fastest = 1000.0 * value["leap_acceleration"] / (2 * rate_hz**2)
    beyond = np.minimum(value["leap_times_bend"] * np.nanmedian(around, axis=0), fastest)
    found = (bend > value["leap_off_path"]) & (bend > beyond)
    frame, marker, bend = frame[found], marker[found], bend[found]
    bent = np.zeros((count + 2, markers))
    bent[frame + 1, marker] = bend
    own = bend > value["leap_echo"] * np.fmax(bent[frame, marker], bent[frame + 2, marker])
    leap[frame[own], marker[own]] = nearest[frame[own], marker[own]]
    return leap


def _bend(points: FloatArray, frame: IntArray, marker: IntArray, alone: FloatArray) -> FloatArray:
    """Distance of chosen samples from the line through their neighbours; ``alone`` where too few are seen."""
    here, (earlier, before, after, later) = (
        _at(points, frame, marker),
        (_at(points, frame + by, marker) for by in (-2, -1, 1, 2)),
    )
    between = _length(here - (before + after) / 2)
    one_side = np.fmin(_length(here - 2 * after + later), _length(here - 2 * before + earlier))
    return np.where(np.isfinite(between), between, np.where(np.isfinite(one_side), one_side, alone))


def _at(points: FloatArray, frame: IntArray, marker: IntArray) -> FloatArray:
    """Samples by frame and marker, NaN outside the recording."""
    inside = (frame >= 0) & (frame < len(points))
    return np.where(inside[:, None], points[np.clip(frame, 0, len(points) - 1), marker], np.nan)


def frozen_findings(
    points: FloatArray, labels: Sequence[str], rate_hz: float, limits: Limits | None = None
) -> list[Finding]:
    """A finding for every marker (frames, markers, 3) that stands exactly still for so long (`held`) while most others
    move, and longer than its coordinates repeat by chance: those that are stored in coarse steps do.
    """
    frozen_s = (limits or reading_limits())["held"].value
    same = points[1:, :, 0] == points[:-1, :, 0]
    for axis in (1, 2):
        same &= points[1:, :, axis] == points[:-1, :, axis]
    moving = (~same & np.isfinite(points[1:, :, 0])).sum(axis=1) > 0.5 * points.shape[1]
    held = same & moving[:, None]  # from each frame to the next
    longest = _longest_run(held)
    limit = max(3, round(frozen_s * rate_hz))
    text = "repeats one position to the last digit while others move: probably held through a gap; look at it"
    out = []
    for k in map(int, np.flatnonzero(longest >= limit)):
        runs = runs_of(held[:, k])
        length = runs[:, 1] - runs[:, 0]
        long = length >= max(limit, _by_chance(length, len(held)))
        if not long.any():
            continue
        when = tuple((int(a) / rate_hz, int(b) / rate_hz) for a, b in runs[long])
        value = float(length.max() + 1) / rate_hz
        out.append(Finding("marker stands still", labels[k], value, frozen_s, "s", "review", text, when))
    return out


def _by_chance(length: IntArray, frames: int) -> float:
    """Twice the longest run of repeats to be expected where each frame repeats as often as all runs but the longest say."""
    often = float(length.sum() - length.max()) / max(1, frames)
    return 2.0 * float(np.log(max(2, frames)) / -np.log(often)) if often > 0.0 else 0.0


def median_speed(points: FloatArray, rate_hz: float) -> float:
    """Median over frames and markers of the speed, m/s, of points in mm; NaN where nothing is seen twice."""
    if points.shape[0] < 2:
        return float("nan")
    step = max(1, (points.shape[0] - 1) // 200)
    moved = _length(points[1::step] - points[:-1:step][: len(points[1::step])])
    moved = moved[np.isfinite(moved)]
    return float(np.median(moved)) * rate_hz / 1000.0 if moved.size else float("nan")


def _longest_run(true: BoolArray) -> IntArray:
    """Longest run of True down each column."""
    if not true.any():
        return np.zeros(true.shape[1], dtype=np.int64)
    rows = np.arange(1, true.shape[0] + 1)[:, None]
    since = rows - np.maximum.accumulate(np.where(true, 0, rows), axis=0)
    return np.asarray(since.max(axis=0), dtype=np.int64)


def _length(vectors: FloatArray) -> FloatArray:
    with np.errstate(over="ignore", invalid="ignore"):
        length: FloatArray = np.sqrt(np.einsum("...i,...i->...", vectors, vectors))
    return length
