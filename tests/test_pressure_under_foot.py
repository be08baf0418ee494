"""A centre of pressure that is not under the foot that stands is left out, and a row says how far off it is."""

from functools import lru_cache

import numpy as np
import pytest
import xarray as xr

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.vertical import vertical_rotation
from condyle.sample.force_plate import plate_under
from condyle.sample.lab import Lab
from condyle.sample.movements import MOVEMENTS
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import simulate, simulate_static
from condyle.sample.timing import Timing
from condyle.trial_data import put
from tests.simulated import calibrated, run, trial_of

PERSON = build_person()
CHECK = "centre of pressure under the foot"


@lru_cache(maxsize=4)
def recorded(movement: str, side: str) -> xr.Dataset:
    timing = Timing(repetitions=2, squat_s=1.6, before_s=0.7)
    options = Options.ideal(rate_hz=60.0, static_s=0.6, timing=timing, lab=Lab(facing_deg=40.0))
    simulated = simulate(PERSON, movement, options, side)
    standing = trial_of(simulate_static(PERSON, options, simulated.session_errors), task="static")
    pressure = plate_under(simulated).pressure_centre_mm @ vertical_rotation(options.lab.vertical).T
    return put(trial_of(simulated), centre_of_pressure=pressure).assign(calibrated(standing))


def done(
    trial: xr.Dataset, shift: FloatArray | None = None, **settings: dict[str, float]
) -> tuple[xr.Dataset, list[Finding]]:
    if shift is not None:
        trial = put(trial, centre_of_pressure=trial["centre_of_pressure"].values + shift)
    out, findings = run(trial, "movement", pose={"limits": settings} if settings else {})
    return out, [f for f in findings if f.check == CHECK]


def offsets(trial: xr.Dataset) -> FloatArray:
    names = trial["measure"].values.tolist()
    return np.asarray(trial["measure_value"].values[:, [k for k, n in enumerate(names) if n.startswith("cop_")]])


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("movement", sorted(set(MOVEMENTS) - {"double_leg_squat"}))
def test_pressure_under_the_foot_has_no_row(movement: str, side: str) -> None:
    trial, found = done(recorded(movement, side))
    assert found == []
    assert np.isfinite(offsets(trial)).all()


@pytest.mark.parametrize("shift", [[1000.0, 0, 0], [0, 0, -1000.0], [0.0, 0, 150.0]])
def test_plates_elsewhere_have_one_row_and_no_offsets(shift: list[float]) -> None:
    trial, (row,) = done(recorded("hip_in", "right"), np.array(shift))
    assert (row.subject, row.verdict, row.limit, row.unit) == ("force plates", "review", 60.0, "mm")
    size = float(np.linalg.norm(shift))
    assert row.value is not None
    assert size - 200.0 < row.value < size
    assert f"{row.value:.0f} mm in bout 1" in row.advice
    assert np.isnan(offsets(trial)).all()
    assert np.isnan(trial["centre_of_pressure"].values).all()


def test_a_limit_of_its_own_decides() -> None:
    trial, found = done(recorded("hip_in", "right"), np.array([0.0, 0.0, 300.0]), pressure_outside_foot_review=500.0)
    assert found == []
    assert np.isfinite(offsets(trial)).all()


def test_unloaded_plates_are_no_fault() -> None:
    trial, found = done(recorded("hip_in", "right"), np.array([np.nan, np.nan, np.nan]))
    assert found == []
    assert np.isnan(offsets(trial)).all()


@pytest.mark.parametrize("kept", ["", "metatarsal_2", "metatarsal_1", "metatarsal_5"])
def test_a_foot_of_two_markers_or_none(kept: str) -> None:
    trial = recorded("hip_in", "right")
    gone = [
        k
        for k, n in enumerate(trial["marker"].values.tolist())
        if n.startswith("metatarsal") and not (kept and n.startswith(kept))
    ]
    point, places = trial["point"].values.copy(), trial["calibrated_point"].values.copy()
    point[:, gone] = np.nan
    names = trial["body_point"].values.tolist()
    places[:, [names.index(str(trial["marker"].values[k])) for k in gone]] = np.nan
    if not kept:
        heels = [k for k, n in enumerate(trial["marker"].values.tolist()) if n.startswith("calcaneus")]
        point[:, heels] = np.nan
        places[:, [names.index(str(trial["marker"].values[k])) for k in heels]] = np.nan
    trial = trial.assign(point=(trial["point"].dims, point), calibrated_point=(trial["calibrated_point"].dims, places))
    assert done(trial)[1] == []
    assert len(done(trial, np.array([0.0, 0.0, 1000.0]))[1]) == bool(kept)
