"""Epicondyles placed alike wrong in standing trial and movement: told by knee adduction that follows flexion."""

import numpy as np
import pytest
import xarray as xr

from condyle.findings import Finding
from condyle.sample import Options, build_person
from condyle.sample.sessions import simulate_session
from condyle.sample.timing import Timing
from condyle.stages.body import markers_of, tracking_names
from condyle.stages.quality import QualitySettings, quality_trial
from tests.fault_case import Case
from tests.faults_of_segments import epicondyles_turned
from tests.simulated import calibrated, run, trial_of


@pytest.fixture(scope="module")
def session() -> tuple[xr.Dataset, xr.Dataset]:
    """A standing trial and three squats on the right leg with every marker exactly on its bone."""
    options = Options.ideal(timing=Timing(repetitions=3))
    one = simulate_session(build_person(), {"squat": [("right", "controlled")]}, options)
    return trial_of(one.static, task="static"), trial_of(one.trials[0])


def knee_rows(session: tuple[xr.Dataset, xr.Dataset], degrees: float) -> list[Finding]:
    static, trial = session
    names = markers_of(trial)
    tracking = {s: [names.index(n) for n in own if n in names] for s, own in tracking_names(trial).items()}
    places = trial["point"].values.copy(), static["point"].values.copy()
    case = Case(*places, names, tracking, "r", 100.0, [], places[1])
    epicondyles_turned(case, degrees, np.random.default_rng(1))
    static = static.assign(point=(static["point"].dims, case.static))
    trial = trial.assign(point=(trial["point"].dims, case.point)).assign(calibrated(static))
    posed, _ = run(trial, "movement", leave=("check", "repair", "quality"), until="repetitions")
    return [f for f in quality_trial(posed, QualitySettings())[1] if f.check == "knee axis"]


@pytest.mark.parametrize("degrees", [25, -25])
def test_an_axis_25_degrees_wrong_is_named_with_turn_range_and_correlation(
    session: tuple[xr.Dataset, xr.Dataset], degrees: float
) -> None:
    (row,) = knee_rows(session, degrees)
    assert (row.subject, row.verdict) == ("thigh_r", "review")
    assert row.value == pytest.approx(25, abs=2.5)
    turn = -degrees if row.value is not None else 0
    assert f"{'+' if turn > 0 else '-'}2" in row.advice.split("turning the thigh by ")[1][:3]
    assert "r = " in row.advice
    assert "range 2" in row.advice


def test_a_sound_axis_and_one_within_palpation_have_no_row(session: tuple[xr.Dataset, xr.Dataset]) -> None:
    assert knee_rows(session, 0) == []
    assert knee_rows(session, 6) == []
