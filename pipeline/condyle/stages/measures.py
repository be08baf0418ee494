"""measures: what every repetition comes to, a value per repetition, side and measure."""

import numpy as np
import xarray as xr
from pydantic import Field

from condyle.findings import Finding
from condyle.measure_dictionary import MEASURE_NAMES, MEASURES
from condyle.stages.measured_points import MeasuredPoints, measured_points, points_missing
from condyle.stages.measures_of_angles import angle_values
from condyle.stages.measures_of_legs import leg_values
from condyle.stages.measures_of_paths import path_values
from condyle.stages.stage import Settings
from condyle.vocabulary import SIDES, put

UNITS = np.array([MEASURES[n].unit for n in MEASURE_NAMES])
_COLUMN = {name: k for k, name in enumerate(MEASURE_NAMES)}


class MeasuresSettings(Settings):
    """What counts as a turn of the path rather than noise."""

    reversal_mm: float = Field(
        5.0,
        gt=0,
        description="medio-lateral swing from which a turn of the path counts as a reversal",
        json_schema_extra={"source": "ours"},
    )


def measures_trial(trial: xr.Dataset, settings: MeasuresSettings) -> tuple[xr.Dataset, list[Finding]]:
    """Every measure of every repetition; NaN where its frame, its marker or its segment was not seen."""
    count = trial.sizes["repetition"]
    value = np.full((count, len(MEASURE_NAMES)), np.nan)
    sides = trial["repetition_side"].values.tolist()
    points = {side: measured_points(trial, side) for side in sorted(set(sides))}
    for row, side in enumerate(sides):
        for names, values in _of_repetition(trial, row, points[side], settings):
            value[row, [_COLUMN[n] for n in names]] = values
    done = put(trial, {"measure": np.array(MEASURE_NAMES), "measure_unit": UNITS}, measure_value=value + 0.0)
    return done, [f for side in points for f in points_missing(points[side], side)]


def _of_repetition(
    trial: xr.Dataset, row: int, points: MeasuredPoints, settings: MeasuresSettings
) -> list[tuple[tuple[str, ...], np.ndarray]]:
    start, bottom, end = (int(trial[f"repetition_{n}"].values[row]) for n in ("start", "bottom", "end"))
    seen = bool(trial["repetition_bottom_seen"].values[row])
    at_60 = float(trial["repetition_at_60"].values[row])
    s = SIDES.index(str(trial["repetition_side"].values[row]))
    rate = float(trial.attrs["rate_hz"])
    angles = angle_values(
        trial["angle"].values[:, s], trial["static_angle"].values[s], (start, bottom, end), at_60, seen
    )
    turned = points.turned(slice(start, end + 1), float(trial["heading_deg"].values[start]))
    frames = (0, bottom - start, end - start)
    paths = path_values(turned, frames, rate, settings.reversal_mm, seen)
    over_foot = float(trial["pelvis_over_foot"].values[int(trial["repetition_bout"].values[row]) - 1])
    leg = leg_values(turned, frames, rate, float(trial["leg_length"].values[s]), over_foot, seen)
    return [angles, *paths, leg]
