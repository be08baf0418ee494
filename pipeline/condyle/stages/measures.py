"""measures: what every repetition comes to, a value per repetition, side and measure."""

from typing import Any

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.body_names import SIDES
from condyle.findings import Finding
from condyle.measure_dictionary import MEASURE_NAMES, MEASURES
from condyle.mechanics.arrays import FloatArray
from condyle.stages.measured_points import MeasuredPoints, mass_stand_ins, measured_points, points_missing
from condyle.stages.measures_of_angles import angle_values
from condyle.stages.measures_of_legs import leg_values
from condyle.stages.measures_of_paths import path_values
from condyle.stages.stage import Settings
from condyle.trial_data import put

UNITS = np.array([MEASURES[n].unit for n in MEASURE_NAMES])
_COLUMN = {name: k for k, name in enumerate(MEASURE_NAMES)}

_READ = (
    *(f"repetition_{n}" for n in ("side", "bout", "start", "bottom", "end", "bottom_seen", "at_60")),
    *("angle", "static_angle", "heading_deg", "bout_side", "pelvis_over_foot", "leg_length"),
)


class MeasuresSettings(Settings):
    """What counts as a turn of the path rather than noise."""

    reversal_mm: float = Field(
        5.0,
        gt=0,
        le=500,
        description="medio-lateral swing from which a turn of the path counts as a reversal",
        json_schema_extra={"source": "ours"},
    )


def measures_trial(trial: xr.Dataset, settings: MeasuresSettings) -> tuple[xr.Dataset, list[Finding]]:
    """Every measure of every repetition; NaN where its frame, its marker or its segment was not seen."""
    value = np.full((trial.sizes["repetition"], len(MEASURE_NAMES)), np.nan)
    given = {name: trial.variables[name].values for name in _READ}
    points = {side: measured_points(trial, side) for side in np.unique(given["repetition_side"]).tolist()}
    for row in range(len(value)):
        for names, values in _of_repetition(given, row, points, float(trial.attrs["rate_hz"]), settings):
            value[row, [_COLUMN[n] for n in names]] = values
    done = put(trial, {"measure": np.array(MEASURE_NAMES), "measure_unit": UNITS}, measure_value=value + 0.0)
    missing = [f for side in points for f in points_missing(points[side], side)]
    return done, [*missing, *(mass_stand_ins(trial) if points else [])]


def _of_repetition(
    given: dict[str, Any], row: int, points: dict[str, MeasuredPoints], rate: float, settings: MeasuresSettings
) -> list[tuple[tuple[str, ...], FloatArray]]:
    start, bottom, end = (int(given[f"repetition_{n}"][row]) for n in ("start", "bottom", "end"))
    seen = bool(given["repetition_bottom_seen"][row])
    side = str(given["repetition_side"][row])
    s = SIDES.index(side)
    turned = points[side].turned(slice(start, end + 1), float(given["heading_deg"][start]))
    frames = (0, bottom - start, end - start)
    bout = int(given["repetition_bout"][row]) - 1
    over_foot = float(given["pelvis_over_foot"][bout])
    if str(given["bout_side"][bout]) == "both" and side == "left":
        over_foot = -over_foot  # a bout on both legs is told for its right side
    at_60 = float(given["repetition_at_60"][row])
    return [
        angle_values(given["angle"][:, s], given["static_angle"][s], (start, bottom, end), at_60, seen),
        path_values(turned, frames, rate, settings.reversal_mm, seen),
        leg_values(turned, frames, rate, float(given["leg_length"][s]), over_foot, seen),
    ]
