"""Faults of a recording, each at several sizes, as functions on sound markers: names, visibility, distances, the body."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from condyle.body_names import LANDMARK_SEGMENT
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.rigid_fit import rigid_fit
from condyle.mechanics.rotations import rotation_about


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


def _stretch(case: Case, seconds: float, rng: np.random.Generator) -> slice:
    """So long a part of the trial anywhere; all of it for 0."""
    if seconds == 0:
        return slice(None)
    length = max(1, round(seconds * case.rate_hz))
    start = int(rng.integers(0, max(1, len(case.point) - length)))
    return slice(start, start + length)


def _own(case: Case, *stems: str) -> str:
    return f"{stems[0]}_{case.side}"


def _segment(case: Case, rng: np.random.Generator) -> str:
    return str(rng.choice(["pelvis", f"thigh_{case.side}", f"shank_{case.side}", f"foot_{case.side}"]))


def _swap(case: Case, frames: slice, a: list[int], b: list[int]) -> None:
    kept = case.point[frames][:, a].copy()
    case.point[frames, a] = case.point[frames][:, b]
    case.point[frames, b] = kept


def exchange_in_segment(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """Two markers of one segment under each other's names."""
    a, b = rng.choice(case.tracking[_segment(case, rng)], 2, replace=False)
    _swap(case, _stretch(case, seconds, rng), [int(a)], [int(b)])


def exchange_left_right(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """A landmark's left and right marker under each other's names."""
    stems = [n[:-2] for n in case.names if n.endswith("_r") and n in LANDMARK_SEGMENT and n[:-2] + "_l" in case.names]
    tracked = {c for own in case.tracking.values() for c in own}
    stem = str(rng.choice([s for s in stems if case.names.index(f"{s}_r") in tracked]))
    frames = _stretch(case, seconds, rng)
    _swap(case, frames, [case.names.index(f"{stem}_r")], [case.names.index(f"{stem}_l")])


def exchange_between_segments(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """A marker of the thigh and one of the shank under each other's names."""
    a = int(rng.choice(case.tracking[_own(case, "thigh")]))
    b = int(rng.choice(case.tracking[_own(case, "shank")]))
    _swap(case, _stretch(case, seconds, rng), [a], [b])


def exchange_clusters(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """The whole plate of one leg under the names of the other's."""
    stem = str(rng.choice(["thigh", "shank"]))
    _swap(case, _stretch(case, seconds, rng), case.tracking[f"{stem}_r"], case.tracking[f"{stem}_l"])


def exchange_legs(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """Every marker of one leg under the names of the other's."""
    right = [k for s in ("thigh", "shank", "foot") for k in case.tracking[f"{s}_r"]]
    left = [k for s in ("thigh", "shank", "foot") for k in case.tracking[f"{s}_l"]]
    for k, name in enumerate(case.names):
        if LANDMARK_SEGMENT.get(name, "").startswith(("thigh", "shank")) and name.endswith("_r"):
            right.append(k)
            left.append(case.names.index(name[:-2] + "_l"))
    _swap(case, _stretch(case, seconds, rng), right, left)


def _on_segment(case: Case, segment: str) -> list[int]:
    """Columns that track a segment, and of its landmarks that the trial shows."""
    landmarks = [k for k, n in enumerate(case.names) if LANDMARK_SEGMENT.get(n) == segment]
    shown = [k for k in landmarks if np.isfinite(case.point[:, k]).any()]
    return list(dict.fromkeys([*case.tracking[segment], *shown]))


def exchange_in_both_files(case: Case, _size: float, rng: np.random.Generator) -> None:
    """Two landmarks of a segment under each other's names in the standing trial and in this one, as in a wrong marker set."""
    segment = str(rng.choice([_segment(case, rng), "trunk"]))
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
    _swap(case, _stretch(case, seconds, rng), [case.names.index(f"{stem}_r")], [case.names.index(f"{stem}_l")])


def exchange_rider(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """A landmark of the leg that tracks nothing and another marker of its segment under each other's names."""
    segment = _own(case, str(rng.choice(["thigh", "shank"])))
    on = _on_segment(case, segment)
    a = int(rng.choice([k for k in on if k not in case.tracking[segment]]))
    b = int(rng.choice([k for k in on if k != a]))
    _swap(case, _stretch(case, seconds, rng), [a], [b])


def segment_hidden(case: Case, seconds: float, rng: np.random.Generator) -> None:
    """All markers of a segment hidden around a bottom."""
    half = max(1, round(seconds * case.rate_hz / 2))
    bottom = int(rng.choice(case.bottoms))
    case.point[max(0, bottom - half) : bottom + half, case.tracking[_segment(case, rng)]] = np.nan


def markers_lost(case: Case, share: float, rng: np.random.Generator) -> None:
    """Two markers of a segment missing in a share of the trial."""
    lost = rng.choice(case.tracking[_segment(case, rng)], 2, replace=False)
    length = round(share / 100 * len(case.point))
    start = int(rng.integers(0, len(case.point) - length + 1))
    case.point[start : start + length, lost] = np.nan


def flicker(case: Case, per_second: float, rng: np.random.Generator) -> None:
    """A marker that comes and goes."""
    column = int(rng.choice(case.tracking[_segment(case, rng)]))
    starts = rng.choice(len(case.point) - 5, round(per_second * len(case.point) / case.rate_hz), replace=False)
    case.point[(starts[:, None] + np.arange(4)).ravel(), column] = np.nan


def _offset(mm: float, rng: np.random.Generator) -> FloatArray:
    way = rng.normal(size=3)
    return np.asarray(mm * way / np.linalg.norm(way))


def _shifted(case: Case, columns: list[int], segment: str, local: FloatArray, frames: slice) -> None:
    """Move markers by a vector (3,) or (T, 3) in their segment's own frame."""
    own = case.tracking[segment]
    model = np.nanmean(case.static[:, own], axis=0)
    rotation = rigid_fit(model, case.point[:, own]).rotation
    case.point[frames, columns] += np.einsum("tij,tj->ti", rotation, np.broadcast_to(local, (len(rotation), 3)))[
        frames
    ][:, None]


def marker_knocked(case: Case, mm: float, rng: np.random.Generator) -> None:
    """A marker knocked in the middle of the trial, which stays where it went."""
    segment = _segment(case, rng)
    column = int(rng.choice(case.tracking[segment]))
    start = int(len(case.point) * rng.uniform(0.2, 0.8))
    _shifted(case, [column], segment, _offset(mm, rng), slice(start, None))


def marker_pulled(case: Case, mm: float, rng: np.random.Generator) -> None:
    """A marker off its place for a tenth to a whole second around a bottom, and back."""
    segment = _segment(case, rng)
    half = max(1, round(rng.uniform(0.05, 0.5) * case.rate_hz))
    bottom = int(rng.choice(case.bottoms))
    frames = slice(max(0, bottom - half), bottom + half)
    _shifted(case, [int(rng.choice(case.tracking[segment]))], segment, _offset(mm, rng), frames)


def marker_moved(case: Case, mm: float, rng: np.random.Generator) -> None:
    """A marker put back elsewhere between the standing trial and this one."""
    segment = _segment(case, rng)
    _shifted(case, [int(rng.choice(case.tracking[segment]))], segment, _offset(mm, rng), slice(None))


def spikes(case: Case, mm: float, rng: np.random.Generator) -> None:
    """One sample off its path, at a bottom."""
    segment = _segment(case, rng)
    case.point[int(rng.choice(case.bottoms)), int(rng.choice(case.tracking[segment]))] += _offset(mm, rng)


def another_person(case: Case, _size: float, _rng: np.random.Generator) -> None:
    """Another person's standing trial."""
    case.static = case.other_static.copy()


def cluster_remounted(case: Case, mm: float, rng: np.random.Generator) -> None:
    """All markers of a plate put back, each a little elsewhere."""
    segment = f"{rng.choice(['thigh', 'shank'])}_{case.side}"
    for column in case.tracking[segment]:
        _shifted(case, [column], segment, _offset(mm, rng), slice(None))


def cluster_turned(case: Case, degrees: float, rng: np.random.Generator) -> None:
    """A plate turned as a whole about the long axis of its segment since the standing trial."""
    stem = str(rng.choice(["thigh", "shank"]))
    segment = f"{stem}_{case.side}"
    top, low = (
        ("greater_trochanter", "lateral_epicondyle") if stem == "thigh" else ("lateral_epicondyle", "lateral_malleolus")
    )
    ends = [np.nanmean(case.static[:, case.names.index(f"{n}_{case.side}")], axis=0) for n in (top, low)]
    inner = "medial_epicondyle" if stem == "thigh" else "medial_malleolus"
    medial = np.nanmean(case.static[:, case.names.index(f"{inner}_{case.side}")], axis=0)
    centre = 0.5 * (ends[1] + medial)
    axis = (ends[0] - ends[1]) / np.linalg.norm(ends[0] - ends[1])
    own = case.tracking[segment]
    model = np.nanmean(case.static[:, own], axis=0)
    turned = (model - centre) @ rotation_about(axis, np.deg2rad(degrees)).T + centre
    fit = rigid_fit(model, case.point[:, own])
    case.point[:, own] += np.einsum("tij,pj->tpi", fit.rotation, turned - model)


def cluster_slides(case: Case, mm: float, rng: np.random.Generator) -> None:
    """A plate that slides down its segment over the trial."""
    segment = f"{rng.choice(['thigh', 'shank'])}_{case.side}"
    course = np.linspace(0.0, 1.0, len(case.point))[:, None] * _offset(mm, rng)
    _shifted(case, case.tracking[segment], segment, course, slice(None))


def pelvis_slides(case: Case, mm: float, rng: np.random.Generator) -> None:
    """All markers of the pelvis, on a belt that slides over the trial."""
    course = np.linspace(0.0, 1.0, len(case.point))[:, None] * _offset(mm, rng)
    _shifted(case, case.tracking["pelvis"], "pelvis", course, slice(None))


def segment_leaps(case: Case, mm: float, rng: np.random.Generator) -> None:
    """All tracking markers of a segment elsewhere from one frame to the next, for good or for half a second about a bottom."""
    segment = _segment(case, rng)
    _shifted(case, case.tracking[segment], segment, _offset(mm, rng), _from_now_on(case, rng))


def landmark_leaps(case: Case, mm: float, rng: np.random.Generator) -> None:
    """The same of one landmark that tracks nothing, on the measured leg or a shoulder."""
    tracked = {c for own in case.tracking.values() for c in own}
    names = ("patella", "lateral_epicondyle", "tibial_tuberosity", "lateral_malleolus", "acromion")
    columns = [case.names.index(f"{n}_{case.side}") for n in names]
    column = int(rng.choice([c for c in columns if c not in tracked]))
    segment = LANDMARK_SEGMENT[case.names[column]]
    _shifted(case, [column], segment, _offset(mm, rng), _from_now_on(case, rng))


def landmark_back_elsewhere(case: Case, mm: float, rng: np.random.Generator) -> None:
    """A kneecap that was hidden for a tenth of a second and is elsewhere afterwards."""
    column, segment = case.names.index(f"patella_{case.side}"), _own(case, "thigh")
    start = int(len(case.point) * rng.uniform(0.2, 0.8))
    _shifted(case, [column], segment, _offset(mm, rng), slice(start, None))
    case.point[start - round(0.1 * case.rate_hz) : start, column] = np.nan


def _from_now_on(case: Case, rng: np.random.Generator) -> slice:
    """From somewhere in the middle of the trial to its end, or half a second about a bottom."""
    if rng.random() < 0.5:
        return slice(int(len(case.point) * rng.uniform(0.2, 0.8)), None)
    half = max(1, round(0.25 * case.rate_hz))
    bottom = int(rng.choice(case.bottoms))
    return slice(max(0, bottom - half), bottom + half)


def landmark_misplaced(case: Case, mm: float, rng: np.random.Generator) -> None:
    """A landmark off the bone in the standing trial and the movement alike."""
    names = ("lateral_epicondyle", "medial_epicondyle", "asis", "psis", "lateral_malleolus")
    name = f"{rng.choice(names)}_{case.side}"
    column, segment = case.names.index(name), LANDMARK_SEGMENT[name]
    place = _offset(mm, rng)
    case.static[:, column] += place
    model = np.nanmean(case.static[:, case.tracking[segment]], axis=0)
    rotation = rigid_fit(model, case.point[:, case.tracking[segment]]).rotation
    case.point[:, column] += np.nan_to_num(rotation @ place)


def epicondyles_turned(case: Case, degrees: float, _rng: np.random.Generator) -> None:
    """Both epicondyle markers turned about the thigh's long axis, in the standing trial and the movement alike."""
    segment = _own(case, "thigh")
    columns = [case.names.index(f"{side}_epicondyle_{case.side}") for side in ("lateral", "medial")]
    places = np.nanmean(case.static[:, columns], axis=0)
    middle = places.mean(axis=0)
    axis = np.nanmean(case.static[:, case.names.index(f"greater_trochanter_{case.side}")], axis=0) - middle
    turn = rotation_about(axis / np.linalg.norm(axis), np.deg2rad(degrees))
    offset = (places - middle) @ turn.T + middle - places
    case.static[:, columns] += offset
    model = np.nanmean(case.static[:, case.tracking[segment]], axis=0)
    rotation = rigid_fit(model, case.point[:, case.tracking[segment]]).rotation
    case.point[:, columns] += np.einsum("tij,pj->tpi", rotation, offset)


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


def _moving(case: Case, rng: np.random.Generator) -> int:
    """A frame in which the pelvis goes down or up as fast as it does around one of the bottoms."""
    height = case.point[:, case.tracking["pelvis"], 1]
    around = int(rng.choice(case.bottoms)) + np.arange(-round(0.8 * case.rate_hz), round(0.8 * case.rate_hz))
    around = around[(around > 2) & (around < len(height) - 6)]
    # Marker by marker: the mean of those seen leaps where one of them vanishes.
    step = np.nanmean(np.abs(height[around + 1] - height[around - 1]), axis=1)
    return int(around[np.nanargmax(step)])


def frames_dropped(case: Case, count: float, rng: np.random.Generator) -> None:
    """Frames lost in the middle of a descent."""
    at = _moving(case, rng)
    case.point = np.delete(case.point, np.arange(at, at + int(count)), axis=0)


def frames_doubled(case: Case, count: float, rng: np.random.Generator) -> None:
    """A frame written several times."""
    at = _moving(case, rng)
    case.point = np.insert(case.point, [at] * int(count), case.point[at], axis=0)


KINDS = (
    Kind("two markers of a segment exchanged", exchange_in_segment, (0.1, 0.5, 0), "s (0: all)"),
    Kind("left and right landmark exchanged", exchange_left_right, (0.1, 0.5, 0), "s (0: all)"),
    Kind("thigh and shank marker exchanged", exchange_between_segments, (0.1, 0.5, 0), "s (0: all)"),
    Kind("plates of both legs exchanged", exchange_clusters, (0.5, 2, 0), "s (0: all)"),
    Kind("legs exchanged", exchange_legs, (0.5, 2, 0), "s (0: all)"),
    Kind("landmarks exchanged in both files", exchange_in_both_files, (0,), "", "every"),
    Kind("left and right exchanged, tracking nothing", exchange_riders_sides, (0.5, 2, 0), "s (0: all)", "every"),
    Kind("landmark and neighbour exchanged", exchange_rider, (0.5, 2, 0), "s (0: all)", "every"),
    Kind("segment hidden at a bottom", segment_hidden, (0.3, 0.6, 1.0), "s"),
    Kind("two markers of a segment lost", markers_lost, (20, 50, 100), "%"),
    Kind("marker flickers", flicker, (2, 4), "1/s"),
    Kind("marker knocked", marker_knocked, (10, 20, 40), "mm"),
    Kind("marker off its place for a while", marker_pulled, (15, 30, 60), "mm"),
    Kind("marker put back elsewhere", marker_moved, (10, 20, 40), "mm"),
    Kind("plate put back, marker by marker", cluster_remounted, (5, 10, 20), "mm"),
    Kind("spike at a bottom", spikes, (15, 30, 100), "mm"),
    Kind("another person's standing trial", another_person, (0,), ""),
    Kind("pair exchanged in the standing trial", standing_pair_exchanged, (0,), ""),
    Kind("left-handed axes", left_handed, (0,), ""),
    Kind("frames dropped", frames_dropped, (1, 3), "frames", "smallest"),
    Kind("frames doubled", frames_doubled, (1, 3), "frames", "smallest"),
    Kind("plate turned as a whole", cluster_turned, (3, 6, 9, 12, 15), "deg", "smallest"),
    Kind("plate slides over the trial", cluster_slides, (3, 6, 10, 20), "mm", "smallest"),
    Kind("segment leaps as a whole", segment_leaps, (10, 15, 25, 40), "mm", "smallest"),
    Kind("pelvis slides over the trial", pelvis_slides, (10, 20, 40, 60), "mm", "smallest"),
    Kind("landmark that tracks nothing leaps", landmark_leaps, (20, 30, 50, 80), "mm", "smallest"),
    Kind("kneecap elsewhere after a gap", landmark_back_elsewhere, (20, 40, 60, 80), "mm", "smallest"),
    Kind("landmark misplaced", landmark_misplaced, (10, 20, 40, 60, 80, 100), "mm", "smallest"),
    Kind("epicondyles turned about the thigh", epicondyles_turned, (15, 25, 35, 45), "deg", "smallest"),
)
