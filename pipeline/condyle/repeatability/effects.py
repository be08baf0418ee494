"""What the second session's placing does to axes and angles, and what it would do with one landmark put back."""

from typing import NamedTuple

import numpy as np

from condyle.body_names import JOINT_SEGMENTS, JOINTS, LANDMARK_SEGMENT, SEGMENTS
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.bone_alignment import Laid, carried, turned_axes
from condyle.mechanics.landmark_error import drawn_frames
from condyle.mechanics.standing_body import BodyFrames
from condyle.repeatability.palpation import standing_angles
from condyle.repeatability.standing import Standing
from condyle.stages.body import SHOULDERS


class Effects(NamedTuple):
    """Of the second session's axes and centres on the first session's bones; ``without`` one landmark's displacement."""

    turn: FloatArray  # (8, 3) [deg] of segment axes about the first session's
    angle: FloatArray  # (2, A) [deg] shift of the first session's standing angles
    joint: FloatArray  # (6, 3) [mm] shift of the joint centres, along the axes of the segment that carries each
    turn_without: FloatArray  # (P, 8, 3) [deg]
    angle_without: FloatArray  # (P, 2, A) [deg]


def effects_of(laid: Laid, one: Standing, other: Standing, names: list[str], displacement: FloatArray) -> Effects:
    """``displacement`` (P, 3) [mm] of each landmark in the first session's frame, put back one at a time."""
    bone = np.array([SEGMENTS.index(LANDMARK_SEGMENT[n]) for n in names])
    back = -np.einsum("pji,pj->pi", laid.rotation[bone], displacement)
    landmarks = {n: np.tile(place, (len(names) + 1, 1)) for n, place in other.landmarks.items()}
    for k, name in enumerate(names):
        landmarks[name][k + 1] += back[k]
    c = other.choices
    still = np.zeros((len(names) + 1, 2, 3))
    body = drawn_frames(landmarks, still, c.hip_shift, c.sizes, c.hip_method, c.shank_kind, c.fixed)
    turn = np.array([turned_axes(laid, one.rotation, axes) for axes in body.rotation])
    held = np.isin(np.arange(len(SEGMENTS)), bone)
    turn[:, ~held] = np.nan
    carrier = np.array([SEGMENTS.index(JOINT_SEGMENTS[j][0]) for j in JOINTS])
    joint = np.array([carried(laid, carrier, places) for places in body.joint])
    trunk = np.array([SEGMENTS.index("trunk")])
    both = [n for n in SHOULDERS if n in one.landmarks and n in landmarks]
    shoulders = {n: np.array([carried(laid, trunk, p[None])[0] for p in landmarks[n]]) for n in both}
    nowhere = np.zeros((len(SEGMENTS), 3))
    angle = standing_angles(BodyFrames(laid.rotation @ body.rotation, nowhere, joint), shoulders)
    own = standing_angles(BodyFrames(one.rotation, nowhere, one.joint), {n: one.landmarks[n] for n in both})
    shift = angle - own
    offset = np.einsum("jki,jk->ji", one.rotation[carrier], joint[0] - one.joint)
    return Effects(turn[0], shift[0], offset, turn[1:], shift[1:])
