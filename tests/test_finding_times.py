"""What is about moments of a trial says when, in numbers: the timeline of the quality page is drawn from them."""

import numpy as np
import pytest
import xarray as xr

from condyle.files.samples import frozen_findings, leap_findings
from condyle.findings import Finding, stretches
from condyle.sample import cohort
from condyle.stages.check import CheckSettings, check_trial
from condyle.stages.repair import RepairSettings, repair_trial
from tests.simulated import calibrated, run, trial_of


@pytest.fixture(scope="module")
def squat() -> xr.Dataset:
    session = next(cohort(1, 17))
    return trial_of(session.trials[0]).assign(calibrated(trial_of(session.static, task="static")))


def changed(trial: xr.Dataset, point: np.ndarray) -> xr.Dataset:
    return trial.assign(point=(trial["point"].dims, point))


def column(trial: xr.Dataset, label: str) -> int:
    return int(trial["label"].values.tolist().index(label))


def of(found: list[Finding], check: str) -> tuple[tuple[float, float], ...]:
    (row,) = [f for f in found if f.check == check]
    return row.times_s


def test_stretches_are_first_and_last_moments() -> None:
    which = np.zeros(100, dtype=bool)
    which[[0, 50, 51, 52, 99]] = True
    assert stretches(which, 100.0) == ((0.0, 0.0), (0.5, 0.52), (0.99, 0.99))


def test_exchanged_markers(squat: xr.Dataset) -> None:
    point = squat["point"].values.copy()
    a, b = column(squat, "R_THIGH_1"), column(squat, "R_THIGH_3")
    point[300:420, [a, b]] = point[300:420, [b, a]]
    trial = changed(squat, point)
    ((start, end),) = of(check_trial(trial, CheckSettings())[1], "markers exchanged")
    assert start == pytest.approx(3.0, abs=0.02)
    assert end == pytest.approx(4.19, abs=0.02)
    repaired = of(repair_trial(trial, RepairSettings(swaps=True))[1], "repaired: exchanged markers")
    assert repaired == ((start, end),)


def test_spikes(squat: xr.Dataset) -> None:
    point = squat["point"].values.copy()
    point[[250, 600], column(squat, "L_SHANK_2")] += [0.0, 12.0, 6.0]
    trial = changed(squat, point)
    assert of(check_trial(trial, CheckSettings())[1], "spike") == ((2.5, 2.5), (6.0, 6.0))
    assert of(repair_trial(trial, RepairSettings(spikes=True))[1], "repaired: spikes") == ((2.5, 2.5), (6.0, 6.0))


def test_a_leap_there_and_back(squat: xr.Dataset) -> None:
    point = squat["point"].values.copy()
    point[450:500, column(squat, "R_THIGH_2")] += [18.0, 19.2, 14.4]
    found = check_trial(changed(squat, point), CheckSettings())[1]
    assert of(found, "marker leaps") == ((4.5, 4.5), (5.0, 5.0))


def test_frames_that_stand_still_or_are_missing(squat: xr.Dataset) -> None:
    point = squat["point"].values.copy()
    point[500:503] = point[499]
    assert of(check_trial(changed(squat, point), CheckSettings())[1], "doubled frames") == ((5.0, 5.02),)
    cut = squat.isel(time=np.delete(np.arange(squat.sizes["time"]), slice(300, 310)))
    cut = cut.assign_coords(time=np.arange(cut.sizes["time"]) / 100.0)
    found = check_trial(cut, CheckSettings())[1]
    told = [f.times_s for f in found if f.check in ("dropped frames", "marker leaps") and f.subject == "file"]
    assert told == [((3.0, 3.0),)]


def test_a_cluster_that_fits_badly_for_a_while(squat: xr.Dataset) -> None:
    point = squat["point"].values.copy()
    point[450:600, column(squat, "R_THIGH_2")] += [18.0, 19.2, 14.4]
    times = of(check_trial(changed(squat, point), CheckSettings())[1], "cluster fit at times")
    assert 4.5 <= times[0][0] <= times[-1][1] <= 6.0


def test_a_squat_that_the_recording_cuts_off(squat: xr.Dataset) -> None:
    cut = squat.isel(time=slice(250, None))
    found = run(cut.assign_coords(time=np.arange(cut.sizes["time"]) / 100.0), "movement", until="repetitions")[1]
    ((start, end),) = of(found, "incomplete repetition")
    assert start == pytest.approx(0.0, abs=0.05)
    assert 0.3 < end < 2.5


def test_frames_without_a_sound_fit(squat: xr.Dataset) -> None:
    point = squat["point"].values.copy()
    point[450:500, column(squat, "R_THIGH_2")] += [24.0, 25.6, 19.2]
    found = run(changed(squat, point), "movement", leave=("check", "repair", "quality"), until="pose")[1]
    ((start, end),) = of(found, "frames without a sound fit")
    assert start == pytest.approx(4.5, abs=0.2)
    assert end == pytest.approx(5.0, abs=0.2)


def test_leaps_and_stillness_that_the_reading_finds() -> None:
    rng = np.random.default_rng(5)
    point = np.cumsum(rng.normal(0, 0.5, (400, 6, 3)), axis=0)
    point[120, 2] += 60.0
    point[200:260, 4] = point[200, 4]
    labels = [f"M{k}" for k in range(6)]
    assert of([f for f in leap_findings(point, labels, 100.0) if f.subject == "M2"], "leap of a sample") == (
        (1.2, 1.2),
    )
    assert of(frozen_findings(point, labels, 100.0), "marker stands still") == ((2.0, 2.59),)
