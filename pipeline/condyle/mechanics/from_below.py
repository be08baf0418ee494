"""Which part moved the knee, seen from below: foot on the floor, shank on foot, thigh on shank.

A second account of the same closed chain; it never competes with the one from above (a pelvis turned by 22 degrees over
a foot that stays is also 22 degrees of rotation in the ankle). Whole rotations are the factors here: what the foot does
on the floor (roll, pivot, heel lift), what the shank does on the foot, what the thigh does on the shank.
"""

import numpy as np

from condyle.mechanics.arrays import FloatArray, transposed
from condyle.mechanics.contributions import Account
from condyle.mechanics.shapley import shapley_values

FACTORS_BELOW = ("foot_on_floor", "ankle", "knee")
MEASURES_BELOW = ("shank_tilt", "thigh_axial_rotation")
_MIRROR = np.array([[1.0, 1.0, -1.0], [1.0, 1.0, -1.0], [-1.0, -1.0, 1.0]])  # z turned round before and after


def mirrored(rotation: FloatArray) -> FloatArray:
    """The rotation as it looks in the sagittal mirror: a left leg's as a right leg's.

    rotation  : (..., 3, 3) [1] axes as columns, right or left
    returns   : (..., 3, 3) [1] rotation of the mirrored body, z axes still to the right
    undefined : nowhere
    missing   : NaN stays
    source    : definition
    """
    return np.asarray(rotation * _MIRROR)


def account_from_below(
    foot: FloatArray,
    shank: FloatArray,
    thigh: FloatArray,
    foot_then: FloatArray,
    shank_then: FloatArray,
    thigh_then: FloatArray,
    shank_vector: FloatArray,
) -> Account:
    """The shank's medial tilt and the thigh's axial rotation, divided among foot on floor, ankle and knee.

    foot         : (..., 3, 3) [1] axes of a right foot in the participant frame (a left one mirrored)
    shank        : (..., 3, 3) [1] shank, likewise
    thigh        : (..., 3, 3) [1] thigh, likewise
    foot_then    : (..., 3, 3) [1] foot at the baseline
    shank_then   : (..., 3, 3) [1] shank at the baseline
    thigh_then   : (..., 3, 3) [1] thigh at the baseline
    shank_vector : (..., 3) [mm] knee centre to ankle centre in the shank's frame, of a right leg
    returns      : Account [rad] modelled (2, ...), base (2, ...) at the baseline, parts (2, 3, ...)
    undefined    : a shank without projected length: tilt 0
    missing      : a missing foot makes everything NaN, a missing thigh only the thigh's rotation
    source       : Shapley 1953; foot, ankle, knee as factors: ours
    """
    lead = np.broadcast_shapes(foot.shape[:-2], foot_then.shape[:-2], thigh.shape[:-2], shank_vector.shape[:-1])
    on_floor = (foot_then, foot)
    on_foot = (transposed(foot_then) @ shank_then, transposed(foot) @ shank)
    on_shank = (transposed(shank_then) @ thigh_then, transposed(shank) @ thigh)
    tilt, turn = np.empty((2, 2, *lead)), np.empty((2, 2, 2, *lead))
    for f in (0, 1):
        for a in (0, 1):
            leg = on_floor[f] @ on_foot[a]
            down = np.einsum("...ij,...j->...i", leg, shank_vector)
            tilt[f, a] = -np.arctan2(-down[..., 2], -down[..., 1])
            for k in (0, 1):
                across = np.einsum("...ij,...j->...i", leg, on_shank[k][..., :, 2])
                turn[f, a, k] = np.arctan2(across[..., 0], across[..., 2])
    parts = np.zeros((2, 3, *lead))
    parts[0, :2] = shapley_values(tilt, 2)  # the knee does not move the shank
    parts[1] = shapley_values(turn, 3)
    return Account(np.stack([tilt[1, 1], turn[1, 1, 1]]), np.stack([tilt[0, 0], turn[0, 0, 0]]), parts)
