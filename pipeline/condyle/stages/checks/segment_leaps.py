"""Which segment leaps with all its markers while its neighbours do not: a belt that slips, a plate that is torn along?"""

import numpy as np

from condyle.body_names import SEGMENTS
from condyle.findings import Finding, moments
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.mechanics.rigidity import Meeting
from condyle.mechanics.sudden_steps import Leap, leaps_in_view, own_sudden_steps, steps_in_common
from condyle.stages.checks.judging import Limits
from condyle.stages.checks.recorded import Recorded

LEAPING_SEGMENTS = "leaping_segments"  # attribute: those that have a row, for the stage quality to say no more of it


def leaping_segments(
    seen: Recorded, point: FloatArray, lost: IntArray, limits: Limits, bend: FloatArray
) -> dict[int, list[Leap]]:
    """Place of a segment -> its leaps in ``point`` (T, M, 3); none where frames are missing, ``lost`` (T,).
    ``bend`` (M,) are the largest bends of the markers' paths.

    Every marker leaps, and a joint with a neighbour is torn apart in the same frame: where the whole body leaps, or the leg
    beyond a joint, the neighbour goes along. Poses alone would not do, for they step wherever a marker vanishes.
    """
    assert seen.rig is not None
    least, times_usual = limits["segment_leap_review"].value, limits["leap_times_usual"].value
    out: dict[int, list[Leap]] = {}
    torn: FloatArray | None = None
    meetings = _meetings(seen)
    for s, columns in enumerate(seen.rig.columns):
        if (bend[columns] > least).sum() < 3:  # nearly always: all of three markers at least would have to leap
            continue
        found = leaps_in_view(steps_in_common(point[:, columns]), least, times_usual)
        if not found:
            continue
        torn = _torn(seen, meetings) if torn is None else torn
        own = torn[:, [j for j, m in enumerate(meetings) if s in (m.upper, m.lower)]]
        for leap in found:
            at = own[leap.frame]
            told = at[np.isfinite(at)]
            if not lost[leap.frame] and (len(told) == 0 or told.max() > least):
                out.setdefault(s, []).append(leap)
    return out


def segment_leap_rows(seen: Recorded, leaping: dict[int, list[Leap]], limits: Limits) -> list[Finding]:
    """One row per segment: its largest leap, and when the first ones are."""
    out = []
    limit = limits["segment_leap_review"].value
    for s, found in sorted(leaping.items()):
        frames = [leap.frame for leap in found]
        advice = (
            f"all markers of this segment leap by this much or more at {moments(frames, seen.rate_hz)} s, and the segments "
            "beside it do not: what carries them slipped or was pushed. Angles before and after are not of one placement: look "
            "there, and use one part of the trial alone, or record it again."
        )
        when = tuple((f / seen.rate_hz, f / seen.rate_hz) for f in frames)
        size = max(leap.size for leap in found)
        out.append(Finding("segment leaps", SEGMENTS[s], size, limit, "mm", "review", advice, when))
    return out


def _meetings(seen: Recorded) -> list[Meeting]:
    """The joints, and the trunk on the pelvis: their origins stay apart, but never step."""
    assert seen.rig is not None
    trunk, pelvis = SEGMENTS.index("trunk"), SEGMENTS.index("pelvis")
    return [*seen.rig.meetings, Meeting(trunk, np.zeros(3), pelvis, np.zeros(3))]


def _torn(seen: Recorded, meetings: list[Meeting]) -> FloatArray:
    """(T, J) [mm] sudden steps of each joint by its lower segment from the joint by its upper one."""
    at = [
        [
            seen.every.rotation[:, s] @ local + seen.every.translation[:, s]
            for s, local in ((m.upper, m.upper_local), (m.lower, m.lower_local))
        ]
        for m in meetings
    ]
    return own_sudden_steps(np.stack([lower - upper for upper, lower in at], axis=1))
