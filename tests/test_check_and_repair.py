"""What the stages check, repair, quality and angles say of one sound recording and of what was done to it."""

from typing import Any

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import JOINT_ANGLES
from condyle.findings import Finding
from condyle.sample import cohort
from condyle.stages.angles import AnglesSettings, angles_trial
from condyle.stages.check import CheckSettings, check_trial
from condyle.stages.fill import FillSettings, fill_trial
from condyle.stages.quality import QualitySettings, quality_trial
from condyle.stages.repair import RepairSettings, repair_trial
from tests.simulated import calibrated, run, trial_of


@pytest.fixture(scope="module")
def recording() -> tuple[xr.Dataset, xr.Dataset]:
    """The standing trial and the calibrated right squat of one participant, as read."""
    session = next(cohort(1, 17))
    static = trial_of(session.static, task="static")
    return static, trial_of(session.trials[0]).assign(calibrated(static))


@pytest.fixture(scope="module")
def squat(recording: tuple[xr.Dataset, xr.Dataset]) -> xr.Dataset:
    return recording[1]


def column(trial: xr.Dataset, label: str) -> int:
    return int(trial["label"].values.tolist().index(label))


def changed(trial: xr.Dataset, change: Any) -> xr.Dataset:
    point = trial["point"].values.copy()
    change(point)
    return trial.assign(point=(trial["point"].dims, point))


def swapped(trial: xr.Dataset, a: str, b: str, frames: slice) -> xr.Dataset:
    columns = [column(trial, a), column(trial, b)]
    return changed(trial, lambda p: p.__setitem__((frames, columns), p[frames][:, columns[::-1]].copy()))


def rows(found: list[Finding], check: str) -> list[Finding]:
    return [f for f in found if f.check == check]


def test_an_exchange_is_named_with_its_markers_and_frames(squat: xr.Dataset) -> None:
    _, found = check_trial(swapped(squat, "R_THIGH_1", "R_THIGH_3", slice(300, 420)), CheckSettings())
    (row,) = rows(found, "markers exchanged")
    assert (row.subject, row.verdict) == ("thigh_r", "reject")
    assert "R_THIGH_1, R_THIGH_3, frames 300 to 419" in row.advice


def test_repair_gives_back_what_was_recorded_and_says_so(squat: xr.Dataset) -> None:
    faulty = swapped(squat, "R_HEEL", "L_HEEL", slice(500, 650))
    asked, found = repair_trial(faulty, RepairSettings(swaps=True))
    np.testing.assert_array_equal(asked["point"].values, squat["point"].values)
    assert "frames 500 to 649" in asked.attrs["repairs"]
    assert [f.verdict for f in rows(found, "repaired: exchanged markers")] == ["review"]
    untouched, nothing = repair_trial(faulty, RepairSettings())
    np.testing.assert_array_equal(untouched["point"].values, faulty["point"].values)
    assert nothing == []


def test_check_lets_an_exchange_through_where_the_pipeline_repairs_it(squat: xr.Dataset) -> None:
    faulty = swapped(squat, "R_SHANK_1", "R_SHANK_2", slice(None)).assign_attrs(repair_swaps=1)
    _, found = check_trial(faulty, CheckSettings())
    assert {f.verdict for f in rows(found, "markers exchanged")} == {"review"}
    assert not [f for f in found if f.verdict == "reject"]


def test_spikes_are_taken_out_on_request_only(squat: xr.Dataset) -> None:
    k = column(squat, "R_ASIS")
    seen = int(np.flatnonzero(np.isfinite(squat["point"].values[300:320, k, 0]))[8]) + 300
    farther = changed(squat, lambda p: p.__setitem__((seen, k), p[seen, k] + [0, 40, 0]))
    assert not rows(check_trial(farther, CheckSettings())[1], "spike"), "reading a file has said so already"
    faulty = changed(squat, lambda p: p.__setitem__((seen, k), p[seen, k] + [0, 18, 0]))
    _, found = check_trial(faulty, CheckSettings())
    assert [f.subject for f in rows(found, "spike")] == ["R_ASIS"]
    repaired, said = repair_trial(faulty, RepairSettings(spikes=True))
    gone = np.isnan(repaired["point"].values[..., 0]) & ~np.isnan(squat["point"].values[..., 0])
    assert np.argwhere(gone).tolist() == [[seen, k]]
    assert rows(said, "repaired: spikes")[0].value == 1.0


def test_a_limit_of_the_users_own_decides(squat: xr.Dataset) -> None:
    _, usual = check_trial(squat, CheckSettings())
    _, strict = check_trial(squat, CheckSettings(limits={"fit_plate_review": 0.01}))
    assert {f.verdict for f in rows(usual, "cluster fit")} == {"pass"}
    row = next(f for f in rows(strict, "cluster fit") if f.subject == "thigh_r")
    assert (row.verdict, row.limit) == ("review", 0.01)
    with pytest.raises(ValueError, match="fit_plate_review"):
        CheckSettings(limits={"fit_plate_revew": 1.0})


def test_the_marker_that_moved_since_standing_is_named_with_its_distance(squat: xr.Dataset) -> None:
    k = column(squat, "R_SHANK_3")
    posed, _ = run(changed(squat, lambda p: p.__setitem__((slice(None), k, 1), p[:, k, 1] + 12)), "movement",
                   leave=("check", "quality"), until="repetitions")  # fmt: skip
    _, found = quality_trial(posed, QualitySettings())
    (row,) = rows(found, "moved since the standing trial")
    assert (row.subject, row.verdict) == ("shank_r", "reject")
    assert row.value == pytest.approx(12, abs=1.5)
    assert "R_SHANK_3" in row.advice


def test_gaps_flicker_and_ghosts_are_told_apart(squat: xr.Dataset) -> None:
    point = squat["point"].values
    k = column(squat, "R_META_1")

    def seen_after(change: Any) -> set[str]:
        return {f.check for f in check_trial(changed(squat, change), CheckSettings())[1] if f.subject == "R_META_1"}

    whole = np.isfinite(point[:, k, 0]).all()
    assert whole or "long gap" not in seen_after(lambda p: None)
    assert "long gap" in seen_after(lambda p: p.__setitem__((slice(300, 370), k), np.nan))
    every = (np.arange(100, 1000, 40)[:, None] + np.arange(3)).ravel()
    assert "marker flickers" in seen_after(lambda p: p.__setitem__((every, k), np.nan))
    flashes = np.setdiff1d(np.arange(300, 380), [310, 330, 331, 350, 365])
    assert "ghost point" in seen_after(lambda p: p.__setitem__((flashes, k), np.nan))
    other = column(squat, "R_META_5")
    assert "two markers in one place" in seen_after(lambda p: p.__setitem__((slice(300, 500), k), p[300:500, other]))
    assert seen_after(lambda p: p.__setitem__((slice(None), k), np.nan)) == {"marker missing"}


def test_of_a_plate_put_back_marker_by_marker_no_single_one_is_blamed(squat: xr.Dataset) -> None:
    columns = [column(squat, f"R_SHANK_{k}") for k in (1, 2, 3, 4)]
    by = np.array([[40.0, 0, 0], [0, 9.0, 0], [0, 0, 27.0], [0, 40.0, 0]])
    _, found = check_trial(
        changed(squat, lambda p: p.__setitem__((slice(None), columns), p[:, columns] + by)), CheckSettings()
    )
    (row,) = [f for f in found if f.check == "cluster fit" and f.subject == "shank_r"]
    assert row.verdict == "reject"
    assert "Moved:" not in row.advice
    one = changed(squat, lambda p: p.__setitem__((slice(None), columns[0]), p[:, columns[0]] + [40.0, 0, 0]))
    (row,) = [f for f in check_trial(one, CheckSettings())[1] if f.check == "cluster fit" and f.subject == "shank_r"]
    assert "Moved: R_SHANK_1, by 4" in row.advice


@pytest.mark.parametrize(("off", "found"), [(20.0, True), (8.0, True), (0.0, False)])
def test_one_ghost_between_two_gaps_is_named_with_its_times_and_taken_out_on_request(
    squat: xr.Dataset, off: float, found: bool
) -> None:
    k = column(squat, "R_THIGH_3")
    own = np.nanmean(squat["point"].values[:, k], axis=0)
    assert np.isfinite(own).all()

    def ghost(point: np.ndarray) -> None:
        here = point[475:477, k].copy()
        point[440:515, k] = np.nan
        point[475:477, k] = here + [off, 0, 0]

    faulty = changed(squat, ghost)
    rate = float(squat.attrs["rate_hz"])
    said = [f for f in check_trial(faulty, CheckSettings())[1] if f.subject == "R_THIGH_3" and f.check == "ghost point"]
    assert len(said) == found
    repaired = repair_trial(faulty, RepairSettings(spikes=True))[0]["point"].values
    assert np.isnan(repaired[475:477, k]).all() == found
    np.testing.assert_array_equal(repair_trial(faulty, RepairSettings())[0]["point"], faulty["point"])
    if found:
        assert said[0].value == pytest.approx(off, abs=3.0)
        assert said[0].times_s == ((475 / rate, 476 / rate),)
        assert "4.75, 4.76 s" in said[0].advice


def test_ghosts_have_one_row_and_no_say_in_what_is_filled(squat: xr.Dataset) -> None:
    k = column(squat, "R_THIGH_3")
    here = squat["point"].values[:, k].copy()
    flashes = np.array([455, 456, 475, 476, 490, 491, 500, 501])

    def ghosts(point: np.ndarray) -> None:
        point[440:515, k] = np.nan
        point[flashes, k] = here[flashes] + [60.0, 0, 0]

    faulty = changed(squat, ghosts)
    said = [
        f.check for f in check_trial(faulty, CheckSettings())[1] if f.subject == "R_THIGH_3" and f.verdict != "pass"
    ]
    assert said.count("ghost point") == 1
    assert not {"spike", "marker leaps"} & set(said)
    filled = fill_trial(faulty, FillSettings())[0]["point"].values[:, k]
    between = np.setdiff1d(np.arange(440, 515), flashes)
    assert np.linalg.norm(filled[between] - here[between], axis=1).max() < 6.0
    np.testing.assert_array_equal(filled[flashes], faulty["point"].values[flashes, k])


def test_a_standing_trial_with_a_wrong_side_or_axis_is_rejected(recording: tuple[xr.Dataset, xr.Dataset]) -> None:
    static, _ = recording
    assert not [f for f in check_trial(static, CheckSettings())[1] if f.verdict == "reject"]
    pair = check_trial(swapped(static, "R_ANKLE_LAT", "L_ANKLE_LAT", slice(None)), CheckSettings())[1]
    assert {f.subject for f in rows(pair, "left and right")} == {"shank_r", "shank_l"}
    inner = check_trial(swapped(static, "R_KNEE_LAT", "R_KNEE_MED", slice(None)), CheckSettings())[1]
    assert [f.subject for f in rows(inner, "lateral and medial")] == ["thigh_r"]
    mirrored = check_trial(changed(static, lambda p: p.__setitem__((..., 2), -p[..., 2])), CheckSettings())[1]
    assert [(f.subject, f.verdict) for f in rows(mirrored, "left and right")] == [("file", "reject")]
    lying = changed(static, lambda p: p.__setitem__(slice(None), p[..., [1, 2, 0]]))
    (row,) = rows(check_trial(lying.assign_attrs(vertical="+Y"), CheckSettings())[1], "up axis")
    assert row.verdict == "reject"
    assert "+X points up" in row.advice
    plate = check_trial(swapped(static, "R_THIGH_2", "L_THIGH_2", slice(None)), CheckSettings())[1]
    assert {f.subject for f in rows(plate, "left and right")} == {"thigh_r", "thigh_l"}


def test_correcting_the_knees_axis_takes_flexion_out_of_adduction(squat: xr.Dataset) -> None:
    posed, _ = run(squat, "movement", leave=("check",), until="pose")
    plain, _ = angles_trial(posed, AnglesSettings())
    turned, found = angles_trial(posed, AnglesSettings(cross_talk=True))
    adduction, rotation, flexion = (
        JOINT_ANGLES.index(n) for n in ("knee_adduction", "hip_internal_rotation", "hip_flexion")
    )
    right = 1
    before, after = (np.nanstd(t["angle"].values[:, right, adduction]) for t in (plain, turned))
    assert after < before
    turn = rows(found, "knee axis corrected")[-1].value
    assert turn is not None
    change = turned["angle"].values[:, right] - plain["angle"].values[:, right]
    assert np.nanmedian(np.abs(change[:, rotation])) == pytest.approx(
        abs(turn), abs=1e-6
    )  # the whole turn shows in rotation
    assert np.nanmax(np.abs(change[:, flexion])) == pytest.approx(0, abs=1e-6)
    assert turned["static_angle"].values[right, rotation] - plain["static_angle"].values[
        right, rotation
    ] == pytest.approx(np.nanmedian(change[:, rotation]), abs=1e-6)


def test_of_a_long_gap_it_is_not_said_that_it_stays_empty_before_fill_has_run(squat: xr.Dataset) -> None:
    k = column(squat, "R_THIGH_2")
    trial = changed(squat, lambda p: p.__setitem__((slice(400, 480), k), np.nan))
    (row,) = [f for f in check_trial(trial, CheckSettings())[1] if f.check == "long gap" and f.subject == "R_THIGH_2"]
    assert row.advice.startswith("its longest gap, from 4.00 s")
    assert "empty" not in row.advice
    filled = run(trial, "movement", leave=("check",), until="fill")[0]["filled"].values[400:480, k]
    assert filled.all(), "the others of its cluster carry it"
