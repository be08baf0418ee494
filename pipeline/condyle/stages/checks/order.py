"""How the landmarks of every upright standing adult lie to each other: which is ahead of, above or outside which.

The tolerances stand in configs/quality.yaml. They are far wider than adults differ, so that what breaks one is no variant of
anatomy but a landmark under another's name, or on another place of the body.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from condyle.mechanics.arrays import BoolArray, FloatArray, IntArray, unit
from condyle.mechanics.body_plan import forward, right_of
from condyle.stages.checks.judging import Limits

Landmarks = Mapping[str, FloatArray]

_BACK = ("psis", "sacrum")
_KNEE = ("lateral_epicondyle", "medial_epicondyle")
_ANKLE = ("lateral_malleolus", "medial_malleolus")
_TOES = ("metatarsal_1", "metatarsal_2", "metatarsal_5")
_TRUNK = ("c7", "t10", "jugular_notch", "xiphoid")
_LATERAL_MEDIAL = tuple((f"lateral_{b}", f"medial_{b}") for b in ("epicondyle", "malleolus"))
_UP = np.array([0.0, 1.0, 0.0])
_WAYS = ("ahead of", "above", "outside")
_OPPOSITE = {"ahead of": "behind", "above": "below", "outside": "inside"}


@dataclass(frozen=True)
class Order:
    """Each of the first landmarks lies ``way`` each of the second by the limit ``order_KEY`` at least, side by side."""

    key: str
    first: tuple[str, ...]
    way: str
    second: tuple[str, ...]
    by_foot: bool = False  # along the foot, or outwards from its long axis, for toes point out


ORDERS = (
    Order("asis_ahead_of_back", ("asis",), "ahead of", _BACK),
    Order("asis_ahead_of_crest", ("asis",), "ahead of", ("iliac_crest",)),
    Order("crest_above_asis", ("iliac_crest",), "above", ("asis",)),
    Order("crest_ahead_of_back", ("iliac_crest",), "ahead of", _BACK),
    Order("crest_outside_back", ("iliac_crest",), "outside", _BACK),
    Order("psis_outside_sacrum", ("psis",), "outside", ("sacrum",)),
    Order("crest_above_trochanter", ("iliac_crest",), "above", ("greater_trochanter",)),
    Order("pelvis_above_trochanter", ("asis", *_BACK), "above", ("greater_trochanter",)),
    Order("trochanter_above_asis", ("greater_trochanter",), "above", ("asis",)),
    Order("asis_ahead_of_trochanter", ("asis",), "ahead of", ("greater_trochanter",)),
    Order("trochanter_ahead_of_back", ("greater_trochanter",), "ahead of", _BACK),
    Order("trochanter_outside_back", ("greater_trochanter",), "outside", _BACK),
    Order("asis_outside_trochanter", ("asis",), "outside", ("greater_trochanter",)),
    Order("hip_above_knee", ("greater_trochanter", "asis"), "above", (*_KNEE, "patella")),
    Order("lateral_outside_patella", ("lateral_epicondyle",), "outside", ("patella",)),
    Order("patella_outside_medial", ("patella",), "outside", ("medial_epicondyle",)),
    Order("patella_ahead_of_epicondyles", ("patella",), "ahead of", _KNEE),
    Order("knee_above_tuberosity", (*_KNEE, "patella"), "above", ("tibial_tuberosity",)),
    Order("tuberosity_above_malleoli", ("tibial_tuberosity",), "above", _ANKLE),
    Order("knee_above_malleoli", (*_KNEE, "patella"), "above", _ANKLE),
    Order("malleoli_ahead_of_heel", _ANKLE, "ahead of", ("calcaneus",), by_foot=True),
    Order("toes_ahead_of_heel", _TOES, "ahead of", ("calcaneus",)),
    Order("toes_ahead_of_malleoli", _TOES, "ahead of", _ANKLE, by_foot=True),
    Order("second_outside_first", ("metatarsal_2",), "outside", ("metatarsal_1",), by_foot=True),
    Order("fifth_outside_first", ("metatarsal_5",), "outside", ("metatarsal_1",), by_foot=True),
    Order("fifth_outside_second", ("metatarsal_5",), "outside", ("metatarsal_2",), by_foot=True),
    Order("knee_above_foot", _KNEE, "above", ("calcaneus", *_TOES)),
    Order("c7_above_t10", ("c7",), "above", ("t10", "xiphoid")),
    Order("notch_above_xiphoid", ("jugular_notch",), "above", ("xiphoid", "t10")),
    Order("notch_ahead_of_c7", ("jugular_notch",), "ahead of", ("c7",)),
    Order("chest_ahead_of_t10", ("jugular_notch", "xiphoid"), "ahead of", ("t10",)),
    Order("acromion_outside_trunk", ("acromion",), "outside", _TRUNK),
    Order("acromion_above_pelvis", ("acromion", "c7", "jugular_notch"), "above", ("asis", *_BACK, "iliac_crest")),
    Order("trunk_above_pelvis", ("t10", "xiphoid"), "above", ("asis", *_BACK, "iliac_crest")),
)


@dataclass(frozen=True)
class Relation:
    """One order between two landmarks of the standing person."""

    first: str
    way: str
    second: str
    limit: str  # its name in configs/quality.yaml; empty for the right landmark of a pair against the left one: 0 mm
    by_foot: str = ""  # tail of the foot whose own axis tells ahead and outside

    @property
    def side(self) -> float:
        """1 where outside is to the right, -1 where it is to the left."""
        tails = [n[-2:] for n in (self.first, self.second) if n.endswith(("_r", "_l"))]
        return -1.0 if tails and tails[0] == "_l" else 1.0

    @property
    def pair(self) -> bool:
        """Whether it is a landmark of the right side against the same one of the left side."""
        return not self.limit

    def words(self, apart: float) -> str:
        """Where the first lies to the second, by its measured distance that way."""
        if self.pair:
            return f"{abs(apart):.0f} mm to the {'right' if apart >= 0 else 'left'} of"
        return f"{abs(apart):.0f} mm {self.way if apart >= 0 else _OPPOSITE[self.way]}"


@lru_cache(maxsize=32)
def relations_of(names: tuple[str, ...]) -> tuple[Relation, ...]:
    """Every order that concerns two of these landmarks, the right one of a pair against the left one among them."""
    known = set(names)
    out = [
        Relation(a, order.way, b, f"order_{order.key}", tail if order.by_foot else "")
        for order in ORDERS
        for first in order.first
        for second in order.second
        for a, b, tail in _side_by_side(first, second)
    ]
    for tail in ("_r", "_l"):
        out += [Relation(a + tail, "outside", b + tail, "lateral_least") for a, b in _LATERAL_MEDIAL]
    out += [Relation(n, "outside", f"{n[:-2]}_l", "") for n in names if n.endswith("_r")]
    return tuple(r for r in out if r.first in known and r.second in known)


def _side_by_side(first: str, second: str) -> Iterator[tuple[str, str, str]]:
    middle = ("sacrum", *_TRUNK)
    if first in middle and second in middle:
        yield first, second, ""
        return
    for tail in ("_r", "_l"):
        one, other = (n if n in middle else f"{n}{tail}" for n in (first, second))
        yield one, other, tail


def ahead_of(landmarks: Landmarks) -> FloatArray | None:
    """(3,) where the person faces, by pelvis and feet alike; None where neither tells."""
    ways = [w for w in forward(landmarks) if w is not None and np.isfinite(w).all()]
    ahead = unit(np.sum(ways, axis=0)) if ways else np.full(3, np.nan)
    return ahead if np.isfinite(ahead).all() else None


class Standing:
    """Relations of landmarks, told for these places or for others of the same names."""

    def __init__(self, names: Sequence[str], limits: Limits) -> None:
        """``names`` are the landmarks that are known."""
        self.names = list(names)
        self.relations = relations_of(tuple(names))
        at = {n: k for k, n in enumerate(self.names)}
        self.first: IntArray = np.array([at[r.first] for r in self.relations], dtype=np.int64)
        self.second: IntArray = np.array([at[r.second] for r in self.relations], dtype=np.int64)
        self.least = np.array([limits[r.limit].value if r.limit else 0.0 for r in self.relations])
        where = {(r.first, r.way, r.second): k for k, r in enumerate(self.relations)}
        mirror = [where.get((_other(r.first), r.way, _other(r.second)), -1) for r in self.relations]
        self.mirror: IntArray = np.array(
            [k if k != own else -1 for own, k in enumerate(mirror)], dtype=np.int64
        )  # else -1
        self._way = np.array([_WAYS.index(r.way) for r in self.relations], dtype=np.int64)
        self._feet = {tail: np.array([r.by_foot == tail for r in self.relations], np.bool_) for tail in ("_r", "_l")}
        self._side = np.array([r.side if r.way == "outside" else 1.0 for r in self.relations])

    def apart(self, place: FloatArray) -> FloatArray | None:
        """(R,) [mm] how far the first lies the way of the second; None where nothing tells where the person faces."""
        landmarks = dict(zip(self.names, place, strict=True))
        ahead = ahead_of(landmarks)
        if ahead is None or not self.relations:
            return None
        way = np.stack([ahead, _UP, right_of(ahead)])[self._way]
        for tail, own in self._feet.items():
            along = _foot_axis(landmarks, tail) if own.any() else None
            if along is not None and along @ ahead > 0:
                way[own] = np.stack([along, _UP, right_of(along)])[self._way[own]]
        return np.asarray(self._side * np.einsum("ri,ri->r", place[self.first] - place[self.second], way))

    def broken(self, place: FloatArray) -> BoolArray:
        """(R,) True where an order does not hold."""
        apart = self.apart(place)
        return np.zeros(len(self.relations), dtype=np.bool_) if apart is None else np.asarray(apart < self.least)


def _other(name: str) -> str:
    """The same landmark of the other side."""
    return name[:-2] + {"_r": "_l", "_l": "_r"}[name[-2:]] if name.endswith(("_r", "_l")) else name


def _foot_axis(landmarks: Landmarks, tail: str) -> FloatArray | None:
    """(3,) level, from the heel to the middle of the metatarsals, whichever of them is which."""
    toes = [landmarks[n + tail] for n in _TOES if n + tail in landmarks]
    heel = landmarks.get(f"calcaneus{tail}")
    if heel is None or not toes:
        return None
    along = np.mean(toes, axis=0) - heel
    return unit(along * [1.0, 0.0, 1.0])
