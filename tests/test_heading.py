"""Headings: by the same angle that pelvis rotation is measured by."""

import numpy as np
import pytest
from scipy.stats import circmean

from condyle.mechanics.heading import (
    axis_heading,
    continued,
    heading_of,
    mean_direction,
    mean_heading,
    near,
    off_facing,
    wrapped,
)
from condyle.mechanics.joint_angles import clinical_segment
from condyle.mechanics.rotations import rotation_y, yxz_matrix
from condyle.mechanics.vertical import VERTICALS, vertical_rotation


@pytest.mark.parametrize("degrees", [0.0, 35.0, -170.0])
def test_pelvis_rotation_is_zero_in_the_frame_turned_by_the_heading_of_a_tilted_oblique_pelvis(degrees: float) -> None:
    pelvis = yxz_matrix(*np.deg2rad([degrees, 6.0, -10.0]))
    turned = rotation_y(-float(heading_of(pelvis))) @ pelvis
    assert np.rad2deg(clinical_segment(turned, "right")[0]) == pytest.approx(0.0, abs=1e-9)
    assert np.rad2deg(heading_of(pelvis)) == pytest.approx(degrees, abs=1e-9)


def test_heading_is_positive_to_the_left() -> None:
    assert heading_of(rotation_y(0.3)) == pytest.approx(0.3)
    forward = rotation_y(0.3) @ np.array([1.0, 0, 0])
    assert forward[2] < 0  # z is to the right


def test_mean_heading_across_the_half_turn() -> None:
    frames = rotation_y(np.deg2rad(np.array([178.0, -178.0, np.nan])))
    assert abs(np.rad2deg(mean_heading(frames))) == pytest.approx(180.0)
    assert np.isnan(mean_heading(frames[2:]))


@pytest.mark.parametrize("vertical", VERTICALS)
def test_vertical_goes_up_and_handedness_stays(vertical: str) -> None:
    rotation = vertical_rotation(vertical)
    axis = np.eye(3)["XYZ".index(vertical[1])] * (1 if vertical[0] == "+" else -1)
    np.testing.assert_array_equal(rotation @ axis, [0, 1, 0])
    assert np.linalg.det(rotation) == pytest.approx(1.0)


def test_a_lab_axis_gives_its_heading() -> None:
    up = vertical_rotation("+Z")  # x stays x, so +X is straight ahead and +Y is to the left
    assert axis_heading(up, "+X") == pytest.approx(0.0)
    assert np.rad2deg(axis_heading(up, "+Y")) == pytest.approx(90.0)
    assert abs(np.rad2deg(axis_heading(up, "-X"))) == pytest.approx(180.0)


def test_wrapped_is_within_half_a_turn() -> None:
    np.testing.assert_allclose(wrapped(np.deg2rad(np.array([190.0, -190.0]))), np.deg2rad([-170.0, 170.0]))


def test_a_course_goes_on_past_half_a_turn_as_numpy_unwraps_it() -> None:
    walk = np.cumsum(np.random.default_rng(4).normal(0.0, 25.0, (400, 2, 3)), axis=0)
    shown = (walk + 180.0) % 360.0 - 180.0
    assert np.abs(walk).max() > 360.0
    np.testing.assert_allclose(continued(shown), np.unwrap(shown, period=360.0, axis=0), atol=1e-9)
    np.testing.assert_array_equal(continued(shown)[0], shown[0])
    np.testing.assert_allclose(continued(shown[:, 0, 0]), np.unwrap(shown[:, 0, 0], period=360.0), atol=1e-9)


def test_a_course_is_held_against_the_frame_before_a_gap() -> None:
    shown = np.array([np.nan, 170.0, 178.0, np.nan, np.nan, -176.0, -170.0])
    np.testing.assert_array_equal(continued(shown), [np.nan, 170.0, 178.0, np.nan, np.nan, 184.0, 190.0])


def test_near_is_within_half_a_turn_of_its_centre_and_the_same_direction() -> None:
    draw = np.random.default_rng(5)
    angle, centre = draw.uniform(-900, 900, (50, 3)), draw.uniform(-400, 400, 3)
    np.testing.assert_allclose(near(angle, centre), centre + (angle - centre + 180.0) % 360.0 - 180.0, atol=1e-9)
    np.testing.assert_array_equal(near(np.array([500.0, np.nan]), np.array([np.nan, 3.0])), [500.0, np.nan])


def test_facing_is_as_far_off_as_the_nearest_way_of_telling_it() -> None:
    heading = np.deg2rad([0.0, 170.0, -90.0, 10.0])
    facing = np.deg2rad([[20.0, -170.0, 90.0, np.nan], [-5.0, 100.0, np.nan, np.nan]])
    np.testing.assert_allclose(np.rad2deg(off_facing(heading, facing)), [5.0, 20.0, 180.0, np.nan], atol=1e-9)


def test_mean_direction_vs_scipy() -> None:
    angle = np.random.default_rng(6).normal([175.0, -10.0, 60.0], 20.0, (80, 3))
    angle[::7, 0] = np.nan
    expected = circmean(angle, high=180.0, low=-180.0, axis=0, nan_policy="omit")
    np.testing.assert_allclose(mean_direction(angle), expected, atol=1e-9)
    assert np.isnan(mean_direction(np.full((4, 1), np.nan))).all()
