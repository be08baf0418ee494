"""Turns about the vertical go on past half a turn without a jump by a whole one."""

from functools import lru_cache
from typing import Any

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import JOINT_ANGLES
from condyle.mechanics.heading import continued, mean_direction, near
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages.angles import AnglesSettings, angles_trial
from tests.simulated import processed

TURNS = [JOINT_ANGLES.index(n) for n in ("pelvis_rotation", "trunk_rotation", "thigh_axial_rotation")]


@lru_cache(maxsize=2)
def squat(movement: str) -> xr.Dataset:
    timing = Timing(repetitions=2, squat_s=1.6, before_s=0.7)
    options = Options.ideal(rate_hz=60.0, static_s=0.6, timing=timing)
    return processed(build_person(), simulate(build_person(), movement, options, "left"))[0]


@pytest.mark.parametrize("facing", [178.0, -178.0, 180.0, 90.0])
def test_angles_go_on_past_half_a_turn(facing: float) -> None:
    trial = squat("pelvis_turn")
    straight = trial["angle"].values[:, :, TURNS]
    turned = trial.assign(heading_deg=trial["heading_deg"] + facing)
    found = angles_trial(turned, AnglesSettings())[0]["angle"].values[:, :, TURNS]
    assert np.abs(np.diff(found, axis=0)).max() < 30.0
    moved = found - straight
    np.testing.assert_allclose(moved - moved[:1], 0.0, atol=1e-6)
    assert np.ptp(straight[..., 0]) > 15.0, "else nothing passes half a turn"


def test_a_trial_without_bouts_goes_on_through_whole_turns() -> None:
    trial = squat("controlled")
    no_bout: dict[str, Any] = {"bout": slice(0, 0)}
    trial = trial.isel(no_bout)
    trial = trial.assign(heading_deg=("time", np.linspace(0.0, -700.0, trial.sizes["time"])))
    pelvis = angles_trial(trial, AnglesSettings())[0]["angle"].values[:, 1, TURNS[0]]
    assert pelvis[-1] - pelvis[0] == pytest.approx(700.0, abs=5.0)


def test_continued_bridges_what_is_not_seen() -> None:
    course = np.array([[170.0, np.nan], [np.nan, 10.0], [-170.0, 20.0], [-160.0, np.nan]])
    want = np.array([[170.0, np.nan], [np.nan, 10.0], [190.0, 20.0], [200.0, np.nan]])
    np.testing.assert_array_equal(continued(course), want)


def test_near_leaves_what_is_near_and_takes_whole_turns_away() -> None:
    found = near(np.array([170.0, -170.0, np.nan, 30.0]), np.array([175.0, 175.0, 175.0, np.nan]))
    np.testing.assert_array_equal(found, [170.0, 190.0, np.nan, 30.0])
    assert mean_direction(np.array([170.0, np.nan, -170.0])) == pytest.approx(180.0)
    assert np.isnan(mean_direction(np.array([np.nan])))
