"""Turning: rotation matrices from angles and angles from matrices, written for the forward model alone.

The model is the truth that the processing is tested on, so it shares no function with it: a wrong sign would cancel.
A matrix has the segment's axes as columns: forward, up, to the participant's right. Angles are in degrees and positive
alike on both sides; ``side`` is 'left' or 'right'.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

MIRROR = {"right": 1.0, "left": -1.0}
OTHER = {"right": "left", "left": "right"}
SUFFIX = {"right": "_r", "left": "_l"}
SIDES = ("left", "right")


def turned(axis: str, degrees: Any) -> Array:
    """Rotation by ``degrees`` (any shape) about one of the axes 'x', 'y', 'z': shape (..., 3, 3)."""
    angle = np.radians(np.asarray(degrees, dtype=np.float64))
    cosine, sine = np.cos(angle), np.sin(angle)
    first = {"x": 1, "y": 2, "z": 0}[axis]  # the axis that is carried towards `second`
    second = (first + 1) % 3
    matrix = np.zeros((*angle.shape, 3, 3))
    matrix[..., 3 - first - second, 3 - first - second] = 1.0
    matrix[..., first, first] = cosine
    matrix[..., second, second] = cosine
    matrix[..., second, first] = sine
    matrix[..., first, second] = -sine
    return matrix


def swapped(matrix: Array) -> Array:
    """The inverse of rotations."""
    return np.swapaxes(matrix, -1, -2)


def moved(matrix: Array, vector: Any) -> Array:
    """Vectors (..., 3) turned by matrices (..., 3, 3)."""
    product: Array = np.einsum("...ij,...j->...i", matrix, np.asarray(vector, dtype=np.float64))
    return product


def joint_matrix(joint: str, side: str, flexion: Any, adduction: Any, internal: Any) -> Array:
    """The distal segment in the proximal one, from the three angles of ``joint`` ('hip', 'knee', 'ankle')."""
    bend = -1.0 if joint == "knee" else 1.0  # the knee bends the distal end backwards, hip and ankle forwards
    mirror = MIRROR[side]
    first = turned("z", bend * np.asarray(flexion))
    return first @ turned("x", mirror * np.asarray(adduction)) @ turned("y", mirror * np.asarray(internal))


def joint_degrees(joint: str, side: str, proximal: Array, distal: Array) -> Array:
    """Flexion, adduction, internal rotation of the distal segment in the proximal one: shape (..., 3)."""
    relative = swapped(proximal) @ distal
    long_axis, right_axis = relative[..., :, 1], relative[..., :, 2]
    # Rz(a) Rx(b) Ry(c): its second column is Rz(a) (0, cos b, sin b)
    adduction = np.arcsin(np.clip(long_axis[..., 2], -1.0, 1.0))
    flexion = np.arctan2(-long_axis[..., 0], long_axis[..., 1])
    internal = np.arctan2(-relative[..., 2, 0], right_axis[..., 2])
    bend = -1.0 if joint == "knee" else 1.0
    mirror = MIRROR[side]
    return np.degrees(np.stack([bend * flexion, mirror * adduction, mirror * internal], axis=-1))


_UPRIGHT = {
    "pelvis": (1.0, -1.0, -1.0),
    "trunk": (1.0, 1.0, -1.0),
}  # signs on the right of turn, sideways tilt, forward tilt


def upright_matrix(segment: str, side: str, rotation: Any, sideways: Any, forward: Any) -> Array:
    """Pelvis (rotation, obliquity, tilt) or trunk (rotation, lean, flexion) in the participant's frame."""
    turn, tip, pitch = _UPRIGHT[segment]
    mirror = MIRROR[side]
    about_up = turned("y", mirror * turn * np.asarray(rotation))
    return about_up @ turned("x", mirror * tip * np.asarray(sideways)) @ turned("z", pitch * np.asarray(forward))


def upright_degrees(segment: str, side: str, matrix: Array) -> Array:
    """The inverse of ``upright_matrix``: shape (..., 3)."""
    turn, tip, pitch = _UPRIGHT[segment]
    mirror = MIRROR[side]
    right_axis = matrix[..., :, 2]  # Ry(a) Rx(b) z = (sin a cos b, -sin b, cos a cos b)
    rotation = np.arctan2(right_axis[..., 0], right_axis[..., 2])
    sideways = -np.arcsin(np.clip(right_axis[..., 1], -1.0, 1.0))
    forward = np.arctan2(matrix[..., 1, 0], matrix[..., 1, 1])
    return np.degrees(np.stack([mirror * turn * rotation, mirror * tip * sideways, pitch * forward], axis=-1))


def inward_turn_degrees(side: str, thigh: Array) -> Array:
    """The thigh's axial rotation in the participant's frame, positive internal."""
    return MIRROR[side] * np.degrees(np.arctan2(thigh[..., 0, 2], thigh[..., 2, 2]))


def frame_from(forward: Array, right: Array) -> Array:
    """Axes with X along ``forward`` and Z as near ``right`` as can be (columns forward, up, right)."""
    ahead = forward / np.linalg.norm(forward, axis=-1, keepdims=True)
    up = np.cross(right, ahead)
    up = up / np.linalg.norm(up, axis=-1, keepdims=True)
    return np.stack([ahead, up, np.cross(ahead, up)], axis=-1)
