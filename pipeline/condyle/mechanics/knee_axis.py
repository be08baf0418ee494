"""Does knee adduction follow flexion, as it does where the flexion axis is not where the epicondyles put it?"""

from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.crosstalk import crosstalk_angle
from condyle.mechanics.joint_angles import cardan_zxy
from condyle.mechanics.rotations import rotation_y


class KneeAxis(NamedTuple):
    """Adduction against flexion before and after the turn of the thigh that takes flexion out of it."""

    turn: float  # [rad] of the thigh frame about its superior axis; NaN where flexion does not suffice
    adduction_range: float  # [rad] as it is
    corrected_range: float  # [rad] after that turn
    correlation: float  # [1] of adduction with flexion
    axis_turn: float  # [rad] the part of the turn that is there at any flexion, as a misplaced axis is


def knee_axis(thigh_from_shank: FloatArray) -> KneeAxis:
    """How far adduction follows flexion over a movement, and the turn about the long axis that would remove it.

    thigh_from_shank : (T, 3, 3) [1] shank axes in the thigh
    returns          : KneeAxis [rad] turn, range of adduction before and after, its correlation with flexion [1], and the
                       constant part of a turn that may also grow with flexion, as soft tissue turns a thigh's plate
    undefined        : less flexion than crosstalk_angle needs: NaN
    missing          : a frame with a NaN is left out
    source           : after Baker et al. 1999, Hum Mov Sci 18:655 (journal from memory); Pearson's correlation;
                       the two parts by least squares of R32 on -R12 and flexion times -R12: ours
    """
    turn = float(crosstalk_angle(thigh_from_shank))
    known = np.isfinite(thigh_from_shank).all(axis=(-2, -1))
    if not np.isfinite(turn) or known.sum() < 3:
        return KneeAxis(np.nan, np.nan, np.nan, np.nan, np.nan)
    flexion, adduction, _ = cardan_zxy(thigh_from_shank[known]).T
    corrected = cardan_zxy(rotation_y(-turn) @ thigh_from_shank[known])[:, 1]
    both = np.stack([flexion - flexion.mean(), adduction - adduction.mean()])
    size = np.sqrt((both**2).sum(axis=1))
    correlation = float(both[0] @ both[1] / (size[0] * size[1])) if size.min() > 0.0 else 0.0
    axis_turn = _constant_part(thigh_from_shank[known], np.abs(flexion))
    return KneeAxis(turn, float(np.ptp(adduction)), float(np.ptp(corrected)), correlation, axis_turn)


def _constant_part(thigh_from_shank: FloatArray, flexion: FloatArray) -> float:
    """Turn of the axis beside one that grows with flexion."""
    s, q = thigh_from_shank[:, 2, 1], -thigh_from_shank[:, 0, 1]
    slope = np.linalg.lstsq(np.stack([np.ones_like(q), q, flexion * q], axis=-1), s, rcond=None)[0][1]
    return float(np.arctan(slope))
