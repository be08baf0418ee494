"""What palpation alone makes of the same person on two days: how far axes turn, angles shift and lengths differ."""

from typing import NamedTuple

import numpy as np
from scipy.spatial.transform import Rotation

from condyle.body_names import LANDMARK_SEGMENT, SEGMENTS
from condyle.files.limits import load_limits
from condyle.mechanics.arrays import FloatArray, transposed
from condyle.mechanics.body_angles import all_angles
from condyle.mechanics.heading import heading_of
from condyle.mechanics.landmark_error import NORMAL_AXIS, drawn_frames, kind_of
from condyle.mechanics.rotations import rotation_y
from condyle.mechanics.standing_body import BodyFrames
from condyle.repeatability.standing import Standing
from condyle.stages.body import SHOULDERS

NORMAL_95 = 1.959964  # of a normal distribution, two-sided


class Explained(NamedTuple):
    """Half of the 95 % range between two sound sessions, by palpation alone."""

    turn: FloatArray  # (8, 3) [deg] of segment axes about their anterior, superior and right axis
    angle: FloatArray  # (2, A) [deg] of standing angles
    leg: FloatArray  # (2, 2) [mm] of thigh and shank length by joint centres, left and right
    joint: FloatArray  # (6,) [mm] of the joint centres, all directions together


def explained_by_palpation(standing: Standing, other_tester: bool) -> Explained:
    """Every landmark moved by its standard deviation in each direction of the skin, the effects added as squares."""
    sds = {key: limit.value for key, limit in load_limits("uncertainty").items()}
    factor = np.sqrt(2.0) * (sds["examiner_factor"] if other_tester else 1.0)
    directions = []
    for name in standing.landmarks:
        axes = standing.rotation[SEGMENTS.index(LANDMARK_SEGMENT[name])]
        axes = axes if np.isfinite(axes).all() else np.eye(3)
        size = factor * sds[f"{kind_of(name)}_mm"]
        directions += [(name, size * axes[:, a]) for a in range(3) if a != NORMAL_AXIS[kind_of(name)]]
    count = len(directions)
    landmarks = {name: np.tile(place, (count + 1, 1)) for name, place in standing.landmarks.items()}
    for k, (name, step) in enumerate(directions, start=1):
        landmarks[name][k] += step
    c = standing.choices
    still = np.zeros((count + 1, 2, 3))
    body = drawn_frames(landmarks, still, c.hip_shift, c.sizes, c.hip_method, c.shank_kind, c.fixed)
    turn = _rotation_vectors(transposed(body.rotation[0]) @ body.rotation[1:])
    angle = standing_angles(body, landmarks)
    leg = leg_lengths(body.joint)
    joint = np.linalg.norm(body.joint[1:] - body.joint[0], axis=-1)
    return Explained(_range(turn), _range(angle[1:] - angle[0]), _range(leg[1:] - leg[0]), _range(joint))


def standing_angles(body: BodyFrames, landmarks: dict[str, FloatArray]) -> FloatArray:
    """All angles (..., 2, A) [deg], the pelvis facing straight ahead as in every standing trial."""
    straight = rotation_y(-heading_of(body.rotation[..., SEGMENTS.index("pelvis"), :, :]))
    rotation = straight[..., None, :, :] @ body.rotation
    shoulders = None
    if "acromion_l" in landmarks and "acromion_r" in landmarks:
        nothing = np.full_like(landmarks["acromion_l"], np.nan)
        places = np.stack([landmarks.get(n, nothing) for n in SHOULDERS], axis=-2)
        shoulders = places @ transposed(straight)
    return all_angles(rotation, body.joint @ transposed(straight), shoulders)


def leg_lengths(joint: FloatArray) -> FloatArray:
    """Hip to knee and knee to ankle (..., 2 sides, 2) [mm] of joint centres (..., 6, 3)."""
    legs = joint.reshape(*joint.shape[:-2], 3, 2, 3)
    return np.moveaxis(np.linalg.norm(np.diff(legs, axis=-3), axis=-1), -2, -1)


def _rotation_vectors(turn: FloatArray) -> FloatArray:
    """(D, 8, 3) [deg]; NaN where the axes are not known."""
    out = np.full(turn.shape[:-1], np.nan)
    known = np.isfinite(turn).all(axis=(-1, -2))
    if known.any():
        out[known] = np.rad2deg(Rotation.from_matrix(turn[known]).as_rotvec())
    return out


def _range(effect: FloatArray) -> FloatArray:
    return np.asarray(NORMAL_95 * np.sqrt((effect**2).sum(axis=0)))
