"""Was every marker seen, long enough, and only once?"""

from dataclasses import replace

import numpy as np

from condyle.body_names import LANDMARK_SEGMENT, SEGMENTS
from condyle.findings import Finding
from condyle.mechanics.arrays import BoolArray
from condyle.mechanics.gaps import longest_run, runs_of
from condyle.stages.checks.judging import Limits, finding, judged
from condyle.stages.checks.recorded import Recorded

_TOGETHER = 3  # markers of a segment with the same row
_PLACE = "Place what is not there, or see whether the recording gave it another label."


def visibility_findings(seen: Recorded, limits: Limits) -> list[Finding]:
    """Markers never seen, often missing, long missing, flickering, flashing up; segments too rarely seen."""
    visible = ~np.isnan(seen.point[..., 0])
    out: list[Finding] = []
    if not visible.all():
        never = np.asarray(~visible.any(axis=0) & seen.wanted)
        segments = _segments(seen, visible, never, limits)
        out += _never(seen, never, {f.subject for f in segments})
        out += _gaps(seen, visible, limits)
        out += segments
    out += _one_place(seen, limits)
    share = 100.0 * float(visible[:, seen.wanted].mean()) if seen.wanted.any() else 0.0
    advice = "share of the samples of all markers that this trial should show."
    return [*out, Finding("samples seen", "file", share, None, "%", "pass", advice)]


def _never(seen: Recorded, never: BoolArray, said: set[str]) -> list[Finding]:
    """One row per segment that lost markers altogether, unless what is ``said`` of it names them."""
    out = []
    for segment in [*SEGMENTS, ""]:
        lost = [k for k in np.flatnonzero(never).tolist() if _segment_of(seen, k) == segment and k not in seen.left_out]
        if not lost or segment in said:
            continue
        one = len(lost) == 1
        advice = f"in the marker set, but never seen in this trial: {seen.named(lost)}. {_PLACE}"
        subject = segment if segment and not one else seen.labels[lost[0]]
        out.append(Finding("marker missing", subject, float(len(lost)), 0.0, "markers", "review", advice))
    return out


def _segment_of(seen: Recorded, column: int) -> str:
    """The segment a marker tracks, else the one it is a landmark of; empty for neither."""
    tracked = [SEGMENTS[s] for s, own in enumerate(seen.tracking) if column in own]
    return tracked[0] if tracked else LANDMARK_SEGMENT.get(seen.names[column], "")


def _in_view(seen: Recorded, visible: BoolArray, limits: Limits) -> BoolArray:
    """(T,) frames in which the participant is in view, by the markers that are ever seen: recordings begin before
    somebody walks in.
    """
    there = visible[:, seen.wanted & visible.any(axis=0)]
    return np.asarray(there.mean(axis=1) >= limits["in_view"].value) if there.size else np.zeros(len(visible), bool)


def _gaps(seen: Recorded, visible: BoolArray, limits: Limits) -> list[Finding]:
    out: list[Finding | None] = []
    ever = visible.any(axis=0) & seen.tracked & seen.wanted
    gone = ~visible & _in_view(seen, visible, limits)[:, None]
    missing = 100.0 * gone.mean(axis=0)
    longest = longest_run(gone) / seen.rate_hz
    seconds = len(visible) / seen.rate_hz
    shortest = max(1, round(limits["ghost_longest_s"].value * seen.rate_hz))
    for k in np.flatnonzero(ever & gone.any(axis=0)):
        label = seen.labels[k]
        out.append(
            finding(
                limits,
                "hidden",
                "marker often missing",
                label,
                float(missing[k]),
                "this marker is missing for much of the trial; move it or the cameras, or track the segment by others.",
            )
        )
        out.append(
            finding(
                limits,
                "longest_gap",
                "long gap",
                label,
                float(longest[k]),
                f"its longest gap, from {_first(gone[:, k]) / seen.rate_hz:.2f} s; the rows of fill say whether it was filled.",
            )
        )
        gaps = runs_of(~visible[:, k])
        if len(gaps) >= limits["flicker_least"].value:
            out.append(
                finding(
                    limits,
                    "flicker",
                    "marker flickers",
                    label,
                    len(gaps) / seconds,
                    f"{len(gaps)} gaps: two cameras or fewer see it, or it is a reflection; look at the cameras' view of it.",
                )
            )
        runs = runs_of(visible[:, k])
        inside = (runs[:, 0] > 0) & (runs[:, 1] < len(visible))
        flashes = int((inside & (runs[:, 1] - runs[:, 0] <= shortest)).sum())
        out.append(
            finding(
                limits,
                "ghost",
                "ghost point",
                label,
                float(flashes),
                "it flashes up for a moment between gaps, as reflections do; delete what is not the marker.",
            )
        )
    return _by_segment(seen, [f for f in out if f is not None])


def _by_segment(seen: Recorded, rows: list[Finding]) -> list[Finding]:
    """What befalls most markers of a segment is one fault, and one row on the segment."""
    out = []
    for row in rows:
        segment = _segment_of(seen, seen.labels.index(row.subject))
        alike = [f for f in rows if f.check == row.check and _segment_of(seen, seen.labels.index(f.subject)) == segment]
        if len(alike) < _TOGETHER or not segment:
            out.append(row)
        elif row is alike[0]:
            worst = max(alike, key=lambda f: f.value or 0.0)
            advice = f"{', '.join(f.subject for f in alike)} alike; of {worst.subject}: {worst.advice}"
            out.append(replace(worst, subject=segment, advice=advice))
    return out


def _first(missing: BoolArray) -> int:
    """First frame of the longest gap."""
    gaps = runs_of(missing)
    return int(gaps[(gaps[:, 1] - gaps[:, 0]).argmax(), 0])


def _segments(seen: Recorded, visible: BoolArray, never: BoolArray, limits: Limits) -> list[Finding]:
    """Segments without three markers for much of the trial; what is lost altogether is named here and nowhere else."""
    if seen.rig is None:
        return []
    out = []
    here = _in_view(seen, visible, limits)
    for s, columns in enumerate(seen.rig.columns):
        if len(columns) < 3:
            continue
        share = 100.0 * float((here & (visible[:, columns].sum(axis=1) < 3)).mean())
        lost = [k for k in np.flatnonzero(never).tolist() if _segment_of(seen, k) == SEGMENTS[s]]
        advice = (
            "share of the trial in which fewer than three markers of this segment are seen, so that it has no pose"
            + _why_lost(seen, lost)
        )
        if row := finding(limits, "hidden_segment", "segment seen", SEGMENTS[s], share, advice):
            out.append(row)
    return out


def _why_lost(seen: Recorded, lost: list[int]) -> str:
    """Which of a segment's markers are never there, by the recording or by the session file, and what to do."""
    by_hand = [k for k in lost if k in seen.left_out]
    never = [k for k in lost if k not in seen.left_out]
    words = f"; never seen: {seen.named(never)}. {_PLACE}" if never else ""
    return words + (f"; left out by hand: {seen.named(by_hand)}." if by_hand else "") or "."


def _one_place(seen: Recorded, limits: Limits) -> list[Finding]:
    """Two markers of the set in one place: only near ones in the standing trial or neighbours in a sorted axis can be."""
    point = seen.some()
    apart = limits["one_place"].value
    close: dict[tuple[int, int], int] = {}
    order = np.argsort(np.where(np.isnan(point[..., 1]), np.inf, point[..., 1]), axis=1)
    ranked = np.take_along_axis(point, order[..., None], axis=1)
    for by in (1, 2, 3):  # a marker in the same place is a close neighbour in height
        with np.errstate(invalid="ignore"):
            near = (np.abs(ranked[:, by:] - ranked[:, :-by]) < apart).all(axis=-1)
        for t, k in np.argwhere(near):
            pair = tuple(sorted((int(order[t, k]), int(order[t, k + by]))))
            close[pair] = close.get(pair, 0) + 1  # type: ignore[index,arg-type]
    out = []
    seconds = len(seen.point) / seen.rate_hz / max(1, len(point))
    for (a, b), count in sorted(close.items()):
        if seen.static is not None and np.linalg.norm(seen.static[a] - seen.static[b]) < 2 * apart:
            continue
        value = count * seconds
        verdict, limit = judged(limits, "one_place", value)
        if verdict != "pass":
            advice = (
                f"it shares one place with {seen.labels[b]}: one of the two is a ghost or a second name of the other."
            )
            out.append(Finding("two markers in one place", seen.labels[a], value, limit, "s", verdict, advice))
    return out
