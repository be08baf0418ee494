"""When a repetition is invalid: the stance foot, the free foot, and what cannot be looked for."""

import numpy as np
import pytest
import xarray as xr

from condyle.stages.accounts import repetition_rows
from condyle.stages.contributions import ContributionsSettings, contributions_trial
from tests.observations.shared import faults, measured


def moved(name: str, by: tuple[float, float, float], frames: slice | None = None) -> xr.Dataset:
    """The trial with one foot's markers elsewhere in the middle of the first repetition."""
    trial = measured().copy(deep=True)
    row = repetition_rows(trial)[0]
    chosen = frames or slice(row.bottom - 6, row.bottom + 6)
    columns = [
        k
        for k, n in enumerate(trial["marker"].values)
        if str(n).startswith(("calcaneus", "metatarsal")) and str(n).endswith(name)
    ]
    for k in columns:
        trial["point"].values[chosen, k] += by
    return trial


def test_a_plain_squat_is_valid() -> None:
    assert faults(measured()) == [[], []]


def test_stance_foot_that_slides_or_hops() -> None:
    assert faults(moved("_r", (0.0, 0.0, 25.0))) == [["the stance foot slid"], []]
    assert faults(moved("_r", (0.0, 25.0, 0.0))) == [["the stance foot hopped"], []]


def test_stance_foot_that_pivots() -> None:
    trial = measured().copy(deep=True)
    row = repetition_rows(trial)[0]
    heel = [str(n) for n in trial["marker"].values].index("calcaneus_r")
    trial["point"].values[row.bottom, heel, 2] += 40.0  # some 170 mm behind the metatarsals: 13 degrees
    assert faults(trial) == [["the stance foot pivoted"], []]


def test_free_foot_on_the_floor() -> None:
    trial = measured()
    row = repetition_rows(trial)[0]
    names = [str(n) for n in trial["marker"].values]
    lowest = min(
        float(trial["point"].values[row.bottom, names.index(n), 1] - trial["static_point"].values[names.index(n), 1])
        for n in ("calcaneus_l", "metatarsal_1_l", "metatarsal_2_l", "metatarsal_5_l")
    )
    assert lowest > 30.0
    landed = faults(moved("_l", (0.0, 5.0 - lowest, 0.0)))
    assert "the free foot touched the floor" in landed[0]
    assert landed[1] == []


def test_invalid_repetition_is_measured_and_marked() -> None:
    done, findings = contributions_trial(moved("_r", (0.0, 0.0, 25.0)), ContributionsSettings())
    assert done["repetition_valid"].values.tolist() == [False, True]
    assert "invalid: the stance foot slid" in str(done["repetition_findings"].values[0])
    row = next(f for f in findings if f.check == "repetition valid")
    assert (row.limit, row.unit, row.verdict) == (20.0, "mm", "review")
    assert row.value == pytest.approx(25.0, abs=2.0)
    assert np.isfinite(done["measure_value"].values[0]).sum() > 200
