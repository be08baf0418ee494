"""Where is the centre of mass of a body, from the markers that happen to be on it?

Segment masses and centres of de Leva 1996; where a segment's own markers are missing, a stand-in that is named. Masses
are divided by their sum, so that what is left out does not pull the centre towards the origin.
"""

from collections.abc import Mapping
from typing import Final, Literal, NamedTuple

import numpy as np

from condyle.mechanics.arrays import FloatArray, unit

Sex = Literal["female", "male"]  # the order of session.yaml: equal unions are one object to Python, the first wins
Points = Mapping[str, FloatArray]

# de Leva 1996, J Biomech 29:1223, Table 4 (men, women): mass in % of the body, centre in % of the length from the
# first-named end
MASS: Final = {
    "head": (6.94, 6.68),
    "trunk": (43.46, 42.57),
    "upper_arm": (2.71, 2.55),
    "forearm": (1.62, 1.38),
    "hand": (0.61, 0.56),
    "thigh": (14.16, 14.78),
    "shank": (4.33, 4.81),
    "foot": (1.37, 1.29),
}
CENTRE: Final = {
    "head": (50.02, 48.41),  # vertex - C7
    "trunk_c7": (51.38, 49.64),  # C7 - mid hip centres
    "trunk_notch": (44.86, 41.51),  # jugular notch - mid hip centres
    "trunk_shoulders": (43.10, 37.82),  # mid shoulder centres - mid hip centres
    "thigh": (40.95, 36.12),
    "shank": (43.95, 43.52),
    "foot": (44.15, 40.14),  # heel - longest toe tip
}
_HEAD_OF_TRUNK = 0.40  # vertex - C7 over C7 - mid hip centres: 243 over 604 mm (men), 244 over 615 (women), from memory
_TOE_OF_METATARSAL = 1.30  # heel - toe tip over heel - metatarsal heads (ours)
_SIDES: Final = {"l": "left", "r": "right"}


class MassCentre(NamedTuple):
    """Position, and what had to stand in for what, in words. NaN where the body cannot be had, for want of ``lacks``."""

    position: FloatArray
    stand_ins: tuple[str, ...]
    lacks: tuple[str, ...] = ()


def centre_of_mass(points: Points, sex: Sex | None = None) -> MassCentre:
    """The body's centre of mass.

    points    : name -> (..., 3) [mm] joint centres hip_l ... ankle_r, c7, jugular_notch, xiphoid, acromion_l ..,
                calcaneus_l, metatarsal_1_l ... metatarsal_5_r; y up; what is not there may be left out
    sex       : word [1] male, female, or None: mean of both
    returns   : MassCentre [mm] position (..., 3), the stand-ins used, and what is missing for a position
    undefined : no trunk point above the hips, or a leg that is not there: NaN, and said what lacks
    missing   : NaN in a point makes the position NaN
    source    : de Leva 1996, J Biomech 29:1223, Table 4; stand-ins ours
    """
    said: list[str] = [] if sex else ["sex unknown: mean of men and women"]
    hips = _middle(points, "hip")
    top, kind = _top(points, said)
    parts: list[tuple[float, FloatArray]] = []
    nothing = np.full_like(hips, np.nan)
    lacks = [*([] if top is not None else ["C7, the jugular notch or both acromia"]), *_joints_missing(points)]
    if top is None:
        return MassCentre(nothing, (), tuple(lacks))
    trunk = top + _percent(CENTRE[kind], sex) * (hips - top)
    parts.append((_percent(MASS["trunk"], sex), trunk))
    up = unit(top - hips)
    length = np.linalg.norm(top - hips, axis=-1, keepdims=True)
    head = top + up * length * _HEAD_OF_TRUNK * (1.0 - _percent(CENTRE["head"], sex))
    said.append("head from the line of the trunk: no head markers")
    parts.append((_percent(MASS["head"], sex), head))
    arms = 2.0 * sum(_percent(MASS[n], sex) for n in ("upper_arm", "forearm", "hand"))
    parts.append((arms, _crossed_arms(points, trunk, said)))
    for side in ("l", "r"):
        for name, upper, lower in (("thigh", "hip", "knee"), ("shank", "knee", "ankle")):
            above, below = (points.get(f"{n}_{side}", nothing) for n in (upper, lower))
            parts.append((_percent(MASS[name], sex), above + _percent(CENTRE[name], sex) * (below - above)))
        parts.append((_percent(MASS["foot"], sex), _foot(points, side, sex, said)))
    total = sum(mass for mass, _ in parts)
    position = np.asarray(sum(mass * place for mass, place in parts) / total)
    return MassCentre(position, () if lacks else tuple(dict.fromkeys(said)), tuple(lacks))


def _percent(pair: tuple[float, float], sex: Sex | None) -> float:
    men, women = pair
    return {"male": men, "female": women}.get(sex or "", (men + women) / 2.0) / 100.0


def _middle(points: Points, name: str) -> FloatArray:
    return np.asarray((points[f"{name}_l"] + points[f"{name}_r"]) / 2.0)


def _joints_missing(points: Points) -> list[str]:
    """Joint centres that are not there, or nowhere known: without them a leg has no mass to place."""
    places = {
        f"{side} {n}": points.get(f"{n}_{side[0]}") for side in ("left", "right") for n in ("hip", "knee", "ankle")
    }
    return [f"the {name} centre" for name, place in places.items() if place is None or np.isnan(place).all()]


def _top(points: Points, said: list[str]) -> tuple[FloatArray | None, str]:
    """The upper end of the trunk: C7, else the jugular notch, else the middle of the acromia."""
    if "c7" in points:
        return points["c7"], "trunk_c7"
    if "jugular_notch" in points:
        said.append("jugular notch as the upper end of the trunk: no C7")
        return points["jugular_notch"], "trunk_notch"
    if "acromion_l" in points and "acromion_r" in points:
        said.append("acromia in place of the shoulder centres, as the upper end of the trunk: no C7 or jugular notch")
        return _middle(points, "acromion"), "trunk_shoulders"
    return None, ""


def _crossed_arms(points: Points, trunk: FloatArray, said: list[str]) -> FloatArray:
    """Arms crossed on the chest lie before it: half-way between jugular notch and xiphoid; else with the trunk."""
    if "jugular_notch" in points and "xiphoid" in points:
        said.append("arms taken as crossed on the chest")
        return np.asarray((points["jugular_notch"] + points["xiphoid"]) / 2.0)
    said.append("arms with the trunk's own centre: no jugular notch and xiphoid to cross them before")
    return trunk


def _foot(points: Points, side: str, sex: Sex | None, said: list[str]) -> FloatArray:
    heel = points.get(f"calcaneus_{side}")
    ends = [points[n] for n in (f"metatarsal_{k}_{side}" for k in (1, 2, 5)) if n in points]
    if heel is None or not ends:
        said.append(f"ankle centre in place of the {_SIDES[side]} foot: no heel or metatarsal marker")
        return points.get(f"ankle_{side}", np.full(3, np.nan))
    said.append("toe tip on the line heel - metatarsals")
    front = sum(ends[1:], ends[0]) / len(ends)
    return np.asarray(heel + _percent(CENTRE["foot"], sex) * _TOE_OF_METATARSAL * (front - heel))
