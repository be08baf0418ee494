"""Samples that are missing, held or leap, however the file says so."""

from collections.abc import Callable

import numpy as np
import pytest

from condyle.errors import DataError
from condyle.files.c3d import Recording
from tests.c3d_bytes import C3DFile, walking_body
from tests.c3d_hazards.shared import FRAMES, LABELS, POINTS, STORAGES, N, checks, same_points


@pytest.mark.parametrize("storage", STORAGES)
@pytest.mark.parametrize("processor", ["intel", "dec", "mips"])
def test_missing_samples_are_missing_however_they_are_marked(
    read: Callable[..., Recording], storage: str, processor: str
) -> None:
    points, residual = POINTS.copy(), np.zeros((FRAMES, N))
    points[10, 1] = 0.0  # at the origin, residual 0
    points[20:25, 2] = points[19, 2]  # the last position repeated
    residual[20:25, 2] = -1
    residual[30, 3] = 2.5
    file = C3DFile(points, residual, labels=LABELS, storage=storage, processor=processor)
    recording = read(file)
    expected = points.copy()
    expected[10, 1] = expected[20:25, 2] = np.nan
    same_points(recording, expected)
    assert (recording.counts.zero, recording.counts.negative_residual) == (1, 5)
    kept = read(file, zero_is_missing=False)
    np.testing.assert_array_equal(kept.points[10, 1], 0.0)
    assert kept.counts.zero == 0


@pytest.mark.parametrize("value", [3000.0, 40000.0, 1e30, float("nan"), 0.4])
def test_a_residual_word_of_any_size_leaves_the_sample_valid(read: Callable[..., Recording], value: float) -> None:
    fourth = np.zeros((FRAMES, N))
    fourth[::3] = value
    same_points(read(raw_fourth=fourth))


@pytest.mark.parametrize("value", [-0.25, -1.0, -77.0, -40000.0, -1e30])
def test_a_negative_residual_word_of_any_size_means_missing(read: Callable[..., Recording], value: float) -> None:
    fourth = np.zeros((FRAMES, N))
    fourth[::3, 4] = value
    recording = read(raw_fourth=fourth)
    expected = POINTS.copy()
    expected[::3, 4] = np.nan
    same_points(recording, expected)


@pytest.mark.parametrize("storage", STORAGES)
def test_all_samples_marked_invalid_is_said_and_accepted_only_on_purpose(
    read: Callable[..., Recording], storage: str
) -> None:
    file = C3DFile(POINTS, -np.ones((FRAMES, N)), labels=LABELS, storage=storage)
    with pytest.raises(DataError, match="every single sample is marked invalid"):
        read(file)
    recording = read(file, accept_all_invalid=True)
    same_points(recording)
    assert "all samples marked invalid" in checks(recording)
    with pytest.raises(DataError, match="no valid sample"):
        read(
            C3DFile(np.zeros_like(POINTS), -np.ones((FRAMES, N)), labels=LABELS, storage=storage),
            accept_all_invalid=True,
        )
    with pytest.raises(DataError, match="no valid sample"):
        read(C3DFile(np.zeros_like(POINTS), labels=LABELS, storage=storage))


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf, 1e30, -3e38, 2e6])
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_what_is_no_coordinate_is_missing_and_flagged(read: Callable[..., Recording], value: float, axis: int) -> None:
    points = POINTS.copy()
    points[7, 5, axis] = value
    recording = read(points=points)
    expected = POINTS.copy()
    expected[7, 5] = np.nan
    same_points(recording, expected)
    assert recording.counts.not_finite + recording.counts.out_of_range == 1
    assert checks(recording) & {"samples not finite", "samples out of range"}


@pytest.mark.parametrize("end", [32767, -32767, -32768])
def test_integers_at_the_end_of_their_range_are_missing_and_flagged(read: Callable[..., Recording], end: int) -> None:
    points = POINTS.copy()
    points[7:30, 5, 0] = end * 0.1
    recording = read(points=points, storage="integer")
    assert np.isnan(recording.points[7:30, 5]).all()
    assert recording.counts.out_of_range == 23
    assert "samples out of range" in checks(recording)


@pytest.mark.parametrize("rate", [50.0, 100.0, 240.0])
@pytest.mark.parametrize(("frame", "gap"), [(0, ()), (30, ()), (FRAMES - 1, ()), (30, (31, 32)), (31, (29, 30))])
def test_a_sample_that_leaves_its_neighbours_is_flagged_with_its_time(
    read: Callable[..., Recording], rate: float, frame: int, gap: tuple[int, ...]
) -> None:
    points, _ = walking_body(rate=rate)
    clean = read(points=points, rate=rate)
    assert "leap of a sample" not in checks(clean)
    points[list(gap), 6] = 0.0
    points[frame, 6, 1] += 45.0
    recording = read(points=points, rate=rate)
    leap = [f for f in recording.findings if f.check == "leap of a sample"]
    assert [f.subject for f in leap] == ["L_KNEE"]
    to_the_frame = 2 if rate <= 100 else 3
    assert f"at {frame / rate:.{to_the_frame}f} s (1 samples)" in leap[0].advice
    assert leap[0].value is not None
    assert leap[0].value > 20


@pytest.mark.parametrize(("rate", "times_a_second"), [(50.0, 2.5), (100.0, 5.0)])
def test_a_fast_foot_is_no_leap(read: Callable[..., Recording], rate: float, times_a_second: float) -> None:
    points, labels = walking_body(frames=120, rate=rate)
    t = np.arange(120) / rate
    points[:, 9, 0] += 300 * np.sin(2 * np.pi * times_a_second * t)
    points[:, 9, 2] += 100 + 100 * np.cos(2 * np.pi * times_a_second * t)
    bend = np.linalg.norm(points[1:-1] - (points[:-2] + points[2:]) / 2, axis=-1)
    assert bend.max() > 10  # as far off the line as many a leap
    assert "leap of a sample" not in checks(read(points=points, labels=labels, rate=rate))


def test_a_marker_held_through_a_gap_is_flagged(read: Callable[..., Recording]) -> None:
    points = POINTS.copy()
    points[10:45, 3] = points[10, 3]
    recording = read(points=points)
    assert [f.subject for f in recording.findings if f.check == "marker stands still"] == ["R_THIGH"]
