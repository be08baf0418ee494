"""What would a flat picture show? Planes, a camera on a tripod, and the projection angle of a leg in them.

A picture is two numbers per point: to the participant's right, and down. Its plane is the participant's frontal plane,
the pelvis' own, or the sensor of a pinhole camera.
"""

from typing import Literal

import numpy as np

from condyle.mechanics.arrays import FloatArray, dot
from condyle.mechanics.rotations import rotation_y

Side = Literal["left", "right"]
AHEAD = np.array([1.0, 0.0, 0.0])  # the participant's anterior axis, along which a frontal picture looks
AHEAD.setflags(write=False)


def frontal_picture(point: FloatArray) -> FloatArray:
    """Points as seen along the participant's anterior axis, without perspective.

    point     : (..., 3) [mm] participant frame, x anterior, y up, z right
    returns   : (..., 2) [mm] right, down
    undefined : nowhere
    missing   : NaN
    source    : definition
    """
    return np.stack([point[..., 2], -point[..., 1]], axis=-1)


def own_frontal_picture(point: FloatArray, segment: FloatArray) -> FloatArray:
    """Points as seen along a segment's own anterior axis, with that segment's up.

    point     : (..., 3) [mm] participant frame
    segment   : (..., 3, 3) [1] axes as columns
    returns   : (..., 2) [mm] right, down
    undefined : nowhere
    missing   : NaN
    source    : definition
    """
    return np.stack([dot(point, segment[..., :, 2]), -dot(point, segment[..., :, 1])], axis=-1)


def camera_picture(
    point: FloatArray,
    aim: FloatArray,
    distance: float,
    height: float,
    yaw: float = 0.0,
    focal_length: float = 1.0,
) -> FloatArray:
    """Points as a camera on a tripod in front of the participant sees them.

    point        : (..., 3) [mm] participant frame
    aim          : (..., 3) [mm] what the camera stands opposite to; its distance counts from here, level
    distance     : () [mm] horizontal distance of the lens from the aim, in front
    height       : () [mm] height of the lens above the floor; the camera looks level
    yaw          : () [rad] the tripod stands this far round to the participant's left, still turned to the aim
    focal_length : () [mm] scales the picture; angles do not depend on it
    returns      : (..., 2) [mm] on the sensor: to the participant's right, down
    undefined    : a point in or behind the plane of the lens: NaN
    missing      : NaN
    source       : pinhole model; ours
    """
    # axes of the camera's world: x from the aim to the lens, y up, z to the participant's right
    turn = rotation_y(yaw)
    level = np.concatenate([aim[..., :1], np.zeros_like(aim[..., :1]), aim[..., 2:]], axis=-1)
    seen = (point - level) @ turn
    depth = distance - seen[..., 0]
    scale = np.divide(focal_length, depth, out=np.full_like(depth, np.nan), where=depth > 0)
    return np.stack([seen[..., 2] * scale, -(seen[..., 1] - height) * scale], axis=-1)


def projection_angle(hip: FloatArray, knee: FloatArray, ankle: FloatArray, side: Side) -> FloatArray:
    """Frontal-plane projection angle of a leg in a picture.

    hip       : (..., 2) [any] right, down: the hip centre, or the ASIS (never to be mixed)
    knee      : (..., 2) [any] knee
    ankle     : (..., 2) [any] ankle
    side      : () [word] left or right
    returns   : (...) [rad] 0 straight, positive with the knee medial of the line from hip to ankle
    undefined : a segment without length in the picture has tilt 0
    missing   : NaN
    source    : Willson & Davis 2008, J Orthop Sports Phys Ther 38:606 (from memory: ASIS, knee, ankle); signs ours
    """
    return _tilt(knee - hip, side) - _tilt(ankle - knee, side)


def camera_sight(point: FloatArray, aim: FloatArray, distance: float, height: float, yaw: float = 0.0) -> FloatArray:
    """The line of sight from the lens of :func:`camera_picture` to points.

    point     : (..., 3) [mm] participant frame
    aim       : (..., 3) [mm] what the camera stands opposite to
    distance  : () [mm] horizontal distance of the lens from the aim, in front
    height    : () [mm] height of the lens above the floor
    yaw       : () [rad] the tripod stands this far round to the participant's left, still turned to the aim
    returns   : (..., 3) [mm] from the lens to the point, participant frame
    undefined : nowhere
    missing   : NaN
    source    : pinhole model; ours
    """
    lens = rotation_y(yaw) @ np.array([distance, height, 0.0])
    level = np.concatenate([aim[..., :1], np.zeros_like(aim[..., :1]), aim[..., 2:]], axis=-1)
    return np.asarray(point - level - lens)


def shown_share(from_point: FloatArray, to_point: FloatArray, sight: FloatArray = AHEAD) -> FloatArray:
    """How much of a segment's length a picture shows that is taken along a line of sight.

    from_point : (..., 3) [mm] one end, participant frame
    to_point   : (..., 3) [mm] other end
    sight      : (..., 3) [mm] direction of the view, of any length: the participant's anterior axis for the frontal picture
    returns    : (...) [1] length across the line of sight over true length, 0 to 1
    undefined  : a segment or a line of sight without length: NaN
    missing    : NaN
    source     : definition
    """
    segment = to_point - from_point
    across = np.cross(segment, sight)
    length = np.sqrt(dot(segment, segment) * dot(sight, sight))
    return np.divide(np.sqrt(dot(across, across)), length, out=np.full_like(length, np.nan), where=length > 0)


def readable(angle: FloatArray, thigh_share: FloatArray, shank_share: FloatArray, least: float) -> FloatArray:
    """The projection angle where both segments show enough of their length to have a direction.

    angle       : (...) [rad] projection angle (or in any unit)
    thigh_share : (...) [1] share of the thigh's length that the picture shows
    shank_share : (...) [1] share of the shank's
    least       : () [1] below this share no value
    returns     : (...) [rad] the angle in the unit given, NaN where too little shows
    undefined   : as returned
    missing     : NaN
    source      : ours
    """
    return np.where((thigh_share >= least) & (shank_share >= least), angle, np.nan)


def _tilt(segment: FloatArray, side: Side) -> FloatArray:
    medial = -segment[..., 0] if side == "right" else segment[..., 0]
    return np.asarray(np.arctan2(medial, segment[..., 1]))
