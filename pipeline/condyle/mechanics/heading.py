"""Which way does a segment face, seen from above?"""

import numpy as np

from condyle.mechanics.arrays import FloatArray


def heading_of(frame: FloatArray) -> FloatArray:
    """Heading of a segment's anterior axis: the turn about the vertical that brings x there.

    frame     : (..., 3, 3) [1] axes as columns, y up
    returns   : (...) [rad] positive to the left, in [-pi, pi]
    undefined : an anterior axis that points straight up or down gives rounding noise
    missing   : NaN
    source    : definition
    """
    return np.asarray(np.arctan2(-frame[..., 2, 0], frame[..., 0, 0]))


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
    return float(np.arctan2(-seen[:, 2, 0].mean(), seen[:, 0, 0].mean()))


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
