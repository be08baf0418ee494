"""Where are the joint centres inside the landmarks?

The hip regressions give the centre in the pelvis frame of :func:`condyle.mechanics.segment_frames.pelvis_frame`:
anterior, superior, right; origin mid-ASIS.
"""

from typing import Final

import numpy as np
from numpy.typing import ArrayLike

from condyle.mechanics.arrays import FloatArray, dot
from condyle.mechanics.joint_angles import Side

ASIS_SKIN_DEPTH_MM: Final = 9.7  # Mantovani et al. 2016
PSIS_SKIN_DEPTH_MM: Final = 19.6

_SIDE_SIGN: Final[dict[Side, float]] = {"right": 1.0, "left": -1.0}


def hip_harrington_2007(pelvis_width: ArrayLike, pelvis_depth: ArrayLike, side: Side) -> FloatArray:
    """Hip centre from the width and depth of the pelvis.

    pelvis_width : (...) [mm] between the ASIS
    pelvis_depth : (...) [mm] mid-ASIS to mid-PSIS
    side         : () [word] left or right
    returns      : (..., 3) [mm] anterior, superior, right in the pelvis frame
    undefined    : nowhere
    missing      : a NaN in a size makes the components that rest on it NaN
    source       : Harrington et al. 2007, J Biomech 40:595
    """
    width, depth = np.asarray(pelvis_width, dtype=np.float64), np.asarray(pelvis_depth, dtype=np.float64)
    return _point(-0.24 * depth - 9.9, -0.30 * width - 10.9, _sign(side) * (0.33 * width + 7.3))


def hip_bell_1990(pelvis_width: ArrayLike, side: Side) -> FloatArray:
    """Hip centre from the width of the pelvis alone.

    pelvis_width : (...) [mm] between the ASIS
    side         : () [word] left or right
    returns      : (..., 3) [mm] anterior, superior, right in the pelvis frame
    undefined    : nowhere
    missing      : a NaN width makes the centre NaN
    source       : Bell et al. 1990, J Biomech 23:617 (19 % behind; their paper of 1989 has 22 %)
    """
    width = np.asarray(pelvis_width, dtype=np.float64)
    return _point(-0.19 * width, -0.30 * width, _sign(side) * 0.36 * width)


def hip_hara_2016(leg_length: ArrayLike, side: Side) -> FloatArray:
    """Hip centre from the length of the leg.

    leg_length : (...) [mm] ASIS to medial malleolus
    side       : () [word] left or right
    returns    : (..., 3) [mm] anterior, superior, right in the pelvis frame
    undefined  : nowhere
    missing    : a NaN length makes the centre NaN
    source     : Hara et al. 2016, Sci Rep 6:37707 (one transcription)
    """
    length = np.asarray(leg_length, dtype=np.float64)
    return _point(11.0 - 0.063 * length, -9.0 - 0.078 * length, _sign(side) * (8.0 + 0.086 * length))


def reduced_pelvis_depth(
    pelvis_depth: ArrayLike,
    marker_radius: ArrayLike,
    asis_depth: ArrayLike = ASIS_SKIN_DEPTH_MM,
    psis_depth: ArrayLike = PSIS_SKIN_DEPTH_MM,
) -> FloatArray:
    """Depth of the bony pelvis from the distance of the markers in front of and behind it.

    pelvis_depth  : (...) [mm] mid-ASIS to mid-PSIS between marker centres
    marker_radius : (...) [mm] radius of the markers
    asis_depth    : (...) [mm] skin over the ASIS
    psis_depth    : (...) [mm] skin over the PSIS
    returns       : (...) [mm] depth less both skins and two radii
    undefined     : skins and markers as thick as the pelvis is deep: NaN
    missing       : a NaN makes the depth NaN
    source        : mean skin depths of Mantovani et al. 2016 (from a review); the subtraction is ours
    """
    markers, skin = 2.0 * np.asarray(marker_radius), np.asarray(asis_depth) + np.asarray(psis_depth)
    depth = np.asarray(pelvis_depth, dtype=np.float64) - markers - skin
    return np.where(depth > 0.0, depth, np.nan)


def knee_centre_mid(lateral_epicondyle: FloatArray, medial_epicondyle: FloatArray) -> FloatArray:
    """Knee centre midway between the epicondyles.

    lateral_epicondyle : (..., 3) [mm] lateral epicondyle
    medial_epicondyle  : (..., 3) [mm] medial epicondyle
    returns            : (..., 3) [mm] knee centre
    undefined          : nowhere
    missing            : a NaN in either makes the centre NaN
    source             : ISB, Wu et al. 2002, J Biomech 35:543
    """
    return 0.5 * (lateral_epicondyle + medial_epicondyle)


def ankle_centre_mid(lateral_malleolus: FloatArray, medial_malleolus: FloatArray) -> FloatArray:
    """Ankle centre midway between the malleoli.

    lateral_malleolus : (..., 3) [mm] tip of the lateral malleolus
    medial_malleolus  : (..., 3) [mm] tip of the medial malleolus
    returns           : (..., 3) [mm] ankle centre
    undefined         : nowhere
    missing           : a NaN in either makes the centre NaN
    source            : ISB, Wu et al. 2002, J Biomech 35:543
    """
    return 0.5 * (lateral_malleolus + medial_malleolus)


def centre_from_width(
    lateral: FloatArray, proximal_centre: FloatArray, plane_point: FloatArray, half_width: ArrayLike
) -> FloatArray:
    """Knee or ankle centre from a width, where a marker on the *side* of thigh or shank gives the frontal plane.

    The centre lies in the plane of the joint centre above, the lateral marker and the side marker, half a width from
    the lateral marker, with a right angle at the centre; on the far side of the line above - lateral, seen from the
    side marker. For a marker on the *front* (patella, tibial tuberosity) use centre_from_width_front: taken as a side
    marker, a patella pulls the knee centre tens of mm forward.

    lateral         : (..., 3) [mm] lateral epicondyle or malleolus
    proximal_centre : (..., 3) [mm] joint centre above
    plane_point     : (..., 3) [mm] marker on the lateral side of the segment
    half_width      : (...) [mm] half the measured width plus a marker radius
    returns         : (..., 3) [mm] joint centre
    undefined       : the three points in one line, or the joint centre above nearer than half a width: NaN
    missing         : a NaN in any point or in the width makes the centre NaN
    source          : geometry; common practice in sparse lower-body marker sets, no source
    """
    half = np.asarray(half_width, dtype=np.float64)[..., None]
    up = proximal_centre - lateral
    outward = plane_point - lateral
    length2 = dot(up, up)[..., None]
    square = (
        outward - dot(outward, up)[..., None] / length2 * up
    )  # in the plane, square to the line, away from the bone
    size = np.sqrt(dot(square, square))[..., None]
    known = (length2 > half**2) & (size > 1e-6 * np.sqrt(length2))
    along = half**2 / np.where(
        known, length2, np.nan
    )  # Thales: cos of the angle at the lateral marker is half / length
    across = half * np.sqrt(1.0 - along)
    return lateral + along * up - across * square / np.where(known, size, np.nan)


def centre_from_width_front(
    lateral: FloatArray, proximal_centre: FloatArray, front_point: FloatArray, half_width: ArrayLike, side: Side
) -> FloatArray:
    """Knee or ankle centre from a width, where a marker on the *front* of the leg gives the sagittal plane.

    The line from the lateral marker to the centre is square to the plane of the joint centre above, the joint centre
    and the front marker (patella, supra-patellar, tibial tuberosity).

    lateral         : (..., 3) [mm] lateral epicondyle or malleolus
    proximal_centre : (..., 3) [mm] joint centre above
    front_point     : (..., 3) [mm] marker on the front of the segment
    half_width      : (...) [mm] half the measured width plus a marker radius
    side            : () [word] left or right
    returns         : (..., 3) [mm] joint centre
    undefined       : the three points in one line, or too near for the width: NaN
    missing         : a NaN in any point or in the width makes the centre NaN
    source          : geometry; ours
    """
    half = np.asarray(half_width, dtype=np.float64)[..., None]
    up, front = proximal_centre - lateral, front_point - lateral
    uu, uf, ff = dot(up, up)[..., None], dot(up, front)[..., None], dot(front, front)[..., None]
    area2 = uu * ff - uf**2
    known = area2 > 1e-12 * uu * ff
    area2 = np.where(known, area2, np.nan)
    # the inward unit vector e has e . up = e . front = half; what is left of its length lies along up x front
    flat = half * ((ff - uf) * up + (uu - uf) * front) / area2
    rest = 1.0 - dot(flat, flat)[..., None]
    normal = np.cross(up, front) / np.sqrt(area2)
    inward = flat + _sign(side) * np.sqrt(np.where(rest >= 0.0, rest, np.nan)) * normal
    return lateral + half * inward


def _sign(side: Side) -> float:
    if side not in _SIDE_SIGN:
        raise ValueError(f"side is {side!r}; it must be 'left' or 'right'")
    return _SIDE_SIGN[side]


def _point(anterior: FloatArray, superior: FloatArray, right: FloatArray) -> FloatArray:
    return np.stack(np.broadcast_arrays(anterior, superior, right), axis=-1)
