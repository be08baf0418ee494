"""Which samples of a marker left its path for a moment, and where did it jump and stay?"""

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray

_HALF = 4  # frames on each side of the running median


def jerks(points: FloatArray) -> FloatArray:
    """Change of step from frame to frame: 0 for steady motion, large where a marker jumps.

    points    : (T, M, 3) [mm] markers
    returns   : (T - 2, M) [mm] |x(t + 1) - 2 x(t) + x(t - 1)|, at the middle frame
    undefined : fewer than 3 frames: none
    missing   : a NaN among the three makes it NaN
    source    : definition
    """
    bend = points[2:] - 2.0 * points[1:-1] + points[:-2]
    return np.asarray(np.sqrt(np.einsum("...i,...i->...", bend, bend)))


def spikes(points: FloatArray, least: float, times_usual: float) -> BoolArray:
    """Samples off the running median of their marker, by a least distance and by many times the usual one.

    points      : (T, M, 3) [mm] markers
    least       : () [mm] least distance of a spike from the running median
    times_usual : () [1] times the median bend of the marker's path a few frames away
    returns     : (T, M) [1] True for a spike
    undefined   : fewer than 2 seen neighbours: no spike
    missing     : a missing sample is no spike and does not count in the median
    source      : after Hampel's identifier (a running median, from memory), here of the mids of mirrored neighbours
    """
    out = np.zeros(points.shape[:2], dtype=bool)
    if len(points) < 5:
        return out
    bend = np.pad(jerks(points), ((1, 1), (0, 0)), constant_values=np.nan)
    sharp = bend > least
    near = sharp.copy()
    near[1:] |= sharp[:-1]
    near[:-1] |= sharp[1:]
    frames, markers = np.nonzero(near)
    if len(frames):
        found = _off_the_path(points, bend, frames, markers, least, times_usual)
        out[frames[found], markers[found]] = True
    return out


def _median_of_seen(values: FloatArray) -> FloatArray:
    """Median (N, 3) over the seen of (N, K, 3), two of them at least; sorting is many times as fast as np.nanmedian here."""
    ordered = np.sort(values, axis=1)  # NaN last
    count = np.isfinite(values).sum(axis=1, keepdims=True)
    middle = [np.take_along_axis(ordered, np.maximum(k, 0), axis=1)[:, 0] for k in ((count - 1) // 2, count // 2)]
    return np.asarray(0.5 * (middle[0] + middle[1]))


def _off_the_path(
    points: FloatArray, bend: FloatArray, frames: IntArray, markers: IntArray, least: float, times_usual: float
) -> BoolArray:
    """Judged only where a path bends sharply, all these samples at once: against the mids of mirrored neighbours."""
    by = np.arange(1, _HALF + 1)
    here, marker = points[frames, markers], markers[:, None]
    mids = 0.5 * (_at(points, frames[:, None] - by, marker) + _at(points, frames[:, None] + by, marker))
    enough = np.isfinite(mids[..., 0]).sum(axis=1) >= 2
    off = np.linalg.norm(here - _median_of_seen(mids), axis=-1)
    beside = _at(bend, frames[:, None] + np.array([-6, -5, -4, -3, 3, 4, 5, 6]), marker)
    beside = np.where(np.isfinite(beside), beside, 0.0)
    sides = np.stack(
        [
            np.linalg.norm(
                here - 2 * _at(points, frames + 2 * k, markers) + _at(points, frames + 4 * k, markers), axis=-1
            )
            for k in (-1, 1)
        ]
    )
    stays = (np.nan_to_num(sides, nan=np.inf) <= least).any(axis=0)  # a step: it goes on from one side
    found: BoolArray = enough & (off > least) & (off > times_usual * np.median(beside, axis=1)) & ~stays
    return found


def _at(rows: FloatArray, frames: IntArray, markers: IntArray) -> FloatArray:
    """What these markers show in these frames, NaN outside the recording."""
    inside = (frames >= 0) & (frames < len(rows))
    shown = rows[np.clip(frames, 0, len(rows) - 1), markers]
    return np.where(inside.reshape(*inside.shape, *(1,) * (shown.ndim - inside.ndim)), shown, np.nan)
