"""Gaps: found exactly, filled within their limits, never beyond, and always marked."""

import numpy as np
import pytest
from scipy.interpolate import CubicSpline

from condyle.mechanics import rotations as ro
from condyle.mechanics.gaps import (
    cluster_shape,
    column_groups,
    columns_of,
    flashes_of,
    longest_run,
    rebuild_from_cluster,
    runs_of,
    spline_fill,
)
from condyle.mechanics.rigid_fit import rigid_fit

RNG = np.random.default_rng(8)
T = np.arange(200) / 100.0
WAVES = np.stack([np.sin(3 * T), np.cos(5 * T), T**2], axis=-1)
CLUSTER = np.array([[30.0, 60, 40], [-25, 70, 55], [-30, -60, 35], [40, -55, 60]])
POSE = ro.zxy_matrix(np.sin(2 * T), 0.3 * np.cos(3 * T), 0.4 * T)
PATH = np.stack([300 * T, 800 + 60 * np.sin(4 * T), 20 * T**2], axis=-1)
SEEN = np.einsum("tij,pj->tpi", POSE, CLUSTER) + PATH[:, None]


def test_runs_of_gives_first_frame_and_first_frame_after():
    mask = np.array([1, 1, 0, 0, 1, 0, 1, 1], dtype=bool)
    np.testing.assert_array_equal(runs_of(mask), [[0, 2], [4, 5], [6, 8]])
    assert runs_of(np.zeros(5, dtype=bool)).shape == (0, 2)
    np.testing.assert_array_equal(runs_of(np.ones(5, dtype=bool)), [[0, 5]])


def test_longest_run_vs_runs_of():
    mask = RNG.random((300, 4, 2)) < 0.8
    mask[:, 0, 0], mask[:, 1, 1] = False, True
    for column in np.ndindex(4, 2):
        lengths = np.diff(runs_of(mask[(slice(None), *column)]), axis=1)
        assert longest_run(mask)[column] == lengths.max(initial=0)


def test_columns_with_the_same_gaps_are_grouped():
    valid = np.array([[1, 0, 1], [1, 1, 1], [1, 0, 1]], dtype=bool)
    assert [list(g) for g in column_groups(valid)] == [[0, 2], [1]]
    assert [list(g) for g in column_groups(np.ones((2, 3), dtype=bool))] == [[0, 1]]


def test_columns_of_is_a_copy_that_can_be_undone():
    columns = columns_of(SEEN)
    assert columns.shape == (12, 200)
    np.testing.assert_array_equal(columns[5], SEEN[:, 1, 2])
    np.testing.assert_array_equal(columns.T.reshape(SEEN.shape), SEEN)
    assert not np.shares_memory(columns_of(T), T)


def test_spline_fill_vs_scipy_cubic_spline():
    holed = WAVES.copy()
    holed[60:70] = np.nan
    holed[120:125, 1] = np.nan
    filled, marked = spline_fill(holed, 10)
    np.testing.assert_array_equal(marked, np.isnan(holed))
    for column in range(3):
        seen = ~np.isnan(holed[:, column])
        expected = CubicSpline(np.flatnonzero(seen), holed[seen, column])(np.arange(200))
        np.testing.assert_allclose(filled[:, column], expected, atol=1e-12)
    np.testing.assert_allclose(filled, WAVES, atol=5e-4)
    np.testing.assert_array_equal(filled[~marked], holed[~marked])


def test_spline_fill_keeps_to_its_limit_and_never_extrapolates():
    holed = WAVES.copy()
    holed[:5], holed[195:] = np.nan, np.nan
    holed[50:61] = np.nan  # eleven frames: one too many
    holed[100:110] = np.nan
    filled, marked = spline_fill(holed, 10)
    np.testing.assert_array_equal(runs_of(marked[:, 0]), [[100, 110]])
    np.testing.assert_array_equal(runs_of(np.isnan(filled[:, 0])), [[0, 5], [50, 61], [195, 200]])


def test_spline_fill_does_not_look_across_a_long_gap():
    near, far = WAVES[:, 0].copy(), WAVES[:, 0].copy()
    far[120:] += 1000.0
    for signal in (near, far):
        signal[80:120] = np.nan
        signal[70:75] = np.nan
    np.testing.assert_array_equal(spline_fill(near, 10)[0][:80], spline_fill(far, 10)[0][:80])


def test_spline_fill_needs_two_frames_on_each_side():
    holed = WAVES[:, 0].copy()
    holed[1:4] = np.nan
    holed[50:80] = np.nan
    holed[82:85] = np.nan  # two seen frames before it: enough
    filled, marked = spline_fill(holed, 10)
    np.testing.assert_array_equal(runs_of(marked), [[82, 85]])
    assert np.isnan(filled[1:4]).all()


def test_input_is_not_changed():
    holed = SEEN.copy()
    holed[60:70, 0] = np.nan
    before = holed.copy()
    spline_fill(holed, 20)
    rebuild_from_cluster(holed, CLUSTER)
    np.testing.assert_array_equal(holed, before)


def test_rebuilt_marker_of_a_rigid_cluster_is_exact():
    holed = SEEN.copy()
    holed[:30, 0] = np.nan  # at the start too: the pose is known there
    holed[90:130, 2, 1] = np.nan
    rebuilt, marked = rebuild_from_cluster(holed, CLUSTER)
    np.testing.assert_allclose(rebuilt, SEEN, atol=1e-9)
    np.testing.assert_array_equal(marked, np.isnan(holed).any(axis=-1))


def test_a_marker_that_is_never_seen_stands_where_the_model_has_it():
    holed = SEEN.copy()
    holed[:, 1] = np.nan
    rebuilt, marked = rebuild_from_cluster(holed, CLUSTER)
    np.testing.assert_allclose(rebuilt, SEEN, atol=1e-9)
    assert marked[:, 1].all()


def test_rebuilding_needs_three_others_and_keeps_to_its_limit():
    holed = SEEN.copy()
    holed[20:40, 0] = np.nan
    holed[60:80, 1] = np.nan
    holed[70:75, 2] = np.nan
    holed[100:131, 3] = np.nan
    rebuilt, marked = rebuild_from_cluster(holed, CLUSTER, max_gap_frames=30)
    np.testing.assert_array_equal(runs_of(marked[:, 0]), [[20, 40]])
    np.testing.assert_array_equal(runs_of(marked[:, 1]), [[60, 70], [75, 80]])
    assert not marked[:, 2:].any()
    assert np.isnan(rebuilt[70:75, 1:3]).all()
    assert np.isnan(rebuilt[100:131, 3]).all()


def test_a_marker_the_model_does_not_know_is_not_rebuilt():
    model = np.vstack([CLUSTER, [np.nan] * 3])
    points = np.concatenate([SEEN, SEEN[:, :1]], axis=1)
    points[50:60, 4] = np.nan
    rebuilt, marked = rebuild_from_cluster(points, model)
    assert not marked.any()
    assert np.isnan(rebuilt[50:60, 4]).all()


def test_skin_that_has_slid_is_carried_through_the_gap_without_a_step():
    """The marker sits 8 mm off its static place before the gap and 14 mm after it: a rigid rebuild alone would jump."""
    slide = np.linspace(8.0, 14.0, 200)[:, None] * np.array([0.0, 0.6, 0.8])
    points = SEEN.copy()
    points[:, 0] += np.einsum("tij,tj->ti", POSE, slide)
    holed = points.copy()
    holed[90:110, 0] = np.nan
    rebuilt, _ = rebuild_from_cluster(holed, CLUSTER)
    assert np.linalg.norm(rebuilt - points, axis=-1).max() < 0.05
    only_before = holed.copy()
    only_before[110:, 0] = np.nan
    rebuilt, _ = rebuild_from_cluster(only_before, CLUSTER)
    kept = np.einsum("tji,tj->ti", POSE, rebuilt[:, 0] - PATH) - CLUSTER[0]
    np.testing.assert_allclose(kept[90:], np.broadcast_to(slide[87:90].mean(axis=0), (110, 3)), atol=1e-9)


def test_a_flash_between_two_gaps_does_not_bend_what_is_rebuilt():
    """Two samples of a reflection 20 mm off, and two of the marker's own: neither has a say, both stay as they are."""
    for off in (20.0, 0.0):
        holed = SEEN.copy()
        holed[60:80, 0] = np.nan
        holed[70:72, 0] = SEEN[70:72, 0] + off
        rebuilt, marked = rebuild_from_cluster(holed, CLUSTER, 30, flash_frames=3)
        np.testing.assert_allclose(np.delete(rebuilt, [70, 71], axis=0), np.delete(SEEN, [70, 71], axis=0), atol=1e-9)
        np.testing.assert_array_equal(rebuilt[70:72], holed[70:72])
        np.testing.assert_array_equal(runs_of(marked[:, 0]), [[60, 70], [72, 80]])


def test_the_line_past_a_flash_goes_from_one_longer_appearance_to_the_next():
    slide = np.linspace(8.0, 14.0, 200)[:, None] * np.array([0.0, 0.6, 0.8])
    points = SEEN.copy()
    points[:, 0] += np.einsum("tij,tj->ti", POSE, slide)
    holed = points.copy()
    holed[60:100, 0] = np.nan
    holed[80:82, 0] = points[80:82, 0] + 30.0
    rebuilt = rebuild_from_cluster(holed, CLUSTER, 30, flash_frames=3)[0]
    assert np.linalg.norm(np.delete(rebuilt - points, [80, 81], axis=0), axis=-1).max() < 0.1
    lost = np.where(
        (np.arange(200) < 100)[:, None, None] & ~np.isin(np.arange(200), [80, 81])[:, None, None], np.nan, holed
    )
    lost[:, 1:] = SEEN[:, 1:]
    rebuilt = rebuild_from_cluster(lost, CLUSTER, None, flash_frames=3)[0]
    kept = np.einsum("tji,tj->ti", POSE[:80], rebuilt[:80, 0] - PATH[:80]) - CLUSTER[0]
    np.testing.assert_allclose(kept, np.broadcast_to(slide[100:103].mean(axis=0), (80, 3)), atol=1e-9)


def test_flashes_lie_between_gaps():
    seen = np.array([1, 1, 0, 1, 1, 0, 1, 1, 1, 0, 1], dtype=bool)
    np.testing.assert_array_equal(np.flatnonzero(flashes_of(seen, 2)), [3, 4])
    np.testing.assert_array_equal(np.flatnonzero(flashes_of(seen, 3)), [3, 4, 6, 7, 8])
    assert not flashes_of(np.ones(5, dtype=bool), 9).any()


def test_cluster_shape_is_the_shape_whatever_is_hidden():
    points = SEEN + RNG.normal(0, 0.3, SEEN.shape)
    points[RNG.random((200, 4)) < 0.05] = np.nan
    points[:150, 3] = np.nan
    shape = cluster_shape(points)
    fit = rigid_fit(CLUSTER, shape)
    assert fit.rms < 0.15
    assert np.isnan(cluster_shape(np.full((5, 4, 3), np.nan))).all()


def test_cluster_shape_takes_in_a_point_never_seen_with_all_others():
    points = SEEN.copy()
    points = np.concatenate([points, points[:, :1] + 0.0], axis=1)
    points[:, 4] = np.einsum("tij,j->ti", POSE, [0.0, 0, 120]) + PATH
    points[::2, 4], points[1::2, 0] = np.nan, np.nan
    expected = np.vstack([CLUSTER, [0.0, 0, 120]])
    assert rigid_fit(expected, cluster_shape(points)).rms < 1e-6


@pytest.mark.parametrize("frames", [0, 1, 3])
def test_very_short_recordings_pass_through(frames):
    filled, marked = spline_fill(WAVES[:frames], 10)
    assert filled.shape == (frames, 3)
    assert not marked.any()
    assert longest_run(np.ones((frames, 2), dtype=bool)).tolist() == [frames, frames]
