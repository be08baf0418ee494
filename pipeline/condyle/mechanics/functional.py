"""Where is the point or the line that two moving segments share?

Both come from one system of equations over all frames, ``R_i c1 + t_i = S_i c2 + d_i``: a ball joint has one solution,
a hinge a line of them.
"""

from typing import Final, NamedTuple

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray, unit

LEAST_MOVEMENT: Final = 0.05  # ours: about 4 degrees of rms turn about every axis that matters

_LEAST_FRAMES = 10


class FunctionalCentre(NamedTuple):
    """A joint centre as both segments carry it."""

    in_parent: FloatArray  # (..., 3) [mm] in the parent's frame
    in_child: FloatArray  # (..., 3) [mm] in the child's frame
    rms: FloatArray  # (...) [mm] distance between the two, sqrt(mean |r|^2) over the frames
    movement: FloatArray  # (...) [1] smallest singular value over sqrt(frames): how well the movement shows the centre
    n_frames: IntArray  # (...) [1] frames used


class FunctionalAxis(NamedTuple):
    """A hinge as both segments carry it: its direction and a point on it."""

    direction_in_parent: FloatArray  # (..., 3) [1] unit vector; its largest component is positive
    direction_in_child: FloatArray  # (..., 3) [1] unit vector, the same way round
    point_in_parent: FloatArray  # (..., 3) [mm] the point on the line nearest to both origins, in the parent's frame
    point_in_child: FloatArray  # (..., 3) [mm] the same in the child's frame
    rms: FloatArray  # (...) [mm] distance between the two points, sqrt(mean |r|^2) over the frames
    wobble: FloatArray  # (...) [1] smallest singular value over the next: 0 for a perfect hinge
    n_frames: IntArray  # (...) [1] frames used


def functional_centre(
    parent_rotation: FloatArray,
    parent_origin: FloatArray,
    child_rotation: FloatArray,
    child_origin: FloatArray,
    least_movement: float = LEAST_MOVEMENT,
) -> FunctionalCentre:
    """The point that both segments keep in one place: the centre of a ball joint (SCoRE).

    parent_rotation : (..., T, 3, 3) [1] axes of the parent as columns, over the frames of a movement
    parent_origin   : (..., T, 3) [mm] origin of the parent
    child_rotation  : (..., T, 3, 3) [1] axes of the child
    child_origin    : (..., T, 3) [mm] origin of the child
    least_movement  : () [1] smallest singular value over sqrt(frames) that is trusted
    returns         : (..., 3) [mm] centre in parent and in child, with residual and movement (FunctionalCentre)
    undefined       : a movement about one axis only, or too small; fewer than 10 frames: NaN
    missing         : a frame with a NaN is left out
    source          : Ehrig et al. 2006, J Biomech 39:2798; limits ours
    """
    system, right_side, seen = _equations(parent_rotation, parent_origin, child_rotation, child_origin)
    left, singular, right = np.linalg.svd(system, full_matrices=False)
    frames = seen.sum(axis=-1)
    movement = singular[..., 5] / np.sqrt(np.maximum(frames, 1))
    enough = (movement >= least_movement) & (frames >= _LEAST_FRAMES)
    both = _least_squares(left, singular, right, right_side, 6)
    rms = _rms(system, both, right_side, frames)
    both, rms = np.where(enough[..., None], both, np.nan), np.where(enough, rms, np.nan)
    return FunctionalCentre(both[..., :3], both[..., 3:], rms, movement, frames)


def functional_axis(
    parent_rotation: FloatArray,
    parent_origin: FloatArray,
    child_rotation: FloatArray,
    child_origin: FloatArray,
    least_movement: float = LEAST_MOVEMENT,
) -> FunctionalAxis:
    """The line that both segments keep in one place: the axis of a hinge (SARA).

    parent_rotation : (..., T, 3, 3) [1] axes of the parent as columns, over the frames of a movement
    parent_origin   : (..., T, 3) [mm] origin of the parent
    child_rotation  : (..., T, 3, 3) [1] axes of the child
    child_origin    : (..., T, 3) [mm] origin of the child
    least_movement  : () [1] second smallest singular value over sqrt(frames) that is trusted
    returns         : (..., 3) [1] direction and (..., 3) [mm] point in both, residual and wobble (FunctionalAxis)
    undefined       : a movement too small to show an axis; fewer than 10 frames: NaN
    missing         : a frame with a NaN is left out
    source          : Ehrig et al. 2007, J Biomech 40:2150; limits ours
    """
    system, right_side, seen = _equations(parent_rotation, parent_origin, child_rotation, child_origin)
    left, singular, right = np.linalg.svd(system, full_matrices=False)
    frames = seen.sum(axis=-1)
    enough = (singular[..., 4] / np.sqrt(np.maximum(frames, 1)) >= least_movement) & (frames >= _LEAST_FRAMES)
    free = right[..., 5, :]
    largest = np.take_along_axis(free[..., :3], np.argmax(np.abs(free[..., :3]), axis=-1)[..., None], axis=-1)
    free = free * np.where(largest < 0.0, -1.0, 1.0)
    both = _least_squares(left, singular, right, right_side, 5)
    rms = _rms(system, both, right_side, frames)
    wobble = singular[..., 5] / np.where(singular[..., 4] > 0.0, singular[..., 4], np.nan)
    known = enough[..., None]
    free, both = np.where(known, free, np.nan), np.where(known, both, np.nan)
    rms, wobble = np.where(enough, rms, np.nan), np.where(enough, wobble, np.nan)
    return FunctionalAxis(unit(free[..., :3]), unit(free[..., 3:]), both[..., :3], both[..., 3:], rms, wobble, frames)


def _equations(
    parent_rotation: FloatArray, parent_origin: FloatArray, child_rotation: FloatArray, child_origin: FloatArray
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """[R_i, -S_i] [c1; c2] = d_i - t_i for all frames; unknown frames become rows of zeros, which say nothing."""
    system = np.concatenate(np.broadcast_arrays(parent_rotation, -np.asarray(child_rotation)), axis=-1)
    right_side = np.asarray(child_origin, dtype=np.float64) - parent_origin
    lead = np.broadcast_shapes(system.shape[:-2], right_side.shape[:-1])
    system, right_side = np.broadcast_to(system, (*lead, 3, 6)), np.broadcast_to(right_side, (*lead, 3))
    seen: BoolArray = np.asarray(np.isfinite(system).all(axis=(-2, -1)) & np.isfinite(right_side).all(axis=-1))
    system = np.where(seen[..., None, None], system, 0.0).reshape(*lead[:-1], -1, 6)
    right_side = np.where(seen[..., None], right_side, 0.0).reshape(*lead[:-1], -1)
    return system, right_side, seen


def _least_squares(
    left: FloatArray, singular: FloatArray, right: FloatArray, right_side: FloatArray, rank: int
) -> FloatArray:
    """Solution from the largest singular values; what is left free is set to nothing."""
    projected = np.einsum("...nk,...n->...k", left[..., :rank], right_side)
    weight = np.divide(projected, singular[..., :rank], out=np.zeros_like(projected), where=singular[..., :rank] > 0.0)
    return np.asarray(np.einsum("...k,...ki->...i", weight, right[..., :rank, :]))


def _rms(system: FloatArray, both: FloatArray, right_side: FloatArray, frames: IntArray) -> FloatArray:
    left_over = np.einsum("...ni,...i->...n", system, both) - right_side
    return np.asarray(np.sqrt((left_over**2).sum(axis=-1) / np.maximum(frames, 1)))
