"""Which marker leaps off its segment and stays there for a while: knocked, pulled by cloth, a reflection under its name?"""

import numpy as np

from condyle.findings import Finding, moments
from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.sudden_steps import (
    Leap,
    largest_bends,
    leaps_in_view,
    leaps_while_hidden,
    slides_while_hidden,
    steps_off_segment,
    sudden_steps,
)
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.off_segment import farthest
from condyle.stages.checks.recorded import Recorded
from condyle.stages.checks.segment_leaps import leaping_segments, segment_leap_rows

_AT_ONCE = 5  # markers: more than a segment has
_AGAINST_MEDIAN = 1.0 + float(np.sqrt(3.0))  # see largest_bends


def leap_findings(seen: Recorded, told: BoolArray, lost: IntArray, limits: Limits) -> list[Finding]:
    """One row per marker that leaps, and per segment that leaps with all its markers; single samples off their path,
    ``told`` (T, M), have rows of their own, and so have frames that are missing, ``lost`` (T,).
    """
    point = seen.point
    if told.any():
        point = point.copy()
        point[told] = np.nan
    bend, hidden = largest_bends(point), np.asarray(np.isnan(point[..., 0]).any(axis=0))
    segments = leaping_segments(seen, point, lost, limits, bend)
    by_marker: dict[int, list[tuple[Leap, float]]] = {}
    for s in range(len(seen.tracking)):
        together = {leap.frame for leap in segments.get(s, [])}
        told_of = [f(seen, point, s, limits, bend, hidden) for f in (_tracking, _carried)]
        for column, leap, limit in (one for part in told_of for one in part):
            if not lost[leap.frame] and not together & {leap.frame - 1, leap.frame, leap.frame + 1}:
                by_marker.setdefault(column, []).append((leap, limit))
    everywhere = _at_once(by_marker)
    if everywhere:
        by_marker = {
            column: own
            for column, found in by_marker.items()
            if (own := [one for one in found if one[0].frame not in everywhere])
        }
    out = [*segment_leap_rows(seen, segments, limits)]
    out += [_row(seen, column, found) for column, found in sorted(by_marker.items())]
    if everywhere:
        first = sorted(everywhere)
        times = moments(first, seen.rate_hz)
        advice = (
            f"markers of several segments leap at once at {times} s: frames are missing there, recordings were put together, or "
            "names changed; export the trial again."
        )
        when = tuple((f / seen.rate_hz, f / seen.rate_hz) for f in first)
        out.append(Finding("marker leaps", "file", float(len(first)), 0.0, "frames", "review", advice, when))
    return out


def _tracking(
    seen: Recorded, point: FloatArray, s: int, limits: Limits, bend: FloatArray, ever_hidden: BoolArray
) -> list[tuple[int, Leap, float]]:
    """Columns, leaps and limits of the markers that give a segment's pose: each against the others."""
    columns = seen.tracking[s]
    if len(columns) < 3:
        return []
    in_view, hidden = limits["leap_review"].value, limits[f"leap_hidden_{seen.kinds[s]}_review"].value
    found: list[tuple[Leap, float]] = []
    if _AGAINST_MEDIAN * bend[columns].max() > in_view:  # hardly ever
        size = sudden_steps(point[:, columns])
        found += [(leap, in_view) for leap in leaps_in_view(size, in_view, limits["leap_times_usual"].value)]
    if ever_hidden[columns].any():
        found += [(leap, hidden) for leap in leaps_while_hidden(point[:, columns], hidden, _longest(seen, limits))]
    return [(columns[leap.point], leap, limit) for leap, limit in found]


def _carried(
    seen: Recorded, point: FloatArray, s: int, limits: Limits, bend: FloatArray, ever_hidden: BoolArray
) -> list[tuple[int, Leap, float]]:
    """The same of landmarks that track nothing: each against the segment that carries it."""
    assert seen.rig is not None
    rig = seen.rig
    mine = rig.loose.segments == s
    columns = np.concatenate([rig.riders[s], rig.loose.columns[mine]])
    if not len(columns) or len(rig.columns[s]) < 3:
        return []
    if not ever_hidden[columns].any() and bend[columns].max() <= limits["landmark_leap_review"].value:
        return []  # nearly always
    every = seen.every
    local = np.einsum("tij,tpi->tpj", every.rotation[:, s], point[:, columns] - every.translation[:, s, None])
    places = np.concatenate([rig.rider_models[s], rig.loose.places[mine]])
    off = np.linalg.norm(local - places, axis=-1)
    with np.errstate(invalid="ignore"):
        far = off > farthest(seen, columns, limits)
        far &= ~(every.rms[:, s, None] > limits[f"fit_{seen.kinds[s]}_reject"].value)
    share = 100.0 * far.sum(axis=0) / np.maximum(np.isfinite(off).sum(axis=0), 1)
    near = share <= limits["off_segment_review"].value  # what is off its segment altogether has a row of its own
    columns, local = columns[near], local[:, near]
    in_view, hidden = limits["landmark_leap_review"].value, limits["landmark_hidden_review"].value
    size = steps_off_segment(point[:, columns], local)
    found = [(leap, in_view) for leap in leaps_in_view(size, in_view, limits["leap_times_usual"].value)]
    shown = np.isfinite(point[:, rig.columns[s], 0])
    speed = limits["landmark_hidden_speed"].value / seen.rate_hz
    found += [(leap, hidden) for leap in slides_while_hidden(local, shown, hidden, speed, _longest(seen, limits))]
    return [(int(columns[leap.point]), leap, limit) for leap, limit in found]


def _longest(seen: Recorded, limits: Limits) -> int:
    """Frames of the longest gap across which places are compared."""
    return round(limits["leap_hidden_s"].value * seen.rate_hz)


def _at_once(by_marker: dict[int, list[tuple[Leap, float]]]) -> set[int]:
    """Frames in which so many markers leap that it is no marker's own doing."""
    count: dict[int, int] = {}
    for found in by_marker.values():
        for frame in {leap.frame for leap, _ in found}:
            count[frame] = count.get(frame, 0) + 1
    return {frame for frame, markers in count.items() if markers >= _AT_ONCE}


def _row(seen: Recorded, column: int, found: list[tuple[Leap, float]]) -> Finding:
    """The largest leap, and when the first ones are."""
    frames = sorted({leap.frame for leap, _ in found})
    times = moments(frames, seen.rate_hz)
    advice = (
        f"it leaps by this much against the rest of its segment at {times} s: knocked, pulled, or another point under its name; "
        "look there, and leave the marker out in the session file, or mend the labels and export again."
    )
    largest, limit = max(found, key=lambda one: one[0].size)
    when = tuple((f / seen.rate_hz, f / seen.rate_hz) for f in frames)
    return Finding("marker leaps", seen.labels[column], largest.size, limit, "mm", "review", advice, when)
