"""Cardan and clinical angles: against SciPy, against one thing moved at a time, and at the edges."""

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from condyle.mechanics import joint_angles as ja
from condyle.mechanics import rotations as ro

RNG = np.random.default_rng(2)
TURNS = Rotation.random(200, rng=RNG)
UP, RIGHT, FORWARD = np.array([0.0, 1, 0]), np.array([0.0, 0, 1]), np.array([1.0, 0, 0])


def test_cardan_zxy_vs_scipy_intrinsic_zxy():
    np.testing.assert_allclose(ja.cardan_zxy(TURNS.as_matrix()), TURNS.as_euler("ZXY"), rtol=0, atol=1e-12)


def test_cardan_yxz_vs_scipy_intrinsic_yxz():
    np.testing.assert_allclose(ja.cardan_yxz(TURNS.as_matrix()), TURNS.as_euler("YXZ"), rtol=0, atol=1e-12)


def test_pelvis_rotation_20_tilt_30_level_hips_has_obliquity_0_baker_2001():
    """Baker 2001: rotation first keeps level hips level; the tilt-first sequence reads 9.85 degrees of obliquity."""
    pelvis = ro.rotation_y(np.radians(20)) @ ro.rotation_z(np.radians(-30))
    np.testing.assert_allclose(np.rad2deg(ja.clinical_segment(pelvis, "right")), [20, 0, 30], atol=1e-12)
    tilt_first = Rotation.from_matrix(pelvis).as_euler("ZXY", degrees=True)
    assert abs(tilt_first[1]) == pytest.approx(9.85, abs=0.005)


@pytest.mark.parametrize("side", ["left", "right"])
def test_move_one_thing_at_a_time(side):
    """What each motion looks like in the flesh, for both sides; the definitions of positive are ours."""
    medial = -RIGHT if side == "right" else RIGHT
    small = np.radians(20)

    def towards(start, end):  # the rotation that carries one direction towards another
        return ro.rotation_about(np.cross(start, end), small)

    knee_forward, foot_back = towards(-UP, FORWARD), towards(-UP, -FORWARD)
    knee_in, toes_in = towards(-UP, medial), towards(FORWARD, medial)
    sole_in = towards(-UP, medial)
    for joint, motions in {
        "hip": (knee_forward, knee_in, toes_in),
        "knee": (foot_back, knee_in, toes_in),
        "ankle": (towards(FORWARD, UP), sole_in, toes_in),
    }.items():
        for k, motion in enumerate(motions):
            expected = np.zeros(3)
            expected[k] = 20.0
            found = np.rad2deg(ja.clinical_joint(motion, joint, side))
            np.testing.assert_allclose(found, expected, atol=1e-12, err_msg=f"{joint}, angle {k}")
    side_forward = towards(-medial, FORWARD)
    side_up, front_down, lean = towards(-medial, UP), towards(UP, FORWARD), towards(UP, -medial)
    for k, motion in enumerate((side_forward, side_up, front_down)):
        np.testing.assert_allclose(np.rad2deg(ja.clinical_segment(motion, side)), np.eye(3)[k] * 20.0, atol=1e-12)
    for k, motion in enumerate((side_forward, lean, front_down)):
        np.testing.assert_allclose(np.rad2deg(ja.clinical_trunk(motion, side)), np.eye(3)[k] * 20.0, atol=1e-12)
    assert np.rad2deg(ja.thigh_axial_rotation(toes_in, side)) == pytest.approx(20.0)


def test_right_thigh_20_degrees_about_pelvis_z_is_20_degrees_of_hip_flexion():
    pelvis = TURNS[0].as_matrix()
    thigh = pelvis @ ro.rotation_z(np.radians(20))
    np.testing.assert_allclose(np.rad2deg(ja.clinical_joint(pelvis.T @ thigh, "hip", "right")), [20, 0, 0], atol=1e-12)


@pytest.mark.parametrize("side", ["left", "right"])
def test_clinical_angles_and_matrices_are_inverses(side):
    angles = RNG.uniform(-1.5, 1.5, (50, 3))
    for joint in ("hip", "knee", "ankle"):
        back = ja.clinical_joint(ja.joint_matrix(*angles.T, joint, side), joint, side)
        np.testing.assert_allclose(back, angles, rtol=0, atol=1e-12)
    back = ja.clinical_segment(ja.segment_matrix(*angles.T, side), side)
    np.testing.assert_allclose(back, angles, rtol=0, atol=1e-12)


def test_mirrored_bodies_have_equal_clinical_angles():
    """A body reflected in its sagittal plane has left where right was: every clinical angle must stay."""
    mirror = np.diag([1.0, 1.0, -1.0])
    right = TURNS.as_matrix()
    left = mirror @ right @ mirror
    for joint in ("hip", "knee", "ankle"):
        np.testing.assert_allclose(
            ja.clinical_joint(left, joint, "left"), ja.clinical_joint(right, joint, "right"), atol=1e-12
        )
    for angles in (ja.clinical_segment, ja.clinical_trunk, ja.thigh_axial_rotation):
        np.testing.assert_allclose(angles(left, "left"), angles(right, "right"), atol=1e-12)


def test_thigh_axial_rotation_is_22_for_a_thigh_carried_by_a_pelvis_turned_22():
    """Recomputed check: hip flexed 70 under a pelvis turned 22; only Y-X'-Z'' returns the 22."""
    pelvis = ja.segment_matrix(np.radians(22), 0.0, np.radians(18), "right")
    thigh = pelvis @ ja.joint_matrix(np.radians(70), 0.0, 0.0, "hip", "right")
    assert np.rad2deg(ja.thigh_axial_rotation(thigh, "right")) == pytest.approx(22.0, abs=1e-12)


@pytest.mark.parametrize("b", [np.pi / 2, -np.pi / 2])
def test_gimbal_lock_gives_all_of_the_turn_to_the_first_angle(b):
    for angles, build in ((ja.cardan_zxy, ro.zxy_matrix), (ja.cardan_yxz, ro.yxz_matrix)):
        locked = build(0.3, b, 0.2)
        found = angles(locked)
        assert found[2] == 0.0
        assert found[1] == pytest.approx(b)
        np.testing.assert_allclose(build(*found), locked, atol=1e-12)


def test_near_gimbal_lock_marks_the_second_angle_only():
    angles = np.radians([[10, 74, 10], [10, -76, 10], [89, 0, 89], [0, np.nan, 0]])
    np.testing.assert_array_equal(ja.near_gimbal_lock(angles), [False, True, False, False])
    assert ja.near_gimbal_lock(np.radians([0.0, 50.0, 0.0]), np.radians(45.0))


def test_one_missing_element_makes_its_three_angles_missing():
    turns = TURNS.as_matrix()[:9].copy()
    for k in range(9):
        turns[k, k // 3, k % 3] = np.nan
    assert np.isnan(ja.cardan_zxy(turns)).all()
    assert np.isnan(ja.cardan_yxz(turns)).all()
    assert np.isnan(ja.cardan_zxy(turns[0])).all()  # without leading dimensions too


def test_an_unknown_side_is_an_error_not_a_number():
    with pytest.raises(ValueError, match="'left' or 'right'"):
        ja.clinical_joint(np.eye(3), "hip", "r")
