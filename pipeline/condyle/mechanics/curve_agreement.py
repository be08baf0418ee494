"""How well do two curves agree over the whole repetition?"""

import numpy as np

from condyle.mechanics.arrays import FloatArray


def multiple_correlation(curve: FloatArray, remove_offset: bool = False) -> FloatArray:
    """Likeness of the curves that several methods give of the same repetitions.

    curve         : (..., r, p, f) [unit] repetitions by methods by percent of the repetition
    remove_offset : () [1] whether each curve's own mean is taken off first, so that only shapes are compared
    returns       : (...) [1] 0 .. 1
    undefined     : methods further apart than the curves move (a negative square), or fewer than 2 methods: NaN
    missing       : a repetition with a NaN is left out
    source        : Kadaba et al. 1989, J Orthop Res 7:849; between methods Ferrari et al. 2010, Gait Posture 31:540
    """
    *lead, r, p, f = curve.shape
    flat = curve.reshape(-1, r, p, f)
    out = np.array([_one(c[np.isfinite(c).all(axis=(-2, -1))], remove_offset) for c in flat])
    return out.reshape(lead)


def _one(curve: FloatArray, remove_offset: bool) -> float:
    r, p, f = curve.shape
    if r == 0 or p < 2 or f < 2:
        return float("nan")
    if remove_offset:
        curve = curve - curve.mean(axis=-1, keepdims=True)
    apart = ((curve - curve.mean(axis=1, keepdims=True)) ** 2).sum() / (r * f * (p - 1))
    moving = ((curve - curve.mean(axis=(1, 2), keepdims=True)) ** 2).sum() / (r * (p * f - 1))
    square = 1 - apart / moving if moving > 0 else np.nan
    return float(np.sqrt(square)) if square >= 0 else float("nan")


def simultaneous_band(mean: FloatArray, replicates: FloatArray, level: float = 0.95) -> FloatArray:
    """A band that holds the whole mean curve, not each point by itself.

    mean       : (f) [unit] curve of the data
    replicates : (b, f) [unit] the same of each bootstrap sample
    level      : () [1] coverage of the whole curve
    returns    : (f, 2) [unit] lower and upper edge
    undefined  : a point without spread: the edges fall on the curve; fewer than 2 sound samples: NaN
    missing    : a sample with a NaN is left out
    source     : Lenhoff et al. 1999, Gait Posture 9:10 (largest standardised departure over the curve)
    """
    sound = replicates[np.isfinite(replicates).all(axis=-1)]
    if sound.shape[0] < 2 or not np.isfinite(mean).all():
        return np.full((*np.shape(mean), 2), np.nan)
    sd = sound.std(axis=0, ddof=1)
    departure = np.divide(np.abs(sound - mean), sd, out=np.zeros_like(sound), where=sd > 0).max(axis=-1)
    half = float(np.quantile(departure, level)) * sd
    return np.stack([mean - half, mean + half], axis=-1)
