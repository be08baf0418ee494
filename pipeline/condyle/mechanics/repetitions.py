"""Where does a squat start, where is its bottom, where does it end?"""

from typing import NamedTuple

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.signal import find_peaks

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray

_FOOT_MOVED_MM = 50.0  # ours


class Repetitions(NamedTuple):
    """Frames (N, 3) of start, bottom and end, and for each repetition what was seen of it."""

    frame: IntArray
    start_seen: BoolArray
    bottom_seen: BoolArray
    end_seen: BoolArray

    @property
    def complete(self) -> BoolArray:
        """True where start and end lie within the recording: what may be measured."""
        return self.start_seen & self.end_seen


def find_repetitions(
    time_s: FloatArray,
    flexion: FloatArray,
    pelvis_height: FloatArray | None = None,
    still_deg_per_s: float = 5.0,
    least_flexion_deg: float = 15.0,
    least_drop_mm: float = 20.0,
    pause_share: float = 0.25,
    longest_gap_s: float = 1.0,
    shortest_s: float = 0.5,
    free_foot_height: FloatArray | None = None,
) -> Repetitions:
    """Repetitions in a course of knee flexion.

    time_s            : (T,) [s] increasing
    flexion           : (T,) [deg] knee flexion of the stance leg
    pelvis_height     : (T,) [mm] height of the pelvis, or None; a squat lowers it
    still_deg_per_s   : () [deg/s] start and end: from the bottom outwards, the first frame that flexes (extends) slower
    least_flexion_deg : () [deg] a peak that stands out less is no squat
    least_drop_mm     : () [mm] a peak that lowers the pelvis less is no squat
    pause_share       : () [1] a still frame more than this share of the excursion below the upright end is a pause
    longest_gap_s     : () [s] a longer gap ends the recording for the squats beside it
    shortest_s        : () [s] a shorter rise and fall is a step, not a squat
    free_foot_height  : (T,) [mm] height of the other foot, or None; a knee that bends while that foot is lifted or put
                        down by more than the pelvis carries it, half as much as in the deepest squat or less, steps and
                        does not squat
    returns           : Repetitions [frames] in order of time; a side that is cut off lies at the recording's edge
    undefined         : no squat: N = 0
    missing           : gaps are bridged by a cubic spline to find the frames, never to measure; seen = False where a
                        start, a bottom or an end lies in a gap
    source            : start, bottom, end: ours; pauses and shares: ours
    """
    bridged = _bridged(time_s, flexion, longest_gap_s)
    seen = np.isfinite(flexion)
    rows: list[tuple[int, int, int, bool, bool]] = []
    for first, stop in _runs(np.isfinite(bridged)):
        if stop - first >= 3:
            piece = _in_one_piece(
                time_s[first:stop], bridged[first:stop], still_deg_per_s, least_flexion_deg, pause_share
            )
            rows.extend((a + first, b + first, c + first, sa, sc) for a, b, c, sa, sc in piece)
    rows = [r for r in rows if _is_squat(time_s, pelvis_height, r, least_drop_mm, shortest_s)]
    frame = np.array([r[:3] for r in rows], dtype=np.int64).reshape(-1, 3)
    if free_foot_height is not None and len(rows):
        seen_ends = np.array([r[3:] for r in rows], dtype=bool)
        stays = _no_step(bridged, pelvis_height, free_foot_height, frame, seen_ends)
        rows, frame = [r for r, kept in zip(rows, stays, strict=True) if kept], frame[stays]
    beside = seen & np.roll(seen, 1) & np.roll(seen, -1)  # a peak at the edge of a gap may be higher inside it
    return Repetitions(
        frame,
        np.array([r[3] for r in rows], dtype=bool) & seen[frame[:, 0]],
        beside[frame[:, 1]],
        np.array([r[4] for r in rows], dtype=bool) & seen[frame[:, 2]],
    )


def first_crossing(curve: FloatArray, level: float, start: int, stop: int) -> float:
    """Where a course first rises to a level, between two frames.

    curve     : (T,) [unit] course
    level     : () [unit] level
    start     : () [1] first frame looked at
    stop      : () [1] last frame looked at
    returns   : () [1] frame, with its fraction between two frames
    undefined : the level is not crossed upwards in between: NaN
    missing   : a crossing beside a NaN does not count
    source    : linear interpolation
    """
    part = curve[start : stop + 1]
    with np.errstate(invalid="ignore"):
        rising = np.flatnonzero((part[:-1] < level) & (part[1:] >= level))
    if not rising.size:
        return float("nan")
    i = int(rising[0])
    return start + i + float((level - part[i]) / (part[i + 1] - part[i]))


def _bridged(time_s: FloatArray, curve: FloatArray, longest_gap_s: float) -> FloatArray:
    seen = np.isfinite(curve)
    if seen.all() or seen.sum() < 4:
        return curve
    gaps = [(a, b) for a, b in _runs(~seen) if a > 0 and b < curve.size and time_s[b] - time_s[a - 1] <= longest_gap_s]
    if not gaps:
        return curve
    out, spline = curve.copy(), CubicSpline(time_s[seen], curve[seen])
    for a, b in gaps:
        out[a:b] = spline(time_s[a:b])
    return out


def _runs(mask: BoolArray) -> list[tuple[int, int]]:
    edge = np.flatnonzero(np.diff(np.concatenate(([False], mask, [False])).astype(np.int8)))
    return list(zip(edge[::2].tolist(), edge[1::2].tolist(), strict=True))


def _in_one_piece(
    time_s: FloatArray, flexion: FloatArray, still: float, least: float, share: float
) -> list[tuple[int, int, int, bool, bool]]:
    floor = float(flexion.min())
    padded = np.concatenate(([floor], flexion, [floor]))  # so that a squat cut off by the edge is a peak too
    peaks, _ = find_peaks(padded, prominence=least)
    bottoms = _apart(flexion, np.clip(peaks - 1, 0, flexion.size - 1).tolist(), floor, least)
    speed = np.gradient(flexion, time_s)
    out = []
    for k, bottom in enumerate(bottoms):
        before = bottoms[k - 1] if k else 0
        after = bottoms[k + 1] if k + 1 < len(bottoms) else flexion.size - 1
        extends = _extends(float(flexion[bottom]), floor, least)
        low, start_seen = _outwards(
            flexion[before : bottom + 1][::-1], speed[before : bottom + 1][::-1], still, share, extends, k > 0
        )
        high, end_seen = _outwards(
            flexion[bottom : after + 1], -speed[bottom : after + 1], still, share, extends, k + 1 < len(bottoms)
        )
        out.append((bottom - low, bottom, bottom + high, start_seen, end_seen))
    return out


def _apart(flexion: FloatArray, peaks: list[int], floor: float, least: float) -> list[int]:
    """Peaks between which the knee extends by a third of the smaller: a bounce at the bottom is not a second squat."""
    kept: list[int] = []
    for peak in peaks:
        while kept:
            lower = min(flexion[kept[-1]], flexion[peak])
            if lower - flexion[kept[-1] : peak + 1].min() >= _extends(lower, floor, least):
                break
            if flexion[peak] <= flexion[kept[-1]]:
                peak = kept[-1]
            kept.pop()
        kept.append(peak)
    return kept


def _extends(flexion: float, floor: float, least: float) -> float:
    """How far the knee must extend for a squat to be over: a third of it; less is a bounce, or the bottom itself."""
    return max(least, (flexion - floor) / 3.0)


def _outwards(
    flexion: FloatArray, speed: FloatArray, still: float, share: float, extends: float, neighbour: bool
) -> tuple[int, bool]:
    # from the bottom (index 0) outwards; speed is positive towards the bottom
    turn = int(np.argmin(flexion)) if neighbour else flexion.size - 1
    flexion, speed = flexion[: turn + 1], speed[: turn + 1]
    beyond = np.minimum.accumulate(flexion[::-1])[::-1]  # the most extended the knee still gets, further outwards
    upright = flexion - beyond <= share * (flexion[0] - beyond)
    if not neighbour:
        upright &= flexion[0] - flexion >= extends  # cut off at its bottom, a squat ends slowly but does not end
    upright[0] = False
    still_there = np.flatnonzero(upright & (speed < still))
    if still_there.size:
        return int(still_there[0]), True
    return turn, neighbour


def _no_step(
    flexion: FloatArray,
    pelvis: FloatArray | None,
    free_foot_height: FloatArray,
    frame: IntArray,
    seen_ends: BoolArray,
) -> BoolArray:
    # A squat cut off at its bottom starts (or ends) there: its depth is told by the end that was recorded.
    ends = flexion[frame[:, ::2]]
    upright = np.where(seen_ends, ends, -np.inf).max(axis=1)
    upright = np.where(np.isfinite(upright), upright, ends.min(axis=1))
    depth = flexion[frame[:, 1]] - upright
    way = free_foot_height[frame[:, 2]] - free_foot_height[frame[:, 0]]
    carried = np.zeros(len(frame)) if pelvis is None else np.nan_to_num(pelvis[frame[:, 2]] - pelvis[frame[:, 0]])
    # Between staying where it is and being carried along with the pelvis, the foot does not step.
    by_itself = np.maximum(way - np.maximum(carried, 0.0), np.minimum(carried, 0.0) - way)
    with np.errstate(invalid="ignore"):
        moved = by_itself > _FOOT_MOVED_MM
    return np.asarray(~(moved & (depth <= 0.5 * depth.max())))


def _is_squat(
    time_s: FloatArray, pelvis: FloatArray | None, row: tuple[int, int, int, bool, bool], least: float, shortest: float
) -> bool:
    start, _, end, start_seen, end_seen = row
    if start_seen and end_seen and time_s[end] - time_s[start] < shortest:
        return False
    if pelvis is None:
        return True
    height = pelvis[start : end + 1]
    height = height[np.isfinite(height)]
    return bool(height.size < 2 or np.ptp(height) >= least)
