"""How far does a point lie outside the foot it should stand over?"""

import numpy as np

from condyle.mechanics.arrays import FloatArray


def outside_polygon(point: FloatArray, corners: FloatArray) -> FloatArray:
    """Signed distance of points from a convex polygon on the floor.

    point     : (..., 2) [mm] points
    corners   : (..., n, 2) [mm] corners in order around, either way; one side may have no length
    returns   : (...) [mm] positive outside, negative inside (distance from the nearest edge)
    undefined : all corners in one line: the distance from that line segment, never inside
    missing   : a corner that is not seen is left out; NaN where fewer than three are seen, or the point is not
    source    : definition
    """
    distance = np.linalg.norm(from_nearest_edge(point, corners), axis=-1)
    corners = _closed_over(corners)
    after = np.roll(corners, -1, axis=-2)
    edge, to_point = after - corners, point[..., None, :] - corners
    cross = edge[..., 0] * to_point[..., 1] - edge[..., 1] * to_point[..., 0]
    area = np.abs((corners[..., 0] * after[..., 1] - corners[..., 1] * after[..., 0]).sum(axis=-1))
    inside = ((cross >= 0).all(axis=-1) | (cross <= 0).all(axis=-1)) & (area > 1e-9)
    return np.asarray(np.where(inside, -distance, distance))


def from_nearest_edge(point: FloatArray, corners: FloatArray) -> FloatArray:
    """The way to points from the nearest place on a polygon's edge: which side of the foot a point lies off.

    point     : (..., 2) [mm] points
    corners   : (..., n, 2) [mm] corners in order around, either way; one side may have no length
    returns   : (..., 2) [mm] from the edge to the point, along the axes of the points
    undefined : two places equally near: the one on the earlier side
    missing   : a corner that is not seen is left out; NaN where fewer than three are seen, or the point is not
    source    : definition
    """
    enough = np.isfinite(corners).all(axis=-1).sum(axis=-1) >= 3
    corners = _closed_over(corners)
    edge, to_point = np.roll(corners, -1, axis=-2) - corners, point[..., None, :] - corners
    square = np.einsum("...i,...i->...", edge, edge)
    along = np.einsum("...i,...i->...", to_point, edge) / np.where(square > 0, square, 1.0)
    ways = to_point - np.clip(along, 0.0, 1.0)[..., None] * edge
    near = np.einsum("...i,...i->...", ways, ways).argmin(axis=-1)
    way = np.take_along_axis(ways, near[..., None, None], axis=-2)[..., 0, :]
    return np.asarray(np.where(enough[..., None], way, np.nan))


def _closed_over(corners: FloatArray) -> FloatArray:
    """The corners (..., n, 2), each unseen one moved to the seen one before it, so that its side has no length."""
    count, seen = corners.shape[-2], np.isfinite(corners).all(axis=-1)
    twice = np.where(np.concatenate([seen, seen], axis=-1), np.arange(2 * count), 0)
    last = np.maximum.accumulate(twice, axis=-1)[..., count:] % count
    return np.take_along_axis(corners, last[..., None], axis=-2)
