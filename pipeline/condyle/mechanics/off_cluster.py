"""How far does one point of a cluster lie from where the others say it is?"""

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray
from condyle.mechanics.rigid_fit import rigid_fit


def off_the_others(points: FloatArray, model: FloatArray, point: int, frames: BoolArray) -> FloatArray:
    """How far a point of a cluster lies from where the pose of the other points carries it.

    points    : (T, P, 3) [mm] points of one segment over time
    model     : (P, 3) [mm] the same points in a frame of their own; NaN where unknown
    point     : () [1] which of them
    frames    : (T,) [1] True where it is asked
    returns   : (n,) [mm] distance in each of these frames
    undefined : fewer than 3 others seen, or these in one line: NaN
    missing   : NaN
    source    : rigid fit of Soderkvist & Wedin 1993, J Biomech 26:1473
    """
    others = np.array(points[frames], dtype=np.float64)
    own = others[:, point].copy()
    others[:, point] = np.nan
    fit = rigid_fit(model, others)
    away = own - fit.translation - fit.rotation @ model[point]
    return np.asarray(np.sqrt(np.einsum("ti,ti->t", away, away)))
