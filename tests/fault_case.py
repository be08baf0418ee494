"""A sound recording for a fault to be put into, and what faults have in common."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from condyle.body_names import LANDMARK_SEGMENT
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigid_fit import rigid_fit


@dataclass
class Case:
    """Sound markers of a trial and of its standing trial (changed in place by a fault), and whose they are."""

    point: FloatArray  # (T, M, 3)
    static: FloatArray  # (T, M, 3)
    names: list[str]
    tracking: dict[str, list[int]]  # segment -> columns
    side: str  # r or l: the measured leg
    rate_hz: float
    bottoms: list[int]
    other_static: FloatArray  # another person's


Fault = Callable[[Case, float, np.random.Generator], None]


@dataclass(frozen=True)
class Kind:
    """A fault with its sizes; ``target`` says what must be reached: ``found`` where it moves an angle of the leg, ``every`` one
    where it spoils something else, or only the ``smallest`` size be told.
    """

    name: str
    make: Fault
    sizes: tuple[float, ...]
    unit: str
    target: str = "found"


def stretch_of(case: Case, seconds: float, rng: np.random.Generator) -> slice:
    """So long a part of the trial anywhere; all of it for 0."""
    if seconds == 0:
        return slice(None)
    length = max(1, round(seconds * case.rate_hz))
    start = int(rng.integers(0, max(1, len(case.point) - length)))
    return slice(start, start + length)


def of_the_leg(case: Case, *stems: str) -> str:
    return f"{stems[0]}_{case.side}"


def some_segment(case: Case, rng: np.random.Generator) -> str:
    return str(rng.choice(["pelvis", f"thigh_{case.side}", f"shank_{case.side}", f"foot_{case.side}"]))


def offset(mm: float, rng: np.random.Generator) -> FloatArray:
    way = rng.normal(size=3)
    return np.asarray(mm * way / np.linalg.norm(way))


def shift(case: Case, columns: list[int], segment: str, local: FloatArray, frames: slice) -> None:
    """Move markers by a vector (3,) or (T, 3) in their segment's own frame."""
    own = case.tracking[segment]
    model = np.nanmean(case.static[:, own], axis=0)
    rotation = rigid_fit(model, case.point[:, own]).rotation
    case.point[frames, columns] += np.einsum("tij,tj->ti", rotation, np.broadcast_to(local, (len(rotation), 3)))[
        frames
    ][:, None]


def on_segment(case: Case, segment: str) -> list[int]:
    """Columns that track a segment, and of its landmarks that the trial shows."""
    landmarks = [k for k, n in enumerate(case.names) if LANDMARK_SEGMENT.get(n) == segment]
    shown = [k for k in landmarks if np.isfinite(case.point[:, k]).any()]
    return list(dict.fromkeys([*case.tracking[segment], *shown]))
