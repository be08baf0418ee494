"""Where does a marker leap away from its segment, or a whole segment at once, within one frame or while it is hidden?"""

from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.gaps import runs_of


class Leap(NamedTuple):
    """One marker's leap: its column, the first frame in which it is elsewhere, and how far."""

    point: int
    frame: int
    size: float  # [mm]


def sudden_steps(points: FloatArray) -> FloatArray:
    """How far a marker's step lies from the steps before and after it and all between them, against its segment's.

    A foot that strikes the floor changes its steps from one to another, and every step on the way lies between the two; a
    marker that leaps makes one step that neither neighbour makes.

    points    : (T, P, 3) [mm] markers of one segment
    returns   : (T, P) [mm] distance of the step from the frame before, less the segment's median step, from the line between
                the steps before and after it
    undefined : the first two frames and the last, fewer than 3 markers seen: NaN
    missing   : a marker missing in one of the four frames: NaN, and not in the median
    source    : ours
    """
    step = np.diff(points, axis=0)
    return _off_the_line(step - _median_of_seen(step), points.shape[:2])


def own_sudden_steps(points: FloatArray) -> FloatArray:
    """The same of each marker by itself, whatever the others do.

    points    : (T, P, 3) [mm] markers in any frame of reference
    returns   : (T, P) [mm] distance of the step from the frame before, from the line between the steps before and after it
    undefined : the first two frames and the last: NaN
    missing   : a marker missing in one of the four frames: NaN
    source    : ours
    """
    return _off_the_line(np.diff(points, axis=0), points.shape[:2])


def largest_bends(points: FloatArray) -> FloatArray:
    """How much the steps of each marker change at most from one to the next: no sudden step of its own is larger.

    Against the median of its segment's steps, whose parts change by no more than the largest change among the markers, none is
    larger than 1 + sqrt(3) times the largest of the segment; the median also steps where a marker vanishes, but then none leaps.

    points    : (T, P, 3) [mm] markers in any frame of reference
    returns   : (P,) [mm] largest second difference
    undefined : fewer than three frames: 0
    missing   : a marker missing in one of three frames says nothing there; never seen: 0
    source    : definition; triangle inequality
    """
    if len(points) < 3:
        return np.zeros(points.shape[1])
    bend = np.diff(points, 2, axis=0)
    largest: FloatArray = np.fmax.reduce(np.einsum("tpi,tpi->tp", bend, bend), axis=0, initial=0.0)
    return np.sqrt(largest)


def steps_off_segment(points: FloatArray, local: FloatArray) -> FloatArray:
    """Sudden steps of landmarks that a segment carries; where only the segment's pose steps, or all of the body, there is none.

    points    : (T, L, 3) [mm] landmarks in the lab
    local     : (T, L, 3) [mm] the same in the frame of the segment that carries them
    returns   : (T, L) [mm] the smaller one of the sudden steps in the lab and on the segment
    undefined : as own_sudden_steps
    missing   : a landmark or a pose missing in one of the four frames: NaN
    source    : ours
    """
    return np.minimum(own_sudden_steps(points), own_sudden_steps(local))


def steps_in_common(points: FloatArray) -> FloatArray:
    """How suddenly a segment steps as a whole: every one of its markers by so much or more.

    points    : (T, P, 3) [mm] markers of one segment in the lab
    returns   : (T, 1) [mm] least sudden step among its markers
    undefined : the first two frames and the last, fewer than 3 markers seen: NaN
    missing   : a marker missing in one of the four frames says nothing there
    source    : ours
    """
    size = own_sudden_steps(points)
    enough = np.isfinite(size).sum(axis=1) >= 3
    return np.where(enough, np.fmin.reduce(size, axis=1, initial=np.inf), np.nan)[:, None]


def _off_the_line(step: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """(T, P) distances of steps (T - 1, P, 3) from the lines between those before and after them."""
    out = np.full(shape, np.nan)
    if len(step) < 3:
        return out
    before, here, after = step[:-2], step[1:-1], step[2:]
    along = after - before
    length = np.einsum("tpi,tpi->tp", along, along)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.einsum("tpi,tpi->tp", here - before, along) / np.where(length > 0.0, length, 1.0)
    off = here - before - np.clip(share, 0.0, 1.0)[..., None] * along
    out[2:-1] = np.sqrt(np.einsum("tpi,tpi->tp", off, off))
    return out


def _median_of_seen(step: FloatArray) -> FloatArray:
    """(T, 1, 3) median over the markers seen; NaN where fewer than three are."""
    order = np.sort(step, axis=1)  # NaN last
    count = np.isfinite(step[..., 0]).sum(axis=1)
    middle = [
        np.take_along_axis(order, np.maximum(k, 0)[:, None, None], axis=1) for k in ((count - 1) // 2, count // 2)
    ]
    return np.where((count >= 3)[:, None, None], 0.5 * (middle[0] + middle[1]), np.nan)


def leaps_in_view(size: FloatArray, least: float, times_usual: float) -> list[Leap]:
    """Leaps from one frame to the next; the echoes that a leap leaves in the frames beside it are none.

    size        : (T, P) [mm] sudden steps of markers, or of whole segments
    least       : () [mm] least leap
    times_usual : () [1] and so many times the marker's median sudden step
    returns     : list of Leap [mm], by marker and frame
    undefined   : where there is no sudden step: no leap
    missing     : a NaN is no leap and does not count in the median
    source      : ours
    """
    found = []
    with np.errstate(invalid="ignore"):
        large = size > least
    for k in np.flatnonzero(large.any(axis=0)):
        usual = float(np.nanmedian(size[:, k]))
        frames = np.flatnonzero(large[:, k] & (size[:, k] > times_usual * usual))
        for group in np.split(frames, np.flatnonzero(np.diff(frames) > 2) + 1):
            if len(group):
                frame = int(group[np.argmax(size[group, k])])
                found.append(Leap(int(k), frame, float(size[frame, k])))
    return found


def leaps_while_hidden(points: FloatArray, least: float, longest: int) -> list[Leap]:
    """Markers that come back from a gap at other distances from the rest of their segment than they left with.

    points    : (T, P, 3) [mm] markers of one segment
    least     : () [mm] change of distance, median over the others seen at both ends of the gap
    longest   : () [frames] longest gap over which distances are compared
    returns   : list of Leap [mm], by marker and frame
    undefined : fewer than two others seen on both sides: none
    missing   : the gaps are what is looked at
    source    : ours
    """
    missing = np.isnan(points[..., 0])
    found = []
    for k in np.flatnonzero(missing.any(axis=0)):
        for start, stop in runs_of(missing[:, k]):
            if start == 0 or stop == len(points) or stop - start > longest:
                continue
            ends = points[[start - 1, stop]]
            apart = np.linalg.norm(ends - ends[:, k : k + 1], axis=-1)
            change = np.abs(np.delete(apart[1] - apart[0], k))
            change = change[np.isfinite(change)]
            if len(change) >= 2 and float(np.median(change)) > least:
                found.append(Leap(int(k), int(stop), float(change.max())))
    return found


def slides_while_hidden(local: FloatArray, shown: BoolArray, least: float, speed: float, longest: int) -> list[Leap]:
    """Landmarks that come back from a gap further away on their segment than skin slides in that time.

    local     : (T, L, 3) [mm] landmarks in the frame of the segment that carries them
    shown     : (T, P) [1] which markers gave the segment's pose; skin is not rigid, so other markers give another pose
    least     : () [mm] change of place that no gap explains, however short
    speed     : () [mm/frame] and so much more for every frame
    longest   : () [frames] longest gap over which places are compared
    returns   : list of Leap [mm], by landmark and frame
    undefined : a gap at an end of the recording, or other markers shown before than after it: none
    missing   : the gaps are what is looked at
    source    : ours
    """
    missing = np.isnan(local[..., 0])
    found = []
    for k in np.flatnonzero(missing.any(axis=0)):
        for start, stop in runs_of(missing[:, k]):
            if start == 0 or stop == len(local) or stop - start > longest:
                continue
            if (shown[start - 1] != shown[stop]).any():
                continue
            size = float(np.linalg.norm(local[stop, k] - local[start - 1, k]))
            if size > least + speed * (stop - start + 1):
                found.append(Leap(int(k), int(stop), size))
    return found
