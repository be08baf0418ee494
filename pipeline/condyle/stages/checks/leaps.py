"""Which marker leaps off its segment and stays there for a while: knocked, pulled by cloth, a reflection under its name?"""

import numpy as np

from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray
from condyle.mechanics.sudden_steps import Leap, leaps_in_view, leaps_while_hidden
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded

_LISTED = 4


def leap_findings(seen: Recorded, told: BoolArray, limits: Limits) -> list[Finding]:
    """One row per marker that leaps; single samples off their path, ``told`` (T, M), have rows of their own."""
    point = seen.point
    if told.any():
        point = point.copy()
        point[told] = np.nan
    longest = round(limits["leap_hidden_s"].value * seen.rate_hz)
    by_marker: dict[int, list[tuple[Leap, float]]] = {}
    for s, columns in enumerate(seen.tracking):
        if len(columns) < 3:
            continue
        own, kind = point[:, columns], seen.kinds[s]
        in_view, hidden = limits["leap_review"].value, limits[f"leap_hidden_{kind}_review"].value
        found = [(leap, in_view) for leap in leaps_in_view(own, in_view, limits["leap_times_usual"].value)]
        found += [(leap, hidden) for leap in leaps_while_hidden(own, hidden, longest)]
        for leap, limit in found:
            by_marker.setdefault(columns[leap.point], []).append((leap, limit))
    return [_row(seen, column, found) for column, found in sorted(by_marker.items())]


def _row(seen: Recorded, column: int, found: list[tuple[Leap, float]]) -> Finding:
    """The largest leap, and when the first ones are."""
    frames = sorted({leap.frame for leap, _ in found})
    times = ", ".join(f"{f / seen.rate_hz:.2f}" for f in frames[:_LISTED]) + (" ..." if len(frames) > _LISTED else "")
    advice = (
        f"it leaps by this much against the rest of its segment at {times} s: knocked, pulled, or another point under its name; "
        "look there, and leave the marker out in the session file, or mend the labels and export again."
    )
    largest, limit = max(found, key=lambda one: one[0].size)
    when = tuple((f / seen.rate_hz, f / seen.rate_hz) for f in frames)
    return Finding("marker leaps", seen.labels[column], largest.size, limit, "mm", "review", advice, when)
