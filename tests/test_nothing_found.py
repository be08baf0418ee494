"""A trial without a repetition says what is missing: knee flexion and why there is none, or a foot that stays still."""

from functools import lru_cache

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import LANDMARK_SEGMENT, SEGMENTS
from condyle.findings import Finding
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate, simulate_static
from condyle.sample.timing import Timing
from tests.simulated import calibrated, run, trial_of

PERSON = build_person()
OPTIONS = Options.ideal(rate_hz=60.0, static_s=0.6, timing=Timing(repetitions=2, squat_s=1.6, before_s=0.7))


@lru_cache(maxsize=1)
def recorded() -> tuple[xr.Dataset, xr.Dataset]:
    simulated = simulate(PERSON, "hip_in", OPTIONS, "right")
    standing = trial_of(simulate_static(PERSON, OPTIONS, simulated.session_errors), task="static")
    return standing, trial_of(simulated)


def sentence(trial: xr.Dataset, standing: xr.Dataset | None = None, **identity: str) -> str:
    taught = calibrated(recorded()[0] if standing is None else standing)
    _, findings = run(trial.assign(taught).assign_attrs(identity), "movement", until="repetitions")
    row: Finding
    (row,) = [f for f in findings if f.verdict == "reject"]
    assert (row.check, row.subject) == ("repetitions found", "file")
    return row.advice


def without_tracking(trial: xr.Dataset, segments: tuple[str, ...], left: int = 0) -> xr.Dataset:
    tracking = trial["tracking"].values.copy()
    for segment in segments:
        row = tracking[SEGMENTS.index(segment)]
        row[np.flatnonzero(row)[left:]] = False
    return trial.assign(tracking=(trial["tracking"].dims, tracking))


@pytest.mark.parametrize(
    ("left", "words"), [(0, "no tracking points"), (2, "2 tracking points"), (1, "1 tracking point ")]
)
def test_a_shank_that_is_not_tracked_is_named(left: int, words: str) -> None:
    standing, trial = (without_tracking(t, ("shank_l", "shank_r"), left) for t in recorded())
    said = sentence(trial, standing, side="right")
    assert f"flexion of the right knee cannot be had, for shank_r has {words}" in said
    assert "shank_l" not in said
    assert "stays still" not in said
    both = sentence(trial, standing, side="auto")
    assert "left and right knees" in both
    assert "shank_l has" in both


def test_a_thigh_that_is_never_seen_is_named() -> None:
    _, trial = recorded()
    table = trial["tracking"].values[SEGMENTS.index("thigh_r")]
    tracked = trial["body_point"].values[table]
    gone = [
        k for k, n in enumerate(trial["marker"].values) if n in tracked or LANDMARK_SEGMENT.get(str(n)) == "thigh_r"
    ]
    point = trial["point"].values.copy()
    point[:, gone] = np.nan
    said = sentence(trial.assign(point=(trial["point"].dims, point)), side="right")
    assert f"thigh_r never shows three of its {len(tracked)} tracking points in this trial" in said
    either = sentence(trial.assign(point=(trial["point"].dims, point)), side="auto")
    assert "stays still" in either, "the left leg could be looked at"
    assert "flexion of the right knee cannot be had" in either


def test_a_foot_that_never_stays_still_is_named_with_its_speed() -> None:
    _, trial = recorded()
    point = trial["point"].values.copy()
    point[..., 0] += 150.0 * trial["time"].values[:, None]
    said = sentence(trial.assign(point=(trial["point"].dims, point)), side="right")
    assert "the right foot moves at 150 mm/s (median), heel and forefoot alike" in said
    assert "below 60" in said


def test_a_trial_without_a_bend_has_neither() -> None:
    _, trial = recorded()
    said = sentence(trial.isel(time=slice(0, 30)), side="right")
    assert "stays still the knee must bend" in said
    assert "mm/s" not in said
    assert "cannot be had" not in said
