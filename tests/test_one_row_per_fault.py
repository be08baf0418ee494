"""One fault, one row: what it is, where, and what to do; none of its consequences beside it."""

from collections.abc import Callable, Iterable
from typing import Any

import numpy as np
import pytest
import xarray as xr

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.running import Processed, run_trial
from condyle.sample import cohort
from condyle.stages import STAGES
from condyle.stages.check import CheckSettings, check_trial
from condyle.stages.repair import RepairSettings, repair_trial
from tests.simulated import calibrated, trial_of


@pytest.fixture(scope="module")
def recording() -> tuple[xr.Dataset, xr.Dataset]:
    """A standing trial and a calibrated squat on the right leg; a heel that nothing rests on alone has short gaps."""
    session = next(cohort(1, 17))
    static = trial_of(session.static, task="static")
    trial = trial_of(session.trials[0], side="right").assign(calibrated(static))
    heel = columns(trial, ["R_HEEL"])
    return static, changed(trial, lambda p: p.__setitem__((np.r_[300:304, 620:626], heel), np.nan))


@pytest.fixture(scope="module")
def squat(recording: tuple[xr.Dataset, xr.Dataset]) -> xr.Dataset:
    return recording[1]


def columns(trial: xr.Dataset, labels: Iterable[str]) -> list[int]:
    known = trial["label"].values.tolist()
    return [known.index(label) for label in labels]


def beginning(trial: xr.Dataset, *starts: str) -> list[int]:
    return [k for k, label in enumerate(trial["label"].values.tolist()) if label.startswith(starts)]


def changed(trial: xr.Dataset, change: Callable[[FloatArray], Any]) -> xr.Dataset:
    point = trial["point"].values.copy()
    change(point)
    return trial.assign(point=(trial["point"].dims, point))


def without(trial: xr.Dataset, *starts: str) -> xr.Dataset:
    return changed(trial, lambda p: p.__setitem__((slice(None), beginning(trial, *starts)), np.nan))


def exchanged(trial: xr.Dataset, what: str, frames: slice = slice(None)) -> xr.Dataset:
    """R_what... under the names of L_what... and the other way round."""
    right = beginning(trial, f"R_{what}")
    left = columns(trial, ["L" + str(trial["label"].values[k])[1:] for k in right])
    return changed(trial, lambda p: p.__setitem__((frames, right + left), p[frames][:, left + right].copy()))


def said(trial: xr.Dataset) -> list[Finding]:
    """What is not a pass, of all stages as far as quality."""
    stages = [s for s in STAGES if s.on != "static"]
    names = [s.name for s in stages]
    run = run_trial(
        Processed(trial), stages[: names.index("quality") + 1], lambda name: stages[names.index(name)].settings()
    )
    return [f for f in run.findings if f.verdict != "pass"]


def about(trial: xr.Dataset, sound: xr.Dataset) -> list[Finding]:
    """What is said of a faulty trial and not of the sound one."""
    known = {(f.check, f.subject) for f in said(sound)}
    return [f for f in said(trial) if (f.check, f.subject) not in known]


@pytest.mark.parametrize("what", ["THIGH", ""], ids=["thigh plates", "everything"])
def test_an_exchange_over_the_whole_trial_is_one_and_is_repaired_as_one(squat: xr.Dataset, what: str) -> None:
    faulty, last = exchanged(squat, what), squat.sizes["time"] - 1
    _, found = check_trial(faulty, CheckSettings())
    (row,) = [f for f in found if f.verdict == "reject"]
    assert (row.check, row.subject, row.value) == ("markers exchanged", "file", 100.0)
    assert f"frames 0 to {last} " in row.advice
    assert ("R_THIGH_1, L_THIGH_1" if what else "all 20 pairs of left and right labels") in row.advice
    assert not any(label in row.advice for label in ("TROCH", "KNEE_MED", "ANKLE_MED")), "static only: not in the file"
    repaired, rows = repair_trial(faulty, RepairSettings(swaps=True))
    assert [f.check for f in rows] == ["repaired: exchanged markers"]
    np.testing.assert_array_equal(repaired["point"].values, squat["point"].values)


def test_frames_that_say_nothing_belong_to_the_exchange_around_them(squat: xr.Dataset) -> None:
    plate = beginning(squat, "R_THIGH", "L_THIGH")
    hidden = changed(exchanged(squat, "THIGH"), lambda p: p.__setitem__((slice(700, 760), plate), np.nan))
    (row,) = [f for f in check_trial(hidden, CheckSettings())[1] if f.check == "markers exchanged"]
    assert row.value == 100.0


def test_sound_frames_between_two_exchanges_part_them(squat: xr.Dataset) -> None:
    faulty = exchanged(exchanged(squat, "THIGH", slice(100, 400)), "THIGH", slice(500, 900))
    rows = [f for f in check_trial(faulty, CheckSettings())[1] if f.check == "markers exchanged"]
    assert ["frames 100 to 399 " in rows[0].advice, "frames 500 to 899 " in rows[1].advice, len(rows)] == [
        True,
        True,
        2,
    ]
    repaired, _ = repair_trial(faulty, RepairSettings(swaps=True))
    np.testing.assert_array_equal(repaired["point"].values, squat["point"].values)


def test_an_exchange_inside_one_leg_stands_on_a_segment_of_that_leg(squat: xr.Dataset) -> None:
    a, b = columns(squat, ["L_THIGH_2", "L_SHANK_3"])
    faulty = changed(squat, lambda p: p.__setitem__((slice(None), [a, b]), p[:, [b, a]].copy()))
    (row,) = [f for f in check_trial(faulty, CheckSettings())[1] if f.check == "markers exchanged"]
    assert row.subject == "thigh_l"


@pytest.mark.parametrize("axis", [0, 1, 2])
def test_a_mirrored_movement_is_called_left_handed_and_nothing_else(squat: xr.Dataset, axis: int) -> None:
    mirrored = changed(squat, lambda p: p.__setitem__((..., axis), -p[..., axis]))
    (row,) = about(mirrored, squat)
    assert (row.check, row.subject, row.verdict) == ("left and right", "file", "reject")
    assert "left-handed" in row.advice
    assert "repair" not in row.advice
    repaired, rows = repair_trial(mirrored, RepairSettings(swaps=True))
    np.testing.assert_array_equal(repaired["point"].values, mirrored["point"].values)
    assert rows == []


def test_a_segment_that_was_lost_has_one_row(squat: xr.Dataset) -> None:
    (row,) = about(without(squat, "C7", "T10", "NOTCH", "XIPHOID", "R_SHOULDER", "L_SHOULDER"), squat)
    assert (row.check, row.subject, row.value, row.verdict) == ("segment seen", "trunk", 100.0, "review")
    assert all(label in row.advice for label in ("R_SHOULDER", "C7", "XIPHOID"))
    (pair,) = about(without(squat, "R_SHOULDER", "L_SHOULDER"), squat)
    assert (pair.check, pair.subject, pair.value, pair.unit) == ("marker missing", "trunk", 2.0, "markers")
    (toe,) = about(without(squat, "L_META_1"), squat)
    assert (toe.check, toe.subject) == ("marker missing", "L_META_1")


def test_a_leg_without_plates_is_left_out_once(squat: xr.Dataset) -> None:
    rows = about(without(squat, "L_THIGH", "L_SHANK"), squat)
    assert [(f.check, f.subject) for f in rows] == [
        *[("segment seen", "thigh_l"), ("segment seen", "shank_l"), ("leg left out", "left")]
    ]
    assert "thigh_l (segment seen) and shank_l (segment seen) were rejected" in rows[-1].advice


def test_a_leg_that_a_moved_marker_took_out_has_two_rows(squat: xr.Dataset) -> None:
    (k,) = columns(squat, ["L_SHANK_2"])
    rows = about(changed(squat, lambda p: p.__setitem__((slice(None), k, 1), p[:, k, 1] + 16)), squat)
    assert [(f.check, f.subject) for f in rows] == [("cluster fit", "shank_l"), ("leg left out", "left")]
    assert "L_SHANK_2" in rows[0].advice


def test_markers_in_one_line_are_not_called_unseen(squat: xr.Dataset) -> None:
    a, b, c, d = columns(squat, [f"R_THIGH_{n}" for n in (1, 2, 3, 4)])

    def line(p: FloatArray) -> None:
        p[:, c], p[:, d] = p[:, a] + 1.7 * (p[:, b] - p[:, a]), p[:, a] + 0.5 * (p[:, b] - p[:, a])

    (row,) = about(changed(squat, line), squat)
    assert (row.check, row.subject, row.verdict) == ("collinear cluster", "thigh_r", "reject")
    assert "one line" in row.advice


def test_what_was_taken_off_after_standing_is_not_missed_without_a_calibration(
    recording: tuple[xr.Dataset, xr.Dataset],
) -> None:
    static, squat = recording
    bare = squat.drop_vars(["calibrated_point", "static_point"])
    assert not [f for f in check_trial(bare, CheckSettings())[1] if f.check == "marker missing"]
    lost = without(static, "R_TROCH")
    assert [f.subject for f in check_trial(lost, CheckSettings())[1] if f.check == "marker missing"] == ["R_TROCH"]


def told_by_check(trial: xr.Dataset) -> list[tuple[str, str, str]]:
    return [(f.check, f.subject, f.verdict) for f in check_trial(trial, CheckSettings())[1] if f.verdict != "pass"]


@pytest.mark.parametrize(("axes", "up"), [([2, 0, 1], "points up"), ([1, 2, 0], "points up")])
def test_a_trial_with_another_up_axis_than_its_standing_trial_is_one_reject(
    squat: xr.Dataset, axes: list[int], up: str
) -> None:
    turned = changed(squat, lambda p: p.__setitem__(slice(None), p[..., axes].copy()))
    assert ("up axis", "file", "reject") in told_by_check(turned)
    assert [t for t in told_by_check(turned) if t[2] == "reject"] == [("up axis", "file", "reject")]
    (row,) = [f for f in check_trial(turned, CheckSettings())[1] if f.check == "up axis"]
    assert up in row.advice
    other = turned.assign_attrs(task="other")  # lying may be meant
    assert ("up axis", "file", "review") in told_by_check(other)
    assert "up axis" not in {t[0] for t in told_by_check(squat)}


def test_all_markers_that_shake_are_one_row(squat: xr.Dataset) -> None:
    rng = np.random.default_rng(3)
    shaken = changed(squat, lambda p: np.add(p, rng.normal(0, 2.5, p.shape), out=p))
    assert [t[:2] for t in told_by_check(shaken) if t[0] == "noise floor"] == [("noise floor", "file")]
    early = changed(squat, lambda p: np.add(p[:200, :1], rng.normal(0, 2.5, p[:200, :1].shape), out=p[:200, :1]))
    assert ("noise floor", squat["label"].values[0], "review") in told_by_check(early)


def test_a_pelvis_hidden_for_a_second_is_one_gap(squat: xr.Dataset) -> None:
    own = columns(squat, ["R_ASIS", "L_ASIS", "R_PSIS", "L_PSIS", "R_CREST", "L_CREST"])
    hidden = changed(squat, lambda p: p.__setitem__((slice(600, 700), own), np.nan))
    assert [t[:2] for t in told_by_check(hidden) if t[0] == "long gap"] == [("long gap", "pelvis")]


def test_frames_lost_in_a_squat_are_one_row(squat: xr.Dataset) -> None:
    time = squat["time"].values
    moving = int(np.nanargmax(np.abs(np.gradient(squat["point"].values[:, columns(squat, ["C7"])[0], 1]))))
    kept = np.delete(np.arange(len(time)), np.arange(moving, moving + 15))
    lost = squat.isel(time=kept).assign_coords(time=time[: len(kept)])
    assert [t[:2] for t in told_by_check(lost) if t[0] in ("dropped frames", "marker leaps")] == [
        ("dropped frames", "file")
    ]


def test_a_squat_in_the_place_of_the_standing_trial_is_told_as_one() -> None:
    session = next(cohort(1, 3))
    squat = trial_of(session.trials[0], task="static")
    assert [t for t in told_by_check(squat) if t[2] == "reject"] == [("stands on one leg", "file", "reject")]
    assert not [t for t in told_by_check(trial_of(session.static, task="static")) if t[2] == "reject"]
    untaught = trial_of(session.trials[0])  # a pipeline without calibrate
    assert not [t for t in told_by_check(untaught) if t[2] == "reject"]
