"""When does a recording stand still?"""

from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray


class StillWindow(NamedTuple):
    """The stillest window: frames start to stop (stop excluded) and its spread, the RMS standard deviation in mm."""

    start: int
    stop: int
    spread: float


def stillest_window(point: FloatArray, length: int, visible_share: float = 0.5) -> StillWindow | None:
    """The window of ``length`` frames in which the most markers are seen and these move least.

    point         : (T, M, 3) [mm] marker positions
    length        : int [frame] length of the window, at least 2
    visible_share : float [1] share of the window in which a marker must be seen to count
    returns       : StillWindow [mm] or None
    undefined     : None where the recording is shorter than the window, or no marker is ever seen in one
    missing       : a marker's missing samples are left out of its own spread
    source        : ours
    """
    frames = point.shape[0]
    if frames < length or point.shape[1] == 0:
        return None
    seen = ~np.isnan(point[..., 0])
    always = seen.all(axis=0)
    variance = _variance_of_whole(point[:, always], length)
    n_usable = np.full(len(variance), int(always.sum()))
    if (sometimes := seen.any(axis=0) & ~always).any():
        more, usable = _variance_of_seen(point[:, sometimes], seen[:, sometimes], length, visible_share)
        variance, n_usable = variance + more, n_usable + usable
    if n_usable.max() == 0:
        return None
    spread = np.sqrt(np.maximum(variance, 0.0) / np.maximum(n_usable, 1))
    spread = np.where(n_usable == n_usable.max(), spread, np.inf)
    start = int(np.argmin(spread))
    return StillWindow(start, start + length, float(spread[start]))


def _variance_of_whole(point: FloatArray, length: int) -> FloatArray:
    """Variance in every window, summed over markers that are seen throughout."""
    flat = point.reshape(len(point), -1)
    flat = flat - flat.mean(axis=0)
    total = _moving_sum(flat, length)
    square = _moving_sum(np.einsum("tk,tk->t", flat, flat), length)
    return np.asarray(square / length - np.einsum("tk,tk->t", total, total) / length**2)


def _variance_of_seen(
    point: FloatArray, seen: BoolArray, length: int, visible_share: float
) -> tuple[FloatArray, IntArray]:
    """The same over markers that are seen often enough in a window, and how many these are."""
    counts = seen.sum(axis=0)
    centred = np.where(seen[..., None], point, 0.0)
    centred = np.where(seen[..., None], centred - centred.sum(axis=0) / counts[:, None], 0.0)
    n, total, square = (_moving_sum(a, length) for a in (seen.astype(float), centred, (centred**2).sum(axis=-1)))
    usable = n >= max(2.0, visible_share * length)
    n = np.maximum(n, 1.0)
    variance = np.where(usable, square / n - ((total / n[..., None]) ** 2).sum(axis=-1), 0.0)
    return variance.sum(axis=1), usable.sum(axis=1)


def _moving_sum(values: FloatArray, length: int) -> FloatArray:
    total = np.zeros((len(values) + 1, *values.shape[1:]))
    np.cumsum(values, axis=0, out=total[1:])
    return np.asarray(total[length:] - total[:-length])
