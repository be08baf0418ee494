"""A heel that lifts over a forefoot that stays is a finding of the squat, and no reason not to see the squat."""

from dataclasses import replace

import numpy as np
import pytest

from condyle.mechanics.bouts import find_bouts
from condyle.sample.movements import MOVEMENTS
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages.contributions import ContributionsSettings, contributions_trial
from tests.simulated import processed


@pytest.mark.parametrize("squat_s", [1.2, 2.0, 4.0])
def test_a_lifting_heel_is_measured_at_any_tempo(squat_s: float) -> None:
    hip_in = MOVEMENTS["hip_in"]
    movement = replace(hip_in, change={**hip_in.change, "heel_lift": 20.0})
    options = Options.ideal(rate_hz=60.0, static_s=0.6, timing=Timing(repetitions=2, squat_s=squat_s, before_s=0.7))
    trial, findings = processed(build_person(), simulate(build_person(), movement, options, "left"))
    assert not [f for f in findings if f.verdict == "reject"]
    assert trial["bout_side"].values.tolist() == ["left"]
    assert trial.sizes["repetition"] == 2
    lift = trial["measure_value"].values[:, trial["measure"].values.tolist().index("heel_lift")]
    assert np.all(lift > 40.0)
    done, _ = contributions_trial(trial, ContributionsSettings())
    assert all("heel lifted" in str(words) for words in done["repetition_findings"].values)


@pytest.mark.parametrize("forefoot", [5.0, 200.0, np.nan])
def test_a_foot_stands_where_heel_or_forefoot_is_still(forefoot: float) -> None:
    time = np.arange(400) / 100.0
    bend = 70.0 * np.clip(np.sin(np.pi * (time - 1.0) / 2.0), 0.0, None) * (time < 3.0)
    heel = np.stack([30.0 + bend, 200.0 - bend], axis=1)  # the left heel lifts, the right foot is carried by the pelvis
    speed = np.column_stack([np.full(400, forefoot), np.full(400, 300.0)])
    found = find_bouts(
        *(time, np.stack([5.0 + bend, np.full(400, 20.0)], axis=1), np.zeros((400, 2)), heel, 950.0 - 2.0 * bend),
        forefoot_speed=speed,
    )
    assert [b.side for b in found] == (["left"] if forefoot == 5.0 else [])
