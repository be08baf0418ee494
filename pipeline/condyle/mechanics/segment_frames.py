"""Where do the axes of a segment lie, given its landmarks?

Every function returns ``(rotation, origin)`` in the frame of the landmarks, whichever that is: ``rotation`` has the
segment's axes as columns (anterior, superior, right), ``origin`` is a landmark or joint centre. Two directions define a
frame: one is kept, the other only made square to it.
"""

from typing import Literal

import numpy as np

from condyle.mechanics.arrays import FloatArray, dot, unit
from condyle.mechanics.joint_angles import Side

Frame = tuple[FloatArray, FloatArray]
ShankKind = Literal["malleoli", "epicondyles", "isb"]

_PARALLEL = 1e-6  # sine of the angle between two directions below which they define no plane


def pelvis_frame(asis_r: FloatArray, asis_l: FloatArray, mid_psis: FloatArray) -> Frame:
    """Pelvis axes: right along the ASIS line, anterior in the plane of both ASIS and the mid-PSIS.

    asis_r    : (..., 3) [mm] right anterior superior iliac spine
    asis_l    : (..., 3) [mm] left anterior superior iliac spine
    mid_psis  : (..., 3) [mm] middle of the posterior superior iliac spines, or the sacrum
    returns   : (..., 3, 3) [1] and (..., 3) [mm] axes as columns; origin mid-ASIS
    undefined : the three in one line: NaN
    missing   : a NaN in any of the three makes the axes NaN
    source    : ISB, Wu et al. 2002, J Biomech 35:543; the origin mid-ASIS is ours
    """
    origin = 0.5 * (asis_r + asis_l)
    right = unit(asis_r - asis_l)
    anterior = _square_to(origin - mid_psis, right)
    return _columns(anterior, np.cross(right, anterior), right), origin


def thigh_frame(
    hip: FloatArray,
    knee: FloatArray,
    lateral_epicondyle: FloatArray,
    medial_epicondyle: FloatArray | None,
    side: Side,
) -> Frame:
    """Thigh axes: superior from knee to hip centre, right in the plane of that line and the epicondyles.

    hip                : (..., 3) [mm] hip centre
    knee               : (..., 3) [mm] knee centre
    lateral_epicondyle : (..., 3) [mm] lateral epicondyle
    medial_epicondyle  : (..., 3) [mm] medial epicondyle; None takes the knee centre for it
    side               : () [word] left or right
    returns            : (..., 3, 3) [1] and (..., 3) [mm] axes as columns; origin the hip centre
    undefined          : the epicondyles in line with the long axis: NaN
    missing            : a NaN in any point makes the axes NaN
    source             : ISB, Wu et al. 2002, J Biomech 35:543
    """
    inner = knee if medial_epicondyle is None else medial_epicondyle
    return _along(hip - knee, _to_the_right(lateral_epicondyle - inner, side)), hip


def shank_frame(
    ankle: FloatArray,
    knee: FloatArray,
    lateral: FloatArray,
    medial: FloatArray | None,
    side: Side,
    kind: ShankKind = "malleoli",
) -> Frame:
    """Shank axes: superior from ankle to knee centre, right in the plane of that line and the malleoli or epicondyles.

    ankle     : (..., 3) [mm] ankle centre
    knee      : (..., 3) [mm] knee centre
    lateral   : (..., 3) [mm] lateral malleolus; with kind epicondyles the lateral epicondyle
    medial    : (..., 3) [mm] its medial partner; None takes the ankle centre, which lies in the same plane
    side      : () [word] left or right
    kind      : () [word] malleoli, epicondyles (no tibial torsion), or isb: right is the malleolar line itself
    returns   : (..., 3, 3) [1] and (..., 3) [mm] axes as columns; origin the ankle centre
    undefined : the lateral - medial line along the long axis: NaN
    missing   : a NaN in any point makes the axes NaN
    source    : isb: Wu et al. 2002, J Biomech 35:543; the long axis kept (the other two kinds): ours
    """
    if kind not in ("malleoli", "epicondyles", "isb"):
        raise ValueError(f"kind is {kind!r}; it must be 'malleoli', 'epicondyles' or 'isb'")
    across = _to_the_right(lateral - (ankle if medial is None else medial), side)
    if kind != "isb":
        return _along(knee - ankle, across), ankle
    right = unit(across)
    superior = _square_to(knee - ankle, right)
    return _columns(np.cross(superior, right), superior, right), ankle


def foot_frame(heel: FloatArray, metatarsal_inner: FloatArray, metatarsal_5: FloatArray, side: Side) -> Frame:
    """Foot axes: anterior from the heel to between the metatarsals, right in the plane of the three points.

    heel             : (..., 3) [mm] back of the calcaneus
    metatarsal_inner : (..., 3) [mm] head of the first or second metatarsal
    metatarsal_5     : (..., 3) [mm] head of the fifth metatarsal
    side             : () [word] left or right
    returns          : (..., 3, 3) [1] and (..., 3) [mm] axes as columns; origin the heel
    undefined        : the three in one line: NaN
    missing          : a NaN in any point makes the axes NaN
    source           : ours
    """
    anterior = unit(0.5 * (metatarsal_inner + metatarsal_5) - heel)
    right = _square_to(_to_the_right(metatarsal_5 - metatarsal_inner, side), anterior)
    return _columns(anterior, np.cross(right, anterior), right), heel


def trunk_frame_isb(c7: FloatArray, t10: FloatArray, jugular_notch: FloatArray, xiphoid: FloatArray) -> Frame:
    """Trunk axes: superior from mid xiphoid - T10 to mid notch - C7, anterior in the plane of the four points.

    c7            : (..., 3) [mm] spinous process of C7
    t10           : (..., 3) [mm] spinous process of T10 (the ISB takes T8)
    jugular_notch : (..., 3) [mm] deepest point of the jugular notch
    xiphoid       : (..., 3) [mm] xiphoid process
    returns       : (..., 3, 3) [1] and (..., 3) [mm] axes as columns; origin the jugular notch
    undefined     : notch and C7 in line with the long axis: NaN
    missing       : a NaN in any point makes the axes NaN
    source        : ISB thorax, Wu et al. 2005, J Biomech 38:981
    """
    superior = unit(0.5 * (jugular_notch + c7) - 0.5 * (xiphoid + t10))
    anterior = _square_to(jugular_notch - c7, superior)
    return _columns(anterior, superior, np.cross(anterior, superior)), jugular_notch


def trunk_frame_acromia_c7(acromion_r: FloatArray, acromion_l: FloatArray, c7: FloatArray) -> Frame:
    """Trunk axes from the shoulders: right along the acromia, anterior in the plane of acromia and C7.

    C7 lies behind and above the acromia, so anterior points down by some constant angle: use the change from standing.

    acromion_r : (..., 3) [mm] right acromion
    acromion_l : (..., 3) [mm] left acromion
    c7         : (..., 3) [mm] spinous process of C7
    returns    : (..., 3, 3) [1] and (..., 3) [mm] axes as columns; origin mid-acromia
    undefined  : the three in one line: NaN
    missing    : a NaN in any point makes the axes NaN
    source     : ours; the shoulder girdle moves against the thorax
    """
    return pelvis_frame(acromion_r, acromion_l, c7)


def trunk_frame_acromia_pelvis(acromion_r: FloatArray, acromion_l: FloatArray, pelvis_point: FloatArray) -> Frame:
    """Trunk axes from two acromia over the pelvis: superior from pelvis to mid-acromia, right near the acromia.

    acromion_r   : (..., 3) [mm] right acromion
    acromion_l   : (..., 3) [mm] left acromion
    pelvis_point : (..., 3) [mm] a middle point of the pelvis, such as mid hip centres
    returns      : (..., 3, 3) [1] and (..., 3) [mm] axes as columns; origin mid-acromia
    undefined    : the three in one line: NaN
    missing      : a NaN in any point makes the axes NaN
    source       : ours; the shoulder girdle moves against the thorax
    """
    origin = 0.5 * (acromion_r + acromion_l)
    return _along(origin - pelvis_point, acromion_r - acromion_l), origin


def _along(upward: FloatArray, rightward: FloatArray) -> FloatArray:
    """Axes that keep the upward direction and turn the rightward one square to it."""
    superior = unit(upward)
    right = _square_to(rightward, superior)
    return _columns(np.cross(superior, right), superior, right)


def _to_the_right(outward: FloatArray, side: Side) -> FloatArray:
    """A direction from medial to lateral, seen as one to the right."""
    if side not in ("left", "right"):
        raise ValueError(f"side is {side!r}; it must be 'left' or 'right'")
    return outward if side == "right" else -outward


def _square_to(direction: FloatArray, axis: FloatArray) -> FloatArray:
    """The part of a direction square to a unit axis, at length 1; NaN where the two are as good as parallel."""
    square = direction - dot(direction, axis)[..., None] * axis
    parallel = dot(square, square) < _PARALLEL**2 * dot(direction, direction)
    return unit(np.where(parallel[..., None], np.nan, square))


def _columns(anterior: FloatArray, superior: FloatArray, right: FloatArray) -> FloatArray:
    rotation = np.stack(np.broadcast_arrays(anterior, superior, right), axis=-1)
    missing = np.isnan(rotation).any(axis=(-2, -1))
    return np.where(missing[..., None, None], np.nan, rotation)
