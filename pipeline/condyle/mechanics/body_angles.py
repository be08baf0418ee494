"""All joint and segment angles of a body from its segment frames, both sides at once, in degrees."""

import numpy as np

from condyle.mechanics.arrays import FloatArray, transposed
from condyle.mechanics.joint_angles import cardan_yxz, cardan_zxy
from condyle.mechanics.standing_body import JOINT_ORDER, SEGMENT_ORDER

# Signs that make "positive is" hold on both sides: (flexion, adduction, internal rotation) on the right; on the left the
# last two change sign. Segments: (rotation, obliquity, tilt); on the left the first changes sign instead.
_JOINT_SIGN = {"hip": (1.0, 1.0, 1.0), "knee": (-1.0, 1.0, 1.0), "ankle": (1.0, 1.0, 1.0)}
_MIRROR_JOINT = {"left": np.array([1.0, -1.0, -1.0]), "right": np.ones(3)}
_SEGMENT_SIGN = {"left": np.array([-1.0, 1.0, -1.0]), "right": np.array([1.0, -1.0, -1.0])}
_SIDES = ("left", "right")


def _index(name: str) -> int:
    return SEGMENT_ORDER.index(name)


def joint_angles(rotation: FloatArray) -> FloatArray:
    """Flexion, adduction, internal rotation of hip, knee and ankle.

    rotation  : (..., 8, 3, 3) [1] segment frames in SEGMENT_ORDER, columns are the axes
    returns   : (..., 2, 9) [deg] left, right; hip, knee, ankle x flexion, adduction, internal rotation
    undefined : adduction of +-90 degrees, see cardan_zxy
    missing   : a missing segment makes the angles of its joints NaN
    source    : Grood & Suntay 1983; ISB, Wu et al. 2002; signs ours
    """
    parents = [_index(n) for t in "lr" for n in ("pelvis", f"thigh_{t}", f"shank_{t}")]
    children = [_index(n) for t in "lr" for n in (f"thigh_{t}", f"shank_{t}", f"foot_{t}")]
    parent_from_child = transposed(rotation[..., parents, :, :]) @ rotation[..., children, :, :]
    angle = np.rad2deg(cardan_zxy(parent_from_child))
    sign = np.array([_JOINT_SIGN[j] * _MIRROR_JOINT[side] for side in _SIDES for j in ("hip", "knee", "ankle")])
    return np.asarray((angle * sign).reshape(*rotation.shape[:-3], 2, 9))


def segment_angles(rotation: FloatArray) -> FloatArray:
    """Rotation, obliquity (lean) and tilt (flexion) of one segment in the participant frame, seen from either side.

    rotation  : (..., 3, 3) [1] segment axes as columns
    returns   : (..., 2, 3) [deg] left, right; this side forward, this side up, anterior
    undefined : obliquity of +-90 degrees, see cardan_yxz
    missing   : a NaN makes all NaN
    source    : Baker 2001, Gait Posture 13:1-6
    """
    angle = np.rad2deg(cardan_yxz(rotation))
    return np.stack([angle * _SEGMENT_SIGN[side] for side in _SIDES], axis=-2)


def thigh_axial_rotation(rotation: FloatArray) -> FloatArray:
    """Turn of the thigh about the vertical: the apparent femoral rotation.

    rotation  : (..., 8, 3, 3) [1] segment frames
    returns   : (..., 2) [deg] left, right; internal positive
    undefined : see cardan_yxz
    missing   : NaN
    source    : first angle of Y-X'-Z'' (Baker 2001, order); ours
    """
    both = rotation[..., [_index("thigh_l"), _index("thigh_r")], :, :]
    return np.asarray(np.rad2deg(cardan_yxz(both)[..., 0]) * np.array([-1.0, 1.0]))


def frontal_plane_projection_angle(joint: FloatArray) -> FloatArray:
    """FPPA of both legs between hip, knee and ankle centre in the participant's frontal plane.

    joint     : (..., 6, 3) [mm] joint centres in JOINT_ORDER, participant frame
    returns   : (..., 2) [deg] left, right; positive is the knee medial of the hip - ankle line
    undefined : a segment without projected length gives 0 for its tilt
    missing   : NaN
    source    : Willson & Davis 2008 (from memory), between joint centres: ours
    """
    legs = joint[..., [JOINT_ORDER.index(f"{n}_{t}") for t in "lr" for n in ("hip", "knee", "ankle")], :]
    legs = legs.reshape(*joint.shape[:-2], 2, 3, 3)
    medial = legs[..., 2] * np.array([[1.0], [-1.0]])  # z is to the right: medial for the left leg
    down = -legs[..., 1]
    thigh = np.arctan2(medial[..., 1] - medial[..., 0], down[..., 1] - down[..., 0])
    shank = np.arctan2(medial[..., 2] - medial[..., 1], down[..., 2] - down[..., 1])
    return np.asarray(np.rad2deg(thigh - shank))


def all_angles(rotation: FloatArray, joint: FloatArray, shoulders: FloatArray | None = None) -> FloatArray:
    """Every angle of the vocabulary, in its order.

    rotation  : (..., 8, 3, 3) [1] segment frames in the participant frame
    joint     : (..., 6, 3) [mm] joint centres
    shoulders : (..., 3, 3) [mm] left acromion, right acromion, C7; or None
    returns   : (..., 2, 25) [deg] left, right; JOINT_ANGLES of the vocabulary; FPPA twice, for the stages know by what
    undefined : as in the single functions
    missing   : what is missing makes NaN only of the angles that rest on it
    source    : the single functions
    """
    pelvis, trunk = rotation[..., _index("pelvis"), :, :], rotation[..., _index("trunk"), :, :]
    fppa = frontal_plane_projection_angle(joint)[..., None]
    parts = [
        joint_angles(rotation),
        segment_angles(pelvis),
        segment_angles(trunk) * np.array([1.0, -1.0, 1.0]),  # lean towards this side lowers it
        thigh_axial_rotation(rotation)[..., None],
        fppa,
        segment_angles(transposed(pelvis) @ trunk) * np.array([1.0, -1.0, 1.0]),
        shoulder_lines(joint, shoulders),
        fppa,
    ]
    return np.concatenate(parts, axis=-1)


def shoulder_lines(joint: FloatArray, shoulders: FloatArray | None) -> FloatArray:
    """Line of the acromia and line from the mid hip centres to C7 (or mid-acromia).

    joint     : (..., 6, 3) [mm] joint centres
    shoulders : (..., 3, 3) [mm] left acromion, right acromion, C7; or None
    returns   : (..., 2, 4) [deg] left, right; tilt (this side down), rotation (this side forward), lean, flexion
    undefined : no shoulder points: NaN
    missing   : without C7 the mid-acromia stand in, frame by frame
    source    : definition; ours
    """
    lead = joint.shape[:-2]
    if shoulders is None:
        return np.full((*lead, 2, 4), np.nan)
    left, right, c7 = (shoulders[..., i, :] for i in range(3))
    across = right - left
    wide = np.hypot(across[..., 0], across[..., 2])
    tilt = np.arctan2(-across[..., 1], wide)  # right side down
    turn = np.arctan2(across[..., 0], across[..., 2])  # right side forward
    middle = 0.5 * (left + right)
    top = np.where(np.isnan(c7), middle, c7)
    line = top - 0.5 * (joint[..., 0, :] + joint[..., 1, :])
    lean = np.arctan2(line[..., 2], line[..., 1])  # to the right
    flexion = np.arctan2(line[..., 0], line[..., 1])
    both = [np.stack([-v, v], axis=-1) for v in (tilt, turn, lean)]
    return np.asarray(np.rad2deg(np.stack([*both, np.stack([flexion, flexion], axis=-1)], axis=-1)))
