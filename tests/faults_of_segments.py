"""Faults that move whole segments, or landmarks on them."""

import numpy as np

from condyle.body_names import LANDMARK_SEGMENT
from condyle.mechanics.rigid_fit import rigid_fit
from condyle.mechanics.rotations import rotation_about
from tests.fault_case import Case, of_the_leg, offset, shift, some_segment


def cluster_remounted(case: Case, mm: float, rng: np.random.Generator) -> None:
    """All markers of a plate put back, each a little elsewhere."""
    segment = f"{rng.choice(['thigh', 'shank'])}_{case.side}"
    for column in case.tracking[segment]:
        shift(case, [column], segment, offset(mm, rng), slice(None))


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
    course = np.linspace(0.0, 1.0, len(case.point))[:, None] * offset(mm, rng)
    shift(case, case.tracking[segment], segment, course, slice(None))


def pelvis_slides(case: Case, mm: float, rng: np.random.Generator) -> None:
    """All markers of the pelvis, on a belt that slides over the trial."""
    course = np.linspace(0.0, 1.0, len(case.point))[:, None] * offset(mm, rng)
    shift(case, case.tracking["pelvis"], "pelvis", course, slice(None))


def segment_leaps(case: Case, mm: float, rng: np.random.Generator) -> None:
    """All tracking markers of a segment elsewhere from one frame to the next, for good or for half a second about a bottom."""
    segment = some_segment(case, rng)
    shift(case, case.tracking[segment], segment, offset(mm, rng), _from_now_on(case, rng))


def landmark_leaps(case: Case, mm: float, rng: np.random.Generator) -> None:
    """The same of one landmark that tracks nothing, on the measured leg or a shoulder."""
    tracked = {c for own in case.tracking.values() for c in own}
    names = ("patella", "lateral_epicondyle", "tibial_tuberosity", "lateral_malleolus", "acromion")
    columns = [case.names.index(f"{n}_{case.side}") for n in names]
    column = int(rng.choice([c for c in columns if c not in tracked]))
    segment = LANDMARK_SEGMENT[case.names[column]]
    shift(case, [column], segment, offset(mm, rng), _from_now_on(case, rng))


def landmark_back_elsewhere(case: Case, mm: float, rng: np.random.Generator) -> None:
    """A kneecap that was hidden for a tenth of a second and is elsewhere afterwards."""
    column, segment = case.names.index(f"patella_{case.side}"), of_the_leg(case, "thigh")
    start = int(len(case.point) * rng.uniform(0.2, 0.8))
    shift(case, [column], segment, offset(mm, rng), slice(start, None))
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
    place = offset(mm, rng)
    case.static[:, column] += place
    model = np.nanmean(case.static[:, case.tracking[segment]], axis=0)
    rotation = rigid_fit(model, case.point[:, case.tracking[segment]]).rotation
    case.point[:, column] += np.nan_to_num(rotation @ place)


def epicondyles_turned(case: Case, degrees: float, _rng: np.random.Generator) -> None:
    """Both epicondyle markers turned about the thigh's long axis, in the standing trial and the movement alike."""
    segment = of_the_leg(case, "thigh")
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
