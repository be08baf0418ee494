"""What is left of a signal below a frequency, without delay?

A Butterworth low-pass runs forwards and backwards. Two passes halve the power twice at each pass's own -3 dB point, so
each pass is designed for a higher frequency than the cutoff of the whole.
"""

import numpy as np
from numpy.typing import ArrayLike

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.gaps import column_groups, columns_of, runs_of


def design_frequency(
    cutoff_hz: ArrayLike, rate_hz: ArrayLike, order_per_pass: ArrayLike = 2, passes: ArrayLike = 2
) -> FloatArray:
    """The frequency each pass must be designed for, so that the whole has its -3 dB point at the cutoff.

    cutoff_hz      : (...) [Hz] cutoff of the whole
    rate_hz        : (...) [Hz] sample rate
    order_per_pass : (...) [1] order of one pass
    passes         : (...) [1] how many times the filter runs over the signal
    returns        : (...) [Hz] for a design that prewarps by itself, as SciPy's does
    undefined      : a cutoff outside 0 .. half the rate: NaN
    missing        : a NaN makes the frequency NaN
    source         : Winter, Biomechanics and Motor Control; Robertson & Dowling 2003: C = (2^(1/p) - 1)^(1/(2n))
                     divides the prewarped tan(pi fc / fs), not fc itself
    """
    cutoff, rate = np.asarray(cutoff_hz, dtype=np.float64), np.asarray(rate_hz, dtype=np.float64)
    correction = (2.0 ** (1.0 / np.asarray(passes)) - 1.0) ** (0.5 / np.asarray(order_per_pass))
    inside = (cutoff > 0.0) & (cutoff < 0.5 * rate)
    angle = np.pi * np.where(inside, cutoff, np.nan) / rate
    return np.asarray(rate / np.pi * np.arctan(np.tan(angle) / correction))


def padding_frames(cutoff_hz: float, rate_hz: float) -> int:
    """How far each run is continued beyond its ends before filtering: one period of the cutoff.

    cutoff_hz : () [Hz] cutoff of the whole
    rate_hz   : () [Hz] sample rate
    returns   : () [frames] number of samples
    undefined : nowhere
    missing   : does not apply
    source    : ours; what happened one period ago no longer shows in the filtered value
    """
    return max(1, int(np.ceil(rate_hz / cutoff_hz)))


def zero_lag_lowpass(
    signal: FloatArray, rate_hz: float, cutoff_hz: float, order: int = 4, padding: int | None = None
) -> tuple[FloatArray, BoolArray]:
    """Butterworth low-pass forwards and backwards, over each run of valid samples by itself.

    signal    : (T, ...) [any] signal, time first
    rate_hz   : () [Hz] sample rate
    cutoff_hz : () [Hz] -3 dB point of the whole
    order     : () [1] order of both passes together: 4 runs a second-order filter twice
    padding   : () [frames] odd continuation beyond each end of a run; None takes one period of the cutoff
    returns   : (T, ...) [any] filtered signal, and (T, ...) [1] True where a valid sample was left out
    undefined : a run not longer than the padding is left out: NaN, and marked in the second result
    missing   : a sample that is not finite stays NaN and ends its run: nothing is filtered across a gap
    source    : Winter, Biomechanics and Motor Control; second-order sections of SciPy; the padding is ours
    """
    if order < 2 or order % 2:
        raise ValueError(f"the order of both passes together is {order}; it must be an even number from 2 on")
    design = design_frequency(cutoff_hz, rate_hz, order // 2, 2)
    if not np.isfinite(design):
        raise ValueError(f"cutoff {cutoff_hz:g} Hz does not lie between 0 and half the sample rate of {rate_hz:g} Hz")
    from scipy.signal import butter  # takes a second to import: only where something is filtered

    sections = butter(order // 2, float(design), fs=rate_hz, output="sos")
    ends = padding_frames(cutoff_hz, rate_hz) if padding is None else padding
    signal = np.asarray(signal, dtype=np.float64)
    columns = columns_of(signal)
    valid = np.isfinite(columns)
    filtered = np.full_like(columns, np.nan)
    alike: dict[int, list[tuple[IntArray, int, int]]] = {}  # runs of about one length
    for members in column_groups(valid):
        for start, stop in runs_of(valid[members[0]]).tolist():
            if stop - start > ends:
                alike.setdefault((stop - start + 2 * ends).bit_length(), []).append((members, start, stop))
    for runs in alike.values():
        _there_and_back(columns, runs, sections, ends, filtered)
    left_out = valid & np.isnan(filtered)
    return filtered.T.reshape(signal.shape), left_out.T.reshape(signal.shape)


def _there_and_back(
    columns: FloatArray, runs: list[tuple[IntArray, int, int]], sections: FloatArray, ends: int, filtered: FloatArray
) -> None:
    """What SciPy's sosfiltfilt gives of each run, written into ``filtered``, all runs in one go.

    A trial with gaps has many, and each alone costs as much as ten columns. What stands behind the end of a shorter run
    reaches nobody.
    """
    from scipy.signal import sosfilt, sosfilt_zi

    edge = np.cumsum([0, *(len(members) for members, _, _ in runs)])
    width = [stop - start + 2 * ends for _, start, stop in runs]
    rows = np.zeros((edge[-1], max(width)))
    settled = sosfilt_zi(sections)[:, None]
    for k, (members, start, stop) in enumerate(runs):
        run = columns[members, start:stop]
        here = rows[edge[k] : edge[k + 1], : width[k]]
        here[:, :ends] = 2.0 * run[:, :1] - run[:, ends:0:-1]
        here[:, ends : width[k] - ends] = run
        here[:, width[k] - ends :] = 2.0 * run[:, -1:] - run[:, -2 : -ends - 2 : -1]
    for _ in range(2):
        there, _ = sosfilt(sections, rows, axis=-1, zi=settled * rows[:, :1])
        for k in range(len(runs)):
            own = slice(edge[k], edge[k + 1])
            rows[own, : width[k]] = there[own, : width[k]][:, ::-1]
    for k, (members, start, stop) in enumerate(runs):
        filtered[members, start:stop] = rows[edge[k] : edge[k + 1], ends : width[k] - ends]
