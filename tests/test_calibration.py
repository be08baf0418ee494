"""Segment frames and joint centres of a standing person, whatever markers the set has."""

import numpy as np
import pytest

from condyle.body_names import JOINT_ANGLES, JOINTS, SEGMENTS
from condyle.mechanics.body_angles import all_angles
from condyle.mechanics.calibration import body_frames
from condyle.mechanics.rotations import rotation_y, rotation_z
from condyle.mechanics.standing_body import JOINT_ORDER, SEGMENT_ORDER, Sizes
from tests.standing import standing_landmarks


def test_orders_agree_with_the_vocabulary() -> None:
    assert SEGMENT_ORDER == SEGMENTS
    assert JOINT_ORDER == JOINTS


# PW 240, PD 180: -53.1, -82.9, +-86.5 (Harrington et al. 2007, J Biomech 40:595)
@pytest.mark.parametrize(("hip", "side"), [("hip_r", 1.0), ("hip_l", -1.0)])
def test_hip_centre_vs_harrington_2007(hip: str, side: float) -> None:
    body = body_frames(standing_landmarks())
    expected = np.array([0.0, 1000.0, 0.0]) + [-53.1, -82.9, side * 86.5]
    np.testing.assert_allclose(body.joint[JOINT_ORDER.index(hip)], expected, atol=0.05)


def test_measured_inter_asis_replaces_the_markers_distance() -> None:
    wide = body_frames(standing_landmarks(), Sizes(inter_asis=260.0))
    np.testing.assert_allclose(wide.joint[JOINT_ORDER.index("hip_r"), 2], 0.33 * 260 + 7.3, atol=1e-9)


def test_frames_are_right_handed_rotations() -> None:
    rotation = body_frames(standing_landmarks()).rotation
    np.testing.assert_allclose(np.linalg.det(rotation), 1.0, atol=1e-12)
    np.testing.assert_allclose(
        np.swapaxes(rotation, -1, -2) @ rotation, np.broadcast_to(np.eye(3), rotation.shape), atol=1e-12
    )


def test_sacrum_stands_in_for_the_mid_psis() -> None:
    landmarks = standing_landmarks()
    del landmarks["psis_r"], landmarks["psis_l"]
    body = body_frames(landmarks)
    assert ("pelvis", "the sacrum stands in for the mid-PSIS") in body.notes
    assert body.joint[JOINT_ORDER.index("hip_r"), 0] == pytest.approx(-0.24 * 150 - 9.9)


def test_a_measured_knee_width_gives_the_same_centre_as_the_medial_epicondyle() -> None:
    landmarks = standing_landmarks()
    whole = body_frames(landmarks)
    for side in "rl":
        del landmarks[f"medial_epicondyle_{side}"]
    body = body_frames(landmarks, Sizes(knee_width=(90.0, 90.0)))
    # the patella lies straight in front of the centre, so the two ways agree to the tilt of the hip - knee line
    for joint in ("knee_r", "knee_l"):
        k = JOINT_ORDER.index(joint)
        np.testing.assert_allclose(body.joint[k], whole.joint[k], atol=4.0)
    assert body.knee_unknown == (False, False)


def test_without_medial_point_and_width_the_axis_is_unknown_on_that_side_only() -> None:
    landmarks = standing_landmarks()
    del landmarks["medial_epicondyle_r"]
    body = body_frames(landmarks)
    assert body.knee_unknown == (False, True)
    np.testing.assert_array_equal(body.joint[JOINT_ORDER.index("knee_r")], landmarks["lateral_epicondyle_r"])


def test_mirrored_person_has_equal_angles_on_both_sides() -> None:
    body = body_frames(standing_landmarks())
    angle = all_angles(body.rotation, body.joint)
    same = [k for k, n in enumerate(JOINT_ANGLES) if not n.startswith(("shoulder", "trunk_line"))]
    np.testing.assert_allclose(angle[0, same], angle[1, same], atol=1e-9)


def test_right_thigh_turned_20_degrees_about_the_pelvis_right_axis_is_20_degrees_of_hip_flexion() -> None:
    body = body_frames(standing_landmarks())
    before = all_angles(body.rotation, body.joint)
    turned = body.rotation.copy()
    i = SEGMENTS.index("thigh_r")
    turned[i] = rotation_z(np.deg2rad(20.0)) @ turned[i]
    change = all_angles(turned, body.joint) - before
    assert change[1, JOINT_ANGLES.index("hip_flexion")] == pytest.approx(20.0, abs=1e-6)
    assert change[0, JOINT_ANGLES.index("hip_flexion")] == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("side", "sign"), [(1, 1.0), (0, -1.0)])
def test_a_pelvis_carrying_the_thigh_22_degrees_shows_as_thigh_axial_rotation_not_at_the_hip(
    side: int, sign: float
) -> None:
    body = body_frames(standing_landmarks())
    before = all_angles(body.rotation, body.joint)
    change = all_angles(rotation_y(np.deg2rad(22.0) * sign) @ body.rotation, body.joint) - before
    assert change[side, JOINT_ANGLES.index("thigh_axial_rotation")] == pytest.approx(22.0, abs=1e-6)
    assert change[side, JOINT_ANGLES.index("pelvis_rotation")] == pytest.approx(22.0, abs=1e-6)
    assert change[side, JOINT_ANGLES.index("hip_internal_rotation")] == pytest.approx(0.0, abs=1e-9)


def test_draws_are_one_more_leading_dimension() -> None:
    landmarks = standing_landmarks()
    moved = {n: p + np.array([[0.0, 0, 0], [3.0, -2, 1], [0.5, 4, -1]]) * (n == "psis_r") for n, p in landmarks.items()}
    many = body_frames(moved)
    for k in range(3):
        one = body_frames({n: np.broadcast_to(p, (3, 3))[k] for n, p in moved.items()})
        np.testing.assert_allclose(many.rotation[k], one.rotation, atol=1e-12)
        np.testing.assert_allclose(many.joint[k], one.joint, atol=1e-9)


def test_isb_shank_shifts_knee_adduction_to_varus() -> None:
    landmarks = standing_landmarks()
    for side, s in (("r", 1), ("l", -1)):
        landmarks[f"lateral_malleolus_{side}"] = np.array([-60, 82.0, 130 * s])  # the lateral malleolus lies lower
        landmarks[f"medial_malleolus_{side}"] = np.array([-40, 98.0, 60 * s])
    ours, isb = (
        all_angles(b.rotation, b.joint) for b in (body_frames(landmarks), body_frames(landmarks, shank_kind="isb"))
    )
    change = (isb - ours)[:, JOINT_ANGLES.index("knee_adduction")]
    assert (change > 3).all()
