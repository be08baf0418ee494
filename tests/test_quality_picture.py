"""The picture of a trial's quality: drawn from the recording as read, also of a trial that was rejected."""

from typing import Any

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import SEGMENTS
from condyle.files.pipeline_file import default_pipeline
from condyle.findings import ACCEPTED, Finding
from condyle.report.drawing import inline_svg
from condyle.report.picture_quality import quality_picture
from condyle.running import Processed, run_trial
from condyle.sample import cohort
from condyle.stages import STAGES
from condyle.stages.checks.traces import MISSING, SEEN, quality_traces
from tests.simulated import calibrated, trial_of

WANTED = ("check", "repair", "fill", "filter", "pose")


@pytest.fixture(scope="module")
def squat() -> xr.Dataset:
    session = next(cohort(1, 17))
    return trial_of(session.trials[0], side="right").assign(calibrated(trial_of(session.static, task="static")))


def column(trial: xr.Dataset, label: str) -> int:
    return int(trial["label"].values.tolist().index(label))


def moved(trial: xr.Dataset, label: str, by: float, frames: slice) -> xr.Dataset:
    point = trial["point"].values.copy()
    point[frames, column(trial, label)] += np.array([0.6, 0.64, 0.48]) * by
    return trial.assign(point=(trial["point"].dims, point))


def processed(trial: xr.Dataset, **limits: float) -> Processed:
    def settings_of(name: str) -> Any:
        settings = default_pipeline(STAGES).settings_of(name)
        return settings.model_copy(update={"limits": limits}) if name == "check" else settings

    return run_trial(Processed(trial), [s for s in STAGES if s.name in WANTED], settings_of)


def drawn(done: Processed) -> str:
    picture = quality_picture(done.trial, "quality0", findings=done.findings)
    assert picture is not None
    return inline_svg(picture)


def fit(done: Processed, segment: str) -> np.ndarray:
    return quality_traces(done.trial).fit[:, SEGMENTS.index(segment)]


def test_a_rejected_trial_shows_the_segment_that_rejected_it(squat: xr.Dataset) -> None:
    done = processed(moved(squat, "R_SHANK_1", 25.0, slice(None)))
    assert done.rejected
    assert "fit_rms" not in done.trial, "no stage after the check ran"
    assert np.nanmedian(fit(done, "shank_r")) > 5.0 > 1.0 > np.nanmedian(fit(done, "shank_l"))
    text = drawn(done)
    assert "shank, right (" in text, "the words name it with its median"
    assert f"median {np.nanmedian(fit(done, 'shank_r')):.1f}" in text


def test_the_traces_are_of_the_recording_and_not_of_what_the_filter_left(squat: xr.Dataset) -> None:
    frame = 611
    done = processed(moved(squat, "R_THIGH_2", 60.0, slice(frame, frame + 1)))
    trace = fit(done, "thigh_r")
    assert np.nanargmax(trace) == frame
    assert trace[frame] > 10.0 > 4.0 > np.nanmax(done.trial["fit_rms"].values[:, SEGMENTS.index("thigh_r")])
    assert f"most {trace[frame]:.1f} \N{BLACK UP-POINTING TRIANGLE}" in drawn(done), "cut off, thinned, and yet told"


def test_left_and_right_have_rows_of_their_own_with_their_limits(squat: xr.Dataset) -> None:
    done = processed(squat, fit_plate_review=2.25, fit_plate_reject=4.75)
    text = drawn(done)
    for row in ("trunk", "pelvis", "thigh, left", "thigh, right", "shank, left", "shank, right", "foot, left"):
        assert f">{row}<" in text
    traces = quality_traces(done.trial)
    plate = done.trial["segment_kind"].values == "plate"
    assert plate.any()
    assert (traces.review[plate] == 2.25).all(), "the limits that the trial was judged by"
    assert text.count(">2.25<") == text.count(">4.75<") == plate.sum()
    assert text.count(">8<") >= (~plate).sum()


def test_findings_that_say_when_stand_in_the_timeline(squat: xr.Dataset) -> None:
    leaping = moved(squat, "L_SHANK_2", 30.0, slice(600, 660))
    text = drawn(processed(leaping))
    assert "L_SHANK_2: marker leaps" in text
    assert "shank, left: frames without a sound fit" in text
    assert "marker leaps" not in drawn(processed(squat))


@pytest.mark.parametrize(
    ("verdict", "advice"), [("reject", ""), ("review", f"{ACCEPTED}seen on video"), ("review", "")]
)
def test_what_rejects_is_filled_and_what_calls_for_a_review_is_open(
    squat: xr.Dataset, verdict: Any, advice: str
) -> None:
    found = Finding("markers exchanged", "thigh_r", 10.0, 0.0, "%", verdict, advice, ((3.0, 4.2),))
    text = drawn(Processed(squat, (found,)))
    assert ("found: rejects" in text) == (verdict == "reject" or bool(advice))
    assert ("found: to be reviewed" in text) == (verdict == "review" and not advice)


def test_markers_of_a_leg_that_was_taken_out_were_seen_all_the_same(squat: xr.Dataset) -> None:
    done = processed(moved(squat, "L_SHANK_1", 25.0, slice(None)))
    assert not done.rejected
    k = column(done.trial, "L_SHANK_3")
    assert np.isnan(done.trial["point"].values[:, k]).all(), "the free leg was emptied"
    state = quality_traces(done.trial).state[:, k]
    assert (state == SEEN).mean() > 0.9
    assert np.nanmedian(fit(done, "shank_l")) > 5.0


def test_missing_and_filled_samples_are_told_apart(squat: xr.Dataset) -> None:
    k = column(squat, "R_HEEL")
    point = squat["point"].values.copy()
    point[100:110, k] = point[300:600, k] = np.nan
    state = quality_traces(processed(squat.assign(point=(squat["point"].dims, point))).trial).state[:, k]
    assert (state[100:110] > SEEN).all()
    assert (state[450:550] == MISSING).all()


def test_without_a_standing_trial_the_words_say_so(squat: xr.Dataset) -> None:
    session = next(cohort(1, 17))
    picture = quality_picture(trial_of(session.trials[0]), "quality0")
    assert picture is not None
    assert "no standing trial to compare" in picture.note
    assert "limit of review" not in inline_svg(picture)
