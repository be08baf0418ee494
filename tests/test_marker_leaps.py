"""A marker off its place for a while: the leap is named with its time, and nothing is taken from a fit that does not hold."""

import numpy as np
import pytest
import xarray as xr

from condyle.findings import Finding
from condyle.mechanics.sudden_steps import leaps_in_view, leaps_while_hidden, sudden_steps
from condyle.sample import cohort
from condyle.stages.check import CheckSettings, check_trial
from tests.simulated import calibrated, run, trial_of

PLATE = np.array([[40.0, 52, 0], [-12, 44, 12], [46, -48, -7], [-4, -56, 7]])


def moving_plate(frames: int = 300) -> np.ndarray:
    """A plate that swings and travels, smoothly."""
    t = np.arange(frames) / 100.0
    turn = 0.6 * np.sin(2 * np.pi * 0.7 * t)
    c, s = np.cos(turn), np.sin(turn)
    zero, one = np.zeros_like(t), np.ones_like(t)
    rotation = np.stack([c, -s, zero, s, c, zero, zero, zero, one], axis=-1).reshape(-1, 3, 3)
    return PLATE @ rotation.swapaxes(1, 2) + np.stack([900 * t, 200 * np.sin(t), zero], axis=-1)[:, None]


def test_a_leap_is_measured_and_smooth_motion_and_a_strike_are_none() -> None:
    point = moving_plate()
    assert np.nanmax(sudden_steps(point)) < 0.2
    point[120:160, 2] += [0.0, 12.0, 16.0]
    (out, back) = leaps_in_view(sudden_steps(point), 10.0, 6.0)
    assert (out.point, out.frame, back.frame) == (2, 120, 160)
    assert out.size == pytest.approx(20.0, abs=0.5)
    strike = moving_plate()
    strike[150:, 1] += np.arange(150)[:, None] * [0.0, -15.0, 0.0]  # another speed from one frame on: no leap
    assert not leaps_in_view(sudden_steps(strike), 10.0, 6.0)
    lost = np.delete(moving_plate(), slice(100, 112), axis=0)  # all markers at once: frames are missing
    assert not leaps_in_view(sudden_steps(lost), 12.0, 6.0)


def test_a_leap_in_a_gap_shows_in_the_distances_to_the_others() -> None:
    point = moving_plate()
    point[100:130, 0] = np.nan
    assert not leaps_while_hidden(point, 3.0, 50)
    point[130:, 0] += [15.0, 0.0, 0.0]
    (leap,) = leaps_while_hidden(point, 3.0, 50)
    assert (leap.point, leap.frame) == (0, 130)
    assert 3.0 < leap.size <= 15.0
    assert not leaps_while_hidden(point, 3.0, 20), "a gap too long to compare across"


@pytest.fixture(scope="module")
def squat() -> xr.Dataset:
    session = next(cohort(1, 17))
    return trial_of(session.trials[0]).assign(calibrated(trial_of(session.static, task="static")))


def pulled(trial: xr.Dataset, label: str, mm: float, frames: slice) -> xr.Dataset:
    point = trial["point"].values.copy()
    point[frames, trial["label"].values.tolist().index(label)] += np.array([0.6, 0.64, 0.48]) * mm
    return trial.assign(point=(trial["point"].dims, point))


def rows(found: list[Finding], check: str) -> list[Finding]:
    return [f for f in found if f.check == check]


def test_a_marker_off_its_plate_for_a_while_is_named_with_both_times(squat: xr.Dataset) -> None:
    assert not rows(check_trial(squat, CheckSettings())[1], "marker leaps")
    found = check_trial(pulled(squat, "R_THIGH_2", 30.0, slice(450, 500)), CheckSettings())[1]
    (row,) = rows(found, "marker leaps")
    assert (row.subject, row.verdict, row.limit) == ("R_THIGH_2", "review", 12.0)
    assert "at 4.50, 5.00 s" in row.advice


def test_no_pose_is_taken_from_frames_that_do_not_hold(squat: xr.Dataset) -> None:
    sound, _ = run(squat, "movement", leave=("check", "repair", "quality"), until="angles")
    found, told = run(
        pulled(squat, "R_THIGH_2", 40.0, slice(450, 500)),
        "movement",
        leave=("check", "repair", "quality"),
        until="angles",
    )
    (row,) = rows(told, "frames without a sound fit")
    assert (row.subject, row.verdict) == ("thigh_r", "review")
    before, after = sound["angle"].values, found["angle"].values
    assert np.isnan(after[452:498, 1, 0]).all(), "hip flexion rests on the thigh"
    shown = np.isfinite(after)
    assert np.abs(after - before)[shown].max() < 2.0, "and what is still shown is right"
    assert np.isfinite(after[500 + 60 :]).any()
