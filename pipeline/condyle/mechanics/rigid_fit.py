"""Where is a rigid set of points, and how well does it still fit?"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.rotations import nearest_rotation

COLLINEAR_MM: Final = 5.0  # ours: 1 mm of noise on four points this narrow already turns a segment by 6 degrees

_ITERATIONS = 12  # Newton doubles the digits: 5 to 7 are usual, the rest is for narrow clusters
_CLOSE = 1e-9  # a step this small leaves an error of its square
_ROUNDING = 1e-11
_SINGULAR = 1e-12
_TABLED = 12  # points of which every pattern of seen and missing has a place in a table
_POWERS = 2.0 ** np.arange(_TABLED)


class RigidFit(NamedTuple):
    """Pose of a rigid set of points: ``measured = rotation @ model + translation``, and what is left over."""

    rotation: FloatArray  # (..., 3, 3) [1] parent_from_model
    translation: FloatArray  # (..., 3) [mm] position of the model's origin in the parent
    rms: FloatArray  # (...) [mm] sqrt(sum |r|^2 / N) over the points used
    n_points: IntArray  # (...) [1] points used


def rigid_fit(
    model: FloatArray, measured: FloatArray, weights: ArrayLike | None = None, collinear_mm: float = COLLINEAR_MM
) -> RigidFit:
    """Least-squares pose of a rigid set of points, from whichever of them are seen.

    model        : (..., P, 3) [mm] the points in their own frame
    measured     : (..., P, 3) [mm] the same points as seen in the parent frame
    weights      : (..., P) [1] weight of each point, >= 0; None weighs all alike
    collinear_mm : () [mm] second spread of the seen points below which they count as one line
    returns      : (..., 3, 3) [1] parent_from_model, (..., 3) [mm] translation, (...) [mm] rms, (...) [1] points used
    undefined    : fewer than 3 seen points, or seen points in one line: NaN; a plane is enough
    missing      : a point with a NaN in model or measured is not used in that frame
    source       : Soderkvist & Wedin 1993, J Biomech 26:1473; Arun et al. 1987; rms over N points
    """
    model, measured = np.asarray(model, dtype=np.float64), np.asarray(measured, dtype=np.float64)
    seen = _seen(measured) & _seen(model)
    weight = seen.astype(np.float64)
    if weights is not None:
        weight = weight * np.asarray(weights, dtype=np.float64)
        seen = weight > 0.0
    share = (weight / np.maximum(weight.sum(axis=-1, keepdims=True), np.finfo(float).tiny))[..., None, :]
    points = np.ascontiguousarray(np.swapaxes(_zeroed(measured), -1, -2))  # (..., 3, P): one large product, not many
    model = _zeroed(model)
    centre = (points * share).sum(axis=-1)
    middle = _product(share, model)[..., 0, :]
    around = points - centre[..., None]
    n_points = seen.sum(axis=-1)
    usable = (n_points >= 3) & ~_in_one_line(model, seen, collinear_mm)
    rotation = _best_rotation(_product(around * share, model), usable)
    turned_middle = np.einsum("...ij,...j->...i", rotation, middle)
    left_over = around + turned_middle[..., None] - _product(rotation, np.swapaxes(model, -1, -2))
    rms = np.sqrt(np.einsum("...ip,...ip,...p->...", left_over, left_over, seen) / np.maximum(n_points, 1))
    return RigidFit(rotation, centre - turned_middle, rms, np.broadcast_to(n_points, rms.shape))


def second_spread(points: FloatArray) -> FloatArray:
    """How far a set of points reaches away from its best line: rms over the points along its second principal axis.

    points    : (..., P, 3) [mm] points
    returns   : (...) [mm] second singular value of the centred points over the square root of their number
    undefined : no point at all: NaN
    missing   : a point with a NaN is left out
    source    : principal axes; the scaling by the number of points is ours
    """
    points = np.asarray(points, dtype=np.float64)
    return _second_spread(_zeroed(points), _seen(points))


def is_collinear(points: FloatArray, limit_mm: float = COLLINEAR_MM) -> BoolArray:
    """Whether points lie so nearly in one line that the turn about it cannot be known.

    points    : (..., P, 3) [mm] points
    limit_mm  : () [mm] second spread below which they count as one line
    returns   : (...) [1] True for a line or a point
    undefined : no point at all: True
    missing   : a point with a NaN is left out
    source    : Soderkvist & Wedin 1993, J Biomech 26:1473 (second singular value); the limit is ours
    """
    return ~(second_spread(points) >= limit_mm)


def _zeroed(points: FloatArray) -> FloatArray:
    finite = np.isfinite(points)
    return points if finite.all() else np.where(finite, points, 0.0)


def _seen(points: FloatArray) -> BoolArray:
    finite = np.isfinite(points)
    seen: BoolArray = np.asarray(finite[..., 0] & finite[..., 1] & finite[..., 2])
    return seen


def _product(stack: FloatArray, matrix: FloatArray) -> FloatArray:
    """The product stack @ matrix; with one matrix for the whole stack as one large product: many times faster."""
    if matrix.ndim > 2:
        product: FloatArray = stack @ matrix
        return product
    flat: FloatArray = stack.reshape(-1, stack.shape[-1]) @ matrix
    return flat.reshape(*stack.shape[:-1], matrix.shape[-1])


def _second_spread(points: FloatArray, seen: BoolArray) -> FloatArray:
    """From the covariance: its middle eigenvalue is the square of the spread."""
    n = seen.sum(axis=-1)
    share = (seen / np.maximum(n, 1)[..., None])[..., None]
    centred = points - (points * share).sum(axis=-2, keepdims=True)
    covariance = np.swapaxes(centred * share, -1, -2) @ centred
    middle = np.linalg.eigvalsh(covariance)[..., 1]
    return np.where(n > 0, np.sqrt(np.maximum(middle, 0.0)), np.nan)


def _in_one_line(model: FloatArray, seen: BoolArray, limit_mm: float) -> BoolArray:
    """Judged once per model and pattern of seen points, for a trial shows few patterns in many frames."""
    if seen.all():
        return ~(_second_spread(model, np.ones(model.shape[:-1], dtype=bool)) >= limit_mm)
    patterns, which = _patterns(seen)
    narrow = ~(_second_spread(model[..., None, :, :], patterns) >= limit_mm)  # (..., pattern)
    lead = np.broadcast_shapes(narrow.shape[:-1], which.shape)
    chosen: BoolArray = np.take_along_axis(
        np.broadcast_to(narrow, (*lead, len(patterns))), np.broadcast_to(which, lead)[..., None], axis=-1
    )[..., 0]
    return chosen


def _patterns(seen: BoolArray) -> tuple[BoolArray, IntArray]:
    """The different rows of points seen, and which of them each frame shows."""
    n = seen.shape[-1]
    if n > _TABLED:
        rows, which = np.unique(seen.reshape(-1, n), axis=0, return_inverse=True)
        return rows, which.reshape(seen.shape[:-1])
    code = (seen @ _POWERS[:n]).astype(np.int64)  # a product of floats is quick, one of integers is not
    place = np.zeros(2**n, dtype=np.int64)  # of every possible pattern: no sorting
    place[code] = 1
    shown = np.flatnonzero(place)
    place[shown] = np.arange(len(shown))
    patterns: BoolArray = (shown[:, None] >> np.arange(n)) & 1 == 1
    return patterns, place[code]


def _best_rotation(outer: FloatArray, usable: BoolArray) -> FloatArray:
    """P diag(1, 1, det(P Q^T)) Q^T of P S Q^T, without a singular value decomposition per frame.

    B + k cof(B) has the singular vectors of B, but det(P Q^T) times a positive number as its third singular value: its
    orthogonal factor *is* the rotation looked for, for a planar set of points too. Newton's iteration finds that factor
    with a dozen array operations per step; frames where it did not get there (narrow, or nearly mirrored) are left to
    the decomposition. Frames that are not usable are NaN, and keep nobody iterating.
    """
    usable = np.broadcast_to(usable, outer.shape[:-2]).reshape(-1)
    size = np.sqrt(np.einsum("...ij,...ij->...", outer, outer))
    flat = (outer / np.where(size > 0.0, size, 1.0)[..., None, None]).reshape(-1, 9)
    m = np.ascontiguousarray(flat.T)  # (9, frames)
    m += _cofactor(m)
    lost = np.abs(_determinant(m, _cofactor(m))) < _SINGULAR
    m[:, lost | ~usable] = np.eye(3).reshape(9, 1)
    for _ in range(_ITERATIONS):
        inverse_t = _cofactor(m)
        inverse_t /= _determinant(m, inverse_t)
        gamma = np.sqrt(_length(inverse_t) / _length(m))  # Higham's scaling: quick from far away, 1 near the end
        new = 0.5 * (gamma * m + inverse_t / gamma)
        change = np.abs(new - m).max(initial=0.0)
        m = new
        if change < _CLOSE:
            break
    rotation = np.ascontiguousarray(m.T).reshape(-1, 3, 3)
    products = m.reshape(3, 3, -1)
    off = np.abs(np.einsum("kif,kjf->ijf", products, products) - np.eye(3)[:, :, None]).max(axis=(0, 1))
    lost |= (off > _ROUNDING) | (_determinant(m, _cofactor(m)) < 0.0)
    lost &= usable
    if lost.any():
        rotation[lost] = nearest_rotation(outer.reshape(-1, 3, 3)[lost])
    rotation[~usable] = np.nan
    return rotation.reshape(outer.shape)


_NEXT = np.array([4, 5, 3, 7, 8, 6, 1, 2, 0])  # of element (i, j): (i + 1, j + 1), counted around
_LAST = np.array([8, 6, 7, 2, 0, 1, 5, 3, 4])  # (i + 2, j + 2)
_DOWN = np.array([5, 3, 4, 8, 6, 7, 2, 0, 1])  # (i + 1, j + 2)
_BACK = np.array([7, 8, 6, 1, 2, 0, 4, 5, 3])  # (i + 2, j + 1)


def _cofactor(m: FloatArray) -> FloatArray:
    """Cofactors of matrices given as rows of nine elements, one column per matrix."""
    cofactor: FloatArray = m[_NEXT] * m[_LAST] - m[_DOWN] * m[_BACK]
    return cofactor


def _determinant(m: FloatArray, cofactor: FloatArray) -> FloatArray:
    determinant: FloatArray = m[0] * cofactor[0] + m[1] * cofactor[1] + m[2] * cofactor[2]
    return determinant


def _length(m: FloatArray) -> FloatArray:
    length: FloatArray = np.sqrt(np.einsum("kf,kf->f", m, m))
    return length
