"""Hip regressions on both sides, and knee centres from a measured width against geometry."""

import numpy as np
import pytest

from condyle.mechanics import joint_centres as jc

MIRROR = np.array([1.0, 1.0, -1.0])


def test_hip_harrington_2007_width_240_depth_180():
    """Harrington et al. 2007, J Biomech 40:595: -53.1, -82.9, +-86.5 mm."""
    np.testing.assert_allclose(jc.hip_harrington_2007(240.0, 180.0, "right"), [-53.1, -82.9, 86.5], atol=1e-9)
    np.testing.assert_allclose(jc.hip_harrington_2007(240.0, 180.0, "left"), [-53.1, -82.9, -86.5], atol=1e-9)


def test_hip_bell_1990_percentages_of_pelvis_width():
    """Bell et al. 1990, J Biomech 23:617: 19 % posterior, 30 % inferior, 36 % from the middle."""
    np.testing.assert_allclose(jc.hip_bell_1990(100.0, "right"), [-19, -30, 36], atol=1e-12)
    np.testing.assert_allclose(jc.hip_bell_1990(100.0, "left"), [-19, -30, -36], atol=1e-12)


def test_hip_hara_2016_leg_length_1000():
    """Hara et al. 2016, Sci Rep 6:37707: 11 - 0.063 LL, -9 - 0.078 LL, 8 + 0.086 LL."""
    np.testing.assert_allclose(jc.hip_hara_2016(1000.0, "right"), [-52, -87, 94], atol=1e-12)
    np.testing.assert_allclose(jc.hip_hara_2016(1000.0, "left"), [-52, -87, -94], atol=1e-12)


def test_reduced_pelvis_depth_takes_two_radii_and_both_skins_mantovani_2016():
    assert jc.reduced_pelvis_depth(180.0, 7.0) == pytest.approx(180 - 14 - 9.7 - 19.6)
    assert jc.reduced_pelvis_depth(180.0, 7.0, 10.0, 20.0) == pytest.approx(136.0)
    assert np.isnan(jc.reduced_pelvis_depth(40.0, 7.0))


def test_mid_points():
    lateral, medial = np.array([10.0, 500, 130]), np.array([-10.0, 498, 40])
    np.testing.assert_allclose(jc.knee_centre_mid(lateral, medial), [0, 499, 85])
    np.testing.assert_allclose(jc.ankle_centre_mid(lateral, medial), [0, 499, 85])


# Right leg: hip and knee centre on one vertical line, epicondyle 45 mm lateral, thigh marker in the frontal plane, a
# patella marker in the sagittal one.
HIP, KNEE, LATERAL = np.array([0.0, 400, 0]), np.zeros(3), np.array([0.0, 0, 45])
THIGH_MARKER, PATELLA = np.array([0.0, 200, 80]), np.array([50.0, 20, 0])


@pytest.mark.parametrize(("side", "flip"), [("right", np.ones(3)), ("left", MIRROR)])
def test_centre_from_width_finds_the_centre_it_was_made_from(side, flip):
    by_side = jc.centre_from_width(LATERAL * flip, HIP * flip, THIGH_MARKER * flip, 45.0)
    np.testing.assert_allclose(by_side, KNEE, atol=1e-12)
    by_front = jc.centre_from_width_front(LATERAL * flip, HIP * flip, PATELLA * flip, 45.0, side)
    np.testing.assert_allclose(by_front, KNEE, atol=1e-12)


def test_centre_from_width_has_its_right_angle_at_the_centre():
    rng = np.random.default_rng(4)
    hip, side_marker, front = (p + rng.normal(0, 6, (30, 3)) for p in (HIP, THIGH_MARKER, PATELLA))
    for centre, third in (
        (jc.centre_from_width(LATERAL, hip, side_marker, 45.0), None),
        (jc.centre_from_width_front(LATERAL, hip, front, 45.0, "right"), front),
    ):
        inward = centre - LATERAL
        np.testing.assert_allclose(np.linalg.norm(inward, axis=-1), 45.0)
        np.testing.assert_allclose(np.sum(inward * (hip - centre), axis=-1), 0, atol=1e-8)
        if third is not None:
            np.testing.assert_allclose(np.sum(inward * (third - centre), axis=-1), 0, atol=1e-8)
        else:
            np.testing.assert_allclose(
                np.sum(np.cross(hip - LATERAL, side_marker - LATERAL) * inward, axis=-1), 0, atol=1e-6
            )
        assert (inward[:, 2] < -20).all()  # towards the middle of the body


def test_a_patella_taken_as_a_side_marker_would_misplace_the_knee_by_tens_of_mm():
    """Why there are two functions."""
    wrong = jc.centre_from_width(LATERAL, HIP, PATELLA, 45.0)
    assert np.linalg.norm(wrong - KNEE) > 30


def test_centre_from_width_without_a_plane_or_too_short_is_missing():
    on_the_line = LATERAL + 0.5 * (HIP - LATERAL)
    assert np.isnan(jc.centre_from_width(LATERAL, HIP, on_the_line, 45.0)).all()
    assert np.isnan(jc.centre_from_width_front(LATERAL, HIP, on_the_line, 45.0, "right")).all()
    assert np.isnan(jc.centre_from_width(LATERAL, LATERAL + np.array([0, 30, 0]), THIGH_MARKER, 45.0)).all()
    assert np.isnan(jc.centre_from_width_front(LATERAL, LATERAL + np.array([0, 30, 0]), PATELLA, 45.0, "right")).all()
    assert np.isnan(jc.centre_from_width(LATERAL, HIP, THIGH_MARKER, np.nan)).all()


def test_regressions_broadcast_over_draws():
    width = np.random.default_rng(5).normal(240, 10, (20, 1))
    assert jc.hip_harrington_2007(width, np.full(7, 180.0), "left").shape == (20, 7, 3)
    assert jc.centre_from_width(LATERAL, np.broadcast_to(HIP, (20, 3)), THIGH_MARKER, np.full(20, 45.0)).shape == (
        20,
        3,
    )


def test_an_unknown_side_is_an_error():
    with pytest.raises(ValueError, match="'left' or 'right'"):
        jc.hip_bell_1990(240.0, "l")
