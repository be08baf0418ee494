"""Curves of a repetition against percent: 0 at the start, 50 at the bottom, 100 at the end."""

import numpy as np

from condyle.mechanics.arrays import FloatArray

PERCENT = np.arange(101.0)


def percent_frames(start: int, bottom: int, end: int, percent: FloatArray = PERCENT) -> FloatArray:
    """The (fractional) frames at which a repetition is read.

    start     : () [frame] 0 percent
    bottom    : () [frame] 50 percent
    end       : () [frame] 100 percent
    percent   : (P,) [%] where to read
    returns   : (P,) [frame] linear in time on the way down and on the way up
    undefined : nowhere
    missing   : not applicable
    source    : ours
    """
    return np.asarray(np.interp(percent, [0.0, 50.0, 100.0], [start, bottom, end]))


def at_frames(curves: FloatArray, frames: FloatArray) -> FloatArray:
    """Curves read at fractional frames.

    curves    : (T, ...) [unit] courses over frames
    frames    : (P,) [frame] within 0 and T - 1; NaN reads NaN
    returns   : (P, ...) [unit] linear between the two neighbours
    undefined : nowhere
    missing   : a NaN at a neighbour that counts makes the value NaN; a whole frame reads that frame alone
    source    : linear interpolation
    """
    lost = np.isnan(frames)
    place = np.where(lost, 0.0, frames)
    below = np.floor(place).astype(np.int64)
    share = (place - below).reshape(-1, *(1,) * (curves.ndim - 1))
    low = curves[below]
    above = curves[np.minimum(below + 1, curves.shape[0] - 1)]
    out = np.where(share == 0.0, low, low + share * (above - low))
    out[lost] = np.nan
    return out
