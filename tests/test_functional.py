"""Functional joint centre and axis: from movements whose centre and axis are known."""

import numpy as np
import pytest
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from condyle.mechanics.functional import functional_axis, functional_centre

RNG = np.random.default_rng(11)
FRAMES = 200
PELVIS = Rotation.from_rotvec(RNG.normal(0, 0.1, (FRAMES, 3)))
PELVIS_ORIGIN = RNG.normal(0, 20, (FRAMES, 3)) + np.array([300, 900, -200])
IN_PELVIS, IN_THIGH = np.array([-50.0, -80, 85]), np.array([10.0, 180, -20])
PHASE = np.linspace(0, 4 * np.pi, FRAMES)
BALL = Rotation.from_euler(
    "ZXY", np.stack([0.5 * np.sin(PHASE), 0.4 * np.cos(PHASE), 0.3 * np.sin(2 * PHASE)], axis=-1)
)
AXIS = np.array([0.1, -0.2, 1.0]) / np.linalg.norm([0.1, -0.2, 1.0])
HINGE = Rotation.from_rotvec(0.7 * np.sin(PHASE)[:, None] * AXIS) * Rotation.from_euler("ZXY", [0.2, 0.5, -0.3])


def movement(joint, noise=0.0):
    """Poses of pelvis and thigh sharing the point, with noise in the thigh's origin."""
    thigh = PELVIS * joint
    shared = PELVIS_ORIGIN + PELVIS.apply(IN_PELVIS)
    origin = shared - thigh.apply(IN_THIGH) + RNG.normal(0, noise, (FRAMES, 3))
    return PELVIS.as_matrix(), PELVIS_ORIGIN, thigh.as_matrix(), origin


def test_centre_of_a_ball_joint_ehrig_2006():
    found = functional_centre(*movement(BALL))
    np.testing.assert_allclose(found.in_parent, IN_PELVIS, atol=1e-8)
    np.testing.assert_allclose(found.in_child, IN_THIGH, atol=1e-8)
    assert found.rms < 1e-8
    assert found.n_frames == FRAMES


def test_centre_in_noise_vs_scipy_least_squares():
    poses = movement(BALL, noise=3.0)

    def apart(both):
        ends = (r @ c + o for r, o, c in ((poses[0], poses[1], both[:3]), (poses[2], poses[3], both[3:])))
        return np.subtract(*ends).ravel()

    expected = least_squares(apart, np.zeros(6)).x
    found = functional_centre(*poses)
    np.testing.assert_allclose([*found.in_parent, *found.in_child], expected, atol=1e-4)
    assert found.rms == pytest.approx(np.sqrt((apart(expected) ** 2).sum() / FRAMES))
    assert np.linalg.norm(found.in_parent - IN_PELVIS) < 3


def test_a_hinge_does_not_show_a_centre():
    found = functional_centre(*movement(HINGE))
    assert np.isnan(found.in_parent).all()
    assert np.isnan(found.rms)
    assert found.movement < 1e-6


def test_axis_of_a_hinge_ehrig_2007():
    found = functional_axis(*movement(HINGE))
    np.testing.assert_allclose(found.direction_in_parent, AXIS, atol=1e-10)
    in_child = Rotation.from_euler("ZXY", [0.2, 0.5, -0.3]).inv().apply(AXIS)
    np.testing.assert_allclose(found.direction_in_child, in_child, atol=1e-10)
    for point, true, direction in (
        (found.point_in_parent, IN_PELVIS, AXIS),
        (found.point_in_child, IN_THIGH, in_child),
    ):
        np.testing.assert_allclose(np.cross(point - true, direction), 0, atol=1e-7)  # on the line
    assert found.rms < 1e-8
    assert found.wobble < 1e-8


def test_the_axis_points_where_its_largest_component_is_positive():
    turned = movement(Rotation.from_rotvec(0.7 * np.sin(PHASE)[:, None] * -AXIS))
    np.testing.assert_allclose(functional_axis(*turned).direction_in_parent, AXIS, atol=1e-10)


def test_a_ball_joint_is_no_hinge():
    assert functional_axis(*movement(BALL)).wobble > 0.3


def test_no_movement_shows_nothing():
    still = movement(Rotation.from_euler("ZXY", np.zeros((FRAMES, 3))))
    assert np.isnan(functional_centre(*still).in_parent).all()
    assert np.isnan(functional_axis(*still).direction_in_parent).all()


def test_movement_and_wobble_vs_numpy_singular_values():
    for joint in (BALL, HINGE * Rotation.from_rotvec(RNG.normal(0, 0.02, (FRAMES, 3)))):
        poses = movement(joint)
        singular = np.linalg.svd(np.concatenate([poses[0], -poses[2]], axis=2).reshape(-1, 6), compute_uv=False)
        assert functional_centre(*poses).movement == pytest.approx(singular[5] / np.sqrt(FRAMES))
        assert functional_axis(*poses).wobble == pytest.approx(singular[5] / singular[4])


def test_a_movement_of_two_degrees_is_too_small():
    small = movement(Rotation.from_rotvec(0.05 * BALL.as_rotvec()))
    assert np.isnan(functional_centre(*small).in_parent).all()
    assert np.isfinite(functional_centre(*small, least_movement=1e-3).in_parent).all()
    hinge = movement(Rotation.from_rotvec(0.03 * np.sin(PHASE)[:, None] * AXIS))
    assert np.isnan(functional_axis(*hinge).direction_in_parent).all()
    np.testing.assert_allclose(functional_axis(*hinge, least_movement=1e-3).direction_in_parent, AXIS, atol=1e-8)


def test_missing_frames_are_left_out():
    poses = [part.copy() for part in movement(BALL)]
    poses[0][3, 1, 1], poses[3][10, 2] = np.nan, np.nan
    poses[1][50:60] = np.nan
    found = functional_centre(*poses)
    np.testing.assert_allclose(found.in_parent, IN_PELVIS, atol=1e-8)
    assert found.n_frames == FRAMES - 12
    few = [np.where(np.arange(FRAMES).reshape(-1, *([1] * (p.ndim - 1))) < 9, p, np.nan) for p in movement(BALL)]
    assert np.isnan(functional_centre(*few).in_parent).all()
    assert np.isnan(functional_axis(*few).point_in_parent).all()
