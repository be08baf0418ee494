"""Which marker leaps off its segment and stays there for a while: knocked, pulled by cloth, a reflection under its name?"""

import numpy as np

from condyle.findings import Finding, moments
from condyle.mechanics.arrays import BoolArray, IntArray
from condyle.mechanics.sudden_steps import Leap, leaps_in_view, leaps_while_hidden
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded

_AT_ONCE = 5  # markers: more than a segment has


def leap_findings(seen: Recorded, told: BoolArray, lost: IntArray, limits: Limits) -> list[Finding]:
    """One row per marker that leaps; single samples off their path, ``told`` (T, M), have rows of their own, and so have
    frames that are missing, ``lost`` (T,).
    """
    point = seen.point
    if told.any():
        point = point.copy()
        point[told] = np.nan
    longest = round(limits["leap_hidden_s"].value * seen.rate_hz)
    by_marker: dict[int, list[tuple[Leap, float]]] = {}
    for s, columns in enumerate(seen.tracking):
        if len(columns) < 3:
            continue
        markers, kind = point[:, columns], seen.kinds[s]
        in_view, hidden = limits["leap_review"].value, limits[f"leap_hidden_{kind}_review"].value
        found = [(leap, in_view) for leap in leaps_in_view(markers, in_view, limits["leap_times_usual"].value)]
        found += [(leap, hidden) for leap in leaps_while_hidden(markers, hidden, longest)]
        for leap, limit in (one for one in found if not lost[one[0].frame]):
            by_marker.setdefault(columns[leap.point], []).append((leap, limit))
    everywhere = _at_once(by_marker)
    if everywhere:
        by_marker = {
            column: own
            for column, found in by_marker.items()
            if (own := [one for one in found if one[0].frame not in everywhere])
        }
    out = [_row(seen, column, found) for column, found in sorted(by_marker.items())]
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
