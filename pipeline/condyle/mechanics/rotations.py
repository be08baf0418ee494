"""How are rotations written down, and what is their mean?

A rotation is named ``parent_from_child``; its columns are the axes of the child, and neighbours cancel in a
product.
"""

import numpy as np
from numpy.typing import ArrayLike

from condyle.mechanics.arrays import FloatArray, unit

_AMBIGUOUS = 1e-9  # below this share of the largest singular value the nearest rotation is not one but many


def rotation_x(angle: ArrayLike) -> FloatArray:
    """Rotation about the first axis; turns y towards z.

    angle     : (...) [rad] angle
    returns   : (..., 3, 3) [1] rotation
    undefined : nowhere
    missing   : a NaN makes the whole matrix NaN
    source    : definition, right-hand rule
    """
    return _elementary(angle, 0)


def rotation_y(angle: ArrayLike) -> FloatArray:
    """Rotation about the second axis; turns z towards x.

    angle     : (...) [rad] angle
    returns   : (..., 3, 3) [1] rotation
    undefined : nowhere
    missing   : a NaN makes the whole matrix NaN
    source    : definition, right-hand rule
    """
    return _elementary(angle, 1)


def rotation_z(angle: ArrayLike) -> FloatArray:
    """Rotation about the third axis; turns x towards y.

    angle     : (...) [rad] angle
    returns   : (..., 3, 3) [1] rotation
    undefined : nowhere
    missing   : a NaN makes the whole matrix NaN
    source    : definition, right-hand rule
    """
    return _elementary(angle, 2)


def rotation_about(axis: FloatArray, angle: ArrayLike) -> FloatArray:
    """Rotation by an angle about any axis, right-handed.

    axis      : (..., 3) [any] direction of the axis, of any length
    angle     : (...) [rad] angle
    returns   : (..., 3, 3) [1] rotation
    undefined : an axis of length 0 has no direction: NaN
    missing   : a NaN in axis or angle makes the whole matrix NaN
    source    : Rodrigues' formula, R = cos I + sin [u] + (1 - cos) u u^T
    """
    u = unit(np.asarray(axis, dtype=np.float64))
    sin, cos = _sin_cos(angle)
    x, y, z = u[..., 0], u[..., 1], u[..., 2]
    outer = (1.0 - cos)[..., None, None] * u[..., :, None] * u[..., None, :]
    return outer + _matrix(
        (cos, -sin * z, sin * y),
        (sin * z, cos, -sin * x),
        (-sin * y, sin * x, cos),
    )


def zxy_matrix(a: ArrayLike, b: ArrayLike, c: ArrayLike) -> FloatArray:
    """Rz(a) Rx(b) Ry(c): the inverse of :func:`condyle.mechanics.joint_angles.cardan_zxy`.

    a         : (...) [rad] first angle, about z
    b         : (...) [rad] second angle, about the turned x
    c         : (...) [rad] third angle, about the twice turned y
    returns   : (..., 3, 3) [1] rotation
    undefined : nowhere
    missing   : a NaN in any angle makes the whole matrix NaN
    source    : product of the three elementary rotations, multiplied out
    """
    (sa, ca), (sb, cb), (sc, cc) = _sin_cos(a), _sin_cos(b), _sin_cos(c)
    return _matrix(
        (ca * cc - sa * sb * sc, -sa * cb, ca * sc + sa * sb * cc),
        (sa * cc + ca * sb * sc, ca * cb, sa * sc - ca * sb * cc),
        (-cb * sc, sb, cb * cc),
    )


def yxz_matrix(a: ArrayLike, b: ArrayLike, c: ArrayLike) -> FloatArray:
    """Ry(a) Rx(b) Rz(c): the inverse of :func:`condyle.mechanics.joint_angles.cardan_yxz`.

    a         : (...) [rad] first angle, about y
    b         : (...) [rad] second angle, about the turned x
    c         : (...) [rad] third angle, about the twice turned z
    returns   : (..., 3, 3) [1] rotation
    undefined : nowhere
    missing   : a NaN in any angle makes the whole matrix NaN
    source    : product of the three elementary rotations, multiplied out
    """
    (sa, ca), (sb, cb), (sc, cc) = _sin_cos(a), _sin_cos(b), _sin_cos(c)
    return _matrix(
        (ca * cc + sa * sb * sc, sa * sb * cc - ca * sc, sa * cb),
        (cb * sc, cb * cc, -sb),
        (ca * sb * sc - sa * cc, sa * sc + ca * sb * cc, ca * cb),
    )


def nearest_rotation(matrix: FloatArray) -> FloatArray:
    """The rotation closest to a matrix, in the sum of squared differences; never a reflection.

    matrix    : (..., 3, 3) [any] any matrix
    returns   : (..., 3, 3) [1] rotation
    undefined : where two or more rotations are equally near (all of a line's worth or less is known): NaN
    missing   : a NaN makes the whole matrix NaN
    source    : P diag(1, 1, det(P Q^T)) Q^T by singular values, Soderkvist & Wedin 1993, J Biomech 26:1473
    """
    matrix = np.asarray(matrix, dtype=np.float64)
    finite = np.isfinite(matrix).all(axis=(-2, -1), keepdims=True)
    p, s, qt = np.linalg.svd(np.where(finite, matrix, np.eye(3)))
    sign = np.where(np.linalg.det(p @ qt) < 0.0, -1.0, 1.0)
    p = p.copy()
    p[..., 2] *= sign[..., None]
    # the second and third singular values decide together: with a reflection to undo they must also differ
    known = s[..., 1] + sign * s[..., 2] > _AMBIGUOUS * s[..., 0]
    rotation: FloatArray = np.where(finite & known[..., None, None], p @ qt, np.nan)
    return rotation


def mean_rotation(rotation: FloatArray, axis: int = 0) -> FloatArray:
    """The rotation nearest to all of them, in the sum of squared differences of the matrices.

    rotation  : (..., 3, 3) [1] rotations
    axis      : () [1] which leading dimension to average over; negative ones count back from the last leading one
    returns   : (..., 3, 3) [1] mean rotation, without that dimension
    undefined : rotations so scattered that no mean stands out, or none at all: NaN
    missing   : a rotation with a NaN is left out
    source    : projected arithmetic mean, Moakher 2002, SIAM J Matrix Anal Appl 24:1 (from memory)
    """
    rotation = np.asarray(rotation, dtype=np.float64)
    along = axis if axis >= 0 else axis - 2
    seen = np.isfinite(rotation).all(axis=(-2, -1), keepdims=True)
    total = np.where(seen, rotation, 0.0).sum(axis=along)  # the nearest rotation does not depend on the size
    return nearest_rotation(np.where(np.any(seen, axis=along), total, np.nan))


def _elementary(angle: ArrayLike, axis: int) -> FloatArray:
    sin, cos = _sin_cos(angle)
    one, zero = np.ones(()), np.zeros(())
    if axis == 0:
        return _matrix((one, zero, zero), (zero, cos, -sin), (zero, sin, cos))
    if axis == 1:
        return _matrix((cos, zero, sin), (zero, one, zero), (-sin, zero, cos))
    return _matrix((cos, -sin, zero), (sin, cos, zero), (zero, zero, one))


def _sin_cos(angle: ArrayLike) -> tuple[FloatArray, FloatArray]:
    angle = np.asarray(angle, dtype=np.float64)
    return np.asarray(np.sin(angle)), np.asarray(np.cos(angle))


def _matrix(*rows: tuple[FloatArray, FloatArray, FloatArray]) -> FloatArray:
    """Three rows of broadcasting entries; one NaN makes the whole matrix NaN."""
    shape = np.broadcast_shapes(*(np.shape(entry) for row in rows for entry in row))
    matrix = np.empty((*shape, 3, 3))
    for i, row in enumerate(rows):
        for j, entry in enumerate(row):
            matrix[..., i, j] = entry
    if np.isnan(matrix).any():
        matrix[np.isnan(matrix).any(axis=(-2, -1))] = np.nan
    return matrix
