"""A lab axis as straight ahead is held against where the participant faces."""

from functools import lru_cache

import numpy as np
import pytest
import xarray as xr

from condyle.findings import Finding
from condyle.mechanics.heading import off_facing
from condyle.mechanics.rotations import rotation_y
from condyle.sample.lab import Lab
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.sessions import simulate_session
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages.causes import BY_HEADING
from condyle.stages.contributions import ContributionsSettings, contributions_trial
from tests.simulated import calibrated, processed, run, trial_of

PERSON = build_person()
CHECK = "facing off the lab axis"


def options(facing: float) -> Options:
    timing = Timing(repetitions=2, squat_s=1.6, before_s=0.7)
    return Options.ideal(rate_hz=60.0, static_s=0.6, timing=timing, lab=Lab(facing_deg=facing))


@lru_cache(maxsize=8)
def squat(movement: str, facing: float, anterior: str = "+X") -> tuple[xr.Dataset, list[Finding]]:
    return processed(PERSON, simulate(PERSON, movement, options(facing), "left"), anterior=anterior)


def of_facing(findings: list[Finding]) -> list[Finding]:
    return [f for f in findings if f.check == CHECK]


@pytest.mark.parametrize("facing", [0.0, 6.0, -6.0])
def test_an_axis_that_the_participant_faces_has_no_row(facing: float) -> None:
    assert of_facing(squat("pelvis_turn", facing)[1]) == []


@pytest.mark.parametrize(("facing", "causes"), [(25.0, {"not_separable"}), (-25.0, {"with_the_pelvis"})])
def test_a_cause_by_an_axis_that_is_off_must_stand_by_pelvis_and_foot_too(facing: float, causes: set[str]) -> None:
    trial, findings = squat("pelvis_turn", facing)
    (row,) = of_facing(findings)
    assert (row.subject, row.verdict, row.limit) == ("bout 1", "review", 8.0)
    assert row.value == pytest.approx(25.0, abs=0.5)
    assert "25 degrees" in row.advice
    assert "+X" in row.advice
    done, more = contributions_trial(trial, ContributionsSettings())
    assert set(done["repetition_cause"].values.tolist()) == causes
    straight = contributions_trial(squat("pelvis_turn", facing, "pelvis_at_start")[0], ContributionsSettings())[0]
    assert set(straight["repetition_cause"].values.tolist()) == {"with_the_pelvis"}
    remarks = [f for f in more if f.advice.startswith(BY_HEADING)]
    assert bool(remarks) == (causes == {"not_separable"})
    for remark in remarks:
        assert (remark.value, remark.limit) == (pytest.approx(25.0, abs=0.5), 8.0)


@pytest.mark.parametrize("facing", [60.0, 90.0, -90.0, 179.0, 180.0])
def test_where_front_and_side_change_places_nothing_is_measured(facing: float) -> None:
    trial, findings = squat("pelvis_turn", facing)
    (row,) = of_facing(findings)
    assert (row.subject, row.verdict, row.limit) == ("file", "reject", 45.0)
    assert row.value == pytest.approx(abs(facing), abs=0.5)
    assert "angle" not in trial
    assert "heading_deg" not in trial, "with it the reject could be accepted and numbers of another side be shown"
    assert of_facing(squat("pelvis_turn", facing, "pelvis_at_start")[1]) == []


def test_bouts_are_judged_one_by_one() -> None:
    chosen = options(0.0)
    session = simulate_session(PERSON, {"a": [("right", "hip_in"), ("left", "hip_in")]}, chosen)
    recorded = session.trials[0]
    trial = trial_of(recorded, anterior="+X").assign(calibrated(trial_of(session.static, task="static")))
    middle = (recorded.bouts[0].repetitions[-1].end + recorded.bouts[1].repetitions[0].start) // 2
    point = trial["point"].values.copy()
    point[middle:] = point[middle:] @ rotation_y(np.pi).T  # turned round between the bouts
    done, findings = run(trial.assign(point=(trial["point"].dims, point)), "movement")
    (row,) = of_facing(findings)
    assert (row.subject, row.verdict, row.limit) == ("bout 2", "review", 45.0)
    assert row.value == pytest.approx(180.0, abs=1.0)
    assert "not measured" in row.advice
    assert done["bout_faced"].values.tolist() == [True, False]
    assert set(done["repetition_side"].values.tolist()) == {"right"}
    declared, findings = run(
        trial.assign(point=(trial["point"].dims, point)).assign_attrs(side="left"), "movement", until="repetitions"
    )
    assert declared.sizes["repetition"] == 0
    (rejected,) = [f for f in findings if f.verdict == "reject"]
    assert rejected.check == "repetitions found"
    assert "lab axis" in rejected.advice


def test_off_facing_takes_the_nearer_way_of_telling() -> None:
    told = np.deg2rad(np.array([[10.0, np.nan, np.nan], [-170.0, 175.0, np.nan]]))
    np.testing.assert_allclose(
        np.rad2deg(off_facing(np.deg2rad(np.array([-20.0, -175.0, 0.0])), told)), [30, 10, np.nan]
    )
