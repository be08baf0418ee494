"""Simulated squats run to their measures, and the smooth truth they are held against."""

from functools import lru_cache
from typing import Any

import numpy as np
import xarray as xr

from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.sample.lab import Lab
from condyle.sample.options import Options
from condyle.sample.person import build_person
from condyle.sample.simulate import SimulatedTrial, simulate
from condyle.sample.timing import Timing
from tests.simulated import processed

PERSON = build_person()
TWO = Timing(repetitions=2)


def ideal(**changes: Any) -> Options:
    return Options.ideal(timing=changes.pop("timing", TWO), **changes)


@lru_cache(maxsize=8)
def done(movement: str, side: str, facing: float = 0.0, timing: Timing = TWO) -> tuple[SimulatedTrial, xr.Dataset]:
    simulated = simulate(
        PERSON, movement, ideal(timing=timing, lab=Lab(facing_deg=facing, offset_mm=(400.0, -900.0))), side
    )
    return simulated, processed(PERSON, simulated)[0]


def values(trial: xr.Dataset, row: int) -> dict[str, float]:
    return dict(zip(trial["measure"].values.tolist(), trial["measure_value"].values[row].tolist(), strict=True))


def frames(trial: xr.Dataset) -> FloatArray:
    return np.stack([trial[f"repetition_{n}"].values for n in ("start", "bottom", "end")], axis=1)


def found_in(findings: list[Finding], check: str) -> list[Finding]:
    return [f for f in findings if f.check == check]
