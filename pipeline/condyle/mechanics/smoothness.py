"""How smooth is a movement? Spectral arc length of its speed."""

import numpy as np

from condyle.mechanics.arrays import FloatArray


def sparc(
    speed: FloatArray, rate_hz: float, cutoff_hz: float = 10.0, threshold: float = 0.05, padding: int = 4
) -> FloatArray:
    """Spectral arc length; nearer to 0 is smoother.

    speed     : (..., T) [any] speed over the movement, from rest to rest
    rate_hz   : () [Hz] samples per second
    cutoff_hz : () [Hz] highest frequency looked at
    threshold : () [1] share of the largest amplitude; the spectrum counts up to the last one above it
    padding   : () [1] the spectrum has 2^padding times the samples of the next power of two
    returns   : (...) [1] spectral arc length, negative
    undefined : no speed at all, or fewer than two samples: NaN
    missing   : a NaN makes the result NaN
    source    : Balasubramanian, Melendez-Calderon, Roby-Brami & Burdet 2015, J NeuroEng Rehabil 12:112
    """
    samples = speed.shape[-1]
    if samples < 2:
        return np.full(speed.shape[:-1], np.nan)
    length = int(2 ** (np.ceil(np.log2(samples)) + padding))
    frequency = np.arange(length // 2 + 1) * (rate_hz / length)
    wanted = frequency <= cutoff_hz
    amplitude = np.abs(np.fft.rfft(np.nan_to_num(speed), length, axis=-1))[..., wanted]
    largest = amplitude.max(axis=-1, keepdims=True)
    bad = np.isnan(speed).any(axis=-1) | (largest[..., 0] <= 0.0)
    amplitude = amplitude / np.where(largest > 0.0, largest, 1.0)
    above = amplitude >= threshold
    first = np.argmax(above, axis=-1)[..., None]
    last = amplitude.shape[-1] - 1 - np.argmax(above[..., ::-1], axis=-1)[..., None]
    step = np.arange(amplitude.shape[-1] - 1)
    inside = (step >= first) & (step < last)
    width = np.maximum(last - first, 1)
    arc = np.sqrt((1.0 / width) ** 2 + np.diff(amplitude, axis=-1) ** 2)
    return np.where(bad, np.nan, -np.where(inside, arc, 0.0).sum(axis=-1))
