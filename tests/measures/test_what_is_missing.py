"""Vanished markers, noise, settings: values that cannot be had are empty, and it is said."""

from dataclasses import replace

import numpy as np
import pytest

from condyle.body_names import CONTRACT_ANGLES, JOINT_ANGLES
from condyle.measure_dictionary import MEASURES
from condyle.sample.disturb import draw_errors
from condyle.sample.movements import MOVEMENTS as SHIPPED
from condyle.sample.options import NO_ERRORS, Errors, Options
from condyle.sample.simulate import SimulatedTrial, simulate
from condyle.sample.timing import Timing
from condyle.stages.measures_of_angles import angle_values
from tests.measures.shared import PERSON, TWO, done, found_in, frames, ideal, values
from tests.simulated import processed


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


def without_right_shank(simulated: SimulatedTrial, hidden: slice) -> SimulatedTrial:
    """The recording with the right shank's markers hidden in these frames."""
    gone = replace(simulated, points=simulated.points.copy())
    for k, name in enumerate(simulated.markers):
        if name.startswith("shank") and name.endswith("_r"):
            gone.points[hidden, k] = np.nan
    return gone


def test_knee_that_vanishes_at_the_bottom_leaves_its_peaks_empty_and_is_kept_out_of_means() -> None:
    simulated, whole = done("hip_in", "right")
    _, bottom, _ = frames(whole)[0]
    gone = without_right_shank(simulated, slice(bottom - 20, bottom + 21))
    trial, _ = processed(PERSON, gone)
    found, before = values(trial, 0), values(whole, 0)
    assert trial["repetition_valid"].values.tolist() == [False, True]
    assert np.isnan([found[n] for n in ("pelvis_tilt_at_bottom", "knee_travel", "depth", "descent_time")]).all()
    for name in ("knee_flexion_max", "knee_flexion_range", "ankle_dorsiflexion_max"):
        assert np.isnan(found[name]), name
    for name in ("knee_flexion_at_60_knee_flexion", "hip_flexion_max", "pelvis_tilt_max", "pelvis_range", "knee_range"):
        assert found[name] == pytest.approx(before[name], abs=0.1), name


def test_a_squat_whose_end_is_hidden_is_not_said_to_end_beyond_the_recording() -> None:
    simulated, whole = done("hip_in", "right")
    _, bottom, _ = frames(whole)[0]
    gone = without_right_shank(simulated, slice(bottom + 15, bottom + 150))
    _, findings = processed(PERSON, gone)
    lost, _ = (f for f in findings if f.check == "incomplete repetition")
    assert lost.subject == f"squat at {bottom / 100:.2f} s"
    assert "its end lies where the knee's angle is not known (gaps, or frames without a sound fit)" in lost.advice
    assert "recorded" not in lost.advice


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
