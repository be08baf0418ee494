"""Paths of a point: values that can be told by hand."""

import numpy as np
import pytest

from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.normalise import at_frames, percent_frames
from condyle.mechanics.path import medial_frame, medial_of_line, path_angle, path_measures, reversals, segment_tilt

RATE = 100.0


def there_and_back(medial: float, drop: float, end: float = 0.0) -> FloatArray:
    """(201, 1, 3): from rest to the bottom at frame 100 and back to ``end`` mm medial of the start."""
    down = 0.5 - 0.5 * np.cos(np.pi * np.arange(101) / 100)
    share = np.concatenate([down, down[-2::-1]])
    m = medial * share
    m[101:] += end * (1.0 - share[101:])
    return np.stack([0.0 * share, 500.0 - drop * share, 30.0 + m], axis=-1)[:, None]


def test_60_mm_in_with_60_mm_down_is_45_degrees() -> None:
    found = path_measures(there_and_back(60.0, 60.0), 0, 100, 200, RATE)
    assert found.path_angle_descent[0] == pytest.approx(45.0)
    assert found.path_angle_ascent[0] == pytest.approx(45.0)
    assert path_angle(np.array([60.0, -60.0, 0.0]), np.array([60.0, 60.0, 60.0])) == pytest.approx([45.0, -45.0, 0.0])


def test_in_and_back_out() -> None:
    found = path_measures(there_and_back(60.0, 80.0), 0, 100, 200, RATE)
    expected = {"travel": 60.0, "range": 60.0, "path_length": 120.0, "peak_medial": 60.0, "peak_lateral": 0.0}
    expected |= {"peak_percent": 50.0, "end_offset": 0.0, "path_ratio": 2.0, "reversals": 1.0}
    for name, value in expected.items():
        assert getattr(found, name)[0] == pytest.approx(value, abs=1e-9), name


def test_lateral_is_negative() -> None:
    found = path_measures(there_and_back(-40.0, 80.0), 0, 100, 200, RATE)
    assert found.travel[0] == pytest.approx(-40.0)
    assert found.peak_lateral[0] == pytest.approx(-40.0)
    assert found.peak_medial[0] == pytest.approx(0.0, abs=1e-9)
    assert found.path_angle_descent[0] == pytest.approx(np.degrees(np.arctan2(-40.0, 80.0)))
    assert found.path_ratio[0] == pytest.approx(2.0)


def test_end_that_is_not_the_start_and_another_way_back() -> None:
    found = path_measures(there_and_back(60.0, 100.0, end=20.0), 0, 100, 200, RATE)
    assert found.end_offset[0] == pytest.approx(20.0)
    assert found.path_angle_descent[0] == pytest.approx(np.degrees(np.arctan2(60.0, 100.0)))
    assert found.path_angle_ascent[0] == pytest.approx(np.degrees(np.arctan2(40.0, 100.0)))


def test_wavering_knee_has_little_net_travel_and_many_reversals() -> None:
    path = there_and_back(30.0, 150.0)
    path[:, 0, 2] += 20.0 * np.sin(2 * np.pi * 3 * np.arange(201) / 200)
    found = path_measures(path, 0, 100, 200, RATE)
    assert found.travel[0] == pytest.approx(30.0)
    assert abs(found.path_angle_descent[0]) < 15.0
    assert found.path_ratio[0] > 5.0
    assert found.reversals[0] >= 5.0
    assert found.sparc[0] < path_measures(there_and_back(30.0, 150.0), 0, 100, 200, RATE).sparc[0]


def test_reversals_above_the_noise_only() -> None:
    t = np.linspace(0.0, 1.0, 401)
    assert reversals(10.0 * np.sin(2 * np.pi * 2 * t), 5.0) == 4
    assert reversals(2.0 * np.sin(2 * np.pi * 2 * t), 5.0) == 0
    assert reversals(40.0 * t + 2.0 * np.sin(2 * np.pi * 9 * t), 5.0) == 0
    rng = np.random.default_rng(1)
    assert reversals(50.0 * np.sin(np.pi * t) + rng.normal(0, 0.5, t.size), 5.0) == 1


def test_peak_before_the_bottom() -> None:
    path = there_and_back(0.0, 150.0)
    path[:, 0, 2] += 25.0 * np.exp(-(((np.arange(201) - 50) / 12.0) ** 2))
    found = path_measures(path, 0, 100, 200, RATE)
    assert found.peak_percent[0] == pytest.approx(25.0)
    assert np.isnan(found.path_ratio[0])  # net travel under 1 mm


def test_missing_frames_make_only_their_own_values_empty() -> None:
    whole, gap = there_and_back(60.0, 60.0), there_and_back(60.0, 60.0)
    gap[90:111] = np.nan
    found = path_measures(np.concatenate([whole, gap], axis=1), 0, 100, 200, RATE)
    for name in (
        "travel",
        "path_angle_descent",
        "path_angle_ascent",
        "path_length",
        "path_ratio",
        "reversals",
        "sparc",
        "peak_medial",
        "peak_lateral",
        "peak_percent",
        "range",
    ):
        assert np.isnan(getattr(found, name)[1]), f"{name}: the gap may hold it"
        assert np.isfinite(getattr(found, name)[0]), name
    assert found.end_offset[1] == pytest.approx(0.0, abs=1e-9)
    way_down = whole.copy()
    way_down[40:61] = np.nan
    found = path_measures(np.concatenate([whole, way_down], axis=1), 0, 100, 200, RATE)
    for name in ("travel", "range", "peak_medial", "peak_lateral", "peak_percent"):
        assert getattr(found, name)[1] == getattr(found, name)[0], f"{name}: lies elsewhere than the gap"
    assert np.isnan(found.path_length[1])


def test_many_points_at_once_equal_one_by_one() -> None:
    rng = np.random.default_rng(2)
    path = np.cumsum(rng.normal(size=(300, 4, 3)), axis=0)
    together = path_measures(path, 20, 150, 280, RATE)
    for k in range(4):
        alone = path_measures(path[:, k : k + 1], 20, 150, 280, RATE)
        for a, b in zip(alone, together, strict=True):
            assert a[0] == pytest.approx(b[k], nan_ok=True)


def test_medial_is_to_the_other_side_and_the_heading_is_taken_out() -> None:
    right = np.array([[0.0, 0.0, 100.0]])
    assert medial_frame(right, "right")[0, 2] == -100.0
    assert medial_frame(right, "left")[0, 2] == 100.0
    # facing 90 degrees to the left: what was to the right lies behind, what was before lies to the right
    turned = medial_frame(np.array([[100.0, 5.0, 0.0], [0.0, 5.0, 100.0]]), "left", np.pi / 2)
    assert turned == pytest.approx(np.array([[0.0, 5.0, 100.0], [-100.0, 5.0, 0.0]]), abs=1e-9)


def test_point_over_the_foot() -> None:
    heel, toe = np.array([0.0, 30.0, 0.0]), np.array([200.0, 40.0, 0.0])
    assert medial_of_line(np.array([80.0, 400.0, 25.0]), heel, toe) == pytest.approx(25.0)
    # toes turned out by 45 degrees (lateral is negative): a knee straight ahead lies medial
    out = np.array([100.0, 40.0, -100.0])
    assert medial_of_line(np.array([100.0, 400.0, 0.0]), heel, out) == pytest.approx(100.0 / np.sqrt(2.0))
    assert np.isnan(medial_of_line(toe, heel, heel))


def test_tilt_of_a_segment() -> None:
    hip, knee = np.array([0.0, 900.0, 0.0]), np.array([100.0, 800.0, 100.0])
    assert segment_tilt(hip, knee, 2) == pytest.approx(45.0)
    assert segment_tilt(hip, knee, 0) == pytest.approx(45.0)


def test_percent_runs_through_the_bottom_at_50() -> None:
    frames = percent_frames(10, 110, 160)
    assert frames[[0, 25, 50, 75, 100]] == pytest.approx([10.0, 60.0, 110.0, 135.0, 160.0])
    curve = np.arange(200.0) ** 2
    assert at_frames(curve, np.array([3.0, 3.5])) == pytest.approx([9.0, 12.5])


def test_reading_beside_a_gap_is_empty_but_a_whole_frame_stands_alone() -> None:
    curve = np.arange(6.0)
    curve[3] = np.nan
    found = at_frames(curve, np.array([2.0, 2.5, 3.0, 4.0, np.nan]))
    assert np.isnan(found).tolist() == [False, True, True, False, True]
