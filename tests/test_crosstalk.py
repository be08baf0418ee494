"""Cross-talk: a thigh frame turned by a known angle is turned back, and only where flexion allows it."""

import numpy as np
import pytest

from condyle.mechanics import rotations as ro
from condyle.mechanics.crosstalk import crosstalk_angle, flexion_range
from condyle.mechanics.joint_angles import clinical_joint, joint_matrix

FLEXION = np.radians(5 + 75 * np.sin(np.linspace(0, np.pi, 120)))


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("degrees", [-15.0, -3.0, 8.0, 20.0])
def test_a_thigh_turned_about_its_long_axis_is_turned_back(side, degrees):
    knee = joint_matrix(FLEXION, np.radians(2.0), np.radians(-4.0), "knee", side)
    turned = ro.rotation_y(-np.radians(degrees)) @ knee  # the thigh frame itself turned by +degrees
    angle = crosstalk_angle(turned)
    assert np.degrees(angle) == pytest.approx(-degrees, abs=0.3)
    corrected = clinical_joint(ro.rotation_y(-angle) @ turned, "knee", side)
    before, after = (np.ptp(np.degrees(a[:, 1])) for a in (clinical_joint(turned, "knee", side), corrected))
    assert after < 0.3
    assert before > 1.0


def test_it_is_the_least_variance_of_r32_by_search():
    rng = np.random.default_rng(10)
    wander = np.cumsum(rng.normal(0, 0.003, (2, 120)), axis=1)
    knee = ro.rotation_y(0.2) @ joint_matrix(FLEXION, wander[0], wander[1], "knee", "right")
    knee[7, 1, 1] = np.nan
    tried = np.linspace(-np.pi / 2, np.pi / 2, 20001)
    s, q = knee[:, 2, 1], -knee[:, 0, 1]
    known = np.arange(120) != 7
    spread = np.var(np.cos(tried)[:, None] * s[known] - -np.sin(tried)[:, None] * -q[known], axis=1)
    assert crosstalk_angle(knee) == pytest.approx(tried[np.argmin(spread)], abs=2e-4)


def test_less_flexion_than_40_degrees_gives_no_angle():
    small = joint_matrix(FLEXION * 0.5, 0.0, 0.0, "knee", "right")
    assert np.degrees(flexion_range(small)) == pytest.approx(37.5, abs=0.1)
    assert np.isnan(crosstalk_angle(small))
    assert np.isfinite(crosstalk_angle(small, np.radians(30.0)))


def test_missing_frames_do_not_change_the_range():
    knee = joint_matrix(FLEXION, 0.0, 0.0, "knee", "right")
    expected = np.ptp(FLEXION)
    knee[[3, 100]] = np.nan
    assert flexion_range(knee) == pytest.approx(expected)


def test_still_or_missing_knees_give_no_angle():
    still = np.broadcast_to(np.eye(3), (20, 3, 3))
    assert np.isnan(crosstalk_angle(still, 0.0))
    assert np.isnan(crosstalk_angle(np.full((20, 3, 3), np.nan)))
    assert np.isnan(flexion_range(np.full((2, 20, 3, 3), np.nan))).all()
