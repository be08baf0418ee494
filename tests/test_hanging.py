"""A thigh that hangs on the hip centre takes the pelvis' errors into its own pose, draw by draw."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest
import xarray as xr

from condyle.body_names import JOINTS, SEGMENTS
from condyle.files.limits import load_limits, overlaid
from condyle.mechanics.arrays import FloatArray, transposed
from condyle.mechanics.rigid_fit import rigid_fit
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate, simulate_static
from condyle.sample.timing import Timing
from condyle.stages.body import measured_points, model_of, tracking_names
from condyle.stages.draws import Draws, draws_through
from condyle.stages.uncertainty import moments_of

from .simulated import calibrated, run, trial_of

HANGING = {"thigh_l": ("hip_l", "L_THIGH_1", "L_THIGH_2"), "shank_l": ("knee_l", "L_SHANK_1", "L_SHANK_2")}
SILENT = dict.fromkeys(load_limits("uncertainty"), 0.0) | {"soft_tissue_at_deg": 75.0}


def hang(trial: xr.Dataset) -> xr.Dataset:
    """The same markers, but thigh and shank of the left leg are told by two plate markers and the joint above."""
    places = [str(n) for n in trial["body_point"].values]
    table = trial["tracking"].values.copy()
    for segment, names in HANGING.items():
        table[SEGMENTS.index(segment)] = [n in names for n in places]
    return trial.assign(tracking=(trial["tracking"].dims, table))


@lru_cache(maxsize=1)
def squat() -> xr.Dataset:
    person = build_person()
    timing = Timing(repetitions=1, squat_s=1.2, before_s=0.7)
    options = replace(Options.ideal(), rate_hz=60.0, static_s=0.6, timing=timing)
    simulated = simulate(person, "shared", options, "left")
    standing = hang(trial_of(simulate_static(person, options), task="static"))
    return run(hang(trial_of(simulated)).assign(calibrated(standing)), "movement", filter={"cutoff_hz": 20.0})[0]


def drawn(**sds: float) -> tuple[np.ndarray, Draws]:
    frames, _ = moments_of(squat())
    # the plate's residual is nothing here: no noise, no soft tissue
    return frames, draws_through(squat(), frames, overlaid(load_limits("uncertainty"), {**SILENT, **sds}), 1.0, 3, 20)


def turned_by(rotation: FloatArray) -> FloatArray:
    """Degrees by which (..., 3, 3) turns."""
    return np.rad2deg(np.arccos(np.clip((np.trace(rotation, axis1=-2, axis2=-1) - 1.0) / 2.0, -1.0, 1.0)))


@pytest.mark.parametrize("wrong", [{"asis_shift_mm": 8.0}, {"hip_centre_mm": 3.0}])
@pytest.mark.parametrize("segment", list(HANGING))
def test_a_wrong_joint_centre_turns_the_segment_as_a_fit_to_it_does(segment: str, wrong: dict[str, float]) -> None:
    trial = squat()
    frames, draws = drawn(**wrong)
    assert trial["hung"].values[SEGMENTS.index(segment)]
    k, names = SEGMENTS.index(segment), list(HANGING[segment])
    hook = JOINTS.index(names[0])
    assert sorted(tracking_names(trial)[segment]) == sorted(names)
    seen = measured_points(trial, names, trial["point"].values[frames], trial["joint_centre"].values[frames])
    model, pose = model_of(trial, segment, names), trial["pose"].values[frames, k]
    turn, left = [], []
    for d in range(1, 21):
        # the standing trial was calibrated with the same wrong centre: it moves the model too
        own = draws.static_rotation[0, k].T @ (draws.static_joint[d, hook] - draws.static_joint[0, hook])
        told = model + np.array([own, np.zeros(3), np.zeros(3)])
        moved = seen.copy()
        moved[:, 0] = draws.joint[d, :, hook]
        expected = rigid_fit(told, moved).rotation
        calibration = draws.static_rotation[0, k].T @ draws.static_rotation[d, k]
        found = draws.rotation[d, :, k] @ calibration.T
        turn.append(turned_by(transposed(pose) @ expected))
        left.append(turned_by(transposed(expected) @ found))
    assert np.max(turn) > 1.0
    assert np.sum(left) < 0.05 * np.sum(turn), "the draws are of first order"


def test_on_its_own_markers_nothing_follows() -> None:
    trial = squat()
    own = trial["tracking"].values.copy()
    places = [str(n) for n in trial["body_point"].values]
    own[SEGMENTS.index("thigh_l")] = [n in ("L_THIGH_1", "L_THIGH_2", "L_THIGH_3") for n in places]
    frames, _ = moments_of(trial)
    free = trial.assign(tracking=(trial["tracking"].dims, own))
    sds = overlaid(load_limits("uncertainty"), {**SILENT, "asis_shift_mm": 8.0})
    thigh = draws_through(free, frames, sds, 1.0, 3, 20).rotation[:, :, SEGMENTS.index("thigh_l")]
    np.testing.assert_allclose(thigh, np.broadcast_to(thigh[0], thigh.shape), atol=1e-9)
