"""Which cutoff leaves as much noise in as it takes signal out?

The rms of what a low-pass removes falls with the cutoff; where only noise is removed it falls in a straight line. The
line's value at 0 Hz estimates the noise below the cutoff; the cutoff that removes just as much is offered.
"""

from typing import Final, NamedTuple

import numpy as np

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.butterworth import padding_frames, zero_lag_lowpass

GRID_HZ: Final = 0.5
R_SQUARED: Final = 0.99

_LEAST_POINTS = 5  # fewer grid points, or less than half of the range, make any curve straight; ours
_PADDED_HZ = (
    2.0  # every cutoff of the grid is run with the padding of this one, so that all judge the same samples; ours
)


class ResidualAnalysis(NamedTuple):
    """The offered cutoff, and the curve and line it rests on."""

    cutoff_hz: FloatArray  # (...) [Hz] NaN where none is offered
    frequency_hz: FloatArray  # (F,) [Hz] the grid
    residual: FloatArray  # (F, ...) [unit of the signal] rms of signal minus filtered signal
    intercept: FloatArray  # (...) [unit of the signal] the line at 0 Hz; NaN where no line was found
    slope: FloatArray  # (...) [unit / Hz] of the line
    line_start_hz: FloatArray  # (...) [Hz] where the line begins
    r_squared: FloatArray  # (...) [1] of the line, or of the last one tried


def residual_cutoff(signal: FloatArray, rate_hz: float, order: int = 4) -> ResidualAnalysis:
    """Cutoff by residual analysis, for each column.

    signal    : (T, ...) [any] signal, time first
    rate_hz   : () [Hz] sample rate
    order     : () [1] order of both passes together, as for the filter that will be used
    returns   : (...) [Hz] cutoff, with the curve and the line it rests on (ResidualAnalysis)
    undefined : no straight part over at least the upper half of max(10 Hz, 0.1 rate) .. 0.3 rate (r^2 below 0.99 from
                every start), or a curve that does not cross the line's intercept: NaN, no cutoff is offered
    missing   : runs of valid samples too short to be filtered, and samples that are not finite, are left out
    source    : Winter, Biomechanics and Motor Control; the range of the line is ours: white noise gives 0.97 of
                itself over this range, while towards Nyquist the curve bends and the line overstates it
    """
    signal = np.asarray(signal, dtype=np.float64)
    top = 0.3 * rate_hz
    frequency: FloatArray = np.asarray(
        GRID_HZ * np.arange(1, int(np.floor(top / GRID_HZ + 1e-9)) + 1), dtype=np.float64
    )
    padding = padding_frames(_PADDED_HZ, rate_hz)
    residual = np.full((len(frequency), *signal.shape[1:]), np.nan)
    for k, cutoff in enumerate(frequency):
        filtered, _ = zero_lag_lowpass(signal, rate_hz, float(cutoff), order, padding)
        residual[k] = _rms(signal - filtered)
    slope, intercept, start, r_squared = _straight_part(frequency, residual, max(10.0, 0.1 * rate_hz))
    cutoff_hz = _crossing(frequency, residual, intercept)
    return ResidualAnalysis(cutoff_hz, frequency, residual, intercept, slope, start, r_squared)


def _rms(left: FloatArray) -> FloatArray:
    known = np.isfinite(left)
    count = known.sum(axis=0)
    squares = np.where(known, left, 0.0) ** 2
    return np.where(count > 0, np.sqrt(squares.sum(axis=0) / np.maximum(count, 1)), np.nan)


def _straight_part(
    frequency: FloatArray, residual: FloatArray, first_hz: float
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Least-squares line up to the end of the grid, its start moved up until r^2 suffices."""
    shape = residual.shape[1:]
    slope, intercept, start, r_squared = (np.full(shape, np.nan) for _ in range(4))
    first = int(np.searchsorted(frequency, first_hz - 1e-9))
    points = max(_LEAST_POINTS, (len(frequency) - first + 1) // 2)
    for k in range(first, len(frequency) - points + 1):
        x = frequency[k:] - frequency[k:].mean()
        y = residual[k:] - residual[k:].mean(axis=0)
        steep = np.tensordot(x, y, 1) / (x @ x)
        whole = (y**2).sum(axis=0)
        explained = np.divide(steep**2 * (x @ x), whole, out=np.zeros(shape), where=whole > 0.0)
        open_still = np.isnan(slope)
        r_squared = np.where(open_still, explained, r_squared)
        found = open_still & (explained >= R_SQUARED) & (steep < 0.0)
        slope = np.where(found, steep, slope)
        intercept = np.where(found, residual[k:].mean(axis=0) - steep * frequency[k:].mean(), intercept)
        start = np.where(found, frequency[k], start)
        if np.isfinite(slope).all():
            break
    return slope, intercept, start, r_squared


def _crossing(frequency: FloatArray, residual: FloatArray, level: FloatArray) -> FloatArray:
    """Where each curve first falls to its level, linearly between grid points; NaN if it begins below or never does."""
    if len(frequency) < 2:
        return np.full(residual.shape[1:], np.nan)
    below = residual <= level
    k = np.argmax(below, axis=0)[None]
    reached = below.any(axis=0) & (k[0] > 0)
    before = np.take_along_axis(residual, np.maximum(k - 1, 0), axis=0)[0]
    after = np.take_along_axis(residual, k, axis=0)[0]
    drop = np.where(reached, before - after, 1.0)
    cutoff = frequency[k[0]] - GRID_HZ * (level - after) / drop
    return np.where(reached, cutoff, np.nan)
