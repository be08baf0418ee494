"""How far does a point lie outside the foot it should stand over?"""

import numpy as np

from condyle.mechanics.arrays import FloatArray


def outside_polygon(point: FloatArray, corners: FloatArray) -> FloatArray:
    """Signed distance of points from a convex polygon on the floor.

    point     : (..., 2) [mm] points
    corners   : (..., n, 2) [mm] corners in order around, either way; one side may have no length
    returns   : (...) [mm] positive outside, negative inside (distance from the nearest edge)
    undefined : all corners in one line: the distance from that line segment, never inside
    missing   : NaN
    source    : definition
    """
    after = np.roll(corners, -1, axis=-2)
    edge = after - corners
    to_point = point[..., None, :] - corners
    square = np.einsum("...i,...i->...", edge, edge)
    along = np.einsum("...i,...i->...", to_point, edge) / np.where(square > 0, square, 1.0)
    nearest = to_point - np.clip(along, 0.0, 1.0)[..., None] * edge
    distance = np.sqrt(np.einsum("...i,...i->...", nearest, nearest)).min(axis=-1)
    cross = edge[..., 0] * to_point[..., 1] - edge[..., 1] * to_point[..., 0]
    area = np.abs((corners[..., 0] * after[..., 1] - corners[..., 1] * after[..., 0]).sum(axis=-1))
    inside = ((cross >= 0).all(axis=-1) | (cross <= 0).all(axis=-1)) & (area > 1e-9)
    return np.asarray(np.where(np.isnan(distance), np.nan, np.where(inside, -distance, distance)))
