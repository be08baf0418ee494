"""Which way does a segment face, seen from above, and how does a turn go on over time without jumping by a whole one?"""

import numpy as np

from condyle.mechanics.arrays import FloatArray


def heading_of(frame: FloatArray) -> FloatArray:
    """Heading of a segment: the first angle of Y-X'-Z'', the same turn that segment rotation is measured by.

    Taken from the right axis, not the anterior one: where a pelvis is tilted and oblique the two differ (by 1 degree at 10
    and 6 degrees), and only this makes pelvis rotation 0 in the frame that is turned by it.

    frame     : (..., 3, 3) [1] axes as columns, y up
    returns   : (...) [rad] positive to the left, in [-pi, pi]
    undefined : a right axis that points straight up or down gives rounding noise
    missing   : NaN
    source    : Baker 2001, Gait Posture 13:1-6
    """
    return np.asarray(np.arctan2(frame[..., 0, 2], frame[..., 2, 2]))


def mean_heading(frames: FloatArray) -> float:
    """Mean heading over frames, by the mean of the directions.

    frames    : (T, 3, 3) [1] axes as columns, y up
    returns   : float [rad] in [-pi, pi]
    undefined : no frame: NaN
    missing   : frames with NaN are left out
    source    : mean direction, Mardia & Jupp 2000 (from memory)
    """
    seen = frames[~np.isnan(frames).any(axis=(-2, -1))]
    if len(seen) == 0:
        return float("nan")
    return float(np.arctan2(seen[:, 0, 2].mean(), seen[:, 2, 2].mean()))


def axis_heading(up_from_file: FloatArray, axis: str) -> float:
    """Heading of an axis of the file, such as +X, once the vertical has been turned up.

    up_from_file : (3, 3) [1] rotation that brought the file's vertical to y
    axis         : word [1] sign and letter
    returns      : float [rad] in [-pi, pi]
    undefined    : the vertical axis itself gives 0
    missing      : not applicable
    source       : definition
    """
    direction = up_from_file[:, "XYZ".index(axis[1].upper())] * (1.0 if axis[0] == "+" else -1.0)
    return float(np.arctan2(-direction[2], direction[0]))


def wrapped(angle: FloatArray) -> FloatArray:
    """The angle within half a turn.

    angle     : (...) [rad] any
    returns   : (...) [rad] in [-pi, pi]
    undefined : nowhere
    missing   : NaN
    source    : definition
    """
    return np.asarray(np.arctan2(np.sin(angle), np.cos(angle)))


def off_facing(heading: FloatArray, facing: FloatArray) -> FloatArray:
    """How far a heading is off where somebody faces: off the nearest of several ways of telling that.

    heading   : (...) [rad] the heading in use
    facing    : (c, ...) [rad] where the person faces, told in c ways
    returns   : (...) [rad] the smallest distance, 0 to pi
    undefined : nowhere
    missing   : a way that is NaN is left out; NaN where all are
    source    : ours
    """
    return np.asarray(np.fmin.reduce(np.abs(wrapped(facing - heading)), axis=0))


def near(angle: FloatArray, centre: FloatArray) -> FloatArray:
    """The angle without whole turns from the centre; what is within half a turn of it stays as it is.

    angle     : (...) [deg] any
    centre    : (...) [deg] any, broadcasts
    returns   : (...) [deg] within half a turn of the centre
    undefined : half a turn away: one or the other
    missing   : a NaN angle stays; a NaN centre changes nothing
    source    : definition
    """
    turns = np.round((angle - centre) / 360.0)
    return np.asarray(angle - 360.0 * np.where(np.isfinite(turns), turns, 0.0))


def mean_direction(angle: FloatArray) -> FloatArray:
    """Mean over frames of angles that may lie on both sides of half a turn.

    angle     : (T, ...) [deg] any
    returns   : (...) [deg] in [-180, 180]
    undefined : no frame: NaN
    missing   : a NaN is left out
    source    : mean direction, Mardia & Jupp 2000 (from memory)
    """
    sine, cosine = np.sin(np.deg2rad(angle)), np.cos(np.deg2rad(angle))
    seen = np.isfinite(angle).any(axis=0)
    return np.where(seen, np.rad2deg(np.arctan2(np.nansum(sine, axis=0), np.nansum(cosine, axis=0))), np.nan)


def continued(angle: FloatArray) -> FloatArray:
    """A course of angles without jumps by a whole turn from one seen frame to the next.

    angle     : (T, ...) [deg] any
    returns   : (T, ...) [deg] the first seen frame as it was
    undefined : steps of half a turn from frame to frame
    missing   : a NaN stays; the frame after a gap is held against the one before it
    source    : definition
    """
    frame = np.arange(len(angle)).reshape(-1, *([1] * (angle.ndim - 1)))
    last = np.maximum.accumulate(np.where(np.isfinite(angle), frame, 0), axis=0)
    held = np.take_along_axis(angle, last, axis=0)
    jumps = np.nan_to_num(np.round(np.diff(held, axis=0, prepend=held[:1]) / 360.0))
    return np.asarray(angle - 360.0 * np.cumsum(jumps, axis=0))
