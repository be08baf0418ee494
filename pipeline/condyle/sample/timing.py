"""When the squats happen: how far down each frame is, from pauses, tempo, depths and cut-off ends."""

from dataclasses import dataclass

import numpy as np

from condyle.sample.turning import Array


@dataclass(frozen=True)
class Timing:
    """Tempo of a bout; seconds, and depths as shares of the movement's full size.

    A pause on the way stops every descent half-way; at the bottom the person sinks by a further hundredth during the
    pause, so that the deepest frame stays defined. ``cut_first`` begins the recording half-way down the first squat,
    ``cut_last`` ends it half-way up the last one. ``shaky_start_deg`` is an unrest of the leg before the first squat.
    """

    repetitions: int = 5
    squat_s: float = 2.0
    before_s: float = 1.5
    after_s: float = 1.0
    between_s: float = 0.4
    pause_bottom_s: float = 0.0
    pause_on_the_way_s: float = 0.0
    depths: tuple[float, ...] = ()  # of each squat; 1 where not given
    tempo_spread: float = 0.05  # SD of each squat's time as a share; 0 for a metronome
    shaky_start_deg: float = 0.0
    cut_first: bool = False
    cut_last: bool = False


@dataclass(frozen=True)
class Progress:
    """``down`` (T,) share of the way down, 0 upright, 1 at the bottom, times the squat's depth; ``share`` without it.

    ``windows`` are the frames of each squat (start, bottom, end) as planned; ``rest`` the frames before the first.
    """

    down: Array
    share: Array
    depth: Array
    windows: tuple[tuple[int, int, int], ...]
    rest: int

    def __len__(self) -> int:
        return len(self.down)


def _eased(frames: int) -> Array:
    """From just after 0 to 1 in so many frames, with least jerk."""
    t = np.arange(1, frames + 1) / frames
    return t**3 * (10 - 15 * t + 6 * t**2)


def progress_of(timing: Timing, rate_hz: float, rng: np.random.Generator) -> Progress:
    """The course of a bout at this sampling rate."""
    down, depths, windows = [np.zeros(max(1, round(timing.before_s * rate_hz)))], [], []
    at = len(down[0])
    depths.append(np.ones(at))
    for number in range(timing.repetitions):
        pace = float(np.clip(rng.normal(1.0, timing.tempo_spread), 0.7, 1.4)) if timing.tempo_spread else 1.0
        lean = float(np.clip(rng.normal(1.0, timing.tempo_spread), 0.8, 1.2)) if timing.tempo_spread else 1.0
        half = timing.squat_s * pace / 2
        descent = _eased(max(4, round(half * lean * rate_hz)))
        if timing.pause_on_the_way_s:
            first, pause = _eased(len(descent) // 2) / 2, np.full(round(timing.pause_on_the_way_s * rate_hz), 0.5)
            descent = np.concatenate([first, pause, 0.5 + _eased(len(descent) - len(descent) // 2) / 2])
        hold = 0.01 * _eased(round(timing.pause_bottom_s * rate_hz)) if timing.pause_bottom_s else np.zeros(0)
        ascent = _eased(max(4, round(half * (2 - lean) * rate_hz)))[::-1]
        ascent = np.append(ascent[1:], 0.0) * (1 + (hold[-1] if len(hold) else 0.0))
        between = np.zeros(round(timing.between_s * rate_hz) if number < timing.repetitions - 1 else 0)
        course = np.concatenate([descent, 1 + hold, ascent, between])
        bottom = at + len(descent) + len(hold) - 1
        windows.append((at, bottom, at + len(course) - len(between) - 1))
        down.append(course)
        depth = timing.depths[number] if number < len(timing.depths) else 1.0
        depths.append(np.full(len(course), depth))
        at += len(course)
    after = max(1, round(timing.after_s * rate_hz))
    down.append(np.zeros(after))
    depths.append(np.ones(after))
    share, depth_course = np.concatenate(down), np.concatenate(depths)
    return _cut(timing, share, depth_course, windows, len(down[0]))


def _cut(timing: Timing, share: Array, depth: Array, windows: list[tuple[int, int, int]], rest: int) -> Progress:
    """The part of the course that was recorded."""
    first, last = 0, len(share)
    if timing.cut_first and windows:
        first = (windows[0][0] + windows[0][1]) // 2
    if timing.cut_last and windows:
        last = (windows[-1][1] + windows[-1][2]) // 2
    shifted = tuple((a - first, b - first, c - first) for a, b, c in windows)
    kept = slice(first, last)
    return Progress(share[kept] * depth[kept], share[kept], depth[kept], shifted, max(0, rest - first))


def smooth_unrest(frames: int, rate_hz: float, highest_hz: float, rng: np.random.Generator, columns: int = 1) -> Array:
    """Slow random courses of unit SD with nothing above ``highest_hz``: shape (frames, columns)."""
    length = max(frames, round(4 * rate_hz))  # a window at least as long as the slowest wave of interest
    frequency = np.fft.rfftfreq(length, 1 / rate_hz)
    passed = (frequency > 0) & (frequency <= highest_hz)
    waves = np.zeros((len(frequency), columns), dtype=np.complex128)
    count = int(passed.sum())
    waves[passed] = rng.standard_normal((count, columns)) + 1j * rng.standard_normal((count, columns))
    course = np.fft.irfft(waves, n=length, axis=0)
    sd = np.sqrt(2 * count) * np.sqrt(2) / length  # of the sum, so that a draw is not forced to its own unit SD
    unrest: Array = course[:frames] / max(sd, 1e-30)
    return unrest
