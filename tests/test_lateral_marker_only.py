"""A knee of which only the lateral marker is known: nothing that stands on a centre keeps its name."""

from functools import lru_cache

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, SIDES
from condyle.findings import Finding
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate, simulate_static
from condyle.sample.timing import Timing
from condyle.stages.body import markers_of

from .simulated import calibrated, run, trial_of

PERSON = build_person()


def without(trial: xr.Dataset, *names: str) -> xr.Dataset:
    point = trial["point"].values.copy()
    point[:, [markers_of(trial).index(n) for n in names]] = np.nan
    return trial.assign(point=(trial["point"].dims, point))


@lru_cache(maxsize=2)
def squat(lost: tuple[str, ...]) -> tuple[xr.Dataset, list[Finding]]:
    options = Options.ideal(timing=Timing(repetitions=2))
    simulated = simulate(PERSON, "pelvis_turn", options, "right")
    standing = without(trial_of(simulate_static(PERSON, options), task="static"), *lost)
    moving = without(trial_of(simulated), *lost)
    return run(moving.assign(calibrated(standing)), "movement", until="uncertainty", uncertainty={"draws": 60})


def value(trial: xr.Dataset, name: str) -> float:
    return float(trial["measure_value"].values[0, trial["measure"].values.tolist().index(name)])


def test_no_number_that_stands_on_the_knee_centre_is_given_under_its_name() -> None:
    trial, found = squat(("medial_epicondyle_r",))
    for name in ("fppa_at_bottom", "fppa_change", "hip_adduction_at_bottom", "thigh_tilt", "shank_tilt"):
        assert np.isnan(value(trial, name)), name
    for name in ("fppa_asis_at_bottom", "fppa_camera_at_bottom", "fppa_pelvis_plane_at_bottom", "knee_travel"):
        assert np.isnan(value(trial, name)), name
    for name in ("knee_flexion_at_bottom", "hip_flexion_change", "lateral_epicondyle_travel", "shank_forward_lean"):
        assert np.isfinite(value(trial, name)), name
    (row,) = [f for f in found if f.check == "angles given"]
    assert "hip_adduction" in row.advice
    assert "fppa" in row.advice


def test_its_projection_angle_has_a_name_of_its_own_and_its_change_is_near_the_true_one() -> None:
    trial, _ = squat(("medial_epicondyle_r",))
    whole, _ = squat(())
    assert abs(value(trial, "fppa_lateral_markers_at_bottom") - value(whole, "fppa_at_bottom")) > 8.0
    assert abs(value(trial, "fppa_lateral_markers_change") - value(whole, "fppa_change")) < 3.0
    right = whole["angle"].values[:, SIDES.index("right"), JOINT_ANGLES.index("fppa_lateral_markers")]
    assert np.isnan(right).all()
    left = trial["angle"].values[:, SIDES.index("left"), JOINT_ANGLES.index("fppa_lateral_markers")]
    assert np.isnan(left).all(), "the other knee has both of its markers"


def test_there_is_no_account_and_no_cause() -> None:
    trial, _ = squat(("medial_epicondyle_r",))
    assert np.isnan(trial["contribution"].values).all()
    assert np.isnan(trial["contribution_lower"].values).all()
    assert set(trial["repetition_cause"].values.tolist()) == {"not_separable"}
    assert set(trial["repetition_from_below"].values.tolist()) == {"not_measured"}


def test_an_ankle_known_by_its_lateral_marker_alone_gives_no_fppa_either() -> None:
    trial, _ = squat(("medial_malleolus_r",))
    assert np.isnan(value(trial, "fppa_at_bottom"))
    assert np.isnan(value(trial, "shank_tilt"))
    assert np.isfinite(
        [value(trial, n) for n in ("fppa_lateral_markers_change", "thigh_tilt", "hip_adduction_change")]
    ).all()
