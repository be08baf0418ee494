"""Measured squats that are changed on purpose, and what is said of them."""

from dataclasses import replace
from functools import lru_cache

import numpy as np
import xarray as xr

from condyle.files.limits import load_limits
from condyle.findings import Finding
from condyle.sample.movements import MOVEMENTS
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate
from condyle.sample.timing import Timing
from condyle.stages.accounts import repetition_rows
from condyle.stages.beside_the_verdict import seen_in
from condyle.stages.validity import faults_of, looked_at, not_looked_for
from tests.simulated import processed

LIMITS = load_limits("findings")
OPTIONS = replace(Options.ideal(), rate_hz=60.0, static_s=0.6, timing=Timing(repetitions=2, squat_s=1.6, before_s=0.7))
STILL = {
    **{f"{n}_change": 0.0 for n in ("pelvis_obliquity", "trunk_lean", "trunk_rotation", "pelvis_rotation")},
    **{f"knee_{n}": 0.0 for n in ("travel", "end_offset", "path_angle_descent", "path_angle_ascent")},
    **{"knee_reversals": 1.0, "knee_path_ratio": 2.0, "knee_sparc": -2.0, "pelvis_obliquity_at_bottom": 0.0},
    **{"hip_centre_shift": 0.0, "com_outside_foot_bottom": -5.0, "heel_lift": 0.0},
    **{
        "com_ahead_of_foot": 3.0,
        "com_medial_of_foot": 2.0,
        "hip_adduction_change": 0.0,
        "hip_adduction_by_pelvis": 0.0,
    },
    **{"knee_flexion_at_bottom": 78.0, "leg_shown_at_bottom": 60.0, "descent_time": 1.0, "ascent_time": 1.0},
}


def words(**changes: float) -> list[str]:
    return [s.words for s in seen_in(STILL | changes, LIMITS)]


@lru_cache(maxsize=4)
def measured(movement: str = "controlled", turned: float = 0.0, foot_turn: float = 0.0) -> xr.Dataset:
    chosen = MOVEMENTS[movement]
    chosen = replace(
        chosen, start={**chosen.start, "pelvis_rotation": chosen.start.get("pelvis_rotation", 0.0) + turned}
    )
    return processed(
        build_person(), simulate(build_person(), chosen, replace(OPTIONS, foot_turn_deg=foot_turn), "right")
    )[0]


def faults(trial: xr.Dataset) -> list[list[str]]:
    return [[f.words for f in found] for found in faults_of(looked_at(trial, repetition_rows(trial), LIMITS), LIMITS)]


def unseen(trial: xr.Dataset) -> list[Finding]:
    rows = repetition_rows(trial)
    return not_looked_for(trial, rows, looked_at(trial, rows, LIMITS))


def hidden(trial: xr.Dataset, names: tuple[str, ...], frames: slice = slice(None)) -> xr.Dataset:
    """Without these markers, and without the frames' pose of the foot they are on."""
    trial = trial.copy(deep=True)
    columns = [k for k, n in enumerate(trial["marker"].values.tolist()) if n in names]
    trial["point"].values[frames, columns] = np.nan
    return trial
