"""What are the largest and the smallest value of a curve, where some of it was not seen?

A gap that may hold the extreme leaves it empty: the seen frames beside it would give a number of the gap, not of the
movement, and always one too small.
"""

from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray


class Extremes(NamedTuple):
    """Largest and smallest value of each curve and their frames; a value that may lie in a gap is NaN, its frame kept."""

    high: FloatArray
    low: FloatArray
    high_frame: IntArray
    low_frame: IntArray


def extremes(curve: FloatArray, turn: int) -> Extremes:
    """Largest and smallest value of curves through one repetition.

    curve     : (T, K) [any] K curves over time
    turn      : () [frame] the frame about which curves turn: the bottom
    returns   : Extremes, (K,) [any] values and [frame] frames
    undefined : a curve that is not seen at the turn; one that carried straight on from the edges of a gap, by the last
                two frames seen on each side, would pass its extreme there; one never seen: NaN, frame 0
    missing   : a NaN is a gap; an extreme is given where no gap may hold it
    source    : ours; between its edges a curve that turns once stays below both tangents
    """
    lost: BoolArray = np.isnan(curve)
    filled = np.where(lost, -np.inf, curve), np.where(lost, np.inf, curve)
    high_frame, low_frame = filled[0].argmax(axis=0), filled[1].argmin(axis=0)
    every = np.arange(curve.shape[1])
    high, low = filled[0][high_frame, every], filled[1][low_frame, every]
    if (gaps := lost.any(axis=0)).any():
        some = curve[:, gaps]
        hidden = lost[turn, gaps]
        high[gaps] = np.where(hidden | (_reach(some) > high[gaps]), np.nan, high[gaps])
        low[gaps] = np.where(hidden | (-_reach(-some) < low[gaps]), np.nan, low[gaps])
    return Extremes(high, low, high_frame, low_frame)


def _reach(curve: FloatArray) -> FloatArray:
    """(K,) How high each curve would come in its gaps, carried straight on from their edges; infinite where unknown."""
    frame = np.arange(len(curve))[:, None]
    seen = np.isfinite(curve)
    before = np.maximum.accumulate(np.where(seen, frame, -1), axis=0)
    after = np.minimum.accumulate(np.where(seen, frame, len(curve))[::-1], axis=0)[::-1]
    on, back = (_carried(curve, frame, edge, step) for edge, step in ((before, -1), (after, 1)))
    # at an end of the repetition there is one edge only
    height = np.where(before < 0, back, np.where(after == len(curve), on, np.minimum(on, back)))
    return np.asarray(np.where(seen, -np.inf, height).max(axis=0))


def _carried(curve: FloatArray, frame: IntArray, edge: IntArray, step: int) -> FloatArray:
    """(T, K) Values on the tangent at the edge frame, whose slope comes from the seen frame ``step`` beside it."""
    last = len(curve) - 1
    at = np.take_along_axis(curve, edge.clip(0, last), axis=0)
    beside = edge + step
    inside = (beside >= 0) & (beside <= last)
    before = np.where(inside, np.take_along_axis(curve, beside.clip(0, last), axis=0), np.nan)
    height = at + (before - at) / step * (frame - edge)
    return np.where(np.isnan(height), np.inf, height)
