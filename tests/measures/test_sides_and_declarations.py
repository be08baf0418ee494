"""Which squats are measured: both legs in a file, what is declared, what is cut off, corrections by hand."""

import numpy as np
import pytest

from condyle.sample.simulate import simulate, simulate_bouts
from condyle.sample.timing import Timing
from tests.measures.shared import PERSON, found_in, frames, ideal, values
from tests.simulated import processed


def test_left_and_right_in_one_file_are_numbered_through() -> None:
    simulated = simulate_bouts(PERSON, [("left", "hip_in"), ("right", "pelvis_turn")], ideal())
    trial, _ = processed(PERSON, simulated)
    assert trial["repetition_number"].values.tolist() == [1, 2, 3, 4]
    assert trial["repetition_bout"].values.tolist() == [1, 1, 2, 2]
    assert trial["repetition_side"].values.tolist() == ["left", "left", "right", "right"]
    true = [(r.start, r.bottom, r.end) for b in simulated.bouts for r in b.repetitions]
    assert np.abs(frames(trial) - true).max() <= 1
    alone = values(processed(PERSON, simulate(PERSON, "pelvis_turn", ideal(), "right"))[0], 0)
    second = values(trial, 2)
    assert second["pelvis_rotation_change"] == pytest.approx(alone["pelvis_rotation_change"], abs=0.2)
    assert second["knee_travel"] == pytest.approx(alone["knee_travel"], abs=0.5)


@pytest.mark.parametrize("declared", ["auto", "left", "both"])
def test_double_leg_squat_measures_the_declared_sides(declared: str) -> None:
    simulated = simulate(PERSON, "double_leg_squat", ideal(), "right")
    trial, findings = processed(PERSON, simulated, side=declared)
    expected = ["left", "left"] if declared == "left" else ["left", "right"] * 2
    assert trial["repetition_side"].values.tolist() == expected
    assert trial["repetition_number"].values.tolist() == ([1, 2] if declared == "left" else [1, 1, 2, 2])
    assert not [f for f in findings if f.verdict == "reject"]


def test_declared_side_unlike_the_measured_one_is_rejected() -> None:
    _, findings = processed(PERSON, simulate(PERSON, "hip_in", ideal(), "left"), side="right")
    (rejected,) = [f for f in findings if f.verdict == "reject"]
    assert "squats on the left, declared right" in rejected.advice
    _, findings = processed(PERSON, simulate(PERSON, "hip_in", ideal(), "left"), task="double_leg_squat")
    assert [f.check for f in findings if f.verdict == "reject"] == ["stance side"]


def test_squats_on_the_other_leg_are_left_out_where_one_side_is_declared() -> None:
    simulated = simulate_bouts(PERSON, [("left", "hip_in"), ("right", "hip_in")], ideal())
    trial, findings = processed(PERSON, simulated, side="right")
    assert trial["repetition_side"].values.tolist() == ["right", "right"]
    (said,) = found_in(findings, "stance side")
    assert said.verdict == "review"


def test_cut_off_squats_are_reported_and_not_measured() -> None:
    timing = Timing(repetitions=4, cut_first=True, cut_last=True)
    trial, findings = processed(PERSON, simulate(PERSON, "hip_in", ideal(timing=timing), "right"))
    assert trial["repetition_number"].values.tolist() == [1, 2]
    lost = found_in(findings, "incomplete repetition")
    assert [("start" in f.advice, "end was" in f.advice) for f in lost] == [(True, False), (False, True)]


@pytest.mark.parametrize("off_bottom_s", [-0.4, -0.2, -0.1, -0.03, 0.0, 0.03, 0.1, 0.2, 0.4])
def test_a_squat_cut_off_about_its_bottom_is_reported_and_never_taken_for_the_stance(off_bottom_s: float) -> None:
    simulated = simulate(PERSON, "hip_in", ideal(timing=Timing(repetitions=3)), "right")
    true = np.array([(r.start, r.bottom, r.end) for r in simulated.bouts[0].repetitions])
    first, last = true[[0, -1], 1] / 100.0 + off_bottom_s
    for window, missing, whole in (([first, 99.0], "start", true[1:]), ([0.0, last], "end", true[:-1])):
        trial, findings = processed(PERSON, simulated, use_s=window)
        (lost,) = found_in(findings, "incomplete repetition")
        assert f"its {missing} was not recorded" in lost.advice
        assert np.abs(frames(trial) - whole).max() <= 1
        assert trial["stance_end_s"].values[0] <= (whole[0, 0] + 1) / 100.0
        assert trial["stance_start_s"].values[0] >= (0.0 if missing == "end" else (true[0, 2] - 1) / 100.0)


@pytest.mark.parametrize(
    "timing",
    [
        Timing(repetitions=2, pause_on_the_way_s=0.8),
        Timing(repetitions=2, shaky_start_deg=4.0),
        Timing(repetitions=3, between_s=0.0, depths=(0.5, 1.0, 0.7)),
    ],
)
def test_pauses_shaky_starts_and_unequal_squats(timing: Timing) -> None:
    simulated = simulate(PERSON, "hip_in", ideal(timing=timing), "left")
    trial, _ = processed(PERSON, simulated)
    true = [(r.start, r.bottom, r.end) for r in simulated.bouts[0].repetitions]
    assert np.abs(frames(trial) - true).max() <= 1


def test_corrections_by_hand_are_honoured() -> None:
    simulated = simulate(PERSON, "hip_in", ideal(timing=Timing(repetitions=4)), "right")
    true = [(r.start, r.bottom, r.end) for r in simulated.bouts[0].repetitions]
    trial, _ = processed(PERSON, simulated, leave_out_repetitions=[1, 3])
    assert trial["repetition_number"].values.tolist() == [2, 4]
    assert np.abs(frames(trial) - [true[1], true[3]]).max() <= 1
    window = [(true[0][2] + 5) / 100.0, (true[2][2] + 20) / 100.0]
    trial, _ = processed(PERSON, simulated, use_s=window)
    assert np.abs(frames(trial) - true[1:3]).max() <= 1
    by_hand = [1.7, 2.4, 3.3, 4.1, 4.9, 5.6]
    trial, _ = processed(PERSON, simulated, repetitions_s=by_hand)
    assert (frames(trial).ravel() / 100.0).tolist() == pytest.approx(by_hand)


def test_leaving_out_a_repetition_that_is_not_there_is_rejected_in_a_sentence() -> None:
    _, findings = processed(PERSON, simulate(PERSON, "hip_in", ideal(), "right"), leave_out_repetitions=[7])
    (rejected,) = [f for f in findings if f.verdict == "reject"]
    assert rejected.check == "correction by hand"
    assert "leave_out names repetition 7" in rejected.advice
    assert rejected.advice.endswith(".")


def test_no_squat_is_said_and_other_tasks_are_not_asked_for_one() -> None:
    options = ideal(timing=Timing(repetitions=0, before_s=3.0))
    _, findings = processed(PERSON, simulate(PERSON, "hip_in", options, "right"))
    assert [f.check for f in findings if f.verdict == "reject"] == ["repetitions found"]
    trial, findings = processed(PERSON, simulate(PERSON, "hip_in", ideal(), "right"), task="other")
    assert not [f for f in findings if f.verdict == "reject"]
    assert trial.sizes["repetition"] == 0
