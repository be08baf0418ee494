"""Kneecaps, acromia and other landmarks that track nothing: exchanges are named and undone, what leaves its segment is said."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr

from condyle.findings import Finding
from condyle.running import judge
from condyle.sample import cohort
from condyle.session import compute, plan
from condyle.stages.check import CheckSettings, check_trial
from condyle.stages.repair import RepairSettings, repair_trial
from tests.open_sessions import SKIN, write_open_session
from tests.simulated import calibrated, trial_of


@pytest.fixture(scope="module")
def squat() -> xr.Dataset:
    session = next(cohort(1, 17))
    return trial_of(session.trials[0]).assign(calibrated(trial_of(session.static, task="static")))


def changed(trial: xr.Dataset, change: Any) -> xr.Dataset:
    point = trial["point"].values.copy()
    change(point)
    return trial.assign(point=(trial["point"].dims, point))


def columns(trial: xr.Dataset, *labels: str) -> list[int]:
    known = trial["label"].values.tolist()
    return [known.index(label) for label in labels]


def exchanged(trial: xr.Dataset, a: str, b: str, frames: slice) -> xr.Dataset:
    own = columns(trial, a, b)
    return changed(trial, lambda p: p.__setitem__((frames, own), p[frames][:, own[::-1]].copy()))


def said(trial: xr.Dataset) -> list[Finding]:
    checks = ("markers exchanged", "landmark off its segment")
    return [f for f in check_trial(trial, CheckSettings())[1] if f.verdict == "reject" or f.check in checks]


@pytest.mark.parametrize(
    ("a", "b", "frames", "subject"),
    [
        ("R_PATELLA", "L_PATELLA", slice(400, 600), "file"),
        ("R_PATELLA", "L_PATELLA", slice(None), "file"),
        ("R_SHOULDER", "L_SHOULDER", slice(300, 360), "shoulders"),
        ("R_KNEE_LAT", "L_KNEE_LAT", slice(500, 700), "file"),
        ("R_PATELLA", "R_THIGH_2", slice(430, 495), "thigh_r"),
        ("R_KNEE_LAT", "R_PATELLA", slice(200, 500), "thigh_r"),
        ("R_PATELLA", "R_TUBEROSITY", slice(200, 500), "thigh_r"),
        ("R_TUBEROSITY", "R_ANKLE_LAT", slice(200, 500), "shank_r"),
    ],
)
def test_an_exchange_is_one_row_with_its_frames_and_is_undone(
    squat: xr.Dataset, a: str, b: str, frames: slice, subject: str
) -> None:
    assert said(squat) == []
    faulty = exchanged(squat, a, b, frames)
    (row,) = said(faulty)
    assert (row.check, row.subject, row.verdict) == ("markers exchanged", subject, "reject")
    first, last, _ = frames.indices(squat.sizes["time"])
    assert f"{a}, {b}, frames {first} to {last - 1} " in row.advice
    repaired, rows = repair_trial(faulty, RepairSettings(swaps=True))
    assert [f.check for f in rows] == ["repaired: exchanged markers"]
    np.testing.assert_array_equal(repaired["point"].values, squat["point"].values)


def test_shoulders_under_each_others_names_go_alone(squat: xr.Dataset) -> None:
    checked, found = check_trial(exchanged(squat, "R_SHOULDER", "L_SHOULDER", slice(None)), CheckSettings())
    after, ended, _ = judge(checked, found)
    assert not ended
    assert np.isnan(after["point"].sel(marker="acromion_r")).all()
    assert not np.isnan(after["point"].sel(marker="c7")).all()


@pytest.mark.parametrize(("frames", "verdict"), [(slice(300, 340), "review"), (slice(300, 700), "reject")])
def test_a_kneecap_elsewhere_is_off_its_segment(squat: xr.Dataset, frames: slice, verdict: str) -> None:
    (k,) = columns(squat, "R_PATELLA")
    (row,) = said(changed(squat, lambda p: p.__setitem__((frames, k), p[frames, k] + [100.0, 100.0, 0])))
    assert (row.check, row.subject, row.verdict, row.unit) == ("landmark off its segment", "thigh_r", verdict, "%")
    assert row.value == pytest.approx(100.0 * (frames.stop - frames.start) / squat.sizes["time"], abs=0.3)
    assert f"R_PATELLA, frames {frames.start} to {frames.stop - 1} " in row.advice
    near = changed(squat, lambda p: p.__setitem__((frames, k), p[frames, k] + [30.0, 30.0, 0]))
    assert said(near) == [], "skin slides so far"


def test_a_rider_and_a_kneecap_of_a_segment_share_a_row(squat: xr.Dataset) -> None:
    own = columns(squat, "R_PATELLA", "R_KNEE_LAT")
    rows = said(changed(squat, lambda p: p.__setitem__((slice(300, 700), own), p[300:700, own] + [0.0, 150.0, 0])))
    assert [f.check for f in rows] == ["landmark off its segment"]
    assert "R_PATELLA, R_KNEE_LAT" in rows[0].advice


def test_a_cluster_that_is_not_its_own_blames_no_landmark(squat: xr.Dataset) -> None:
    own = columns(squat, *(f"R_THIGH_{k}" for k in range(1, 5)))

    def scatter(p: Any) -> None:
        p[:, own] += np.array([[200.0, 0, 0], [0, -200.0, 0], [0, 0, 200.0], [-150.0, 150.0, 0]])

    assert {f.check for f in said(changed(squat, scatter))} == {"cluster fit"}


def test_shoulders_without_a_trunk_are_told_by_the_pelvis(tmp_path: Path) -> None:
    folder = write_open_session(tmp_path, "skin_walk", "standing", ["walk_1"], SKIN)
    done = compute(plan(folder)).trials
    walk = done["walk_1"].trial.assign_attrs(task="other")
    assert not [f for f in check_trial(walk, CheckSettings())[1] if f.check == "markers exchanged"]
    frames = slice(30, 90)
    (row,) = [
        f
        for f in check_trial(exchanged(walk, "r_shoulder", "l_shoulder", frames), CheckSettings())[1]
        if f.check == "markers exchanged"
    ]
    assert (row.subject, row.verdict) == ("shoulders", "reject")
    assert "r_shoulder, l_shoulder, frames 30 to 89 " in row.advice
