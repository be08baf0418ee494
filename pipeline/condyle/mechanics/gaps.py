"""Where is a signal missing, and what may be put there?

A gap is a run of missing frames. It is filled from the rest of a rigid cluster, else by a cubic spline; never beyond a
limit, and by a spline never at the ends, where there is nothing on the other side. What fills says where.
"""

from itertools import pairwise
from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.rigid_fit import rigid_fit

_EDGE_FRAMES = 3  # frames beside a gap whose mean misfit the rebuilt marker takes over; ours
_ROUNDS = 4  # of the mean shape: the first is right to the square of the noise, the others take in points seen rarely
_SIDE_FRAMES = 2  # seen frames a spline needs on each side of a gap; ours


def runs_of(mask: BoolArray) -> IntArray:
    """Start and stop of every run of True.

    mask      : (T,) [1] mask over time
    returns   : (n, 2) [frames] first frame of each run, and first frame after it
    undefined : nowhere; no True gives (0, 2)
    missing   : does not apply
    source    : definition
    """
    framed = np.zeros(len(mask) + 2, dtype=bool)
    framed[1:-1] = mask
    return np.flatnonzero(framed[1:] != framed[:-1]).reshape(-1, 2)


def flashes_of(seen: BoolArray, longest: int) -> BoolArray:
    """Samples of appearances that are short and have a gap on either side: the point's own, or a reflection's.

    seen      : (T,) [1] True where the point is seen
    longest   : () [frames] the longest appearance that counts
    returns   : (T,) [1] True in such appearances
    undefined : nowhere; an appearance at either end of the recording is none
    missing   : does not apply
    source    : definition
    """
    out = np.zeros(len(seen), dtype=bool)
    for start, stop in runs_of(seen):
        if start > 0 and stop < len(seen) and stop - start <= longest:
            out[start:stop] = True
    return out


def longest_run(mask: BoolArray) -> IntArray:
    """Length of the longest run of True in each column.

    mask      : (T, ...) [1] mask, time first
    returns   : (...) [frames] length, 0 where there is none
    undefined : nowhere
    missing   : does not apply
    source    : definition
    """
    mask = np.asarray(mask, dtype=bool)
    frame = np.arange(1, len(mask) + 1).reshape(-1, *([1] * (mask.ndim - 1)))
    last_false = np.maximum.accumulate(np.where(mask, 0, frame), axis=0)
    longest: IntArray = np.where(mask, frame - last_false, 0).max(axis=0, initial=0)
    return longest


def columns_of(signal: FloatArray) -> FloatArray:
    """A copy of a signal with everything but time flattened, and time last, where it lies together in memory.

    signal    : (T, ...) [any] signal, time first
    returns   : (C, T) [any] one row per column; ``.T.reshape(signal.shape)`` undoes it
    undefined : nowhere
    missing   : a NaN stays
    source    : definition
    """
    return np.array(signal.reshape(len(signal), int(np.prod(signal.shape[1:]))).T, dtype=np.float64, order="C")


def column_groups(valid: BoolArray) -> list[IntArray]:
    """Columns that are valid in the very same frames, so that they can be treated together.

    valid     : (C, T) [1] mask of each column over time
    returns   : list of (n,) [1] indices of columns
    undefined : nowhere
    missing   : does not apply
    source    : definition
    """
    groups: dict[bytes, list[int]] = {}
    if valid.all():
        return [np.arange(len(valid))] if len(valid) else []
    for column, packed in enumerate(np.packbits(valid, axis=-1)):
        groups.setdefault(packed.tobytes(), []).append(column)
    return [np.array(members) for members in groups.values()]


def spline_fill(signal: FloatArray, max_gap_frames: int) -> tuple[FloatArray, BoolArray]:
    """Short gaps filled by a cubic spline through the samples on both sides.

    signal         : (T, ...) [any] signal, time first
    max_gap_frames : () [frames] longest gap that is filled
    returns        : (T, ...) [any] signal with short gaps filled, and (T, ...) [1] True where filled
    undefined      : a gap at either end, or with fewer than 2 seen frames on a side before the next long gap: stays NaN
    missing        : what is not finite is a gap; the spline never spans one that is too long
    source         : not-a-knot cubic spline of SciPy; limits ours
    """
    signal = np.asarray(signal, dtype=np.float64)
    columns = columns_of(signal)
    valid = np.isfinite(columns)
    columns[~valid] = np.nan
    filled = np.zeros_like(valid)
    for members in column_groups(valid):
        seen = valid[members[0]]
        for start, stop, frames in _short_gaps(seen, max_gap_frames):
            from scipy.interpolate import CubicSpline  # half a second to import: only where a gap is filled

            knots = start + np.flatnonzero(seen[start:stop])
            spline = CubicSpline(knots, columns[np.ix_(members, knots)], axis=1)
            columns[np.ix_(members, frames)] = spline(frames)
            filled[np.ix_(members, frames)] = True
    return columns.T.reshape(signal.shape), filled.T.reshape(signal.shape)


def rebuild_from_cluster(
    points: FloatArray, model: FloatArray, max_gap_frames: int | None = None, flash_frames: int = 0
) -> tuple[FloatArray, BoolArray]:
    """Missing points of a rigid cluster put back where the pose of the others carries them.

    Skin is not rigid: the misfit that the point itself shows beside the gap, seen from the cluster, is carried through
    the gap in a straight line, so that the rebuilt path joins the seen one without a step. An appearance for a moment
    between two gaps may be a reflection: its samples stay, but the line goes past them to the next longer one.

    points         : (T, P, 3) [mm] points of one segment over time
    model          : (P, 3) [mm] the same points in a frame of their own; NaN where unknown
    max_gap_frames : () [frames] longest gap that is rebuilt; None: any
    flash_frames   : () [frames] appearances as short as this between two gaps have no say
    returns        : (T, P, 3) [mm] points with gaps rebuilt, and (T, P) [1] True where rebuilt
    undefined      : fewer than 3 others seen, or these in one line: stays NaN
    missing        : a point with a NaN coordinate is missing as a whole
    source         : rigid fit of Soderkvist & Wedin 1993, J Biomech 26:1473; the carried misfit is ours
    """
    points = np.array(points, dtype=np.float64)
    seen: BoolArray = np.asarray(np.isfinite(points).all(axis=-1))
    points[~seen] = np.nan
    rebuilt, done = points.copy(), np.zeros_like(seen)
    to_fill: list[tuple[int, list[_Gap], IntArray]] = []  # point, its gaps, these frames and some beside them
    for p in np.flatnonzero(~seen.all(axis=0) & np.isfinite(model).all(axis=-1)).tolist():
        if gaps := _gaps_of(seen[:, p], max_gap_frames, flash_frames):
            beside = [np.arange(*edge) for gap in gaps for edge in (gap.before, gap.after)]
            within = [np.arange(gap.start, gap.stop) for gap in gaps]
            to_fill.append((p, gaps, np.unique(np.concatenate([*within, *beside]))))
    if not to_fill:
        return rebuilt, done
    edges = np.cumsum([0, *(len(wanted) for _, _, wanted in to_fill)])
    others = points[np.concatenate([wanted for _, _, wanted in to_fill])]
    for (p, _, _), (start, stop) in zip(to_fill, pairwise(edges), strict=True):
        others[start:stop, p] = np.nan  # the pose is the others', also where the point itself is seen
    fits = rigid_fit(model, others)  # of all points at once: a fit of few frames costs hardly less than one of many
    for (p, gaps, wanted), (begin, end) in zip(to_fill, pairwise(edges), strict=True):
        rotation = fits.rotation[begin:end]
        carried = fits.translation[begin:end] + rotation @ model[p]
        misfit = np.einsum("tji,tj->ti", rotation, points[wanted, p] - carried)
        for gap in gaps:
            before, after = (misfit[slice(*np.searchsorted(wanted, edge))] for edge in (gap.before, gap.after))
            bend = _between(before, after, gap.after[0] - gap.before[1])
            bend = bend[gap.start - gap.before[1] : gap.stop - gap.before[1]]
            first, last = np.searchsorted(wanted, (gap.start, gap.stop))
            rebuilt[gap.start : gap.stop, p] = carried[first:last] + np.einsum("tij,tj->ti", rotation[first:last], bend)
        done[:, p] = ~seen[:, p] & np.isfinite(rebuilt[:, p]).all(axis=-1)
    return rebuilt, done


def cluster_shape(points: FloatArray) -> FloatArray:
    """The mean shape of a rigid cluster over a recording, in a frame of its own.

    points    : (T, P, 3) [mm] points of one segment over time
    returns   : (P, 3) [mm] mean positions; the axes are those of the frame that shows most of them
    undefined : fewer than 3 points ever seen together, or in one line: NaN
    missing   : a point is averaged over the frames that show it beside 3 points of known place; never seen so: NaN
    source    : generalised Procrustes mean, Gower 1975, Psychometrika 40:33 (from memory), without scaling
    """
    points = np.asarray(points, dtype=np.float64)
    seen = np.isfinite(points).all(axis=-1)
    shape = np.full(points.shape[1:], np.nan)
    if len(points) == 0:
        return shape
    best = points[np.argmax(seen.sum(axis=1))]
    shape = np.where(np.isfinite(best).all(axis=-1, keepdims=True), best, np.nan)
    for _ in range(_ROUNDS):
        fit = rigid_fit(shape, points)
        placed = np.einsum("tji,tpj->tpi", fit.rotation, points - fit.translation[:, None])
        known = np.isfinite(placed)
        count = known.sum(axis=0)
        shape = np.where(count > 0, np.where(known, placed, 0.0).sum(axis=0) / np.maximum(count, 1), np.nan)
    return shape


def _short_gaps(seen: BoolArray, longest: int) -> list[tuple[int, int, IntArray]]:
    """Stretches between long gaps, each with the frames in it that a spline may fill."""
    gaps = runs_of(~seen)
    too_long = (gaps[:, 1] - gaps[:, 0] > longest) | (gaps[:, 0] == 0) | (gaps[:, 1] == len(seen))
    open_frames = np.ones(len(seen), dtype=bool)
    for start, stop in gaps[too_long]:
        open_frames[start:stop] = False
    stretches = []
    for start, stop in runs_of(open_frames):
        inside = [(a, b) for a, b in gaps if start <= a and b <= stop]
        fillable = [
            np.arange(a, b)
            for a, b in inside
            if seen[start:a].sum() >= _SIDE_FRAMES and seen[b:stop].sum() >= _SIDE_FRAMES
        ]
        if fillable:
            stretches.append((int(start), int(stop), np.concatenate(fillable)))
    return stretches


class _Gap(NamedTuple):
    """Frames to fill, and the first and last seen frames beside them that may be leaned on, each as start and stop."""

    start: int
    stop: int
    before: tuple[int, int]
    after: tuple[int, int]


def _gaps_of(seen: BoolArray, longest: int | None, flash_frames: int) -> list[_Gap]:
    """The gaps that are short enough, each with the edges of the appearances around it that are no flash."""
    frames = len(seen)
    solid = seen & ~flashes_of(seen, flash_frames)
    out = []
    for begin, end in runs_of(~solid).tolist():
        before, after = (max(0, begin - _EDGE_FRAMES), begin), (end, min(frames, end + _EDGE_FRAMES))
        for start, stop in (runs_of(~seen[begin:end]) + begin).tolist():
            if longest is None or stop - start <= longest:
                out.append(_Gap(start, stop, before, after))
    return out


def _between(before: FloatArray, after: FloatArray, frames: int) -> FloatArray:
    """A straight line through a gap from the mean of what stands before it to the mean of what stands after it."""
    ends = [part[np.isfinite(part).all(axis=-1)] for part in (before, after)]
    known = [part.mean(axis=0) for part in ends if len(part)]
    if not known:
        return np.zeros((frames, 3))
    step = (np.arange(frames) + 1.0)[:, None] / (frames + 1.0)
    line: FloatArray = known[0] + step * (known[-1] - known[0])
    return line
