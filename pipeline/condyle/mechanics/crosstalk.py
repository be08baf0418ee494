"""How far is the knee's flexion axis turned from where the epicondyles put it?

If it is, flexion leaks into adduction. Turning the thigh frame about its long axis until knee adduction varies least
undoes that. It also moves hip and knee rotation by the same angle: report it, and use it by choice only.
"""

from typing import Final

import numpy as np

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.joint_angles import cardan_zxy

MIN_FLEXION_RANGE: Final = np.pi * 40.0 / 180.0


def flexion_range(thigh_from_shank: FloatArray) -> FloatArray:
    """Range of knee flexion over the frames.

    thigh_from_shank : (..., T, 3, 3) [1] shank axes in the thigh
    returns          : (...) [rad] largest minus smallest flexion
    undefined        : no frame: NaN
    missing          : a frame with a NaN is left out
    source           : first angle of Grood & Suntay 1983, J Biomech Eng 105:136
    """
    flexion = cardan_zxy(thigh_from_shank)[..., 0]  # its sign does not matter to a range
    known = np.isfinite(flexion)
    most = np.where(known, flexion, -np.inf).max(axis=-1, initial=-np.inf)
    least = np.where(known, flexion, np.inf).min(axis=-1, initial=np.inf)
    return np.where(known.any(axis=-1), most - np.where(np.isfinite(least), least, 0.0), np.nan)


def crosstalk_angle(thigh_from_shank: FloatArray, min_flexion_range: float = MIN_FLEXION_RANGE) -> FloatArray:
    """Turn of the thigh frame about its superior axis that takes flexion out of knee adduction.

    The corrected thigh is ``thigh @ rotation_y(angle)``, the corrected joint ``rotation_y(-angle) @ thigh_from_shank``.

    thigh_from_shank  : (..., T, 3, 3) [1] shank axes in the thigh over the frames of a movement
    min_flexion_range : () [rad] range of flexion that is needed
    returns           : (...) [rad] angle in [-pi/2, pi/2]
    undefined         : less flexion than needed, or no variation at all: NaN
    missing           : a frame with a NaN is left out
    source            : after Baker et al. 1999, Hum Mov Sci 18:655 (journal from memory), who advise it for training,
                        not for routine; closed form of the least variance of R32: ours
    """
    r = np.asarray(thigh_from_shank, dtype=np.float64)
    known = np.isfinite(r).all(axis=(-2, -1))
    s, q = r[..., 2, 1], -r[..., 0, 1]
    count = np.maximum(known.sum(axis=-1, keepdims=True), 1)
    s, q = (np.where(known, v - np.where(known, v, 0.0).sum(axis=-1, keepdims=True) / count, 0.0) for v in (s, q))
    product, difference = (q * s).sum(axis=-1), (q * q - s * s).sum(axis=-1)
    enough = (flexion_range(r) >= min_flexion_range) & ((np.abs(product) > 0.0) | (np.abs(difference) > 0.0))
    return np.where(enough, 0.5 * np.arctan2(2.0 * product, difference), np.nan)
