"""Faults of names: markers, sides, bodies and axes exchanged."""

import numpy as np

from condyle.body_names import LANDMARK_SEGMENT
from tests.fault_case import Case, of_the_leg, on_segment, some_segment, stretch_of


def _swap(case: Case, frames: slice, a: list[int], b: list[int]) -> None:
    kept = case.point[frames][:, a].copy()
    case.point[frames, a] = case.point[frames][:, b]
    case.point[frames, b] = kept


def exchange_in_segment(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """Two markers of one segment under each other's names."""
    a, b = rng.choice(case.tracking[some_segment(case, rng)], 2, replace=False)
    _swap(case, stretch_of(case, seconds, rng), [int(a)], [int(b)])


def exchange_left_right(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """A landmark's left and right marker under each other's names."""
    stems = [n[:-2] for n in case.names if n.endswith("_r") and n in LANDMARK_SEGMENT and n[:-2] + "_l" in case.names]
    tracked = {c for own in case.tracking.values() for c in own}
    stem = str(rng.choice([s for s in stems if case.names.index(f"{s}_r") in tracked]))
    frames = stretch_of(case, seconds, rng)
    _swap(case, frames, [case.names.index(f"{stem}_r")], [case.names.index(f"{stem}_l")])


def exchange_between_segments(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """A marker of the thigh and one of the shank under each other's names."""
    a = int(rng.choice(case.tracking[of_the_leg(case, "thigh")]))
    b = int(rng.choice(case.tracking[of_the_leg(case, "shank")]))
    _swap(case, stretch_of(case, seconds, rng), [a], [b])


def exchange_clusters(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """The whole plate of one leg under the names of the other's."""
    stem = str(rng.choice(["thigh", "shank"]))
    _swap(case, stretch_of(case, seconds, rng), case.tracking[f"{stem}_r"], case.tracking[f"{stem}_l"])


def exchange_legs(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """Every marker of one leg under the names of the other's."""
    right = [k for s in ("thigh", "shank", "foot") for k in case.tracking[f"{s}_r"]]
    left = [k for s in ("thigh", "shank", "foot") for k in case.tracking[f"{s}_l"]]
    for k, name in enumerate(case.names):
        if LANDMARK_SEGMENT.get(name, "").startswith(("thigh", "shank")) and name.endswith("_r"):
            right.append(k)
            left.append(case.names.index(name[:-2] + "_l"))
    _swap(case, stretch_of(case, seconds, rng), right, left)


def exchange_in_both_files(case: Case, _size: float, rng: np.random.Generator) -> None:
    """Two landmarks of a segment under each other's names in the standing trial and in this one, as in a wrong marker set."""
    segment = str(rng.choice([some_segment(case, rng), "trunk"]))
    on = [k for k, n in enumerate(case.names) if LANDMARK_SEGMENT.get(n) == segment]
    a, b = (int(k) for k in rng.choice(on, 2, replace=False))
    _swap(case, slice(None), [a], [b])
    case.static[:, [a, b]] = case.static[:, [b, a]]


def exchange_riders_sides(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """The left and the right marker of a landmark that tracks nothing under each other's names."""
    tracked = {c for own in case.tracking.values() for c in own}
    stems = [
        n[:-2] for k, n in enumerate(case.names) if n.endswith("_r") and k not in tracked and n in LANDMARK_SEGMENT
    ]
    stem = str(rng.choice([s for s in stems if np.isfinite(case.point[:, case.names.index(f"{s}_r")]).any()]))
    _swap(case, stretch_of(case, seconds, rng), [case.names.index(f"{stem}_r")], [case.names.index(f"{stem}_l")])


def exchange_rider(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """A landmark of the leg that tracks nothing and another marker of its segment under each other's names."""
    segment = of_the_leg(case, str(rng.choice(["thigh", "shank"])))
    on = on_segment(case, segment)
    a = int(rng.choice([k for k in on if k not in case.tracking[segment]]))
    b = int(rng.choice([k for k in on if k != a]))
    _swap(case, stretch_of(case, seconds, rng), [a], [b])


def standing_pair_exchanged(case: Case, _size: float, rng: np.random.Generator) -> None:
    """One left and right pair under each other's names, in the standing trial only."""
    stems = [n[:-2] for n in case.names if n.endswith("_r") and n in LANDMARK_SEGMENT]
    stem = str(rng.choice(stems))
    a, b = case.names.index(f"{stem}_r"), case.names.index(f"{stem}_l")
    case.static[:, [a, b]] = case.static[:, [b, a]]


def left_handed(case: Case, _size: float, _rng: np.random.Generator) -> None:
    """Both files with one axis turned round."""
    case.static[..., 2] *= -1
    case.point[..., 2] *= -1


def another_person(case: Case, _size: float, _rng: np.random.Generator) -> None:
    """Another person's standing trial."""
    case.static = case.other_static.copy()
