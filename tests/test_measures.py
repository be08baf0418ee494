"""Measures of simulated squats against the forward model's truth, passed through the same filter."""

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import CONTRACT_ANGLES, JOINT_ANGLES, SIDES
from condyle.findings import Finding
from condyle.measure_dictionary import MEASURES
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.butterworth import zero_lag_lowpass
from condyle.sample.disturb import draw_errors
from condyle.sample.lab import Lab
from condyle.sample.movements import MOVEMENTS as SHIPPED
from condyle.sample.options import NO_ERRORS, Errors, Options
from condyle.sample.person import build_person
from condyle.sample.simulate import SimulatedTrial, simulate, simulate_bouts, simulate_static
from condyle.sample.timing import Timing
from condyle.sample.truth import faced, travels_of
from condyle.stages.measures_of_angles import angle_values
from tests.simulated import calibrated, mirrored, processed, run, trial_of

PERSON = build_person()
TWO = Timing(repetitions=2)


def ideal(**changes: Any) -> Options:
    return Options.ideal(timing=changes.pop("timing", TWO), **changes)


@lru_cache(maxsize=8)
def done(movement: str, side: str, facing: float = 0.0, timing: Timing = TWO) -> tuple[SimulatedTrial, xr.Dataset]:
    simulated = simulate(
        PERSON, movement, ideal(timing=timing, lab=Lab(facing_deg=facing, offset_mm=(400.0, -900.0))), side
    )
    return simulated, processed(PERSON, simulated)[0]


def values(trial: xr.Dataset, row: int) -> dict[str, float]:
    return dict(zip(trial["measure"].values.tolist(), trial["measure_value"].values[row].tolist(), strict=True))


def smooth(curve: FloatArray) -> FloatArray:
    return zero_lag_lowpass(curve, 100.0, 6.0)[0]


def frames(trial: xr.Dataset) -> FloatArray:
    return np.stack([trial[f"repetition_{n}"].values for n in ("start", "bottom", "end")], axis=1)


MOVEMENTS = [
    ("hip_in", "right", 0.0),
    ("pelvis_turn", "left", 77.0),
    ("knee_out", "right", 200.0),
    ("step_down", "left", -130.0),
]


@pytest.mark.parametrize(("movement", "side", "facing"), MOVEMENTS)
def test_repetitions_within_one_frame_of_the_truth(movement: str, side: str, facing: float) -> None:
    simulated, trial = done(movement, side, facing)
    true = [(r.start, r.bottom, r.end) for r in simulated.bouts[0].repetitions]
    assert trial["repetition_side"].values.tolist() == [side, side]
    assert np.abs(frames(trial) - true).max() <= 1


@pytest.mark.parametrize(("movement", "side", "facing"), MOVEMENTS)
def test_angles_within_0_05_degrees_of_the_filtered_truth(movement: str, side: str, facing: float) -> None:
    simulated, trial = done(movement, side, facing)
    true = smooth(simulated.angles(simulated.heading_at_start()))[:, SIDES.index(side)]
    for row, (start, bottom, end) in enumerate(frames(trial)):
        found = values(trial, row)
        part = true[start : end + 1]
        for k, angle in enumerate(CONTRACT_ANGLES):
            expected = {
                "at_start": true[start, k],
                "at_bottom": true[bottom, k],
                "change": true[bottom, k] - true[start, k],
                "max": part[:, k].max(),
                "min": part[:, k].min(),
                "range": np.ptp(part[:, k]),
            }
            for suffix, value in expected.items():
                assert found[f"{angle}_{suffix}"] == pytest.approx(value, abs=0.05), f"{angle}_{suffix}"


@pytest.mark.parametrize(("movement", "side", "facing"), MOVEMENTS)
def test_paths_within_0_1_mm_and_path_angles_within_0_05_degrees(movement: str, side: str, facing: float) -> None:
    simulated, trial = done(movement, side, facing)
    heading = simulated.heading_at_start()
    seen = faced(simulated.motion, heading)
    points = {
        "knee": simulated.centres(heading)[f"knee_{side[0]}"],
        "pelvis": seen.origin["pelvis"],
    }
    for row, (start, bottom, end) in enumerate(frames(trial)):
        found = values(trial, row)
        window = replace(simulated.bouts[0].repetitions[row], start=start, bottom=bottom, end=end)
        for point, place in points.items():
            for name, value in travels_of(side, smooth(place), window).items():
                tolerance = 0.05 if "angle" in name else 0.1
                assert found[f"{point}_{name}"] == pytest.approx(value, abs=tolerance), f"{point}_{name}"
        hip = smooth(simulated.centres(heading)[f"hip_{side[0]}"])
        inwards = -1.0 if side == "right" else 1.0
        assert found["depth"] == pytest.approx(hip[start, 1] - hip[bottom, 1], abs=0.1)
        assert found["hip_centre_shift"] == pytest.approx(inwards * (hip[bottom, 2] - hip[start, 2]), abs=0.1)
        assert found["descent_time"] == pytest.approx((bottom - start) / 100.0)
        assert found["ascent_time"] == pytest.approx((end - bottom) / 100.0)


def test_marker_paths_are_those_of_the_markers() -> None:
    simulated, trial = done("pelvis_turn", "left", 77.0)
    names = list(simulated.markers)
    turn = np.radians(simulated.heading_at_start())
    right = smooth(simulated.marker_truth[..., 2] * np.cos(turn) + simulated.marker_truth[..., 0] * np.sin(turn))
    start, bottom, _ = frames(trial)[0]
    moved = right[bottom] - right[start]
    found = values(trial, 0)
    assert found["patella_travel"] == pytest.approx(moved[names.index("patella_l")], abs=0.1)
    shoulders = 0.5 * (moved[names.index("acromion_l")] + moved[names.index("acromion_r")])
    assert found["shoulders_travel"] == pytest.approx(shoulders, abs=0.1)


def test_values_that_hang_together() -> None:
    for movement, side, facing in MOVEMENTS:
        found = values(done(movement, side, facing)[1], 0)
        assert found["thigh_tilt"] + found["shank_tilt"] == pytest.approx(found["fppa_at_bottom"], abs=1e-9)
        assert found["knee_travel"] - found["hip_centre_shift"] == pytest.approx(found["knee_relative_to_hip_travel"])
        leg = PERSON.thigh_mm + PERSON.shank_mm
        assert found["knee_travel_percent_leg"] == pytest.approx(100 * found["knee_travel"] / leg, rel=2e-3)
        assert found["knee_flexion_max_percent"] == pytest.approx(50.0, abs=1.0)
        assert found["knee_over_foot_peak"] >= max(found["knee_over_foot_start"], found["knee_over_foot_bottom"])
        assert found["heel_lift"] == pytest.approx(0.0, abs=0.1)


def test_angle_at_60_degrees_of_knee_flexion_lies_between_two_frames() -> None:
    simulated, trial = done("hip_in", "right")
    found = values(trial, 0)
    assert found["knee_flexion_at_60_knee_flexion"] == pytest.approx(60.0, abs=1e-9)
    true = smooth(simulated.angles(simulated.heading_at_start()))[:, 1]
    start, bottom, _ = frames(trial)[0]
    flexion = true[start : bottom + 1, CONTRACT_ANGLES.index("knee_flexion")]
    for angle in ("fppa", "hip_adduction", "pelvis_tilt"):
        expected = np.interp(60.0, flexion, true[start : bottom + 1, CONTRACT_ANGLES.index(angle)])
        assert found[f"{angle}_at_60_knee_flexion"] == pytest.approx(expected, abs=0.05)


def test_squat_shallower_than_60_degrees_has_no_value_there() -> None:
    _, trial = done("shallow_hip", "right")
    found = values(trial, 0)
    assert found["knee_flexion_max"] < 60.0
    assert np.isnan(found["fppa_at_60_knee_flexion"])
    assert np.isfinite(found["fppa_at_bottom"])


def test_wavering_knee_turns_often_and_a_controlled_one_hardly() -> None:
    wavering, steady = values(done("wavering", "left")[1], 0), values(done("controlled", "left")[1], 0)
    assert wavering["knee_reversals"] >= 5
    assert abs(wavering["knee_path_angle_descent"]) < 30.0
    assert wavering["knee_path_length"] > 4 * abs(wavering["knee_travel"])
    assert steady["knee_reversals"] <= 1


def test_turning_and_shifting_the_lab_changes_no_measure() -> None:
    here = done("shared", "right")[1]
    labs = [Lab(vertical="+Y", facing_deg=211.0, offset_mm=(-2500.0, 700.0)), Lab(vertical="-X", facing_deg=-33.0)]
    for lab in labs:
        there = processed(PERSON, simulate(PERSON, "shared", ideal(lab=lab), "right"))[0]
        assert frames(there).tolist() == frames(here).tolist()
        assert there["measure_value"].values == pytest.approx(here["measure_value"].values, abs=1e-6, nan_ok=True)


def test_mirroring_the_person_swaps_the_sides() -> None:
    simulated, here = done("shared", "right")
    standing = mirrored(trial_of(simulate_static(PERSON, simulated.options), task="static"))
    there, _ = run(mirrored(trial_of(simulated)).assign(calibrated(standing)), "movement")
    assert there["repetition_side"].values.tolist() == ["left", "left"]
    assert frames(there).tolist() == frames(here).tolist()
    assert there["measure_value"].values == pytest.approx(here["measure_value"].values, abs=1e-6, nan_ok=True)


def found_in(findings: list[Finding], check: str) -> list[Finding]:
    return [f for f in findings if f.check == check]


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


def test_pelvis_that_vanishes_at_the_bottom_leaves_its_values_empty() -> None:
    simulated, whole = done("hip_in", "right")
    _, bottom, _ = frames(whole)[0]
    hidden = [n for n in simulated.markers if n.startswith(("asis", "psis", "iliac"))]
    gone = replace(simulated, points=simulated.points.copy())
    for name in hidden:
        gone.points[bottom - 30 : bottom + 31, gone.markers.index(name)] = np.nan
    trial, findings = processed(PERSON, gone)
    found, before = values(trial, 0), values(whole, 0)
    for name in ("hip_adduction_at_bottom", "pelvis_rotation_change", "fppa_at_bottom", "depth", "pelvis_travel"):
        assert np.isnan(found[name]), name
    for name in ("knee_flexion_at_bottom", "knee_travel", "hip_adduction_at_start", "ankle_inversion_change"):
        assert found[name] == pytest.approx(before[name], abs=0.1), name
    for name in (
        "hip_flexion_max",
        "hip_adduction_max",
        "hip_adduction_range",
        "fppa_max",
        "pelvis_rotation_max_percent",
    ):
        assert np.isnan(found[name]), f"{name}: taken at the edge of the gap it would bias the mean"
    for name in ("pelvis_range", "pelvis_peak_lateral", "pelvis_peak_percent", "pelvis_path_length"):
        assert np.isnan(found[name]), name
    for name in (
        "knee_flexion_max",
        "ankle_dorsiflexion_range",
        "knee_range",
        "knee_over_foot_peak",
    ):
        assert found[name] == pytest.approx(before[name], abs=0.1, nan_ok=True), f"{name}: seen throughout"
    assert trial["repetition_findings"].values.tolist() == ["pelvis missing at the bottom", ""]
    assert len(found_in(findings, "pelvis missing at the bottom")) == 1
    assert values(trial, 1) == pytest.approx(values(whole, 1), abs=0.05, nan_ok=True)


def test_knee_that_vanishes_at_the_bottom_leaves_its_peaks_empty_and_is_kept_out_of_means() -> None:
    simulated, whole = done("hip_in", "right")
    _, bottom, _ = frames(whole)[0]
    gone = replace(simulated, points=simulated.points.copy())
    for k, name in enumerate(simulated.markers):
        if name.startswith("shank") and name.endswith("_r"):
            gone.points[bottom - 20 : bottom + 21, k] = np.nan
    trial, _ = processed(PERSON, gone)
    found, before = values(trial, 0), values(whole, 0)
    assert trial["repetition_valid"].values.tolist() == [False, True]
    assert np.isnan([found[n] for n in ("pelvis_tilt_at_bottom", "knee_travel", "depth", "descent_time")]).all()
    for name in ("knee_flexion_max", "knee_flexion_range", "ankle_dorsiflexion_max"):
        assert np.isnan(found[name]), name
    for name in ("knee_flexion_at_60_knee_flexion", "hip_flexion_max", "pelvis_tilt_max", "pelvis_range", "knee_range"):
        assert found[name] == pytest.approx(before[name], abs=0.1), name


def test_missing_patella_drops_its_measures_with_one_line() -> None:
    simulated, whole = done("hip_in", "right")
    gone = replace(simulated, points=simulated.points.copy())
    gone.points[:, gone.markers.index("patella_r")] = np.nan
    trial, findings = processed(PERSON, gone)
    found, before = values(trial, 0), values(whole, 0)
    empty = {n for n, v in found.items() if np.isnan(v)} - {n for n, v in before.items() if np.isnan(v)}
    assert empty == {n for n in found if n.startswith("patella_")}
    assert [f.subject for f in found_in(findings, "measures given") if f.verdict == "review"] == ["patella_r"]


def test_with_noise_and_soft_tissue_within_stated_bounds() -> None:
    errors = replace(Errors(), landmark_scale=0.0, soft_tissue_scale=0.0, gaps=0.0)
    options = Options(seed=4, errors=errors, timing=TWO, sway_deg=0.0)
    drawn = draw_errors(PERSON, replace(NO_ERRORS, noise_mm=errors.noise_mm), np.random.default_rng(4))
    simulated = simulate(PERSON, "hip_in", options, "right", errors=drawn)
    trial, _ = processed(PERSON, simulated)
    clean = values(done("hip_in", "right")[1], 0)
    found = values(trial, 0)
    true = simulated.bouts[0].repetitions[0]
    assert np.abs(frames(trial)[0] - [true.start, true.bottom, true.end]).max() <= 5
    for name, bound in {"knee_flexion_at_bottom": 2.0, "fppa_change": 3.0, "knee_travel": 5.0, "depth": 5.0}.items():
        assert found[name] == pytest.approx(clean[name], abs=bound), name


@pytest.mark.parametrize(
    ("setting", "value", "count"),
    [
        ("still_deg_per_s", 20.0, 2),
        ("least_flexion_deg", 90.0, 0),
        ("least_drop_mm", 400.0, 0),
        ("pause_percent", 60.0, 2),
        ("longest_gap_s", 0.1, 1),
    ],
)
def test_every_setting_of_the_repetitions_has_its_effect(setting: str, value: float, count: int) -> None:
    timing = Timing(repetitions=2, pause_on_the_way_s=0.8) if setting == "pause_percent" else TWO
    simulated, whole = done("hip_in", "right", timing=timing)
    if setting == "longest_gap_s":
        _, bottom, _ = frames(whole)[1]
        simulated = replace(simulated, points=simulated.points.copy())
        hidden = [k for k, n in enumerate(simulated.markers) if n.startswith("shank") and n.endswith("_r")]
        simulated.points[bottom - 10 : bottom + 11, hidden] = np.nan
    usual, _ = processed(PERSON, simulated)
    changed, _ = processed(PERSON, simulated, {"repetitions": {setting: value}})
    assert changed.sizes["repetition"] == count
    assert frames(changed).tolist() != frames(usual).tolist()


def test_reversals_are_counted_above_the_setting() -> None:
    simulated, usual = done("wavering", "left")
    coarse, _ = processed(PERSON, simulated, {"measures": {"reversal_mm": 60.0}})
    assert values(coarse, 0)["knee_reversals"] < values(usual, 0)["knee_reversals"]


def test_every_name_of_the_contract_is_there() -> None:
    angle = (
        "at_start",
        "start_from_static",
        "at_bottom",
        "at_60_knee_flexion",
        "change",
        "max",
        "min",
        "max_percent",
        "range",
    )
    path = ("travel", "range", "path_length", "peak_medial", "peak_lateral", "peak_percent", "path_angle_descent")
    path += ("path_angle_ascent", "end_offset", "path_ratio", "reversals", "sparc")
    others = ("knee_travel_percent_leg", "hip_centre_shift", "knee_relative_to_hip_travel", "knee_over_foot_start")
    others += (
        "knee_over_foot_bottom",
        "knee_over_foot_peak",
        "thigh_tilt",
        "shank_tilt",
        "shank_forward_lean",
        "heel_lift",
    )
    others += ("foot_axis_to_heading", "pelvis_over_foot_at_start", "depth", "descent_time", "ascent_time")
    others += ("com_offset_start", "com_offset_bottom")
    names = {f"{a}_{s}" for a in CONTRACT_ANGLES for s in angle} | set(others)
    names |= {f"{p}_{s}" for p in ("knee", "patella", "pelvis", "shoulders") for s in path}
    assert names <= set(MEASURES)
    found = values(done("hip_in", "right")[1], 0)
    assert {n for n in names if np.isnan(found[n])} <= {"com_offset_start", "com_offset_bottom"}
    assert all(m.unit in ("deg", "mm", "%", "s", "1") and m.positive and m.definition for m in MEASURES.values())


def test_no_fppa_where_the_frontal_plane_shows_too_little_of_the_thigh() -> None:
    level = replace(SHIPPED["controlled"], sagittal={"pelvis_tilt": 20.0, "hip_flexion": 113.0, "knee_flexion": 113.0})
    trial, findings = processed(PERSON, simulate(PERSON, level, ideal(), "right"))
    assert not [f for f in findings if f.check == "angles given"], "the markers are all there"
    found = values(trial, 0)
    gone = ("at_bottom", "change", "max", "min", "max_percent", "range")
    assert [n for n in gone if not np.isnan(found[f"fppa_{n}"])] == []
    assert np.isfinite([found["fppa_at_start"], found["fppa_at_60_knee_flexion"], found["hip_adduction_max"]]).all()
    assert np.isfinite(found["knee_travel"])
    # the same numbers as where none is withheld
    every, _ = processed(PERSON, simulate(PERSON, level, ideal(), "right"), {"angles": {"fppa_least_shown_percent": 0}})
    whole = values(every, 0)
    assert whole["fppa_at_start"] == found["fppa_at_start"]
    assert np.isfinite([whole[f"fppa_{n}"] for n in gone]).all()


def test_a_gap_on_the_way_leaves_the_peak_that_lies_elsewhere() -> None:
    angle = np.tile(np.linspace(0.0, 20.0, 11)[:, None], (1, len(JOINT_ANGLES)))
    angle[6:8] = np.nan  # everything hidden
    names, value = angle_values(angle, np.zeros(len(JOINT_ANGLES)), (0, 5, 10), 3.0, True)
    assert value[names.index("fppa_max")] == 20.0
    angle[6:8, [JOINT_ANGLES.index(n) for n in ("hip_flexion", "knee_flexion")]] = 80.0  # seen, but for FPPA
    names, value = angle_values(angle, np.zeros(len(JOINT_ANGLES)), (0, 5, 10), 3.0, True)
    assert np.isnan(value[names.index("fppa_max")])
    assert value[names.index("hip_adduction_max")] == 20.0
