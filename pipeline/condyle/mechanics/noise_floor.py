"""How noisy is each marker, in which steps are its coordinates stored, and does the clock of the recording tick evenly?"""

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.butterworth import design_frequency

_DIFFERENCES = 3  # a movement below 6 Hz hardly shows in third differences at 100 Hz
_GAIN = np.sqrt(20.0)  # of white noise in third differences: sqrt(1 + 9 + 9 + 1)
_SURELY_TIME = 6.0  # steps in one: beyond, all names may have jumped and not the time, and the direction tells
_ALONG = 0.7  # cosine between such a step and the motion beside it
_MAD = 0.6745  # median of |x| of a normal distribution of SD 1


def noise_floor(points: FloatArray) -> FloatArray:
    """Standard deviation per axis of what changes from frame to frame without the movement.

    points    : (T, M, 3) [mm] markers
    returns   : (M,) [mm] SD per axis, rms over the three
    undefined : fewer than 4 frames seen in a row: NaN
    missing   : differences with a NaN are left out
    source    : third differences of white noise have sqrt(20) its SD; median absolute deviation; ours
    """
    if len(points) < _DIFFERENCES + 1:
        return np.full(points.shape[1], np.nan)
    change = np.abs(np.diff(points, n=_DIFFERENCES, axis=0)) / (_GAIN * _MAD)
    known = np.isfinite(change)
    if known.all():
        middle = np.median(change, axis=0)
    else:
        count = known.sum(axis=0)
        order = np.sort(np.where(known, change, np.inf), axis=0)
        at = np.maximum(count - 1, 0) // 2
        middle = np.where(count > 0, np.take_along_axis(order, at[None], axis=0)[0], np.nan)
    return np.asarray(np.sqrt((middle**2).mean(axis=-1)))


def quantum(values: FloatArray) -> float:
    """The step in which numbers were stored, where they were stored in steps.

    values    : (N,) [any] samples of one coordinate
    returns   : () [unit of the values] step, 0 where none shows
    undefined : fewer than 20 different values: 0
    missing   : a NaN is left out
    source    : every value is a multiple of the smallest distance between two; ours
    """
    own = np.unique(values[np.isfinite(values)])
    if len(own) < 20:
        return 0.0
    step = np.diff(own)
    step = step[step > 1e-6 * np.abs(own).max()]
    if len(step) == 0:
        return 0.0
    least = float(step.min())
    count = step / least
    off = np.abs(count - np.rint(count))
    return least if bool(off.max() < 0.1) and float(count.max()) < 1e4 else 0.0


def doubled_frames(points: FloatArray) -> BoolArray:
    """Frames that repeat the one before them to the last digit, in every marker seen.

    points    : (T, M, 3) [mm] markers
    returns   : (T,) [1] True where the frame is a copy of the one before
    undefined : the first frame: False; no marker seen in both: False
    missing   : a marker missing in either does not count
    source    : ours
    """
    out = np.zeros(len(points), dtype=bool)
    if len(points) < 2:
        return out
    first = points[..., 0]
    known = np.isfinite(first[1:]) & np.isfinite(first[:-1])
    likely = np.flatnonzero(((first[1:] == first[:-1]) | ~known).all(axis=1) & known.any(axis=1))
    same = (points[likely + 1] == points[likely]).all(axis=-1)
    out[likely + 1] = (same | ~known[likely]).all(axis=1)
    return out


def dropped_frames(points: FloatArray, least_mm: float, ratio: float) -> IntArray:
    """Steps in which all moving markers go on as far as in several frames: frames are missing between them.

    points    : (T, M, 3) [mm] markers
    least_mm  : () [mm] step of a marker that counts as moving, in the steps before and after
    ratio     : () [1] step over the mean of the steps before and after, median over moving markers
    returns   : (T,) [frames] how many are missing before a frame, by the speed there; 0 where none are
    undefined : fewer than 5 moving markers: 0; a long step in another direction than the motion: 0, for there names jumped
    missing   : a marker not seen in four frames in a row does not count
    source    : ours
    """
    out = np.zeros(len(points), dtype=np.int64)
    if len(points) < 4:
        return out
    step = np.diff(points, axis=0)
    size = np.sqrt(np.einsum("tmi,tmi->tm", step, step))
    beside = 0.5 * (size[:-2] + size[2:])
    moving = np.minimum(size[:-2], size[2:]) > least_mm
    frames = np.flatnonzero(moving.sum(axis=1) >= 5)
    if not len(frames):
        return out
    share = np.where(moving[frames], size[1:-1][frames] / np.where(moving[frames], beside[frames], 1.0), np.nan)
    usual = np.nanmedian(share, axis=1)
    far = usual > ratio
    if far.any():
        frames, usual, go_on = frames[far], usual[far], moving[frames[far]]
        motion = step[frames] + step[frames + 2]
        length = size[frames + 1] * np.sqrt(np.einsum("tmi,tmi->tm", motion, motion))
        along = np.einsum("tmi,tmi->tm", step[frames + 1], motion) / np.where(go_on, length, 1.0)
        on = (usual < _SURELY_TIME) | (np.nanmedian(np.where(go_on, along, np.nan), axis=1) > _ALONG)
        out[2 + frames[on]] = np.maximum(1, np.rint(usual[on] - 1.0)).astype(np.int64)
    return out


def offered_cutoff(signal: FloatArray, rate_hz: float, cutoffs: FloatArray) -> FloatArray:
    """Cutoff by residual analysis from the spectrum: quick enough to look at every trial.

    What a zero-lag 4th-order Butterworth removes is the spectrum times one minus its gain (Parseval), so that the whole
    curve of residuals is one product. The ends of the signal are joined by taking out the line between them.

    signal    : (T, C) [any] courses without gaps
    rate_hz   : () [Hz] sample rate
    cutoffs   : (F,) [Hz] cutoffs to try, rising
    returns   : (C,) [Hz] cutoff where the residual falls to what white noise leaves; NaN where it never does
    undefined : no cutoff between 0.2 and 0.3 of the rate to tell the noise by: NaN
    missing   : a NaN makes its column NaN
    source    : Winter, Biomechanics and Motor Control (residual analysis); by the spectrum: ours
    """
    n = len(signal)
    ramp = np.linspace(0.0, 1.0, n)[:, None]
    level = signal - signal[:1] - ramp * (signal[-1:] - signal[:1])
    power = np.abs(np.fft.rfft(level, axis=0)) ** 2 * (2.0 / n**2)
    frequency = np.fft.rfftfreq(n, 1.0 / rate_hz)
    design = np.asarray(design_frequency(cutoffs, rate_hz))
    warped = (
        np.tan(np.pi * np.minimum(frequency, 0.499 * rate_hz) / rate_hz)[None]
        / np.tan(np.pi * design / rate_hz)[:, None]
    )
    warped *= warped
    warped *= warped  # to the fourth: a product is many times as fast as a power
    removed = (1.0 - 1.0 / (1.0 + warped)) ** 2
    residual = np.sqrt(removed @ power)
    tail = (cutoffs >= 0.2 * rate_hz) & (cutoffs <= 0.3 * rate_hz)
    if tail.sum() < 3:
        return np.full(signal.shape[1], np.nan)
    x = cutoffs[tail] - cutoffs[tail].mean()
    slope = np.tensordot(x, residual[tail] - residual[tail].mean(axis=0), 1) / (x @ x)
    intercept = residual[tail].mean(axis=0) - slope * cutoffs[tail].mean()
    below = residual <= intercept
    first = below.argmax(axis=0)
    return np.where(below.any(axis=0) & (first > 0) & (slope < 0.0), cutoffs[first], np.nan)
