"""On which leg does the person squat, and when? From stillness, heights and knee flexion, which need no heading."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.repetitions import find_repetitions

SIDES = ("left", "right")


@dataclass(frozen=True, slots=True)
class Bout:
    """A run of repetitions on one leg (or both), frames [start, stop), and its stance reference, likewise half open."""

    side: str
    start: int
    stop: int
    stance_start: int
    stance_stop: int


class _Squat(NamedTuple):
    """Frames of start and end, the stance side, the speed of the stance foot, and whether the start was recorded."""

    start: int
    end: int
    side: str
    speed: float
    start_seen: bool


def find_bouts(
    time_s: FloatArray,
    knee_flexion_deg: FloatArray,
    foot_speed: FloatArray,
    foot_height: FloatArray,
    pelvis_height: FloatArray,
    still_deg_per_s: float = 5.0,
    least_flexion_deg: float = 15.0,
    least_drop_mm: float = 20.0,
    still_mm_per_s: float = 60.0,
    level_mm: float = 40.0,
    stance_s: float = 0.5,
    use: BoolArray | None = None,
    given: IntArray | None = None,
    forefoot_speed: FloatArray | None = None,
) -> list[Bout]:
    """Runs of squats on one leg, in order of time.

    time_s            : (T,) [s] increasing
    knee_flexion_deg  : (T, 2) [deg] left, right
    foot_speed        : (T, 2) [mm/s] horizontal speed of the foot (its ankle centre, or the mean of its markers)
    foot_height       : (T, 2) [mm] height of the same point
    pelvis_height     : (T,) [mm] height of the pelvis
    still_deg_per_s   : () [deg/s] see find_repetitions
    least_flexion_deg : () [deg] see find_repetitions
    least_drop_mm     : () [mm] see find_repetitions
    still_mm_per_s    : () [mm/s] a foot whose median speed over a squat is lower may be the stance foot
    level_mm          : () [mm] two still feet at heights no further apart than this are both stance feet
    stance_s          : () [s] length of the stance reference
    use               : (T,) [1] True where the recording may be used, or None
    given             : (N, 3) [1] start, bottom and end frames said by hand, or None to find them
    forefoot_speed    : (T, 2) [mm/s] speed of the forefoot, or None: a foot stands where either point is still, for a
                        heel that lifts over a forefoot that stays is no step
    returns           : list of Bout [frames] stop is the frame after the last; side 'left', 'right' or 'both'
    undefined         : no squat: an empty list; no still half second before the first squat: what there is of it
    missing           : a foot never seen cannot be the stance foot; the other one then must be still by itself
    source            : ours: the stance foot is the one that stays still, never the lower one (on a step-down the free
                        foot is lower)
    """
    usable = np.ones(time_s.size, dtype=bool) if use is None else use
    flexion = np.where(usable[:, None], knee_flexion_deg, np.nan)
    speed = np.hypot(foot_speed, _rate(time_s, foot_height))
    standing = speed if forefoot_speed is None else np.fmin(speed, forefoot_speed)
    squats: list[_Squat] = []
    for side in range(2):
        if given is None:
            found = find_repetitions(
                *(time_s, flexion[:, side], pelvis_height, still_deg_per_s, least_flexion_deg, least_drop_mm),
                free_foot_height=foot_height[:, 1 - side],
            )
            frames, from_start = found.frame, found.start_seen
        else:
            frames, from_start = given, np.ones(len(given), dtype=bool)
        for (start, _, end), start_seen in zip(frames.tolist(), from_start.tolist(), strict=True):
            label, moving = _stance(side, start, end, flexion, standing, foot_height, still_mm_per_s, level_mm)
            if label:
                squats.append(_Squat(start, end, label, moving, start_seen))
    runs = _grouped(time_s, _without_rivals(squats), standing, still_mm_per_s)
    course = _Course(time_s, usable, flexion, speed, standing, foot_height, pelvis_height)
    bouts = [_bout(course, run, still_mm_per_s, stance_s) for run in runs]
    return _apart(bouts)


def _rate(time_s: FloatArray, curve: FloatArray) -> FloatArray:
    if time_s.size < 2:
        return np.zeros_like(curve)
    return np.asarray(np.gradient(curve, time_s, axis=0))


def _mean(values: FloatArray) -> float:
    seen = values[np.isfinite(values)]
    return float(seen.mean()) if seen.size else float("nan")


def _median(values: FloatArray) -> float:
    seen = values[np.isfinite(values)]
    return float(np.median(seen)) if seen.size else float("nan")


def _stance(
    side: int,
    start: int,
    end: int,
    flexion: FloatArray,
    speed: FloatArray,
    height: FloatArray,
    still: float,
    level: float,
) -> tuple[str, float]:
    part = slice(start, end + 1)
    # the median: a hop or a slide of the stance foot is a fault of the squat, and no reason not to see the squat
    own, other = _median(speed[part, side]), _median(speed[part, 1 - side])
    if np.isnan(own):
        return "", own
    if np.isnan(other):
        return (SIDES[side] if own < still else ""), own
    apart = abs(_mean(height[part, 0] - height[part, 1]))
    bend = [float(np.ptp(f)) if f.size else 0.0 for f in (c[np.isfinite(c)] for c in flexion[part].T)]
    if max(own, other) < 0.5 * still and apart < level and min(bend) >= 0.5 * max(bend):
        return "both", max(own, other)
    # The foot may shake, but the free one is carried by the pelvis: the stiller one stands.
    return (SIDES[side] if own <= other and own < still else ""), own


def _without_rivals(squats: list[_Squat]) -> list[_Squat]:
    kept: list[_Squat] = []
    for squat in sorted(squats, key=lambda s: (s.speed, s.start, s.side)):  # stillest first
        middle = 0.5 * (squat[0] + squat[1])
        if all(not (k[0] < middle < k[1]) and not (squat[0] < 0.5 * (k[0] + k[1]) < squat[1]) for k in kept):
            kept.append(squat)
    return sorted(kept)


def _feet(side: str) -> list[int]:
    return [0, 1] if side == "both" else [SIDES.index(side)]


def _grouped(time_s: FloatArray, squats: list[_Squat], speed: FloatArray, still: float) -> list[list[_Squat]]:
    runs: list[list[_Squat]] = []
    step = float(np.median(np.diff(time_s))) if time_s.size > 1 else 0.0
    for squat in squats:
        if runs and runs[-1][-1][2] == squat[2]:
            between = speed[runs[-1][-1][1] : squat[0] + 1, _feet(squat[2])]
            stepped = np.nansum(np.where(between > 2.0 * still, between, 0.0), axis=0) * step
            if stepped.max(initial=0.0) < 50.0:  # mm: the foot stayed where it was
                runs[-1].append(squat)
                continue
        runs.append([squat])
    return runs


class _Course(NamedTuple):
    """What a bout is found in: (T,) or (T, 2) as in find_bouts; ``standing`` is the speed of what is stillest of a foot."""

    time_s: FloatArray
    usable: BoolArray
    flexion: FloatArray
    speed: FloatArray
    standing: FloatArray
    height: FloatArray
    pelvis: FloatArray


def _bout(course: _Course, run: list[_Squat], still: float, stance_s: float) -> Bout:
    time_s, usable, flexion, speed, standing, height, pelvis = course
    side, feet = run[0][2], _feet(run[0][2])
    with np.errstate(invalid="ignore"):
        left_place = ((standing[:, feet] > 2.0 * still).any(axis=1)) | ~usable  # a foot that is not seen has not moved
    first, last = run[0][0], run[-1][1]
    moved = np.flatnonzero(left_place[:first])
    start = int(moved[-1]) + 1 if moved.size else 0
    moved = np.flatnonzero(left_place[last + 1 :])
    stop = last + 1 + int(moved[0]) if moved.size else time_s.size
    # A squat that the recording cuts off at its start is no standing: the stance is that before the first whole one.
    whole = next((k for k, squat in enumerate(run) if squat.start_seen), 0)
    before = run[whole].start
    stood = start if whole == 0 else run[whole - 1].end
    alone = stood
    if side != "both":
        alone = _lifted(stood, before, speed[:, 1 - feet[0]], height[:, 1 - feet[0]])
    unrest = np.abs(_rate(time_s, pelvis)) + 7.0 * np.abs(_rate(time_s, flexion[:, feet].mean(axis=1)))  # 1 deg ~ 7 mm
    free = speed[:, 1 - feet[0]] if side != "both" else np.zeros(time_s.size)
    stance = _stillest(time_s, unrest + np.where(np.isfinite(free), free, 0.0), alone, before, stance_s)
    return Bout(side, start, stop, *stance)


def _lifted(start: int, first: int, speed: FloatArray, height: FloatArray) -> int:
    """First frame, counted back from the first squat, from which the free foot is where the squat finds it."""
    with np.errstate(invalid="ignore"):
        elsewhere = (np.abs(height[start:first] - height[first]) > 50.0) | (speed[start:first] > 200.0)
    moved = np.flatnonzero(elsewhere)
    return start + int(moved[-1]) + 1 if moved.size else start


def _stillest(time_s: FloatArray, unrest: FloatArray, start: int, first: int, length_s: float) -> tuple[int, int]:
    step = float(np.median(np.diff(time_s))) if time_s.size > 1 else 1.0
    size = max(1, round(length_s / step))
    stop = first + 1  # the squat's first frame is the last that may be called standing
    if stop - start <= size:
        return start, stop
    part = unrest[start:stop]
    # A window without a pelvis gives no heading: it is taken only where there is no other.
    cost = np.concatenate(([0.0], np.cumsum(np.where(np.isfinite(part), part, 1e6))))
    best = start + int(np.argmin(cost[size:] - cost[:-size]))
    return best, best + size


def _apart(bouts: list[Bout]) -> list[Bout]:
    out: list[Bout] = []
    for bout in bouts:
        if out and out[-1].stop > bout.start:
            before = out[-1]
            middle = min(max((before.stop + bout.start) // 2, before.start + 1), bout.stance_start)
            out[-1] = Bout(before.side, before.start, middle, before.stance_start, before.stance_stop)
            bout = Bout(bout.side, middle, bout.stop, bout.stance_start, bout.stance_stop)
        out.append(bout)
    return out
