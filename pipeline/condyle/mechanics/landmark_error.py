"""How wrong can a marker-based pose be? Random errors, drawn once, carried through calibration and poses.

A draw is one more leading dimension: errors of a whole session that move all its repetitions alike. A misplaced
landmark turns the anatomical frame in its segment by a fixed amount, so a movement's poses need no new fit.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray, transposed, unit
from condyle.mechanics.calibration import body_frames
from condyle.mechanics.rotations import rotation_about
from condyle.mechanics.standing_body import BodyFrames, HipMethod, ShankKind, Sizes

NORMAL_AXIS = {  # the segment axis that stands square on the skin: 0 anterior, 1 superior, 2 right
    **dict.fromkeys(("asis", "psis", "sacrum", "patella", "tibial_tuberosity", "calcaneus"), 0),
    **dict.fromkeys(("c7", "t10", "jugular_notch", "xiphoid"), 0),
    **dict.fromkeys(("metatarsal_1", "metatarsal_2", "metatarsal_5", "acromion"), 1),
    **dict.fromkeys(("iliac_crest", "greater_trochanter", "lateral_epicondyle", "medial_epicondyle"), 2),
    **dict.fromkeys(("lateral_malleolus", "medial_malleolus"), 2),
}


def normals(seed: int, purpose: str, shape: tuple[int, ...]) -> FloatArray:
    """Standard normal numbers of their own for each purpose, whatever else is drawn.

    seed      : () [1] the run's seed
    purpose   : word [1] what they are for, such as a landmark's name
    shape     : tuple [1] shape
    returns   : (...) [1] independent standard normal numbers; the same seed and purpose give the same
    undefined : nowhere
    missing   : not applicable
    source    : NumPy's default generator
    """
    return np.random.default_rng([seed, *purpose.encode()]).standard_normal(shape)


def kind_of(landmark: str) -> str:
    """The landmark without its side.

    landmark  : word [1] such as asis_r
    returns   : word [1] such as asis
    undefined : nowhere
    missing   : not applicable
    source    : naming
    """
    return landmark[:-2] if landmark.endswith(("_r", "_l")) else landmark


def misplaced(landmark: str, position: FloatArray, axes: FloatArray, sd: float, seed: int, draws: int) -> FloatArray:
    """A landmark put elsewhere in the tangent plane of the skin.

    landmark  : word [1] name with side
    position  : (3,) [mm] where it is
    axes      : (3, 3) [1] axes of its segment as columns; one of them is the normal of the skin
    sd        : () [mm] standard deviation along each of the two other axes
    seed      : () [1] the run's seed
    draws     : () [1] how many
    returns   : (draws, 3) [mm] positions
    undefined : nowhere
    missing   : NaN
    source    : SDs after Della Croce et al. 2005, Gait Posture 21:226; the plane is ours
    """
    along = sd * normals(seed, landmark, (draws, 3))
    along[:, NORMAL_AXIS[kind_of(landmark)]] = 0.0
    return np.asarray(position + along @ transposed(axes))


def drawn_frames(
    landmarks: Mapping[str, FloatArray],
    hip_error: FloatArray,
    hip_shift: FloatArray,
    sizes: Sizes,
    hip_method: HipMethod | None,
    shank_kind: ShankKind,
    fixed: Mapping[str, FloatArray],
) -> BodyFrames:
    """Frames and joint centres of the standing trial from misplaced landmarks and a wrong hip centre.

    landmarks  : name -> (draws, 3) [mm] misplaced positions
    hip_error  : (draws, 2, 3) [mm] error of the left and the right hip centre
    hip_shift  : (2, 3) [mm] nominal hip centre less the regression's from the undisturbed landmarks
    sizes      : Sizes [mm] what was measured
    hip_method : word [1] regression; None where the hip centre does not rest on landmarks
    shank_kind : word [1] see calibration
    fixed      : name -> (3,) [mm] functional results instead of landmarks: hip_l, hip_r, knee_axis_l, knee_axis_r
    returns    : BodyFrames [mm] with the draws as leading dimension
    undefined  : as in calibration
    missing    : as in calibration
    source     : hip error after Mantovani et al. 2016
    """
    given = {name: np.broadcast_to(value, hip_error[:, 0].shape) for name, value in fixed.items()}
    if hip_method is None:
        centre = np.stack([given["hip_l"], given["hip_r"]], axis=1)
    else:
        centre = body_frames(landmarks, sizes, hip_method, shank_kind).joint[:, :2] + hip_shift
    centre = centre + hip_error
    given |= {"hip_l": centre[:, 0], "hip_r": centre[:, 1]}
    drawn = body_frames(landmarks, sizes, "functional", shank_kind, given)
    return replace(drawn, notes=[])


def fit_response(points: FloatArray, displacement: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How a rigid fit follows displaced points, to first order.

    points       : (..., P, 3) [mm] points of the fit in the segment's frame; NaN where not seen
    displacement : (..., P, 3) [mm] how far each has moved in the segment
    returns      : (..., 3) [rad] rotation vector, (..., 3) [mm] shift of the points' mean, in the segment's frame
    undefined    : points in one line: NaN
    missing      : points with NaN are not used
    source       : normal equations of the rigid fit, linearised
    """
    seen: BoolArray = np.asarray(np.isfinite(points).all(axis=-1))
    weight = seen[..., None].astype(np.float64)
    count = np.maximum(weight.sum(axis=-2), 1.0)
    x = np.where(weight > 0, points, 0.0)
    x = (x - (x * weight).sum(axis=-2, keepdims=True) / count[..., None, :]) * weight
    inertia = inertia_of(x)
    d = np.where(weight > 0, displacement, 0.0)
    moment = np.cross(x, d).sum(axis=-2)
    usable = np.linalg.det(inertia) > 1e-6
    solved = np.linalg.solve(np.where(usable[..., None, None], inertia, np.eye(3)), moment[..., None])[..., 0]
    return np.where(usable[..., None], solved, np.nan), d.sum(axis=-2) / count


def left_over(points: FloatArray, displacement: FloatArray, turn: FloatArray, shift: FloatArray) -> FloatArray:
    """The residual that displaced points leave in a rigid fit, to first order.

    points       : (..., P, 3) [mm] points of the fit in the segment's frame; NaN where not seen
    displacement : (..., P, 3) [mm] how far each has moved in the segment
    turn         : (..., 3) [rad] rotation vector of the fit, from fit_response
    shift        : (..., 3) [mm] shift of the fit, likewise
    returns      : (...) [mm] sqrt(sum |r|^2 / N) over the seen points
    undefined    : no point seen: 0
    missing      : points with NaN are not used
    source       : definition
    """
    seen = np.asarray(np.isfinite(points).all(axis=-1))
    weight = seen[..., None].astype(np.float64)
    count = np.maximum(weight.sum(axis=-2), 1.0)
    x = np.where(weight > 0, points, 0.0)
    x = x - (x * weight).sum(axis=-2, keepdims=True) / count[..., None, :]
    rest = (displacement - shift[..., None, :] - np.cross(turn[..., None, :], x)) * weight
    return np.asarray(np.sqrt(np.einsum("...pi,...pi->...", rest, rest) / count[..., 0]))


def inertia_of(points: FloatArray) -> FloatArray:
    """Sum of |x|^2 I - x x^T over points that are counted from their mean.

    points    : (..., P, 3) [mm] points less their mean
    returns   : (..., 3, 3) [mm^2] matrix
    undefined : nowhere
    missing   : NaN
    source    : definition
    """
    square = np.einsum("...pi,...pi->...", points, points)
    outer = np.einsum("...pi,...pj->...ij", points, points)
    return np.asarray(square[..., None, None] * np.eye(3) - outer)


def residual_turn(points: FloatArray, rms: FloatArray, noise: FloatArray) -> FloatArray:
    """A rotation vector as uncertain as the residual of a rigid fit says.

    points    : (..., P, 3) [mm] points of the fit in the segment's frame, NaN where not used
    rms       : (...) [mm] residual of the fit, sqrt(sum |r|^2 / N)
    noise     : (..., 3) [1] standard normal numbers
    returns   : (..., 3) [rad] rotation vector in the segment's frame
    undefined : fewer than three points, or points in one line: 0
    missing   : NaN residual: 0
    source    : covariance sigma^2 (sum |x|^2 I - x x^T)^-1 with sigma^2 = sum |r|^2 / (3 N - 6)
    """
    seen: BoolArray = np.asarray(np.isfinite(points).all(axis=-1))
    count = seen.sum(axis=-1)
    weight = seen[..., None].astype(np.float64)
    x = np.where(weight > 0, points, 0.0)
    x = (x - x.sum(axis=-2, keepdims=True) / np.maximum(count, 1)[..., None, None]) * weight
    value, vector = np.linalg.eigh(inertia_of(x))
    usable = (count >= 3) & (value[..., 0] > 1e-6) & np.isfinite(rms)
    sigma = np.where(usable, rms * np.sqrt(count / np.maximum(3 * count - 6, 1)), 0.0)
    size = sigma[..., None] / np.sqrt(np.maximum(value, 1e-6))
    return np.asarray(np.einsum("...ij,...j->...i", vector, size * noise))


def turn_of(vector: FloatArray) -> FloatArray:
    """The rotation that a rotation vector stands for.

    vector    : (..., 3) [rad] direction of the axis, its length the angle
    returns   : (..., 3, 3) [1] rotation
    undefined : a vector of no length is no turn
    missing   : NaN
    source    : Rodrigues' formula
    """
    angle = np.sqrt(np.einsum("...i,...i->...", vector, vector))
    axis = np.where(angle[..., None] > 1e-12, vector, np.array([1.0, 0.0, 0.0]))
    return rotation_about(unit(axis), angle)
