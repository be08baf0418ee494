"""Measures of simulated squats against the forward model's truth, passed through the same filter."""

from dataclasses import replace

import numpy as np
import pytest

from condyle.body_names import CONTRACT_ANGLES, SIDES
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.butterworth import zero_lag_lowpass
from condyle.sample.lab import Lab
from condyle.sample.simulate import simulate, simulate_static
from condyle.sample.truth import faced, travels_of
from tests.measures.shared import PERSON, done, frames, ideal, values
from tests.simulated import calibrated, mirrored, processed, run, trial_of


def smooth(curve: FloatArray) -> FloatArray:
    return zero_lag_lowpass(curve, 100.0, 6.0)[0]


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
