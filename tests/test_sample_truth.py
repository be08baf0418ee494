"""The truth beside the simulated recordings: contributions, causes, repetitions, travel, the matched pair."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from condyle.sample import (
    Movement,
    Options,
    Posture,
    SimulatedTrial,
    build_person,
    check_person,
    matched_pair,
    simulate,
    simulate_static,
)
from condyle.sample.accounts import account_of, cause_of, contributions, contributions_below
from condyle.sample.movements import CHECK_DEPTH
from condyle.sample.timing import Timing
from condyle.sample.truth import ANGLES, Repetition, travels_of
from condyle.sample.turning import SIDES, SUFFIX

ONE = Options.ideal(timing=Timing(repetitions=1, tempo_spread=0.0))
UNEVEN = Posture(
    pelvis_tilt=11.0, pelvis_obliquity=1.0, hip_internal_rotation=3.0, knee_adduction=1.5, knee_internal_rotation=-13.0
)


def angle(trial: SimulatedTrial, side: str, name: str, frame: int) -> float:
    return float(trial.angles()[frame, SIDES.index(side), ANGLES.index(name)])


PERSON = check_person()
TABLE = [  # change at the bottom; FPPA change, knee medial of the hip centre, thigh axial rotation; parts of each
    (
        {"pelvis_rotation": 22.0},
        (36.0, 124.0, 22.0),
        {"pelvis_rotation": (36.0, 124.0, 22.0)},
    ),
    (
        {"hip_adduction": 18.0, "hip_internal_rotation": 8.0},
        (31.9, 129.8, 19.1),
        {"hip_adduction": (23.5, 129.8, None), "hip_internal_rotation": (8.4, 0.0, None)},
    ),
    (
        {"pelvis_obliquity": 12.0, "hip_adduction": 12.0},
        (16.3, 32.8, 9.5),
        {"hip_adduction": (16.3, 87.0, 9.5), "pelvis_obliquity": (0.0, -54.1, 0.0)},
    ),
    (
        {
            **{"pelvis_rotation": 12.0, "pelvis_obliquity": 5.0, "hip_adduction": 10.0, "hip_internal_rotation": 8.0},
            **{"knee_adduction": -3.0, "knee_internal_rotation": 4.0},
        },
        (43.3, 117.1, 24.8),
        {
            "pelvis_rotation": (19.4, 67.7, 12.0),
            "pelvis_obliquity": (0.2, -22.3, 0.0),
            "hip_adduction": (12.4, 71.6, 7.9),
            "hip_internal_rotation": (8.2, 0.0, 5.0),
            "knee_adduction": (3.1, 0.0, 0.0),
            "knee_internal_rotation": (0.0, 0.0, 0.0),
        },
    ),
]


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize(("change", "total", "parts"), TABLE)
def test_contributions_vs_recomputed_table(side: str, change: dict, total: tuple, parts: dict) -> None:
    """Shapley values of a leg of 420 and 410 mm (recomputed, no published table); to 0.1 degree and 0.1 mm."""
    found = bottom_parts(side, change)
    np.testing.assert_allclose(sum(found.values()), total, atol=0.1)
    for source, values in found.items():
        for value, expected in zip(values, parts.get(source, (0.0, 0.0, 0.0)), strict=True):
            assert expected is None or value == pytest.approx(expected, abs=0.1), source


def bottom_parts(side: str, change: dict[str, float], start: dict[str, float] | None = None) -> dict[str, np.ndarray]:
    """Parts (MEASURES) at the bottom from the start, through the whole chain: person, movement, poses, angles."""
    trial = simulate(PERSON, Movement("row", "", change, start or {}, sagittal=CHECK_DEPTH), ONE, side)
    bout = replace(trial.bouts[0], repetitions=(replace(trial.bouts[0].repetitions[0], start=0),))  # before it moves
    parts = contributions(replace(trial, bouts=(bout,)), simulate_static(PERSON))
    return {source: values[:, 0, 0] for source, values in parts["from_start"].items()}


@pytest.mark.parametrize("side", SIDES)
def test_posture_already_there(side: str) -> None:
    """Turned 10, adducted 8, rotated in 8 and kept: 34.3 all sagittal from the start; 16.5, 10.3, 8.4 from standing."""
    start = {"pelvis_rotation": 10.0, "hip_adduction": 8.0, "hip_internal_rotation": 8.0}
    trial = simulate(PERSON, Movement("kept", "", {}, start, sagittal=CHECK_DEPTH), ONE, side)
    parts = contributions(trial, simulate_static(PERSON))
    from_start = {k: v[0, 0, 0] for k, v in parts["from_start"].items()}
    assert from_start.pop("sagittal") == pytest.approx(34.3, abs=0.1)
    assert max(abs(v) for v in from_start.values()) < 1e-9
    from_standing = {k: v[0, 0, 0] for k, v in parts["from_standing"].items()}
    for source, expected in (("pelvis_rotation", 16.5), ("hip_adduction", 10.3), ("hip_internal_rotation", 8.4)):
        assert from_standing[source] == pytest.approx(expected, abs=0.1)
    assert from_standing["sagittal"] == pytest.approx(0.0, abs=0.05)
    assert cause_of(parts, "fppa", 0, 0)[1] == "standing"
    assert trial.heading_at_start() == pytest.approx(10.0 if side == "right" else -10.0)
    at_start = {k: v[0, 0, 1] for k, v in parts["from_start"].items()}  # by its own heading the pelvis is not turned
    assert at_start["sagittal"] < 34.3 - 10.0


def test_shapley_parts_do_not_depend_on_the_side_of_the_sum() -> None:
    """Parts add up to the change of the measured FPPA itself, worked out from the joint centres."""
    trial = simulate(build_person(posture=UNEVEN), "shared", ONE)
    parts = contributions(trial, simulate_static(trial.person))["from_start"]
    squat = trial.bouts[0].repetitions[0]
    change = angle(trial, "right", "fppa", squat.bottom) - angle(trial, "right", "fppa", squat.start)
    assert sum(float(v[0, 0, 0]) for v in parts.values()) == pytest.approx(change, abs=1e-9)
    below = contributions_below(trial)
    turn = angle(trial, "right", "thigh_axial_rotation", squat.bottom)
    turn -= angle(trial, "right", "thigh_axial_rotation", squat.start)
    assert sum(float(v[1, 0]) for v in below.values()) == pytest.approx(turn, abs=1e-9)


def test_pelvis_turned_22_is_22_of_ankle_rotation_from_below() -> None:
    below = {
        name: values[1, 0]
        for name, values in contributions_below(
            simulate(PERSON, Movement("t", "", {"pelvis_rotation": 22.0}, sagittal=CHECK_DEPTH), ONE)
        ).items()
    }
    assert below["ankle"] == pytest.approx(22.0, abs=0.2)
    assert abs(below["foot_on_floor"]) < 1e-9


@pytest.mark.parametrize(
    ("name", "cause", "below"),
    [
        ("controlled", "none", None),
        ("hip_in", "at_the_hip", "ankle"),
        ("pelvis_turn", "with_the_pelvis", "ankle"),
        ("knee_out", "at_the_hip", None),
        ("knee_giving", "in_the_leg", None),
        ("pronating", "at_the_hip", "ankle"),
        ("foot_rolling", "at_the_hip", "foot_on_floor"),
        ("shared", "mixed", "ankle"),
    ],
)
def test_movements_do_what_they_are_called(name: str, cause: str, below: str | None) -> None:
    person = replace(build_person(), posture=Posture(one_leg_adduction=1.0))
    for side in SIDES:
        trial = simulate(person, name, ONE, side)
        told = account_of(trial, simulate_static(person), 0)["repetitions"][0]
        assert told["true_forward"]["cause"]["fppa"] == cause, told["true_forward"]["contributions"]["fppa"]
        assert below is None or told["from_below"] == below, told["contributions_from_below"]


def test_wavering_knee_ends_near_its_start() -> None:
    trial = simulate(build_person(), "wavering", ONE)
    squat = trial.bouts[0].repetitions[0]
    knee = travels_of("right", trial.centres()["knee_r"], squat)
    path = np.abs(np.diff(trial.centres()["knee_r"][squat.start : squat.end, 2])).sum()
    assert abs(knee["travel"]) < 35.0
    assert path > 4.0 * abs(knee["travel"])


def test_sixty_in_with_sixty_down_is_45_degrees() -> None:
    place = np.array([[0.0, 60.0, 0.0], [0.0, 0.0, -60.0], [0.0, 60.0, 10.0]])
    found = travels_of("right", place, Repetition(0, 1, 2, True))
    assert found["path_angle_descent"] == pytest.approx(45.0)
    assert found["path_angle_ascent"] == pytest.approx(np.degrees(np.arctan2(70.0, 60.0)))
    assert found["travel"] == pytest.approx(60.0)
    assert found["end_offset"] == pytest.approx(-10.0)
    assert travels_of("left", place, Repetition(0, 1, 2, True))["travel"] == pytest.approx(-60.0)


@pytest.mark.parametrize(
    "timing",
    [
        Timing(repetitions=3),
        Timing(repetitions=3, pause_bottom_s=0.8),
        Timing(repetitions=3, pause_on_the_way_s=0.5),
        Timing(repetitions=3, between_s=1.5, shaky_start_deg=0.8),
        Timing(repetitions=3, between_s=0.0),
        Timing(repetitions=3, depths=(0.6, 1.0, 0.8)),
        Timing(repetitions=3, cut_first=True, cut_last=True),
    ],
)
def test_repetitions_by_definition(timing: Timing) -> None:
    """Bottom = deepest knee flexion; start and end = slower than 5 deg/s, judged here by the prescribed course."""
    trial = simulate(build_person(), "controlled", replace(ONE, timing=timing), "left")
    bout = trial.bouts[0]
    flexion = trial.angles()[:, 0, ANGLES.index("knee_flexion")]
    assert [r.complete for r in bout.repetitions] == ([False, True, False] if timing.cut_first else [True] * 3)
    for k, squat in enumerate(bout.repetitions):
        assert squat.start < squat.bottom < squat.end
        depth = timing.depths[k] if timing.depths else 1.0
        assert flexion[squat.bottom] == pytest.approx(3.0 + 76.0 * depth, abs=1.2)
        if squat.complete:
            assert flexion[squat.start] < 6.0
            assert flexion[squat.end] < 6.0
            if not timing.shaky_start_deg:  # the first slow frame: inwards of it the knee is faster
                speed = np.abs(np.diff(flexion)) * 100.0
                assert speed[squat.start - 1] < 5.0 <= speed[squat.start + 1]
                assert speed[squat.end] < 5.0 <= speed[squat.end - 2]
            assert flexion[squat.bottom] == flexion[squat.start : squat.end + 1].max()
    ends = [(r.start, r.end) for r in bout.repetitions]
    assert all(a[1] <= b[0] for a, b in pairwise(ends))


@pytest.mark.parametrize("side", SIDES)
def test_matched_pair_looks_alike(side: str) -> None:
    """Thigh 420, shank 410 mm: pelvis +22 equals adduction 16.6 with internal rotation 13.8 (recomputed)."""
    hip, pelvis = matched_pair()
    one, other = (simulate(check_person(), movement, ONE, side) for movement in (hip, pelvis))
    bottom = one.bouts[0].repetitions[0].bottom
    assert angle(one, side, "hip_adduction", bottom) == pytest.approx(16.6, abs=0.1)
    assert angle(one, side, "hip_internal_rotation", bottom) == pytest.approx(13.8, abs=0.1)
    assert angle(one, side, "pelvis_rotation", bottom) == pytest.approx(0.0, abs=1e-9)
    assert angle(other, side, "pelvis_rotation", bottom) == pytest.approx(22.0)
    fppa = [t.angles()[:, SIDES.index(side), ANGLES.index("fppa")] for t in (one, other)]
    path = [t.marker_truth[:, t.markers.index(f"patella{SUFFIX[side]}"), 2] for t in (one, other)]
    travel = [p - p[0] for p in path]
    assert fppa[0][bottom] > 30.0
    assert abs(travel[0][bottom]) > 60.0
    assert abs(travel[0][bottom] - travel[1][bottom]) < 2.0
    assert np.abs(fppa[0] - fppa[1]).max() < 1.0
    assert np.abs(travel[0] - travel[1]).max() < 5.0
    half = int(np.argmin(np.abs(one.angles()[:bottom, SIDES.index(side), ANGLES.index("knee_flexion")] - 40.0)))
    assert angle(one, side, "hip_internal_rotation", half) > angle(one, side, "hip_adduction", half)  # it leads
