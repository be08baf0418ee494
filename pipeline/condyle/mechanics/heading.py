"""Which way does a segment face, seen from above?"""

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
