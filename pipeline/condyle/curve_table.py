"""``curves.csv``: angles and paths of every repetition against percent: 0 start, 50 bottom, 100 end."""

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd
import xarray as xr

from condyle.body_names import JOINT_ANGLES, SIDES
from condyle.mechanics.normalise import PERCENT, at_frames, percent_frames
from condyle.overridden import OVERRIDDEN
from condyle.stages.accounts import BELOW, SOURCES_ABOVE, SOURCES_BELOW
from condyle.stages.measured_points import MeasuredPoints, measured_points

PATHS = ("hip", "knee", "patella", "pelvis", "shoulders", "lateral_epicondyle")
DIRECTIONS = ("forward", "up", "medial")  # mm from where the point is at the start of the repetition
PATH_COLUMNS = tuple(f"{point}_{direction}_mm" for point in PATHS for direction in DIRECTIONS)
IDENTITY_COLUMNS = ("participant", "session", "trial", "task", "condition", "side", "bout", "repetition", "valid")
CURVES_COLUMNS = (*IDENTITY_COLUMNS, "percent", "time_s", *JOINT_ANGLES, *PATH_COLUMNS, OVERRIDDEN)


def accepted_of(trial: xr.Dataset) -> str:
    """The rejects of this trial, or of its standing trial, that the session file lets through, with the reasons."""
    return str(trial.attrs.get("accepted", ""))


def curves_table(trials: Iterable[xr.Dataset]) -> pd.DataFrame:
    """A row per repetition, side and percent, a column per curve: angles in degrees, paths in mm, contributions.

    A curve that no trial of the session has is left out. A percent whose frames were not seen is empty.
    """
    parts = [p for t in trials if "repetition_number" in t for p in _repetitions_of(t)]
    if not parts:
        return pd.DataFrame({name: [] for name in CURVES_COLUMNS})
    names = [*dict.fromkeys(name for part in parts for name in part if name != OVERRIDDEN), OVERRIDDEN]
    lost = np.full(PERCENT.size, np.nan)
    columns = {name: np.concatenate([part.get(name, lost) for part in parts]) for name in names}
    seen = {name for name, values in columns.items() if values.dtype.kind != "f" or not np.isnan(values).all()}
    return pd.DataFrame({name: values for name, values in columns.items() if name in seen})


def _repetitions_of(trial: xr.Dataset) -> list[dict[str, Any]]:
    number, bout, start, bottom, end, valid = (
        trial.variables[f"repetition_{n}"].values.tolist()
        for n in ("number", "bout", "start", "bottom", "end", "valid")
    )
    sides = [str(s) for s in trial.variables["repetition_side"].values]
    points = {side: measured_points(trial, side) for side in sorted(set(sides))}
    angle, heading = trial.variables["angle"].values, trial.variables["heading_deg"].values
    who = [str(trial.attrs.get(n, "")) for n in IDENTITY_COLUMNS[:5]]
    courses = trial.variables["contribution_course"].values if "contribution_course" in trial else None
    out: list[dict[str, Any]] = []
    for row, side in enumerate(sides):
        frames = percent_frames(start[row], bottom[row], end[row])
        identity = [*who, side, bout[row], number[row], valid[row]]
        curves = {name: _constant(v) for name, v in zip(IDENTITY_COLUMNS, identity, strict=True)}
        curves["percent"] = PERCENT
        curves["time_s"] = frames / float(trial.attrs["rate_hz"])
        of_side = at_frames(angle[:, SIDES.index(side)], frames)
        curves |= dict(zip(JOINT_ANGLES, of_side.T, strict=True))
        curves[OVERRIDDEN] = _constant(accepted_of(trial))
        curves |= _paths(points[side], start[row], end[row], float(heading[start[row]]), frames)
        if courses is not None:
            curves |= _contributions(trial, at_frames(courses[:, SIDES.index(side)], frames))
        out.append(curves)
    return out


def sources_of(account: str) -> tuple[str, ...]:
    """The sources that an account has: those seen from the floor, or those from above."""
    return SOURCES_BELOW if account in BELOW else SOURCES_ABOVE


def _contributions(trial: xr.Dataset, values: np.ndarray[Any, Any]) -> dict[str, np.ndarray[Any, Any]]:
    courses, sources = (trial.variables[n].values.tolist() for n in ("course", "source"))
    return {
        f"{course}_by_{source}": values[:, i, j]
        for i, course in enumerate(courses)
        for j, source in enumerate(sources)
        if source in sources_of(course)
    }


def _constant(value: Any) -> np.ndarray[Any, Any]:
    return np.full(PERCENT.size, value, dtype=object if isinstance(value, str) else None)


def _paths(
    points: MeasuredPoints, start: int, end: int, heading: float, frames: np.ndarray[Any, Any]
) -> dict[str, np.ndarray[Any, Any]]:
    turned = points.turned(slice(start, end + 1), heading)
    out: dict[str, np.ndarray[Any, Any]] = {}
    for point in PATHS:
        path = at_frames(turned[point] - turned[point][0], frames - start)
        out |= {f"{point}_{direction}_mm": path[:, k] for k, direction in enumerate(DIRECTIONS)}
    return out
