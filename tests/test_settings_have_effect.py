"""Every setting of every stage changes something: what no code reads must not stand in a file that people fill in.

A new setting needs a line in ``OTHER``: a value, unlike its default, that changes the result or the findings of its stage on
one of the scenes below.
"""

from functools import lru_cache
from typing import Any

import numpy as np
import pytest
import xarray as xr

from condyle.findings import Finding
from condyle.sample import Errors, Options, build_person, simulate, simulate_static
from condyle.sample.disturb import draw_errors
from condyle.sample.timing import Timing
from condyle.stages import STAGES
from condyle.trial_data import put
from condyle.vocabulary import CALIBRATION
from tests.simulated import trial_of

OTHER: dict[tuple[str, str], Any] = {
    ("check", "limits"): {"fit_plate_review": 0.001},
    ("quality", "limits"): {"knee_drift_review": 0.001},
    ("repair", "swaps"): True,
    ("repair", "spikes"): True,
    ("repair", "limits"): {"spike_least": 500.0},
    ("fill", "longest_s"): 0.0,
    ("fill", "longest_rigid_s"): 0.0,
    ("fill", "pelvis_error_deg"): 0.0001,
    ("filter", "cutoff_hz"): 9.0,
    ("filter", "order"): 2,
    ("filter", "fallback_hz"): 4.0,  # where residual analysis offers no cutoff: the scene without noise
    ("calibrate", "hip_centre"): "bell_1990",
    ("calibrate", "shank"): "isb",
    ("calibrate", "still_s"): 0.2,
    ("calibrate", "still_mm"): 0.001,
    ("calibrate", "asis_depth_mm"): 9.7,
    ("calibrate", "psis_depth_mm"): 19.6,
    ("pose", "still_mm_per_s"): 0.5,
    ("pose", "least_flexion_deg"): 115.0,
    ("pose", "least_drop_mm"): 900.0,
    ("pose", "stance_s"): 0.2,
    ("pose", "heading_apart_deg"): 0.001,
    ("pose", "limits"): {"fit_plate_frame": 0.5, "fit_frame_times_usual": 1.0},
    ("angles", "near_lock_deg"): 5.0,
    ("angles", "cross_talk"): True,
    ("angles", "fppa_least_shown_percent"): 99.0,
    ("repetitions", "still_deg_per_s"): 25.0,
    ("repetitions", "least_flexion_deg"): 115.0,
    ("repetitions", "least_drop_mm"): 900.0,
    ("repetitions", "pause_percent"): 99.0,
    ("repetitions", "longest_gap_s"): 0.0,
    ("measures", "reversal_mm"): 0.01,
    ("contributions", "explain"): "thigh_axial_rotation",
    ("contributions", "limits"): {"least_part_deg": 80.0},
    ("contributions", "planar"): {"travel_mm": 500.0},
    ("uncertainty", "draws"): 120,
    ("uncertainty", "seed"): 2,
    ("uncertainty", "sd_scale"): 0.5,
    ("uncertainty", "sds"): {"asis_mm": 1.0},
}
WITH: dict[tuple[str, str], dict[str, Any]] = {  # a second setting that has to be on for the first to speak
    ("repair", "limits"): {"spikes": True},
    ("filter", "fallback_hz"): {"cutoff_hz": "residual"},
    ("calibrate", "asis_depth_mm"): {"psis_depth_mm": 19.6},
    ("calibrate", "psis_depth_mm"): {"asis_depth_mm": 9.7},
}
FIELDS = [(s.name, key) for s in STAGES for key in s.settings.model_fields]
Outcome = tuple[xr.Dataset, list[Finding]]


@lru_cache(maxsize=1)
def scenes() -> dict[str, dict[str, xr.Dataset]]:
    """stage -> scene -> the trial that comes to it: a static and a squat with errors and gaps, and a squat without any."""
    person = build_person("MR01")
    timing = Timing(repetitions=2, pause_on_the_way_s=0.3)
    rough = Options(errors=Errors(pelvis_gap_share=1.0, gaps=60.0), timing=timing, foot_turn_deg=6.0)
    errors = draw_errors(person, rough.errors, np.random.default_rng(5))
    moves = "femur_in_at_the_hip" if "femur_in_at_the_hip" in _movements() else "controlled"
    raw = {
        "static": trial_of(simulate_static(person, rough, errors), task="static"),
        "squat": _troubled(trial_of(simulate(person, moves, rough, errors=errors), side="right")),
        "ideal": trial_of(simulate(person, "controlled", Options.ideal(timing=timing)), side="right"),
    }
    out: dict[str, dict[str, xr.Dataset]] = {s.name: {} for s in STAGES}
    taught: dict[str, Any] = {}
    for scene, trial in raw.items():
        trial = trial.assign_attrs(measured_marker_diameter_mm=12.0)
        if scene != "static":
            trial = put(trial, **taught)
        for stage in STAGES:
            if stage.on in ("every", "static" if scene == "static" else "movement"):
                out[stage.name][scene] = trial
                trial, _ = stage.run(trial, stage.settings(**({"draws": 100} if stage.name == "uncertainty" else {})))
        if scene == "static":
            taught = {n: trial.variables[n].values for n in CALIBRATION if n in trial.variables}
    return out


def _movements() -> dict[str, Any]:
    from condyle.sample import MOVEMENTS

    return dict(MOVEMENTS)


def _troubled(trial: xr.Dataset) -> xr.Dataset:
    """A spike, and two thigh markers exchanged for a while: what `repair` is asked to mend."""
    point = trial["point"].values.copy()
    names = trial["marker"].values.tolist()
    a, b = names.index("R_THIGH_1"), names.index("R_THIGH_3")
    point[100:140, [a, b]] = point[100:140, [b, a]]
    point[200, names.index("patella_r")] += 60.0
    point[250:275, [k for k, n in enumerate(names) if n.startswith("R_SHANK")]] = np.nan
    return put(trial, point=point)


def outcome(stage: str, trial: xr.Dataset, **settings: Any) -> Outcome:
    run = next(s for s in STAGES if s.name == stage)
    return run.run(trial, run.settings(**({"draws": 100} if stage == "uncertainty" else {}) | settings))


@pytest.mark.parametrize(("stage", "key"), FIELDS, ids=lambda v: v)
def test_setting_changes_result_or_findings(stage: str, key: str) -> None:
    assert (stage, key) in OTHER, f"{stage}.{key} has no line in OTHER: is it read at all?"
    base = WITH.get((stage, key), {})
    for trial in scenes()[stage].values():
        before, after = outcome(stage, trial, **base), outcome(stage, trial, **base, **{key: OTHER[stage, key]})
        if not before[0].identical(after[0]) or before[1] != after[1]:
            return
    pytest.fail(f"{stage}.{key} = {OTHER[stage, key]!r} changes neither the trial nor a finding")
