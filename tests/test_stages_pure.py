"""Every stage is a pure function: input unchanged, same result twice, what it needs and gives is true."""

from pathlib import Path

import numpy as np
import pytest
import xarray as xr

from condyle.files.pipeline_file import default_pipeline
from condyle.running import Processed, run_trial
from condyle.session import compute, plan
from condyle.stages import STAGES
from condyle.trial_data import disagreements
from condyle.vocabulary import CALIBRATION, entry_of

SAMPLE = Path(__file__).parents[1] / "sample_trials" / "MR01" / "2026-11-03"
Before = dict[str, tuple[xr.Dataset, xr.Dataset]]


def identical(a: xr.Dataset, b: xr.Dataset) -> bool:
    return a.identical(b)


@pytest.fixture(scope="module")
def steps() -> Before:
    """stage name -> the trial before and after it, on the sample's standing trial or its first squat."""
    planned = plan(SAMPLE)
    done = compute(planned)
    static, squat = done.trials["static"].trial, done.trials["squat_right"].trial
    raw = {"static": static, "movement": squat}
    settings = default_pipeline(STAGES).settings_of
    out: Before = {}
    for which, trial in raw.items():
        keep = ["point", "tracking", "segment_kind", "static_only"] + (list(CALIBRATION) if which == "movement" else [])
        current = trial[[n for n in dict.fromkeys(keep) if n in trial]].assign_coords(body_point=trial["body_point"])
        current.attrs = {k: v for k, v in trial.attrs.items() if k != "history"}
        for stage in STAGES:
            if stage.on not in ("every", which):
                continue
            after, _ = stage.run(current, settings(stage.name))
            out[f"{stage.name} on {which}"] = (current, after)
            current = after
    return out


NAMES = [f"{s.name} on {which}" for which in ("static", "movement") for s in STAGES if s.on in ("every", which)]


@pytest.mark.parametrize("name", NAMES)
def test_stage_leaves_its_input_and_gives_the_same_twice(steps: Before, name: str) -> None:
    before, after = steps[name]
    stage = next(s for s in STAGES if s.name == name.split()[0])
    settings = default_pipeline(STAGES).settings_of(stage.name)
    copy = before.copy(deep=True)
    again, findings = stage.run(before, settings)
    more, findings_again = stage.run(before, settings)
    assert identical(before, copy)
    assert identical(again, after)
    assert identical(more, after)
    assert findings == findings_again


@pytest.mark.parametrize("name", NAMES)
def test_stage_needs_and_gives_what_it_says(steps: Before, name: str) -> None:
    before, after = steps[name]
    stage = next(s for s in STAGES if s.name == name.split()[0])
    assert disagreements(after) == []
    new = {str(n) for n in after.data_vars if n not in before or not before[n].equals(after[n])}
    assert stage.gives <= set(map(str, after.data_vars))
    assert all(entry_of(n) is not None for n in new)
    assert {n for n in stage.needs if entry_of(n) is not None} <= set(map(str, before.variables))


def test_a_stage_that_breaks_the_vocabulary_is_caught() -> None:
    from dataclasses import replace

    def bad(trial: xr.Dataset, _settings: object) -> tuple[xr.Dataset, list[object]]:
        return trial.assign(unheard_of=("time", np.zeros(trial.sizes["time"]))), []

    trial = xr.Dataset(
        {"point": (("time", "marker", "axis"), np.zeros((3, 2, 3)))}, attrs={"trial": "t", "task": "other"}
    )
    broken = replace(STAGES[0], run=bad)
    with pytest.raises(AssertionError, match="unheard_of"):
        run_trial(Processed(trial), [broken], default_pipeline(STAGES).settings_of)
