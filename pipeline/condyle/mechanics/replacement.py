"""Was a landmark placed differently? Two sessions' landmarks of one segment, laid on each other."""

import numpy as np

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigid_fit import rigid_fit


def placed_differently(first: FloatArray, second: FloatArray) -> FloatArray:
    """How far each point of the second set lies from where the first has it, told by the other points.

    The other points are fitted without the one in question, so that a point far off does not pull the fit towards itself.

    first     : (P, 3) [mm] points of one segment in its own frame, first session
    second    : (P, 3) [mm] the same points in the second session's frame
    returns   : (P, 3) [mm] displacement in the first session's segment axes
    undefined : fewer than 3 other points, or these in one line: NaN
    missing   : a point with NaN in either set is left out, its displacement NaN
    source    : leave-one-out rigid fit; ours
    """
    out = np.full(first.shape, np.nan)
    for p in range(len(first)):
        others = np.arange(len(first)) != p
        fit = rigid_fit(second[others], first[others])
        out[p] = fit.translation + fit.rotation @ second[p] - first[p]
    return out


def axes_offset(first: FloatArray, second: FloatArray) -> FloatArray:
    """Turn of the second session's segment axes against the first's, when all points are laid on each other.

    first     : (P, 3) [mm] points of one segment in its own frame, first session
    second    : (P, 3) [mm] the same points in the second session's frame
    returns   : (3) [deg] rotation vector about the anterior, superior and right axis
    undefined : fewer than 3 common points, or these in one line: NaN
    missing   : a point with NaN in either set is left out
    source    : rigid fit; rotation vector by its definition
    """
    turn = rigid_fit(second, first).rotation
    angle = np.arccos(np.clip((np.trace(turn) - 1.0) / 2.0, -1.0, 1.0))
    twist = np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]])
    size = 2.0 * np.sin(angle)
    return np.asarray(np.rad2deg(twist * (0.5 if abs(size) < 1e-9 else angle / size)))
