"""On which side of the stance foot does the centre of mass stand, where it does not stand over it?"""

from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.base_of_support import from_nearest_edge, outside_polygon

_HEEL, _SECOND, _BORDERS = 0, 2, (1, 3)  # places of the foot's corners: heel, metatarsals 5, 2, 1


class Standing(NamedTuple):
    """Distance outside the polygon of the foot's markers (negative inside), and the way there, along the foot; mm."""

    outside: float
    ahead: float
    medial: float


def over_the_foot(place: FloatArray, foot: FloatArray, side: str) -> Standing:
    """How the centre of mass (2,) stands to the stance foot, both forward and to the right, mm.

    ``foot`` (4, 2): heel and metatarsals 5, 2 and 1, a polygon. The way is that from its nearest edge, unknown where the
    heel, or what tells the foot's front, is not seen.
    """
    outside = float(outside_polygon(place, foot))
    front = foot[_SECOND] if np.isfinite(foot[_SECOND]).all() else foot[list(_BORDERS)].mean(axis=0)
    along = front - foot[_HEEL]
    length = float(np.hypot(*along))
    if not length > 0:
        return Standing(outside, float("nan"), float("nan"))
    ahead = along / length
    inwards = np.array([ahead[1], -ahead[0]]) * (1.0 if side == "right" else -1.0)  # a right foot's inner side is left
    way = from_nearest_edge(place, foot)
    return Standing(outside, float(way @ ahead), float(way @ inwards))


def side_words(ahead: float, medial: float) -> str:
    """The side of the foot on which most of the way lies; empty where it is not known."""
    if not np.isfinite([ahead, medial]).all():
        return ""
    if abs(ahead) >= abs(medial):
        return "forwards" if ahead > 0 else "backwards"
    return "medially" if medial > 0 else "laterally"
