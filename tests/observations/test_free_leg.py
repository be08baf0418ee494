"""The free leg elsewhere: at any time, in any direction, hidden, or alone."""

from dataclasses import replace

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS
from condyle.sample.movements import MOVEMENTS
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages.accounts import repetition_rows
from condyle.stages.contributions import ContributionsSettings, contributions_trial
from condyle.stages.validity import faults_of, looked_at
from tests.observations.shared import LIMITS, OPTIONS, faults, hidden, measured, unseen
from tests.simulated import processed


def free_leg_moved(repetitions: int, *moves: tuple[int, tuple[float, float], tuple[float, float]]) -> xr.Dataset:
    """Repetitions whose free ankle is elsewhere: number, forward and rightward shift in mm, from and to which percent."""
    timing = Timing(repetitions=repetitions, squat_s=1.6, before_s=0.7)
    trial, _ = processed(
        build_person(), simulate(build_person(), MOVEMENTS["hip_in"], replace(OPTIONS, timing=timing), "right")
    )
    trial = trial.copy(deep=True)
    ankle = trial["joint_centre"].values[:, JOINTS.index("ankle_l")]
    for number, (forward, right), part in moves:
        row = repetition_rows(trial)[number - 1]
        first, last = np.interp(part, [0.0, 50.0, 100.0], [row.start, row.bottom, row.end]).astype(int)
        ankle[first:last, [0, 2]] += forward, right
    return trial


MOVED = "the free leg's position changed"


@pytest.mark.parametrize(
    ("shift", "part"),
    [((0.0, -250.0), (0.0, 100.0)), ((300.0, 0.0), (5.0, 20.0)), ((-300.0, 0.0), (70.0, 85.0))],
    ids=["to the side", "forward early", "back late"],
)
def test_free_leg_elsewhere_at_any_time_and_in_any_direction(
    shift: tuple[float, float], part: tuple[float, float]
) -> None:
    assert faults(free_leg_moved(5, (4, shift, part))) == [[], [], [], [MOVED], []]
    assert faults(free_leg_moved(5, (4, (0.5 * shift[0], 0.5 * shift[1]), part))) == [[]] * 5


def test_free_legs_that_are_odd_at_different_moments_leave_the_others_valid() -> None:
    moves = [
        (3, (0.0, -250.0), (0.0, 100.0)),
        (4, (300.0, 0.0), (40.0, 60.0)),
        (5, (300.0, 0.0), (5.0, 20.0)),
    ]
    trial = free_leg_moved(5, *moves)
    assert faults(trial) == [[], [], [MOVED], [MOVED], [MOVED]]
    found = faults_of(looked_at(trial, repetition_rows(trial), LIMITS), LIMITS)
    assert [f.beside for row in found for f in row] == ["", "", ""], "three of five, each at another moment"


def test_free_leg_of_two_repetitions_that_differ_makes_both_invalid_and_says_why() -> None:
    trial = free_leg_moved(2, (2, (350.0, 0.0), (0.0, 100.0)))
    assert faults(trial) == [[MOVED], [MOVED]]
    _, findings = contributions_trial(trial, ContributionsSettings())
    said = [f.advice for f in findings if f.check == "repetition valid"]
    assert len(said) == 2
    assert all("which repetition is the odd one cannot be told" in words for words in said)
    halves = free_leg_moved(4, (3, (350.0, 0.0), (0.0, 100.0)), (4, (350.0, 0.0), (0.0, 100.0)))
    assert faults(halves) == [[MOVED]] * 4
    odd = contributions_trial(free_leg_moved(3, (3, (350.0, 0.0), (0.0, 100.0))), ContributionsSettings())[1]
    (row,) = [f for f in odd if f.check == "repetition valid"]
    assert row.value == pytest.approx(350.0, abs=15.0)
    assert "cannot be told" not in row.advice


def test_one_repetition_alone_has_no_other_to_be_held_against() -> None:
    trial = free_leg_moved(1)
    assert faults(trial) == [[]]
    (row,) = unseen(trial)
    assert "free leg's position changed" in row.advice


FREE_FOOT = ("calcaneus_l", "metatarsal_1_l", "metatarsal_2_l", "metatarsal_5_l")


def test_free_foot_hidden_in_one_repetition_is_said_of_that_one() -> None:
    row = repetition_rows(measured("hip_in"))[1]
    trial = hidden(measured("hip_in"), FREE_FOOT, slice(row.bottom - 15, row.bottom + 15))
    (said,) = unseen(trial)
    assert said.subject == "repetition 2, right"
    assert said.value == pytest.approx(30 / 60.0)
    assert "too little of the left foot is seen to look for its touching the floor" in said.advice
    assert "stance leg" not in said.advice, "the ankle is seen"
    assert faults(trial) == [[], []]


def test_stance_foot_with_one_marker_says_that_pivoting_is_not_looked_for() -> None:
    trial = hidden(measured("hip_in"), ("calcaneus_r", "metatarsal_1_r", "metatarsal_5_r"))
    trial["calibrated_point"].values[SEGMENTS.index("foot_r")] = np.nan
    (said,) = unseen(trial)
    assert said.subject == "foot_r"
    assert "pivoting" in said.advice
    assert "sliding" not in said.advice


def test_free_foot_that_the_standing_trial_did_not_show_has_no_floor() -> None:
    trial = measured("hip_in").copy(deep=True)
    names = trial["marker"].values.tolist()
    trial["static_point"].values[[names.index(n) for n in FREE_FOOT]] = np.nan
    (said,) = unseen(trial)
    assert "touching the floor" in said.advice
