"""Where is a rigid set of points, and how well does it still fit?"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray
from condyle.mechanics.rotations import nearest_rotation

COLLINEAR_MM: Final = 5.0  # ours: 1 mm of noise on four points this narrow already turns a segment by 6 degrees

_ITERATIONS = 12  # Newton doubles the digits: 5 to 7 are usual, the rest is for narrow clusters
_CLOSE = 1e-7  # the step from this near leaves an error of half its square
_NEAR = 1e-6  # a frame not even this near did not get there
_ONE = 0.1  # a scaling this near to 1 is hardly needed any more
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
    lead, n = seen.shape[:-1], seen.shape[-1]
    whole = weights is None and bool(seen.all())
    model = _zeroed(model)
    n_points: IntArray = np.full(lead, n) if whole else seen.sum(axis=-1)
    usable = np.broadcast_to((n_points >= 3) & ~_in_one_line(model, seen, collinear_mm), lead).reshape(-1)
    points = _frames_last(_zeroed(measured), lead)  # sums over points and axes are then sums of long rows
    own = model if model.ndim == 2 else _frames_last(model, lead)
    # The same sums in either case, so that the pose of a frame does not hang on what other frames miss.
    share = np.full((n, 1), 1.0 / max(n, 1))
    if not whole:
        share = np.ascontiguousarray(weight.reshape(-1, n).T)
        share /= np.maximum(share.sum(axis=0), np.finfo(float).tiny)
    centre = (points * share[:, None]).sum(axis=0)
    middle = _product(own, share[:, None])
    around = points - centre
    turned = _product(own, around * share[:, None])
    turned = _best_rotation(turned.reshape(9, -1), usable).reshape(3, 3, -1)  # model axis, parent axis, frame
    turned_middle = (turned * middle.reshape(3, 1, -1)).sum(axis=0)
    around += turned_middle
    around -= _product(np.swapaxes(own, 0, 1), turned)
    around *= around
    if not whole:
        around *= seen.reshape(-1, n).T[:, None]
    rms = np.sqrt(around.reshape(3 * n, -1).sum(axis=0) / np.maximum(n_points.reshape(-1), 1))
    return RigidFit(
        np.ascontiguousarray(turned.transpose(2, 1, 0)).reshape(*lead, 3, 3),
        np.ascontiguousarray((centre - turned_middle).T).reshape(*lead, 3),
        rms.reshape(lead),
        n_points,
    )


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


def _frames_last(points: FloatArray, lead: tuple[int, ...]) -> FloatArray:
    """Points (..., P, 3) of all frames as (P, 3, frames)."""
    rows = np.broadcast_to(points, (*lead, *points.shape[-2:])).reshape(-1, points.shape[-2] * 3)
    return np.ascontiguousarray(rows.T).reshape(points.shape[-2], 3, -1)


def _product(left: FloatArray, right: FloatArray) -> FloatArray:
    """Sums over the first axis: (K, I, frames) and (K, J, frames) to (I, J, frames); one ``left`` (K, I) for all frames
    makes it one large product.
    """
    if left.ndim == 2:
        return (left.T @ right.reshape(len(right), -1)).reshape(left.shape[1], *right.shape[1:])
    product: FloatArray = left[0, :, None] * right[0]
    for k in range(1, len(left)):
        product += left[k, :, None] * right[k]
    return product


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
    if narrow.ndim == 1:
        return np.asarray(narrow[which])
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
    the decomposition. Frames that are not usable are NaN, and keep nobody iterating. Matrices are columns of nine.
    """
    wrapped = np.empty((5, 5, outer.shape[1]))
    size = np.sqrt((outer * outer).sum(axis=0))
    m = outer / np.where(size > 0.0, size, 1.0)
    m += _cofactor(m, wrapped)
    cofactor = _cofactor(m, wrapped)
    determinant = _determinant(m, cofactor)
    lost = np.abs(determinant) < _SINGULAR
    idle = lost | ~usable
    if idle.any():
        m[:, idle] = cofactor[:, idle] = np.eye(3).reshape(9, 1)
        determinant[idle] = 1.0
    scaled, near = True, False
    for _ in range(_ITERATIONS):
        if scaled:  # Higham's scaling: quick from far away, 1 near the end
            gamma = np.sqrt(np.sqrt((cofactor * cofactor).sum(axis=0) / (m * m).sum(axis=0)) / np.abs(determinant))
            m *= 0.5 * gamma
            cofactor *= 0.5 / (gamma * determinant)
            scaled = bool(np.abs(gamma - 1.0).max(initial=0.0) > _ONE)
        else:
            m *= 0.5
            cofactor *= 0.5 / determinant
        m += cofactor
        if near:
            break
        cofactor = _cofactor(m, wrapped)
        determinant = _determinant(m, cofactor)
        near = bool(determinant.max(initial=1.0) < 1.0 + _CLOSE)  # (x + 1 / x) / 2 is never below 1: the largest tells
    lost |= ~(np.abs(determinant - 1.0) < _NEAR)
    lost &= usable
    if lost.any():
        m[:, lost] = nearest_rotation(outer.T[lost].reshape(-1, 3, 3)).reshape(-1, 9).T
    m[:, ~usable] = np.nan
    return m


def _cofactor(m: FloatArray, wrapped: FloatArray) -> FloatArray:
    """Cofactors of matrices given as columns of nine; ``wrapped`` (5, 5, frames) is written over."""
    wrapped[:3, :3] = m.reshape(3, 3, -1)  # with the first two rows and columns once more behind the last
    wrapped[3:, :3] = wrapped[:2, :3]
    wrapped[:, 3:] = wrapped[:, :2]
    cofactor: FloatArray = wrapped[1:4, 1:4] * wrapped[2:, 2:]
    cofactor -= wrapped[1:4, 2:] * wrapped[2:, 1:4]
    return cofactor.reshape(9, -1)


def _determinant(m: FloatArray, cofactor: FloatArray) -> FloatArray:
    determinant: FloatArray = m[0] * cofactor[0] + m[1] * cofactor[1] + m[2] * cofactor[2]
    return determinant
