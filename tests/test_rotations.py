"""Rotation matrices against two general-purpose libraries, and by the right-hand rule."""

import numpy as np
import pytest
from pytransform3d.rotations import matrix_from_axis_angle
from scipy.spatial.transform import Rotation

from condyle.mechanics import rotations as ro

RNG = np.random.default_rng(1)
ANGLES = RNG.uniform(-np.pi, np.pi, (3, 40))
CLOSE = {"rtol": 0, "atol": 1e-14}


@pytest.mark.parametrize(
    ("turn", "start", "end"), [(ro.rotation_x, 1, 2), (ro.rotation_y, 2, 0), (ro.rotation_z, 0, 1)]
)
def test_a_quarter_turn_follows_the_right_hand(turn, start, end):
    axes = np.eye(3)
    np.testing.assert_allclose(turn(np.pi / 2) @ axes[start], axes[end], **CLOSE)
    np.testing.assert_allclose(turn(np.pi / 2) @ axes[end], -axes[start], **CLOSE)


@pytest.mark.parametrize(("turn", "letter"), [(ro.rotation_x, "x"), (ro.rotation_y, "y"), (ro.rotation_z, "z")])
def test_elementary_rotations_vs_scipy(turn, letter):
    np.testing.assert_allclose(turn(ANGLES[0]), Rotation.from_euler(letter, ANGLES[0][:, None]).as_matrix(), **CLOSE)


def test_zxy_and_yxz_matrix_vs_scipy_intrinsic_sequences():
    for build, sequence in ((ro.zxy_matrix, "ZXY"), (ro.yxz_matrix, "YXZ")):
        np.testing.assert_allclose(build(*ANGLES), Rotation.from_euler(sequence, ANGLES.T).as_matrix(), **CLOSE)


def test_cardan_matrices_broadcast_their_three_angles():
    built = ro.zxy_matrix(ANGLES[0][:, None], ANGLES[1], 0.3)
    assert built.shape == (40, 40, 3, 3)
    np.testing.assert_array_equal(built[3, 5], ro.zxy_matrix(ANGLES[0, 3], ANGLES[1, 5], 0.3))


def test_rotation_about_vs_pytransform3d_and_scipy():
    axes = RNG.normal(size=(40, 3)) * 5.0
    ours = ro.rotation_about(axes, ANGLES[0])
    directions = axes / np.linalg.norm(axes, axis=1)[:, None]
    theirs = [matrix_from_axis_angle([*d, a]) for d, a in zip(directions, ANGLES[0], strict=True)]
    np.testing.assert_allclose(ours, theirs, **CLOSE)
    np.testing.assert_allclose(ours, Rotation.from_rotvec(directions * ANGLES[0][:, None]).as_matrix(), **CLOSE)
    assert ro.rotation_about(np.array([0.0, 1.0, 0.0]), ANGLES).shape == (3, 40, 3, 3)


def test_rotation_about_no_axis_is_missing():
    assert np.isnan(ro.rotation_about(np.zeros(3), 0.4)).all()
    assert np.isnan(ro.rotation_about(np.array([0.0, np.nan, 1.0]), 0.4)).all()


def test_a_missing_angle_makes_its_whole_matrix_missing():
    angle = np.array([0.1, np.nan])
    for built in (
        *(turn(angle) for turn in (ro.rotation_x, ro.rotation_y, ro.rotation_z)),
        *(ro.zxy_matrix(*np.roll([angle, [0.2, 0.2], [0.3, 0.3]], k, axis=0)) for k in range(3)),
        *(ro.yxz_matrix(*np.roll([angle, [0.2, 0.2], [0.3, 0.3]], k, axis=0)) for k in range(3)),
    ):
        assert np.isfinite(built[0]).all()
        assert np.isnan(built[1]).all()


def test_nearest_rotation_vs_scipy_align_vectors():
    """Kabsch in SciPy minimises the same sum of squares, from the columns as vectors."""
    noisy = Rotation.random(20, rng=RNG).as_matrix() + RNG.normal(0, 0.2, (20, 3, 3))
    theirs = [Rotation.align_vectors(m.T, np.eye(3))[0].as_matrix() for m in noisy]
    np.testing.assert_allclose(ro.nearest_rotation(noisy), theirs, rtol=0, atol=1e-12)


def test_nearest_rotation_never_reflects_and_says_when_it_cannot_know():
    mirrored = np.diag([3.0, 2.0, -1.0])
    np.testing.assert_allclose(ro.nearest_rotation(mirrored), np.eye(3), **CLOSE)
    assert np.isnan(ro.nearest_rotation(np.diag([1.0, 0.0, 0.0]))).all()  # a line
    assert np.isnan(ro.nearest_rotation(np.diag([3.0, 1.0, -1.0]))).all()  # two reflections equally near
    np.testing.assert_allclose(ro.nearest_rotation(np.diag([2.0, 1.0, 0.0])), np.eye(3), **CLOSE)  # a plane suffices


def test_mean_rotation_vs_scipy_chordal_mean_of_small_spread():
    """SciPy's mean is that of quaternions; for angles of a few degrees the two agree to the cube of the spread."""
    many = Rotation.from_rotvec(RNG.normal(0, 0.02, (50, 3))) * Rotation.from_euler("ZXY", [0.4, -0.2, 1.0])
    np.testing.assert_allclose(ro.mean_rotation(many.as_matrix()), many.mean().as_matrix(), rtol=0, atol=2e-6)


def test_mean_rotation_of_two_is_half_way_and_leaves_missing_ones_out():
    pair = ro.rotation_y(np.array([0.2, 0.8, np.nan]))
    np.testing.assert_allclose(ro.mean_rotation(pair), ro.rotation_y(0.5), **CLOSE)
    assert np.isnan(ro.mean_rotation(pair[2:])).all()
    assert np.isnan(ro.mean_rotation(ro.rotation_z(np.array([0.0, np.pi / 2, np.pi, -np.pi / 2])))).all()


def test_mean_rotation_over_any_leading_dimension():
    block = ro.rotation_x(RNG.normal(0.3, 0.1, (4, 7)))
    np.testing.assert_allclose(ro.mean_rotation(block, axis=1), [ro.mean_rotation(row) for row in block], **CLOSE)
    np.testing.assert_allclose(ro.mean_rotation(block, axis=-1), ro.mean_rotation(block, axis=1), **CLOSE)
    deep = ro.rotation_x(RNG.normal(0.3, 0.1, (4, 7, 2)))
    np.testing.assert_allclose(ro.mean_rotation(deep, axis=-2), ro.mean_rotation(deep, axis=1), **CLOSE)
