"""The forward model against geometry, SciPy, ezc3d, and the numbers that its people were built from."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from condyle.sample import (
    MOVEMENTS,
    Movement,
    Options,
    Posture,
    SimulatedTrial,
    build_person,
    check_person,
    simulate,
    simulate_bouts,
    simulate_static,
)
from condyle.sample.movements import CHECK_DEPTH
from condyle.sample.person import hip_centre_harrington
from condyle.sample.timing import Timing
from condyle.sample.truth import ANGLES
from condyle.sample.turning import SIDES, SUFFIX, joint_degrees, joint_matrix, turned, upright_degrees, upright_matrix

ONE = Options.ideal(timing=Timing(repetitions=1, tempo_spread=0.0))
UNEVEN = Posture(
    pelvis_tilt=11.0, pelvis_obliquity=1.0, hip_internal_rotation=3.0, knee_adduction=1.5, knee_internal_rotation=-13.0
)


def angle(trial: SimulatedTrial, side: str, name: str, frame: int) -> float:
    return float(trial.angles()[frame, SIDES.index(side), ANGLES.index(name)])


@pytest.mark.parametrize("side", SIDES)
def test_rotations_vs_scipy(side: str) -> None:
    mirror = 1 if side == "right" else -1
    for axis in "xyz":
        np.testing.assert_allclose(turned(axis, 33.0), Rotation.from_euler(axis, 33.0, degrees=True).as_matrix())
    knee = Rotation.from_euler("ZXY", [-40.0, mirror * 7.0, mirror * -9.0], degrees=True).as_matrix()
    np.testing.assert_allclose(joint_matrix("knee", side, 40.0, 7.0, -9.0), knee)
    hip = Rotation.from_euler("ZXY", [40.0, mirror * 7.0, mirror * -9.0], degrees=True).as_matrix()
    np.testing.assert_allclose(joint_degrees("hip", side, np.eye(3), hip), [40.0, 7.0, -9.0])
    pelvis = Rotation.from_euler("YXZ", [mirror * 12.0, mirror * -5.0, -20.0], degrees=True).as_matrix()
    np.testing.assert_allclose(upright_matrix("pelvis", side, 12.0, 5.0, 20.0), pelvis)
    np.testing.assert_allclose(upright_degrees("pelvis", side, pelvis), [12.0, 5.0, 20.0])
    trunk = Rotation.from_euler("YXZ", [mirror * 12.0, mirror * 5.0, -20.0], degrees=True).as_matrix()
    np.testing.assert_allclose(upright_degrees("trunk", side, trunk), [12.0, 5.0, 20.0])


def test_hip_centre_vs_harrington_2007() -> None:
    """PW 240, PD 180 mm: -53.1, -82.9, +-86.5 (Harrington et al. 2007, J Biomech 40:595)."""
    np.testing.assert_allclose(hip_centre_harrington(240.0, 180.0, "right"), [-53.1, -82.9, 86.5])
    np.testing.assert_allclose(hip_centre_harrington(240.0, 180.0, "left"), [-53.1, -82.9, -86.5])


def test_landmarks_span_the_axes_they_stand_for() -> None:
    """ISB, Wu et al. 2002 and 2005: each frame built anew from its landmarks is the segment's own."""
    trial = simulate_static(build_person(posture=UNEVEN))
    at = {name: trial.marker_truth[0, k] for k, name in enumerate(trial.markers)}
    axes, centres = trial.motion.axes, {k: v[0] for k, v in trial.centres().items()}

    def unit(vector: np.ndarray) -> np.ndarray:
        return vector / np.linalg.norm(vector)

    right = unit(at["asis_r"] - at["asis_l"])
    np.testing.assert_allclose(axes["pelvis"][0, :, 2], right, atol=1e-12)
    assert abs(np.dot(axes["pelvis"][0, :, 1], at["psis_r"] + at["psis_l"] - at["asis_r"] - at["asis_l"])) < 1e-9
    for side, mirror in (("r", 1), ("l", -1)):
        knee = (at[f"lateral_epicondyle_{side}"] + at[f"medial_epicondyle_{side}"]) / 2
        ankle = (at[f"lateral_malleolus_{side}"] + at[f"medial_malleolus_{side}"]) / 2
        np.testing.assert_allclose(knee, centres[f"knee_{side}"], atol=1e-9)
        np.testing.assert_allclose(ankle, centres[f"ankle_{side}"], atol=1e-9)
        np.testing.assert_allclose(axes[f"thigh_{side}"][0, :, 1], unit(centres[f"hip_{side}"] - knee), atol=1e-12)
        np.testing.assert_allclose(axes[f"shank_{side}"][0, :, 1], unit(knee - ankle), atol=1e-12)
        for segment, pair in (("thigh", "epicondyle"), ("shank", "malleolus")):
            across = mirror * (at[f"lateral_{pair}_{side}"] - at[f"medial_{pair}_{side}"])
            assert abs(np.dot(axes[f"{segment}_{side}"][0, :, 0], across)) < 1e-9
            assert np.dot(axes[f"{segment}_{side}"][0, :, 2], across) > 60.0
        toes = (at[f"metatarsal_1_{side}"] + at[f"metatarsal_5_{side}"]) / 2 - at[f"calcaneus_{side}"]
        np.testing.assert_allclose(axes[f"foot_{side}"][0, :, 0], unit(toes), atol=1e-12)
    up = unit(at["jugular_notch"] + at["c7"] - at["xiphoid"] - at["t10"])
    np.testing.assert_allclose(axes["trunk"][0, :, 1], up, atol=1e-12)


@pytest.mark.parametrize("name", list(MOVEMENTS))
def test_planted_foot_stays_and_bones_keep_their_length(name: str) -> None:
    person = build_person(posture=UNEVEN)
    trial = simulate(person, name, ONE)
    feet = ("r", "l") if name == "double_leg_squat" else ("r",)
    moves = any(part.startswith("foot_") for part in MOVEMENTS[name].change)
    for side in feet:
        for marker in ("calcaneus", "metatarsal_1", "metatarsal_5"):
            path = trial.marker(f"{marker}_{side}")
            assert (np.ptp(path, axis=0).max() < 1e-9) != moves
    centres = trial.centres()
    for side in ("r", "l"):
        thigh = np.linalg.norm(centres[f"hip_{side}"] - centres[f"knee_{side}"], axis=1)
        shank = np.linalg.norm(centres[f"knee_{side}"] - centres[f"ankle_{side}"], axis=1)
        np.testing.assert_allclose(thigh, person.thigh_mm, rtol=1e-12)
        np.testing.assert_allclose(shank, person.shank_mm, rtol=1e-12)
    if name not in ("double_leg_squat", "step_down"):
        free = trial.marker_truth[:, [k for k, m in enumerate(trial.markers) if m.endswith("_l") and "meta" in m], 1]
        assert free.min() > 40.0
    for axes in trial.motion.axes.values():
        np.testing.assert_allclose(axes @ axes.swapaxes(1, 2), np.broadcast_to(np.eye(3), axes.shape), atol=1e-12)


def test_toes_point_outwards() -> None:
    trial = simulate_static(build_person(posture=replace(UNEVEN, toe_out=12.0)))
    for side, outwards in (("r", 1.0), ("l", -1.0)):
        along = (trial.marker(f"metatarsal_2_{side}") - trial.marker(f"calcaneus_{side}"))[0]
        lab = trial.options.lab.from_participant().T @ along
        assert outwards * lab[2] > 0.1 * lab[0] > 0.0


def test_step_down_free_foot_is_lower_than_the_stance_foot() -> None:
    trial = simulate(build_person(), "step_down", ONE, "left")
    bottom = trial.bouts[0].repetitions[0].bottom
    assert trial.marker("calcaneus_r")[bottom, 2] < trial.marker("calcaneus_l")[bottom, 2] - 20.0
    assert trial.marker_truth[..., 1].min() > 40.0  # and clear of the floor below the step


@pytest.mark.parametrize("side", SIDES)
@pytest.mark.parametrize(
    "moved",
    [
        *("pelvis_rotation", "pelvis_obliquity", "hip_adduction", "hip_internal_rotation", "knee_adduction"),
        *("knee_internal_rotation", "trunk_rotation", "trunk_lean"),
    ],
)
def test_moving_one_angle_moves_that_angle_alone(side: str, moved: str) -> None:
    trial = simulate(check_person(), Movement("one", "", {moved: 11.0}, sagittal=CHECK_DEPTH), ONE, side)
    bottom = trial.bouts[0].repetitions[0].bottom
    start = {"pelvis_tilt": 8.0, "hip_flexion": 5.0, "knee_flexion": 3.0}
    for name in (*CHECK_DEPTH, moved):
        expected = start.get(name, 0.0) + CHECK_DEPTH.get(name, 0.0) + (11.0 if name == moved else 0.0)
        assert angle(trial, side, name, bottom) == pytest.approx(expected, abs=1e-9)
    others = {"pelvis_rotation", "pelvis_obliquity", "hip_adduction", "hip_internal_rotation", "knee_adduction"}
    for name in others - {moved}:
        assert angle(trial, side, name, bottom) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("side", SIDES)
def test_signs_show_in_the_markers(side: str) -> None:
    """Positive alike on both sides, read off the places of markers and not off the angles."""
    inwards = -1.0 if side == "right" else 1.0
    end, bottom_of = SUFFIX[side], lambda t: t.bouts[0].repetitions[0].bottom
    start = 0

    def trial(**change: float) -> SimulatedTrial:
        return simulate(check_person(), Movement("one", "", change, sagittal={"knee_flexion": 0.5}), ONE, side)

    def at(t: SimulatedTrial, marker: str) -> np.ndarray:
        k = t.markers.index(marker)
        return t.marker_truth[bottom_of(t), k] - t.marker_truth[start, k]

    turn = trial(pelvis_rotation=15.0)
    other = "_l" if side == "right" else "_r"
    assert at(turn, f"asis{end}")[0] > at(turn, f"asis{other}")[0] + 40.0  # this side forward
    drop = trial(pelvis_obliquity=10.0)
    assert at(drop, f"asis{end}")[1] > at(drop, f"asis{other}")[1] + 30.0  # this side up
    lean = trial(trunk_lean=10.0)
    assert inwards * at(lean, "c7")[2] < -50.0  # towards this side
    valgus = trial(knee_adduction=-10.0)
    hip, knee, ankle = (valgus.centres()[f"{joint}{end}"][bottom_of(valgus)] for joint in ("hip", "knee", "ankle"))
    assert inwards * (knee[2] - (hip[2] + ankle[2]) / 2) > 15.0  # varus is positive: the knee goes inwards
    assert angle(valgus, side, "fppa", bottom_of(valgus)) > 8.0
    rolled = trial(foot_roll=10.0)
    assert at(rolled, f"metatarsal_5{end}")[1] > 10.0  # pronation lifts the outer border
    assert angle(rolled, side, "ankle_inversion", bottom_of(rolled)) != pytest.approx(0.0)


def test_left_is_the_mirror_of_right() -> None:
    person = build_person(posture=replace(UNEVEN, pelvis_obliquity=0.0))
    right, left = (simulate(person, "shared", ONE, side) for side in ("right", "left"))
    swap = [right.markers.index(m[:-1] + {"r": "l", "l": "r"}[m[-1]] if m[-2] == "_" else m) for m in left.markers]
    mirrored = right.marker_truth[:, swap] * [1.0, 1.0, -1.0]
    np.testing.assert_allclose(left.marker_truth, mirrored, atol=1e-9)
    np.testing.assert_allclose(left.angles(), right.angles()[:, ::-1], atol=1e-9)


def test_two_bouts_are_joined_without_a_jump() -> None:
    person = build_person(posture=UNEVEN)
    trial = simulate_bouts(person, [("right", "hip_in"), ("left", "controlled")], ONE)
    assert [bout.side for bout in trial.bouts] == ["right", "left"]
    assert np.abs(np.diff(trial.marker_truth, n=2, axis=0)).max() < 1.0  # mm per frame, per frame
    for side in ("r", "l"):
        assert trial.marker_truth[:, trial.markers.index(f"calcaneus_{side}"), 1].min() > 20.0
    standing = simulate_static(person)
    for name in ("calcaneus_r", "calcaneus_l"):  # both feet down on their prints before, between and after
        place = standing.marker(name)[0]
        for frame in (0, trial.bouts[1].start - 130, -1):
            np.testing.assert_allclose(trial.marker(name)[frame], place, atol=1e-6)
