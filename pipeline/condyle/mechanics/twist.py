"""Could the thigh's markers have twisted on the bone?"""

import numpy as np

from condyle.mechanics.arrays import FloatArray


def twist_keeping_adduction(thigh_from_shank: FloatArray, adduction: FloatArray) -> FloatArray:
    """The turn of the thigh frame about its long axis that would bring knee adduction to a given value.

    thigh_from_shank : (..., 3, 3) [1] shank in a right thigh (a left one mirrored)
    adduction        : (...) [rad] knee adduction wanted, varus positive
    returns          : (...) [rad] internal turn of the frame, the smaller of the two; in [-pi, pi]
    undefined        : a straight knee, where the turn changes nothing, or a value out of reach: NaN
    missing          : NaN
    source           : third row of Ry(-turn) R of Z-X'-Y''; ours
    """
    # R32 of Ry(-d) R is R12 sin d + R32 cos d, and the wanted one is sin(adduction)
    across, along = thigh_from_shank[..., 0, 1], thigh_from_shank[..., 2, 1]
    reach = np.hypot(across, along)
    with np.errstate(invalid="ignore", divide="ignore"):
        turn = np.arcsin(np.sin(adduction) / np.where(reach > 0.05, reach, np.nan)) - np.arctan2(along, across)
    return np.asarray(np.arctan2(np.sin(turn), np.cos(turn)))
