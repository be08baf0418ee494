"""A rig of segments carried about: poses, riders, joints and loose landmarks against where they were put, and SciPy."""

import numpy as np
import pytest
from scipy.spatial.distance import pdist
from scipy.spatial.transform import Rotation

from condyle.mechanics.rigidity import (
    Loose,
    Meeting,
    Rig,
    carried,
    carried_in_orders,
    leave_one_out,
    pair_distances,
    pairs_of,
)

FRAMES = 12
UPPER = np.array([[0.0, 0, 0], [90, 10, 0], [0, 120, 5], [20, 40, 70], [60, -30, 20]])
LOWER = np.array([[10.0, 0, 0], [0, -80, 15], [70, 20, 0], [30, 30, 90]])
JOINT = (np.array([15.0, -60, 25]), np.array([5.0, 110, -10]))  # the same point in either frame
RIDER, LOOSE = np.array([40.0, 50, -35]), np.array([-25.0, 15, 60])
RIG = Rig(
    (np.arange(5), np.arange(5, 9)),
    (UPPER, LOWER),
    (np.array([9]), np.zeros(0, np.int64)),
    (RIDER[None], np.zeros((0, 3))),
    (Meeting(0, JOINT[0], 1, JOINT[1]),),
    Loose(np.array([10]), np.array([1]), LOOSE[None]),
)
TURN = Rotation.from_rotvec(np.linspace([0.2, 0, 0], [0.6, 1.0, -0.5], FRAMES)).as_matrix()
BEND = Rotation.from_rotvec(np.linspace([0, 0, 0.1], [0, 0, 1.4], FRAMES)).as_matrix()
ORIGIN = np.linspace([0.0, 900, 0], [300, 700, 50], FRAMES)


def recorded() -> np.ndarray:
    """The rig moving as one body of two segments that meet: markers, rider and loose landmark (T, 11, 3)."""
    lower = TURN @ BEND
    lower_origin = ORIGIN + TURN @ JOINT[0] - lower @ JOINT[1]
    parts = [
        UPPER @ TURN.transpose(0, 2, 1) + ORIGIN[:, None],
        LOWER @ lower.transpose(0, 2, 1) + lower_origin[:, None],
        (TURN @ RIDER + ORIGIN)[:, None],
        (lower @ LOOSE + lower_origin)[:, None],
    ]
    return np.concatenate(parts, axis=1)


def test_a_sound_rig_agrees_with_itself_in_every_frame() -> None:
    found = carried(recorded(), RIG)
    np.testing.assert_allclose(found.rotation[:, 0], TURN, atol=1e-6)
    np.testing.assert_allclose(found.translation[:, 0], ORIGIN, atol=1e-4)
    for part in (found.rms, found.rider[:, :1], found.gap, found.loose):
        np.testing.assert_allclose(part, 0.0, atol=1e-4)
    assert np.isnan(found.rider[:, 1]).all(), "nothing rides there"


def test_what_was_moved_is_off_by_so_much_and_nothing_else_is() -> None:
    points = recorded()
    points[:, 9] += TURN @ [0.0, 12.0, 0]
    points[:, 10] += TURN @ BEND @ [0, 0, 7.0]
    found = carried(points, RIG)
    np.testing.assert_allclose(found.rider[:, 0], 12.0, atol=1e-4)
    np.testing.assert_allclose(found.loose[:, 0], 7.0, atol=1e-4)
    np.testing.assert_allclose(found.gap, 0.0, atol=1e-4)
    apart = recorded()
    apart[:, 5:9] += (TURN @ [0, 0, 20.0])[:, None]
    np.testing.assert_allclose(carried(apart, RIG).gap[:, 0], 20.0, atol=1e-4)


def test_a_segment_with_fewer_than_three_markers_seen_makes_no_gap() -> None:
    points = recorded()
    points[3, [5, 6]] = np.nan
    assert np.flatnonzero(np.isnan(carried(points, RIG).gap[:, 0])).tolist() == [3]


def test_orders_of_names_give_what_exchanged_markers_give() -> None:
    points = recorded() + np.random.default_rng(2).normal(0.0, 1.0, (FRAMES, 11, 3))
    orders = np.array([np.arange(11), [1, 0, *range(2, 11)], [*range(5), 6, 5, *range(7, 11)]])
    found = carried_in_orders(points, RIG, orders)
    for k, order in enumerate(orders):
        for one, other in zip(found, carried(points[:, order], RIG), strict=True):
            np.testing.assert_allclose(one[k], other, atol=1e-6)


def test_distances_vs_scipy() -> None:
    points = np.random.default_rng(1).normal(0.0, 100.0, (4, 9, 3))
    members = np.array([7, 2, 5, 0])
    pairs = pairs_of(members)
    for frame, found in zip(points, pair_distances(points, pairs), strict=True):
        np.testing.assert_allclose(found, pdist(frame[members]))
    assert pairs_of(np.array([3, 5, 9])).tolist() == [[3, 5], [3, 9], [5, 9]]
    assert pairs_of(np.array([3])).shape == (0, 2)


def test_the_marker_that_moved_is_the_one_without_which_the_rest_fits() -> None:
    points = recorded()[:, :5]
    points[:, 3] += TURN @ [0, 15.0, 0]
    told = leave_one_out(UPPER, points)
    assert int(np.nanargmin(told.rms_without)) == 3
    assert told.rms_without[3] == pytest.approx(0.0, abs=1e-4)
    assert told.offset[3] == pytest.approx(15.0, abs=1e-3)
    assert (np.delete(told.rms_without, 3) > 3.0).all()
    assert np.isnan(leave_one_out(UPPER[:3], points[:, :3]).offset).all(), "two others tell nothing"
