"""Flat pictures of a leg: planes, a pinhole camera, and their projection angle."""

import numpy as np
import pytest

from condyle.mechanics.projection import (
    camera_picture,
    camera_sight,
    frontal_picture,
    own_frontal_picture,
    projection_angle,
    readable,
    shown_share,
)
from condyle.mechanics.rotations import rotation_y

from .test_contributions import SHANK, START, THIGH, leg, moved

HIP = np.array([0.0, 900.0, 80.0])


def centres(change: dict[str, float], side="right") -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    _, thigh, shank = leg(moved(change), side)
    knee = HIP + thigh @ THIGH
    return HIP, knee, knee + shank @ SHANK


def test_knee_medial_of_the_line_is_positive_on_both_sides() -> None:
    hip, knee, ankle = np.array([100.0, 0.0]), np.array([60.0, 400.0]), np.array([100.0, 800.0])
    expected = 2 * np.arctan2(40.0, 400.0)  # by elementary geometry
    assert projection_angle(hip, knee, ankle, "right") == pytest.approx(expected)
    assert projection_angle(hip, knee, ankle, "left") == pytest.approx(-expected)
    assert projection_angle(-hip * [1, -1], -knee * [1, -1], -ankle * [1, -1], "left") == pytest.approx(expected)


def test_straight_leg_is_zero() -> None:
    line = [np.array([10.0 * k, 100.0 * k]) for k in range(3)]
    assert projection_angle(*line, "right") == pytest.approx(0.0, abs=1e-15)


def test_asis_is_another_measure_than_the_hip_centre() -> None:
    # the ASIS of a pelvis 240 wide, 180 deep: hip centre after Harrington et al. 2007 lies 53.1 behind, 82.9 below,
    # 86.5 - 120 inside of it; a purely sagittal squat then shows 3.9 at the start and 6.0 degrees at the bottom
    for posture, expected in ((START, 3.9), (moved({}), 6.0)):
        pelvis, thigh, shank = leg(posture, "right")
        asis = HIP + pelvis @ (np.array([0.0, 0.0, 120.0]) - [-53.1, -82.9, 86.5])
        knee = HIP + thigh @ THIGH
        ankle = knee + shank @ SHANK
        angle = projection_angle(*(frontal_picture(p) for p in (asis, knee, ankle)), "right")
        assert np.rad2deg(angle) == pytest.approx(expected, abs=0.0501)


def test_far_camera_sees_the_frontal_plane() -> None:
    points = centres({"hip_adduction": 12.0, "pelvis_rotation": 6.0})
    flat = projection_angle(*(frontal_picture(p) for p in points), "right")
    far = projection_angle(*(camera_picture(p, HIP, 1e7, 600.0) for p in points), "right")
    assert far == pytest.approx(flat, abs=1e-4)


def test_camera_by_similar_triangles() -> None:
    # a point 500 mm nearer to the lens than the aim, 100 mm to the right, 200 mm above the lens
    picture = camera_picture(np.array([500.0, 1000.0, 100.0]), np.zeros(3), 2500.0, 800.0, focal_length=4.0)
    np.testing.assert_allclose(picture, [4.0 * 100.0 / 2000.0, -4.0 * 200.0 / 2000.0])


def test_camera_walked_round_sees_what_a_turned_person_shows() -> None:
    point, yaw = np.array([120.0, 700.0, -60.0]), 0.3
    seen = camera_picture(point, np.zeros(3), 3000.0, 500.0, yaw=yaw)
    turned = camera_picture(rotation_y(-yaw) @ point, np.zeros(3), 3000.0, 500.0)
    np.testing.assert_allclose(seen, turned, atol=1e-12)


def test_camera_sees_nothing_behind_its_lens() -> None:
    assert np.isnan(camera_picture(np.array([3000.0, 0.0, 0.0]), np.zeros(3), 2500.0, 800.0)).all()


def test_own_plane_of_an_upright_pelvis_is_the_frontal_plane() -> None:
    point = np.array([3.0, -40.0, 7.0])
    np.testing.assert_allclose(own_frontal_picture(point, np.eye(3)), frontal_picture(point))


def test_foreshortened_thigh_gives_no_value() -> None:
    share = shown_share(np.zeros(3), np.array([400.0, -100.0, 0.0]))
    assert share == pytest.approx(100.0 / np.hypot(400.0, 100.0))
    assert np.isnan(readable(np.array(0.3), share, np.array(1.0), 0.3))
    assert readable(np.array(0.3), np.array(0.31), np.array(1.0), 0.3) == 0.3
    assert np.isnan(shown_share(np.zeros(3), np.zeros(3)))


def test_share_across_a_line_of_sight_vs_the_sine_of_the_angle_between() -> None:
    thigh = np.array([300.0, -100.0, 40.0])
    sight = np.array([[2.0, 0.5, -1.0], [0.0, 0.0, 3.0], [1.0, 0.0, 0.0]])
    cosine = sight @ thigh / np.linalg.norm(thigh) / np.linalg.norm(sight, axis=-1)
    np.testing.assert_allclose(shown_share(np.zeros(3), thigh, sight), np.sqrt(1.0 - cosine**2))
    assert np.isnan(shown_share(np.zeros(3), thigh, np.zeros(3)))


def test_what_lies_on_one_line_of_sight_falls_on_one_place_of_the_picture() -> None:
    point, aim, set_up = np.array([420.0, 610.0, 75.0]), np.array([60.0, 90.0, 110.0]), (3000.0, 700.0, 0.4)
    sight = camera_sight(point, aim, *set_up)
    beyond = camera_picture(np.stack([point, point + 0.2 * sight, point - 0.1 * sight]), aim, *set_up)
    np.testing.assert_allclose(beyond, beyond[:1].repeat(3, axis=0), atol=1e-12)
    assert shown_share(point, point + 0.2 * sight, sight) == pytest.approx(0.0, abs=1e-7)
