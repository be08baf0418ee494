"""Calibration trials: hip centre and knee axis found by movement, where the regression or the epicondyles are off."""

import numpy as np
import pytest
import xarray as xr
from scipy.spatial.transform import Rotation

from condyle.body_names import JOINTS, SEGMENTS
from condyle.sample import Options, build_person, simulate_static
from condyle.stages.calibrate import CalibrateSettings, calibrate_trial
from condyle.trial_data import put
from tests.simulated import trial_of

FRAMES = 120


def moved(static: xr.Dataset, segments: tuple[str, ...], centre: np.ndarray, turns: Rotation) -> np.ndarray:
    """The standing markers (frames, marker, 3), those of ``segments`` turned about ``centre``; the whole body sways."""
    point = np.repeat(static["point"].values.mean(axis=0)[None], FRAMES, axis=0)
    names = static["body_point"].values
    rows = [SEGMENTS.index(s) for s in segments]
    tracked = names[static["tracking"].values[rows].any(axis=0)]
    columns = np.isin(static["marker"].values, tracked)
    part = point[:, columns] - centre
    point[:, columns] = np.einsum("tij,tpj->tpi", turns.as_matrix(), part) + centre
    sway = Rotation.from_euler("y", 5 * np.sin(np.linspace(0, 7, FRAMES))[:, None], degrees=True).as_matrix()
    return np.einsum("tij,tpj->tpi", sway, point) + 20 * np.sin(np.linspace(0, 5, FRAMES))[:, None, None]


@pytest.fixture
def static() -> xr.Dataset:
    return trial_of(simulate_static(build_person("MR01"), Options.ideal()), task="static")


def calibrated(trial: xr.Dataset, **settings: object) -> tuple[xr.Dataset, list[str]]:
    done, findings = calibrate_trial(trial, CalibrateSettings(**settings))
    return done, [f"{f.check} {f.subject} {f.verdict} {f.advice}" for f in findings]


def hip_in_pelvis(trial: xr.Dataset, name: str) -> np.ndarray:
    names = trial["body_point"].values.tolist()
    return trial["calibrated_point"].values[SEGMENTS.index("pelvis"), names.index(name)]


@pytest.mark.parametrize("name", ["hip_r", "hip_l"])
def test_functional_hip_centre_is_the_centre_the_thigh_turned_about(static: xr.Dataset, name: str) -> None:
    by_regression, _ = calibrated(static)
    pelvis = by_regression["static_pose"].values[SEGMENTS.index("pelvis")]
    origin = by_regression["static_origin"].values[SEGMENTS.index("pelvis")]
    true = hip_in_pelvis(by_regression, name) + np.array(
        [12.0, -8.0, 5.0]
    )  # the regression is 15 mm off in this person
    t = np.linspace(0, 4 * np.pi, FRAMES)
    circle = Rotation.from_euler(
        "zxy", np.stack([25 * np.sin(t), 20 * np.cos(t), 10 * np.sin(2 * t)], axis=1), degrees=True
    )
    place = origin + pelvis @ true  # in the frame of the calibrated trial, which faces as the static trial does here
    side = name[-1]
    course = moved(static, (f"thigh_{side}", f"shank_{side}", f"foot_{side}"), place, circle)
    trial = put(static, **{f"functional_{name}": course})
    done, said = calibrated(trial, hip_centre="functional")
    np.testing.assert_allclose(hip_in_pelvis(done, name), true, atol=0.5)
    assert any("functional calibration" in s and "pass" in s for s in said)
    other = {"hip_r": "hip_l", "hip_l": "hip_r"}[name]
    assert any(other in s and "harrington_2007 was used" in s for s in said)


def test_a_still_calibration_trial_is_left_out_and_said(static: xr.Dataset) -> None:
    still = np.repeat(static["point"].values.mean(axis=0)[None], FRAMES, axis=0)
    _, said = calibrated(put(static, functional_hip_r=still), hip_centre="functional")
    assert any("moves too little" in s for s in said)
    assert any("hip_r" in s and "harrington_2007 was used" in s for s in said)


def test_functional_knee_axis_turns_the_thigh_frame_by_the_epicondyles_error(static: xr.Dataset) -> None:
    by_epicondyles, _ = calibrated(static)
    i, knee = SEGMENTS.index("thigh_r"), JOINTS.index("knee_r")
    frame = by_epicondyles["static_pose"].values[i]
    off = Rotation.from_rotvec(np.deg2rad(8.0) * frame[:, 1])  # the true axis is turned 8 degrees about the thigh
    axis = off.apply(frame[:, 2])
    names = by_epicondyles["body_point"].values.tolist()
    local = by_epicondyles["calibrated_point"].values[i, names.index(JOINTS[knee])]
    centre = by_epicondyles["static_origin"].values[i] + frame @ local
    bend = Rotation.from_rotvec(np.deg2rad(np.linspace(0, -70, FRAMES))[:, None] * axis)
    course = moved(static, ("shank_r", "foot_r"), centre, bend)
    done, said = calibrated(put(static, functional_knee_axis_r=course))
    turned = done["static_pose"].values[i][:, 2]
    assert np.rad2deg(np.arccos(turned @ axis)) < 0.5
    assert any("knee_axis_r" in s and "pass" in s for s in said)
