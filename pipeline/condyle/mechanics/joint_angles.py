"""How far has one segment turned in another, and what is that called on this side of the body?

Cardan angles first, as the matrix gives them; then the clinical angles, which are positive alike on both sides, and
their inverses. Radians throughout.
"""

from typing import Final, Literal

import numpy as np
from numpy.typing import ArrayLike

from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.rotations import yxz_matrix, zxy_matrix

Side = Literal["left", "right"]
Joint = Literal["hip", "knee", "ankle"]

# Factors from Cardan to clinical angles. A joint's flexion has the same sign on both sides, its two other angles change
# sign with the side; a segment's turn and lean are mirrored by the side, its tilt is not.
JOINT_SIGNS: Final[dict[Joint, dict[Side, tuple[float, float, float]]]] = {
    "hip": {"right": (1.0, 1.0, 1.0), "left": (1.0, -1.0, -1.0)},
    "knee": {"right": (-1.0, 1.0, 1.0), "left": (-1.0, -1.0, -1.0)},
    "ankle": {"right": (1.0, 1.0, 1.0), "left": (1.0, -1.0, -1.0)},
}
SEGMENT_SIGNS: Final[dict[Side, tuple[float, float, float]]] = {"right": (1.0, -1.0, -1.0), "left": (-1.0, 1.0, -1.0)}
TRUNK_SIGNS: Final[dict[Side, tuple[float, float, float]]] = {"right": (1.0, 1.0, -1.0), "left": (-1.0, -1.0, -1.0)}

_LOCKED = (
    1e-9  # cosine of the second angle below which the outer two turn about one line and atan2 reads rounding noise
)


def cardan_zxy(parent_from_child: FloatArray) -> FloatArray:
    """Angles (a, b, c) with parent_from_child = Rz(a) Rx(b) Ry(c).

    parent_from_child : (..., 3, 3) [1]    rotation; columns are the child's axes in the parent
    returns           : (..., 3)    [rad]  a, c in [-pi, pi]; b in [-pi/2, pi/2]
    undefined         : b = +-pi/2, where a and c turn about one line: c = 0, a takes all of it
    missing           : one NaN in a matrix makes its three angles NaN
    source            : Grood & Suntay 1983, J Biomech Eng 105:136, as Z-X'-Y'' (ISB, Wu et al. 2002)
    """
    r = np.asarray(parent_from_child, dtype=np.float64)
    cos_b = np.hypot(r[..., 2, 0], r[..., 2, 2])
    locked = cos_b < _LOCKED
    a = np.where(locked, np.arctan2(r[..., 1, 0], r[..., 0, 0]), np.arctan2(-r[..., 0, 1], r[..., 1, 1]))
    b = np.arctan2(r[..., 2, 1], cos_b)
    c = np.where(locked, 0.0, np.arctan2(-r[..., 2, 0], r[..., 2, 2]))
    return _stacked(a, b, c, r)


def cardan_yxz(parent_from_child: FloatArray) -> FloatArray:
    """Angles (a, b, c) with parent_from_child = Ry(a) Rx(b) Rz(c).

    parent_from_child : (..., 3, 3) [1]    rotation; columns are the child's axes in the parent
    returns           : (..., 3)    [rad]  a, c in [-pi, pi]; b in [-pi/2, pi/2]
    undefined         : b = +-pi/2, where a and c turn about one line: c = 0, a takes all of it
    missing           : one NaN in a matrix makes its three angles NaN
    source            : rotation, obliquity, tilt of Baker 2001, Gait Posture 13:1-6
    """
    r = np.asarray(parent_from_child, dtype=np.float64)
    cos_b = np.hypot(r[..., 0, 2], r[..., 2, 2])
    locked = cos_b < _LOCKED
    a = np.where(locked, np.arctan2(-r[..., 2, 0], r[..., 0, 0]), np.arctan2(r[..., 0, 2], r[..., 2, 2]))
    b = np.arctan2(-r[..., 1, 2], cos_b)
    c = np.where(locked, 0.0, np.arctan2(r[..., 1, 0], r[..., 1, 1]))
    return _stacked(a, b, c, r)


def near_gimbal_lock(angles: FloatArray, limit: float = np.pi * 75.0 / 180.0) -> BoolArray:
    """Where the second angle is so large that the first and third can no longer be told apart.

    angles    : (..., 3) [rad] Cardan or clinical angles, the second in the middle
    limit     : () [rad] size of the second angle from which on a frame is marked (75 degrees: ours)
    returns   : (...) [1] True near lock
    undefined : nowhere
    missing   : a NaN angle is not marked
    source    : ours
    """
    return np.abs(np.asarray(angles)[..., 1]) > limit


def clinical_joint(parent_from_child: FloatArray, joint: Joint, side: Side) -> FloatArray:
    """Flexion, adduction and internal rotation of a joint (ankle: dorsiflexion, inversion, internal rotation).

    parent_from_child : (..., 3, 3) [1] the distal segment's axes in the proximal segment
    joint             : () [word] hip, knee or ankle
    side              : () [word] left or right
    returns           : (..., 3) [rad] flexion, adduction (knee: varus), internal rotation, positive alike on both sides
    undefined         : adduction = +-pi/2, see cardan_zxy
    missing           : one NaN in a matrix makes its three angles NaN
    source            : axes of Grood & Suntay 1983, J Biomech Eng 105:136; the signs are ours
    """
    return cardan_zxy(parent_from_child) * _signs(JOINT_SIGNS[joint], side)


def joint_matrix(flexion: ArrayLike, adduction: ArrayLike, internal: ArrayLike, joint: Joint, side: Side) -> FloatArray:
    """The distal segment's axes in the proximal segment from the clinical angles: the inverse of clinical_joint.

    flexion   : (...) [rad] flexion (ankle: dorsiflexion)
    adduction : (...) [rad] adduction (knee: varus; ankle: inversion)
    internal  : (...) [rad] internal rotation
    joint     : () [word] hip, knee or ankle
    side      : () [word] left or right
    returns   : (..., 3, 3) [1] parent_from_child
    undefined : nowhere
    missing   : a NaN in any angle makes the whole matrix NaN
    source    : axes of Grood & Suntay 1983, J Biomech Eng 105:136; the signs are ours
    """
    a, b, c = _signs(JOINT_SIGNS[joint], side)
    return zxy_matrix(a * np.asarray(flexion), b * np.asarray(adduction), c * np.asarray(internal))


def clinical_segment(participant_from_segment: FloatArray, side: Side) -> FloatArray:
    """Rotation, obliquity and tilt of the pelvis, seen from one side.

    participant_from_segment : (..., 3, 3) [1] the segment's axes in the participant frame
    side                     : () [word] left or right
    returns                  : (..., 3) [rad] this side forward, this side up, anterior tilt
    undefined                : obliquity = +-pi/2, see cardan_yxz
    missing                  : one NaN in a matrix makes its three angles NaN
    source                   : Baker 2001, Gait Posture 13:1-6; the signs are ours
    """
    return cardan_yxz(participant_from_segment) * _signs(SEGMENT_SIGNS, side)


def segment_matrix(rotation: ArrayLike, obliquity: ArrayLike, tilt: ArrayLike, side: Side) -> FloatArray:
    """The pelvis' axes in the participant frame from its clinical angles: the inverse of clinical_segment.

    rotation  : (...) [rad] this side forward
    obliquity : (...) [rad] this side up
    tilt      : (...) [rad] anterior tilt
    side      : () [word] left or right
    returns   : (..., 3, 3) [1] participant_from_segment
    undefined : nowhere
    missing   : a NaN in any angle makes the whole matrix NaN
    source    : Baker 2001, Gait Posture 13:1-6; the signs are ours
    """
    a, b, c = _signs(SEGMENT_SIGNS, side)
    return yxz_matrix(a * np.asarray(rotation), b * np.asarray(obliquity), c * np.asarray(tilt))


def clinical_trunk(parent_from_trunk: FloatArray, side: Side) -> FloatArray:
    """Rotation, lean and flexion of the trunk in the participant frame or in the pelvis, seen from one side.

    parent_from_trunk : (..., 3, 3) [1] the trunk's axes in the participant frame or in the pelvis
    side              : () [word] left or right
    returns           : (..., 3) [rad] this side forward, lean towards this side, flexion forward
    undefined         : lean = +-pi/2, see cardan_yxz
    missing           : one NaN in a matrix makes its three angles NaN
    source            : sequence of Baker 2001, Gait Posture 13:1-6; the signs are ours (a lean lowers this side)
    """
    return cardan_yxz(parent_from_trunk) * _signs(TRUNK_SIGNS, side)


def thigh_axial_rotation(participant_from_thigh: FloatArray, side: Side) -> FloatArray:
    """Internal rotation of the thigh in the participant frame, whatever carried it there.

    participant_from_thigh : (..., 3, 3) [1] the thigh's axes in the participant frame
    side                   : () [word] left or right
    returns                : (...) [rad] internal positive, in [-pi, pi]
    undefined              : thigh's right axis vertical, see cardan_yxz
    missing                : one NaN in a matrix makes its angle NaN
    source                 : first angle of Y-X'-Z'' (sequence of Baker 2001), ours for the thigh
    """
    return cardan_yxz(participant_from_thigh)[..., 0] * (1.0 if _known(side) == "right" else -1.0)


def _stacked(a: FloatArray, b: FloatArray, c: FloatArray, rotation: FloatArray) -> FloatArray:
    angles = np.stack([a, b, c], axis=-1)
    missing = np.isnan(rotation).any(axis=(-2, -1))
    if missing.any():
        angles[missing] = np.nan
    return angles


def _known(side: Side) -> Side:
    if side not in ("left", "right"):
        raise ValueError(f"side is {side!r}; it must be 'left' or 'right'")
    return side


def _signs(table: dict[Side, tuple[float, float, float]], side: Side) -> FloatArray:
    return np.array(table[_known(side)])
