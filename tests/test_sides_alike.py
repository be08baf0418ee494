"""Are a standing person's sides each other's mirror image: the measure, and what the check says of a misplaced landmark."""

import numpy as np
import pytest
import xarray as xr
from scipy.spatial.transform import Rotation

from condyle.findings import Finding
from condyle.mechanics.symmetry import left_right_unlike
from condyle.sample import cohort
from condyle.stages.check import CheckSettings, check_trial
from tests.simulated import trial_of
from tests.standing import standing_landmarks


def test_a_symmetric_person_is_alike_however_each_segment_is_turned() -> None:
    person = standing_landmarks()
    person["greater_trochanter_r"], person["greater_trochanter_l"] = (
        np.array([-90, 900, 180.0]),
        np.array([-90, 900, -180.0]),
    )
    person |= {"hip_r": np.array([-60, 920, 90.0]), "hip_l": np.array([-60, 920, -90.0])}
    turn = Rotation.from_rotvec([0.1, -0.2, 0.15]).as_matrix()
    for name, place in person.items():  # the right leg somewhere else, as a whole
        if name.endswith("_r") and not name.startswith(("asis", "psis")):
            person[name] = turn @ place + [20.0, -5.0, 30.0]
    unlike = left_right_unlike(person)
    assert set(unlike) == {"pelvis", "thigh", "shank", "foot"}
    assert max(u.rms for u in unlike.values()) < 1e-9


def test_a_moved_landmark_is_named_with_its_offset() -> None:
    person = standing_landmarks()
    moved = np.array([4.0, -30.0, 7.0])
    person["lateral_malleolus_r"] = person["lateral_malleolus_r"] + moved
    shank = left_right_unlike(person)["shank"]
    assert shank.landmark == "lateral_malleolus"
    assert shank.offset == pytest.approx(moved, abs=1e-9), "the other four are each other's mirror image"
    # scipy's own fit of the mirrored left on the right, as a second opinion on the rms
    stems = ("lateral_epicondyle", "medial_epicondyle", "tibial_tuberosity", "lateral_malleolus", "medial_malleolus")
    right = np.array([person[f"{s}_r"] for s in stems])
    left = np.array([person[f"{s}_l"] for s in stems]) * [1, 1, -1]
    _, rssd = Rotation.align_vectors(right - right.mean(axis=0), left - left.mean(axis=0))
    assert shank.rms == pytest.approx(rssd / np.sqrt(len(stems)))
    # the pelvis is folded on itself: its right spine 24 mm up moves both halves
    person["asis_r"] = person["asis_r"] + [0, 24.0, 0]
    pelvis = left_right_unlike(person)["pelvis"]
    assert pelvis.rms == pytest.approx(left_right_unlike(person | swapped(person, "asis", "psis"))["pelvis"].rms)
    assert 5.0 < pelvis.rms < 12.0


def swapped(person: dict[str, np.ndarray], *stems: str) -> dict[str, np.ndarray]:
    """The mirror image: its right half is the left one's."""
    return {f"{s}_{a}": person[f"{s}_{b}"] * [1, 1, -1] for s in stems for a, b in ("rl", "lr")}


def test_too_few_pairs_and_a_missing_landmark_are_left_out() -> None:
    person = standing_landmarks()
    person["calcaneus_l"] = np.full(3, np.nan)
    del person["metatarsal_2_r"]
    unlike = left_right_unlike(person)
    assert "foot" not in unlike, "two pairs are no shape"
    assert "shank" in unlike
    three = {n: p for n, p in standing_landmarks().items() if not n.startswith(("tibial", "medial_malleolus"))}
    assert left_right_unlike(three)["shank"].landmark == "", "without one of three pairs nothing is left to fit"


@pytest.fixture(scope="module")
def static() -> xr.Dataset:
    return trial_of(next(cohort(1, 17)).static, task="static")


def found(static: xr.Dataset, label: str, offset: list[float]) -> list[Finding]:
    point = static["point"].values.copy()
    point[:, static["label"].values.tolist().index(label)] += offset
    trial = static.assign(point=(static["point"].dims, point))
    return [f for f in check_trial(trial, CheckSettings())[1] if f.check.startswith("sides")]


def test_a_spine_placed_too_low_is_one_row_that_names_it(static: xr.Dataset) -> None:
    assert not found(static, "R_ASIS", [0, 0, 0])
    (row,) = found(static, "R_ASIS", [0, -70, 0])
    assert (row.check, row.subject, row.verdict, row.unit) == ("sides shaped alike", "pelvis", "review", "mm")
    assert row.value is not None
    assert row.limit == 30.0
    assert row.value > 30.0
    assert "Palpate both sides again" in row.advice


def test_the_way_of_a_misplaced_epicondyle_is_told_once(static: xr.Dataset) -> None:
    (row,) = found(static, "R_KNEE_LAT", [0, 60, 0])  # thigh, shank and knee width differ by it as well
    assert (row.check, row.subject) == ("sides shaped alike", "file")
    assert "lateral epicondyle, the right one" in row.advice
    assert "mm above the left one's mirror image" in row.advice
    (row,) = found(static, "L_KNEE_LAT", [0, 60, 0])
    assert "mm below the left one's mirror image" in row.advice


def test_a_width_that_no_shape_tells_of_has_its_row(static: xr.Dataset) -> None:
    (row,) = found(static, "L_KNEE_MED", [-25, 0, 0])
    assert (row.check, row.subject) == ("sides alike", "thigh_l")
