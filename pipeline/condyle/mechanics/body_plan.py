"""Is a set of landmarks built like a person: upright, front before back, right on the right, of a human size?"""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from condyle.mechanics.arrays import FloatArray, unit
from condyle.mechanics.joint_centres import hip_bell_1990, hip_harrington_2007

Landmarks = Mapping[str, FloatArray]

_UP = np.array([0.0, 1.0, 0.0])
_HIGH = ("asis", "psis", "sacrum", "iliac_crest")
_LOW = ("calcaneus", "metatarsal_1", "metatarsal_2", "metatarsal_5", "lateral_malleolus", "medial_malleolus")
_TOES = ("metatarsal_1", "metatarsal_2", "metatarsal_5")


def rise(landmarks: Landmarks) -> FloatArray | None:
    """From the feet to the pelvis.

    landmarks : dict of (3,) [mm] landmarks by name
    returns   : (3,) [mm] vector, or None where feet or pelvis have no landmark
    undefined : nowhere
    missing   : a landmark with a NaN is left out where it has one
    source    : ours
    """
    high, low = _mean(landmarks, _HIGH), _mean(landmarks, _LOW)
    return None if high is None or low is None else high - low


class Forward(NamedTuple):
    """Where pelvis and feet point, level, at length 1; None where their landmarks are not there."""

    pelvis: FloatArray | None  # (3,) [1]
    feet: FloatArray | None  # (3,) [1]


def forward(landmarks: Landmarks) -> Forward:
    """Where a standing person faces, told twice.

    landmarks : dict of (3,) [mm] landmarks by name, y up
    returns   : Forward [1] level directions of the pelvis (back to ASIS) and of the feet (heels to toes)
    undefined : None without landmarks, NaN where they lie one above the other
    missing   : a landmark with a NaN is left out
    source    : definition
    """
    front, back = _mean(landmarks, ("asis",)), _mean(landmarks, ("psis",))
    back = _mean(landmarks, ("sacrum",)) if back is None else back
    toes, heels = _mean(landmarks, _TOES), _mean(landmarks, ("calcaneus",))
    return Forward(*(None if a is None or b is None else _level(a - b) for a, b in ((front, back), (toes, heels))))


def right_of(ahead: FloatArray) -> FloatArray:
    """The level direction to the right of somebody who faces ahead.

    ahead     : (3,) [1] level direction, y up
    returns   : (3,) [1] direction
    undefined : nowhere
    missing   : a NaN stays
    source    : ISB axes, x forward, y up, z right: z = x cross y
    """
    return np.cross(ahead, _UP)


def pair_offsets(landmarks: Landmarks, right: FloatArray) -> dict[str, float]:
    """How far the right one of each pair of landmarks lies to the right of the left one.

    landmarks : dict of (3,) [mm] landmarks by name
    right     : (3,) [1] direction to the right
    returns   : dict of () [mm] distance by name without its side; negative: exchanged
    undefined : a pair with a missing partner is left out
    missing   : a NaN leaves the pair out
    source    : definition
    """
    out = {}
    for name in landmarks:
        if name.endswith("_r") and name[:-2] + "_l" in landmarks:
            apart = float((landmarks[name] - landmarks[name[:-2] + "_l"]) @ right)
            if np.isfinite(apart):
                out[name[:-2]] = apart
    return out


def sizes(landmarks: Landmarks) -> dict[str, float]:
    """Sizes that a human body has between limits.

    landmarks : dict of (3,) [mm] landmarks by name
    returns   : dict of () [mm] pelvis_width, pelvis_depth, and per side knee_width, ankle_width, thigh (trochanter or ASIS
                to knee), shank (knee to ankle), foot (heel to toes)
    undefined : a size whose landmarks are missing is left out
    missing   : a NaN leaves the size out
    source    : definition
    """
    between = {"pelvis_width": ("asis_r", "asis_l")}
    for t in ("_r", "_l"):
        between |= {
            f"knee_width{t}": (f"lateral_epicondyle{t}", f"medial_epicondyle{t}"),
            f"ankle_width{t}": (f"lateral_malleolus{t}", f"medial_malleolus{t}"),
            f"thigh{t}": (f"asis{t}", f"lateral_epicondyle{t}"),
            f"shank{t}": (f"lateral_epicondyle{t}", f"lateral_malleolus{t}"),
            f"foot{t}": (f"calcaneus{t}", f"metatarsal_5{t}"),
        }
    out = {
        name: float(np.linalg.norm(landmarks[a] - landmarks[b]))
        for name, (a, b) in between.items()
        if a in landmarks and b in landmarks
    }
    front, back = _mean(landmarks, ("asis",)), _mean(landmarks, ("psis",))
    back = _mean(landmarks, ("sacrum",)) if back is None else back
    if front is not None and back is not None:
        out["pelvis_depth"] = float(np.linalg.norm(front - back))
    return {name: value for name, value in out.items() if np.isfinite(value)}


def hip_methods_apart(pelvis_width: float, pelvis_depth: float) -> float:
    """Distance between the hip centres of two regressions: they agree on a pelvis of usual shape.

    pelvis_width : () [mm] between the ASIS
    pelvis_depth : () [mm] mid-ASIS to mid-PSIS
    returns      : () [mm] distance
    undefined    : nowhere
    missing      : a NaN makes it NaN
    source       : Harrington et al. 2007, J Biomech 40:595; Bell et al. 1990, J Biomech 23:617
    """
    one, other = hip_harrington_2007(pelvis_width, pelvis_depth, "right"), hip_bell_1990(pelvis_width, "right")
    return float(np.linalg.norm(one - other))


def _mean(landmarks: Landmarks, stems: tuple[str, ...]) -> FloatArray | None:
    """Mean of the landmarks with these names on either side; None where there is none, or one side only."""
    sides = [[landmarks[n] for s in stems if (n := f"{s}{t}") in landmarks] for t in ("_r", "_l")]
    middle = [landmarks[s] for s in stems if s in landmarks]
    halves = [np.mean(own, axis=0) for own in sides if own]
    if len(halves) == 2:
        return np.asarray(np.mean([np.mean(halves, axis=0), *middle], axis=0))
    return np.asarray(np.mean(middle, axis=0)) if middle else None


def _level(vector: FloatArray) -> FloatArray:
    return unit(vector - (vector @ _UP) * _UP)
