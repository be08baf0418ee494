"""Which part moved the knee, seen from above: pelvis in the participant frame, thigh on pelvis, shank on thigh.

The sagittal angles (pelvis tilt, hip and knee flexion) follow the measured course: that is the squat. The six others
are factors; each gets its Shapley value. Clinical angles are positive alike on both sides, so the right leg's formulas
serve both; a vector of the left leg is mirrored first.
"""

from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.shapley import shapley_values

FACTORS = (
    *("pelvis_rotation", "pelvis_obliquity"),
    *("hip_adduction", "hip_internal_rotation", "knee_adduction", "knee_internal_rotation"),
)
SAGITTAL = ("pelvis_tilt", "hip_flexion", "knee_flexion")
MODEL_ANGLES = (*FACTORS, *SAGITTAL)
MODEL_MEASURES = ("fppa", "knee_relative_to_hip", "thigh_axial_rotation")

_Vector = tuple[FloatArray, FloatArray, FloatArray]


class Account(NamedTuple):
    """What the factors did: ``base`` + ``parts`` summed over factors = ``modelled``.

    ``modelled`` and ``base`` (measure, ...), ``parts`` (measure, factor, ...); radians and the unit of the vectors.
    """

    modelled: FloatArray
    base: FloatArray
    parts: FloatArray


class Division(NamedTuple):
    """A change and what it is made of: ``change`` = ``sagittal`` + ``parts`` summed over factors + ``remainder``.

    ``change``, ``sagittal``, ``remainder`` (measure, ...), ``parts`` (measure, factor, ...).
    """

    change: FloatArray
    sagittal: FloatArray
    parts: FloatArray
    remainder: FloatArray


def divided_change(
    angles: FloatArray,
    baseline: FloatArray,
    modelled_then: FloatArray,
    measured: FloatArray,
    measured_then: FloatArray,
    thigh_vector: FloatArray,
    shank_vector: FloatArray,
) -> Division:
    """The measured change since the baseline's moment, divided; what the angles do not explain is the remainder.

    angles        : (9, ...) [rad] MODEL_ANGLES now
    baseline      : (6, ...) [rad] FACTORS at the baseline
    modelled_then : (3, ...) [rad, mm, rad] MODEL_MEASURES of the model at the baseline's moment
    measured      : (3, ...) [rad, mm, rad] MODEL_MEASURES now, from joint centres and poses
    measured_then : (3, ...) [rad, mm, rad] the same at the baseline's moment
    thigh_vector  : (3, ...) [mm] hip centre to knee centre in the thigh's frame, of a right leg
    shank_vector  : (3, ...) [mm] knee centre to ankle centre in the shank's frame, likewise
    returns       : Division [rad, mm, rad] sums to the measured change
    undefined     : as in account_from_above
    missing       : NaN
    source        : Shapley 1953; remainder (soft tissue, joint translation): ours
    """
    account = account_from_above(angles, baseline, thigh_vector, shank_vector)
    change = measured - measured_then
    return Division(change, account.base - modelled_then, account.parts, change - (account.modelled - modelled_then))


def modelled_measures(angles: FloatArray, thigh_vector: FloatArray, shank_vector: FloatArray) -> FloatArray:
    """FPPA, knee medial of the hip centre and thigh axial rotation of one posture.

    angles       : (9, ...) [rad] MODEL_ANGLES
    thigh_vector : (3, ...) [mm] hip centre to knee centre in the thigh's frame, of a right leg
    shank_vector : (3, ...) [mm] knee centre to ankle centre in the shank's frame, likewise
    returns      : (3, ...) [rad, mm, rad] MODEL_MEASURES
    undefined    : a thigh or shank whose projection has no length: tilt 0
    missing      : NaN
    source       : the same model as account_from_above
    """
    sine, cosine = np.sin(angles), np.cos(angles)
    at = {name: (sine[i], cosine[i]) for i, name in enumerate(MODEL_ANGLES)}

    def against(name: str) -> tuple[FloatArray, FloatArray]:
        return -at[name][0], at[name][1]

    def seen(v: _Vector) -> _Vector:
        v = _turn_x(_turn_y(v, *at["hip_internal_rotation"]), *at["hip_adduction"])
        v = _turn_z(_turn_z(v, *at["hip_flexion"]), *against("pelvis_tilt"))
        return _turn_y(_turn_x(v, *against("pelvis_obliquity")), *at["pelvis_rotation"])

    knee = _turn_x(_turn_y(_components(shank_vector), *at["knee_internal_rotation"]), *at["knee_adduction"])
    thigh, shank = seen(_components(thigh_vector)), seen(_turn_z(knee, *against("knee_flexion")))
    across = seen(_components(np.array([0.0, 0.0, 1.0])))
    fppa = np.arctan2(-thigh[2], -thigh[1]) - np.arctan2(-shank[2], -shank[1])
    out = np.empty((3, *np.broadcast_shapes(fppa.shape, thigh[2].shape)))
    out[0], out[1], out[2] = fppa, -thigh[2], np.arctan2(across[0], across[2])
    return out


def account_from_above(
    angles: FloatArray, baseline: FloatArray, thigh_vector: FloatArray, shank_vector: FloatArray
) -> Account:
    """FPPA, knee medial of the hip centre and thigh axial rotation, divided among the six factors.

    angles       : (9, ...) [rad] MODEL_ANGLES as measured
    baseline     : (6, ...) [rad] FACTORS at the baseline; broadcasts against the measured ones
    thigh_vector : (3, ...) [mm] hip centre to knee centre in the thigh's frame, of a right leg (a left one's z negated)
    shank_vector : (3, ...) [mm] knee centre to ankle centre in the shank's frame, likewise
    returns      : Account [rad, mm, rad] MODEL_MEASURES, each with its sagittal base and its parts
    undefined    : a thigh or shank whose projection has no length: tilt 0
    missing      : a NaN makes everything of that element NaN, for each measure that rests on it (the knee's angles do not
                   move the thigh: they are nothing in the other two, unless these are not known)
    source       : Shapley 1953; the choice of factors and of the sagittal base is ours
    """
    lead = np.broadcast_shapes(angles.shape[1:], baseline.shape[1:], thigh_vector.shape[1:], shank_vector.shape[1:])
    both = np.empty((2, 6, *lead))
    both[0], both[1] = baseline, angles[:6]
    sine, cosine = np.sin(both), np.cos(both)
    (sin_tilt, sin_hip, sin_knee), (cos_tilt, cos_hip, cos_knee) = np.sin(angles[6:]), np.cos(angles[6:])

    def factor(i: int, axis: int) -> tuple[FloatArray, FloatArray]:
        """Sine and cosine of factor i, its two states along that one of the variants' axes."""
        shape = [1] * 6
        shape[axis] = 2
        return sine[:, i].reshape(*shape, *lead), cosine[:, i].reshape(*shape, *lead)

    def pelvis_frame_vector(v: _Vector) -> _Vector:
        """A vector of the thigh's frame in the pelvis: variants of hip adduction and internal rotation."""
        v = _turn_x(_turn_y(v, *factor(3, 3)), *factor(2, 2))
        return _turn_z(v, sin_hip, cos_hip)

    def levelled(v: _Vector) -> _Vector:
        """A vector of the pelvis' frame in one that differs from the participant's by pelvis rotation alone."""
        # tilt and obliquity carry a negative sign on the right, rotation a positive one
        s, c = factor(1, 1)
        return _turn_x(_turn_z(v, -sin_tilt, cos_tilt), -s, c)

    sin_turn, cos_turn = factor(0, 0)
    thigh = levelled(pelvis_frame_vector(_vector(thigh_vector, len(lead))))
    across = levelled(pelvis_frame_vector(_vector(np.array([0.0, 0.0, 1.0]), len(lead))))
    shank_in_thigh = _turn_x(_turn_y(_vector(shank_vector, len(lead)), *factor(5, 5)), *factor(4, 4))
    shank = levelled(pelvis_frame_vector(_turn_z(shank_in_thigh, -sin_knee, cos_knee)))

    # right leg: medial is -z, down is -y; rotation turns z towards x
    thigh_medial = sin_turn * thigh[0] - cos_turn * thigh[2]
    shank_medial = sin_turn * shank[0] - cos_turn * shank[2]
    fppa = np.arctan2(thigh_medial, -thigh[1]) - np.arctan2(shank_medial, -shank[1])
    axial = np.arctan2(cos_turn * across[0] + sin_turn * across[2], cos_turn * across[2] - sin_turn * across[0])
    measures = (fppa, thigh_medial, axial)
    modelled, base, parts = np.empty((3, *lead)), np.empty((3, *lead)), np.zeros((3, 6, *lead))
    for k, value in enumerate(measures):
        n = 6 if k == 0 else 4  # the knee's angles do not move the thigh
        states = (2,) * n
        table = np.broadcast_to(
            value if n == 6 else value.reshape(*value.shape[:4], *value.shape[6:]), (*states, *lead)
        )
        modelled[k], base[k] = table[(1,) * n], table[(0,) * n]
        parts[k, :n] = shapley_values(np.ascontiguousarray(table), n)
        parts[k, n:] = np.where(np.isnan(modelled[k]), np.nan, 0.0)
    return Account(modelled, base, parts)


def _vector(v: FloatArray, lead: int) -> _Vector:
    """Components with room for the six axes of variants before the leading dimensions."""
    v = v.reshape(3, *([1] * (7 + lead - v.ndim)), *v.shape[1:]) if v.ndim < 7 + lead else v
    return v[0], v[1], v[2]


def _components(v: FloatArray) -> _Vector:
    return v[0], v[1], v[2]


def _turn_x(v: _Vector, sine: FloatArray, cosine: FloatArray) -> _Vector:
    return v[0], cosine * v[1] - sine * v[2], sine * v[1] + cosine * v[2]


def _turn_y(v: _Vector, sine: FloatArray, cosine: FloatArray) -> _Vector:
    return cosine * v[0] + sine * v[2], v[1], cosine * v[2] - sine * v[0]


def _turn_z(v: _Vector, sine: FloatArray, cosine: FloatArray) -> _Vector:
    return cosine * v[0] - sine * v[1], sine * v[0] + cosine * v[1], v[2]
