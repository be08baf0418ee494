"""A whole segment, or a landmark that tracks nothing, elsewhere from one frame to the next: one row with its times."""

from collections.abc import Callable
from functools import lru_cache
from typing import Any

import numpy as np
import pytest
import xarray as xr

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.sudden_steps import (
    largest_bends,
    leaps_in_view,
    own_sudden_steps,
    slides_while_hidden,
    steps_in_common,
    steps_off_segment,
    sudden_steps,
)
from condyle.running import Processed, run_trial
from condyle.sample import cohort
from condyle.stages import STAGES
from condyle.stages.check import CheckSettings, check_trial
from tests.simulated import calibrated, trial_of

PELVIS = ("R_ASIS", "L_ASIS", "R_PSIS", "L_PSIS", "R_CREST", "L_CREST")
LEG = tuple(f"R_{part}_{k}" for part in ("THIGH", "SHANK") for k in (1, 2, 3, 4)) + (
    *("R_HEEL", "R_META_1", "R_META_2", "R_META_5"),
    *("R_PATELLA", "R_KNEE_LAT", "R_TUBEROSITY", "R_ANKLE_LAT"),
)
LEAPS = ("marker leaps", "segment leaps", "cluster slides")


def walk(frames: int = 300) -> FloatArray:
    """Four points that travel and swing, smoothly."""
    t = np.arange(frames) / 100.0
    own = np.array([[40.0, 52, 0], [-12, 44, 12], [46, -48, -7], [-4, -56, 7]])
    return own + np.stack([900 * t, 200 * np.sin(4 * t), 50 * np.cos(7 * t)], axis=-1)[:, None]


def test_what_the_whole_segment_steps_is_the_least_of_its_markers() -> None:
    point = walk()
    assert np.nanmax(steps_in_common(point)) < 0.2
    point[100:, :3] += [0.0, 12.0, 16.0]
    assert np.nanmax(steps_in_common(point)) < 0.2, "one of them does not go along"
    point[100:, 3] += [0.0, 0.0, 15.0]
    (leap,) = leaps_in_view(steps_in_common(point), 12.0, 6.0)
    assert (leap.point, leap.frame) == (0, 100)
    assert leap.size == pytest.approx(15.0, abs=0.3)
    point[95:105, 3] = np.nan
    (leap,) = leaps_in_view(steps_in_common(point), 12.0, 6.0)
    assert leap.size == pytest.approx(20.0, abs=0.3)
    point[95:105, 2] = np.nan
    assert not leaps_in_view(steps_in_common(point), 12.0, 6.0), "two markers are no segment"
    strike = walk()
    strike[150:, :, 1] += np.arange(150)[:, None] * -15.0
    assert not leaps_in_view(steps_in_common(strike), 12.0, 6.0), "another speed from one frame on is no leap"


def test_a_landmark_leaps_only_where_it_does_in_the_lab_and_on_its_segment() -> None:
    point = walk()
    local = point - point[:, :1]
    point[100:] += [0.0, 30.0, 0.0]  # with its segment
    assert np.nanmax(own_sudden_steps(point)) > 29.0
    local[150:] += [0.0, 30.0, 0.0]  # the pose alone
    assert np.nanmax(steps_off_segment(point, local)) < 0.2
    point[200:, 2, 0] += 25.0
    local[200:, 2, 0] += 25.0
    (leap,) = leaps_in_view(steps_off_segment(point, local), 20.0, 6.0)
    assert (leap.point, leap.frame) == (2, 200)
    assert leap.size == pytest.approx(25.0, abs=0.5)


def test_a_landmark_slides_in_a_gap_no_further_than_skin_in_that_time() -> None:
    local = np.zeros((300, 2, 3))
    local[:, 0, 0] = np.linspace(0.0, 60.0, 300)
    local[120:140, 0] = np.nan
    shown = np.ones((300, 4), dtype=bool)
    assert not slides_while_hidden(local, shown, 20.0, 1.0, 50)
    local[140:, 0, 1] += 45.0
    (leap,) = slides_while_hidden(local, shown, 20.0, 1.0, 50)
    assert (leap.point, leap.frame) == (0, 140)
    assert leap.size == pytest.approx(np.hypot(45.0, 21 * 60 / 299))
    assert not slides_while_hidden(local, shown, 30.0, 1.0, 50)
    assert not slides_while_hidden(local, shown, 20.0, 1.5, 50)
    assert not slides_while_hidden(local, shown, 20.0, 1.0, 19), "a gap too long to compare across"
    shown[140:, 1] = False
    assert not slides_while_hidden(local, shown, 20.0, 1.0, 50), "another pose: other markers give it"


@lru_cache(maxsize=1)
def squat() -> xr.Dataset:
    session = next(cohort(1, 17))
    return trial_of(session.trials[0], side="right").assign(calibrated(trial_of(session.static, task="static")))


def shifted(labels: tuple[str, ...], by: list[float], frames: slice) -> xr.Dataset:
    own = [squat()["label"].values.tolist().index(label) for label in labels]
    return changed(lambda p: p.__setitem__((frames, own), p[frames][:, own] + np.array(by)))


def changed(change: Callable[[FloatArray], Any]) -> xr.Dataset:
    point = squat()["point"].values.copy()
    change(point)
    return squat().assign(point=(squat()["point"].dims, point))


def checked(trial: xr.Dataset) -> list[Finding]:
    return [f for f in check_trial(trial, CheckSettings())[1] if f.check in (*LEAPS, "landmark off its segment")]


def through_quality(trial: xr.Dataset) -> list[Finding]:
    """What is said of leaps and slides, of all stages as far as quality."""
    stages = [s for s in STAGES if s.on != "static"]
    names = [s.name for s in stages]
    chosen = stages[: names.index("quality") + 1]
    run = run_trial(Processed(trial), chosen, lambda name: stages[names.index(name)].settings())
    assert not [f for f in run.findings if f.verdict == "reject"]
    return [f for f in run.findings if f.check in LEAPS]


@pytest.mark.parametrize("by", [[40.0, 0, 0], [0, 40.0, 0], [0, 0, 40.0], [0, 15.0, 20.0]])
def test_a_pelvis_elsewhere_from_one_frame_on_is_one_row_with_its_time(by: list[float]) -> None:
    middle = squat().sizes["time"] // 2
    (row,) = through_quality(shifted(PELVIS, by, slice(middle, None)))
    assert (row.check, row.subject, row.verdict, row.limit) == ("segment leaps", "pelvis", "review", 12.0)
    assert row.value == pytest.approx(np.linalg.norm(by), abs=3.0)
    assert row.times_s == ((middle / 100.0, middle / 100.0),)
    assert f"at {middle / 100.0:.2f} s" in row.advice


def test_a_plate_that_leaps_does_not_slide_besides() -> None:
    plate = tuple(f"R_THIGH_{k}" for k in (1, 2, 3, 4))
    (row,) = through_quality(shifted(plate, [0.0, -20.0, 0.0], slice(700, None)))
    assert (row.check, row.subject, row.times_s) == ("segment leaps", "thigh_r", ((7.0, 7.0),))


def test_markers_that_leap_further_than_others_of_a_leaping_segment_have_no_rows_besides() -> None:
    own = [squat()["label"].values.tolist().index(label) for label in PELVIS]

    def tilt(p: FloatArray) -> None:
        p[600:, own, 1] += np.where([label.startswith("R_") for label in PELVIS], 60.0, 20.0)

    (row,) = checked(changed(tilt))
    assert (row.check, row.subject) == ("segment leaps", "pelvis")
    assert row.value == pytest.approx(20.0, abs=4.0)


def test_a_pelvis_off_its_place_for_a_while_has_both_times() -> None:
    (row,) = checked(shifted(PELVIS, [0.0, 0.0, 30.0], slice(450, 500)))
    assert (row.check, row.subject, row.times_s) == ("segment leaps", "pelvis", ((4.5, 4.5), (5.0, 5.0)))


@pytest.mark.parametrize(
    ("labels", "segment"),
    [
        (("C7", "T10", "NOTCH", "XIPHOID", "R_SHOULDER", "L_SHOULDER"), "trunk"),
        (tuple(f"R_THIGH_{k}" for k in (1, 2, 3, 4)), "thigh_r"),
        (tuple(f"R_SHANK_{k}" for k in (1, 2, 3, 4)), "shank_r"),
        (("R_HEEL", "R_META_1", "R_META_2", "R_META_5"), "foot_r"),
        (LEG, "thigh_r"),
    ],
    ids=["trunk", "thigh", "shank", "foot", "the leg from the hip on"],
)
def test_a_segment_that_leaps_is_named_and_its_neighbours_are_not(labels: tuple[str, ...], segment: str) -> None:
    (row,) = checked(shifted(labels, [20.0, 10.0, 20.0], slice(600, None)))
    assert (row.check, row.subject, row.times_s) == ("segment leaps", segment, ((6.0, 6.0),))


def test_a_body_that_leaps_as_a_whole_has_no_segment_that_does() -> None:
    assert checked(squat()) == []
    assert checked(changed(lambda p: p[600:].__iadd__([30.0, 0.0, 0.0]))) == []


def test_a_belt_that_slides_is_told_by_the_hip_centres() -> None:
    assert through_quality(squat()) == []
    course = np.linspace(0.0, 50.0, squat().sizes["time"])
    own = [squat()["label"].values.tolist().index(label) for label in PELVIS]

    def slide(p: FloatArray) -> None:
        p[:, own, 1] += course[:, None]

    (row,) = through_quality(changed(slide))
    assert (row.check, row.subject, row.verdict, row.limit) == ("cluster slides", "pelvis", "review", 15.0)
    assert 20.0 < row.value < 45.0
    assert "hip centre" in row.advice


@pytest.mark.parametrize(
    ("label", "by"),
    [
        ("R_PATELLA", [0.0, 0, 30.0]),
        ("R_PATELLA", [0.0, 79.0, 0]),
        ("R_PATELLA", [0.0, 110.0, 0]),
        ("R_SHOULDER", [0.0, 0, -30.0]),
        ("R_SHOULDER", [0.0, 0, -60.0]),
        ("R_KNEE_LAT", [0.0, 30.0, 0]),
        ("L_TUBEROSITY", [30.0, 0, 0]),
    ],
)
def test_a_landmark_that_tracks_nothing_and_leaps_is_one_row(label: str, by: list[float]) -> None:
    (row,) = checked(shifted((label,), by, slice(430, None)))
    assert (row.check, row.subject, row.verdict, row.limit) == ("marker leaps", label, "review", 20.0)
    assert row.value == pytest.approx(np.linalg.norm(by), abs=6.0)
    assert row.times_s == ((4.3, 4.3),)


def test_a_kneecap_elsewhere_for_half_a_second_has_both_times() -> None:
    (row,) = checked(shifted(("R_PATELLA",), [0.0, 60.0, 0.0], slice(450, 500)))
    assert (row.subject, row.times_s) == ("R_PATELLA", ((4.5, 4.5), (5.0, 5.0)))
    assert "at 4.50, 5.00 s" in row.advice


def test_a_kneecap_that_leaps_while_hidden_is_named_where_it_comes_back() -> None:
    column = squat()["label"].values.tolist().index("R_PATELLA")

    def hidden(by: float) -> xr.Dataset:
        trial = shifted(("R_PATELLA",), [0.0, 0.0, by], slice(440, None))
        trial["point"].values[430:440, column] = np.nan
        return trial

    assert checked(hidden(0.0)) == []
    (row,) = checked(hidden(60.0))
    assert (row.check, row.subject, row.times_s) == ("marker leaps", "R_PATELLA", ((4.4, 4.4),))
    assert "at 4.40 s" in row.advice


def test_a_landmark_off_its_segment_has_no_second_row() -> None:
    (row,) = checked(shifted(("R_PATELLA",), [100.0, 160.0, 0.0], slice(430, None)))
    assert row.check == "landmark off its segment"


def test_no_sudden_step_is_larger_than_the_bounds_that_let_it_be_passed_over() -> None:
    draw = np.random.default_rng(7)
    for spread in (0.1, 3.0, 30.0):
        path = np.cumsum(draw.normal(0.0, 5.0, (200, 6, 3)), axis=0) + draw.normal(0.0, spread, (200, 6, 3))
        bend = largest_bends(path)
        own, among = own_sudden_steps(path), sudden_steps(path)
        assert (np.nanmax(own, axis=0) <= bend + 1e-9).all()
        assert np.nanmax(among) <= (1.0 + np.sqrt(3.0)) * bend.max()
        np.testing.assert_allclose(bend, np.linalg.norm(np.diff(path, 2, axis=0), axis=-1).max(axis=0))
    assert (largest_bends(path[:2]) == 0.0).all()
    path[:, 0] = np.nan
    assert largest_bends(path)[0] == 0.0


def test_the_median_of_an_even_number_of_markers_seen_is_numpys() -> None:
    points = np.random.default_rng(8).normal(0.0, 10.0, (60, 5, 3))
    points[20:40, 4] = np.nan
    step = np.diff(points, axis=0)
    relative = step - np.nanmedian(step, axis=1, keepdims=True)
    alone = np.concatenate([np.zeros((1, 5, 3)), np.cumsum(relative, axis=0)])
    np.testing.assert_allclose(sudden_steps(points)[:20], own_sudden_steps(alone)[:20], atol=1e-9)
    inside = slice(24, 38)
    np.testing.assert_allclose(sudden_steps(points)[inside, :4], own_sudden_steps(alone)[inside, :4], atol=1e-9)


def test_of_leaps_and_their_echoes_each_is_one_in_its_frame() -> None:
    size = np.full((100, 1), 0.5)
    size[[10, 11], 0], size[[50, 51], 0], size[[53], 0] = (30.0, 15.0), (20.0, 40.0), 25.0
    found = [(leap.frame, leap.size) for leap in leaps_in_view(size, 10.0, 5.0)]
    assert found == [(10, 30.0), (51, 40.0)]


@pytest.mark.parametrize(
    ("gap", "off", "leaps"), [(1, 21.5, False), (1, 22.5, True), (5, 25.5, False), (5, 26.5, True)]
)
def test_skin_may_slide_a_little_in_every_frame_from_the_last_seen_to_the_next(
    gap: int, off: float, leaps: bool
) -> None:
    local = np.zeros((30, 1, 3))
    local[10 : 10 + gap] = np.nan
    local[10 + gap :, 0, 1] = off
    found = slides_while_hidden(local, np.ones((30, 3), dtype=bool), 20.0, 1.0, 10)
    assert [leap.frame for leap in found] == ([10 + gap] if leaps else [])
