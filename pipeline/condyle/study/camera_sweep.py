"""What does the camera's place do to a planar measure? Turned, moved to the side, lowered, brought nearer."""

from collections.abc import Sequence

import numpy as np
import pandas as pd

from condyle.mechanics.arrays import FloatArray
from condyle.study.body import Repetition, bottoms
from condyle.study.planar import planar_courses
from condyle.study.settings import CameraSetting, SweepSetting
from condyle.study.statistics import bootstrapped

MOVES = {  # setting: unit, what the slope is given per
    "yaw_deg": ("deg", 1.0),
    "sideways_mm": ("mm", 100.0),
    "height_mm": ("mm", 100.0),
    "distance_mm": ("mm", 1000.0),
}
_TOWARDS_LEFT = {"yaw_deg": 1.0, "sideways_mm": -1.0}  # the sign that takes the camera to the participant's left
SWEPT = ("fppa", "hip_adduction", "pelvis_drop", "trunk_lean")
COLUMNS = (
    *("task", "measure", "moved", "statistic", "at", "value", "lower", "upper", "unit", "repetitions", "participants"),
)


def camera_values(repetitions: Sequence[Repetition], camera: CameraSetting, sweep: SweepSetting) -> pd.DataFrame:
    """The planar measures at the bottom of each repetition for every place of the camera: no noise, no frame rate.

    Turns and moves to the side are counted from the protocol's place towards the stance side: the same yaw takes the left
    knee in and the right knee out, and a mean over both legs would show nothing.
    """
    parts = []
    for side in sorted({r.side for r in repetitions}):
        here = [r for r in repetitions if r.side == side]
        keys = pd.DataFrame([r.key for r in here])
        low = bottoms(here)
        for moved in MOVES:
            for place in places(moved, sweep, camera):
                courses = planar_courses(low, "camera", _moved(camera, moved, place, side))
                rows = pd.concat([keys] * len(SWEPT), ignore_index=True)
                rows["measure"] = np.repeat(SWEPT, len(here))
                rows["moved"], rows["at"], rows["value"] = moved, place, np.concatenate([courses[m] for m in SWEPT])
                parts.append(rows)
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame()


def home(moved: str, camera: CameraSetting) -> float:
    """The protocol's own place on the scale of a move."""
    return 0.0 if moved in _TOWARDS_LEFT else float(getattr(camera, moved))


def places(moved: str, sweep: SweepSetting, camera: CameraSetting) -> list[float]:
    """Where the camera is put, the protocol's own place among it."""
    return sorted({*map(float, getattr(sweep, moved)), home(moved, camera)})


def _moved(camera: CameraSetting, moved: str, place: float, side: str) -> CameraSetting:
    if moved in _TOWARDS_LEFT:
        sign = _TOWARDS_LEFT[moved] * (1.0 if side == "left" else -1.0)
        place = float(getattr(camera, moved)) + sign * place
    return camera.model_copy(update={moved: place})


def camera_table(values: pd.DataFrame, camera: CameraSetting, draws: int, seed: int, level: float) -> pd.DataFrame:
    """Per measure and move: the mean change from the protocol's place at each place, and the slope, with intervals."""
    out = []
    for (task, measure, moved), rows in values.groupby(["task", "measure", "moved"], sort=False):
        unit, per = MOVES[str(moved)]
        keys = ["participant", "session", "trial", "side", "repetition"]
        wide = rows.pivot(index=keys, columns="at", values="value").dropna()
        if wide.empty or wide.shape[1] < 2:
            continue
        place = wide.columns.to_numpy(dtype=float)
        value = wide.to_numpy(dtype=float)
        change = value - value[:, np.flatnonzero(place == home(str(moved), camera))]
        slope = np.polynomial.polynomial.polyfit(place, value.T, 1)[1] * per
        person = pd.factorize(wide.index.get_level_values("participant"))[0]
        about = {
            "task": task,
            "measure": measure,
            "moved": moved,
            "repetitions": len(wide),
            "participants": int(person.max()) + 1,
        }
        matrix = np.column_stack([slope, change])
        unit_slope = f"deg per {per:g} {unit}" if per != 1 else f"deg per {unit}"
        found = bootstrapped(lambda w, _g, m=matrix: _means(m, w), person, draws, seed, level)  # type: ignore[misc]
        for k, (statistic, at) in enumerate([("slope", np.nan), *(("mean_change", float(p)) for p in place)]):
            mean, low, high = found[str(k)]
            row = {**about, "statistic": statistic, "at": at, "value": mean, "lower": low, "upper": high}
            out.append({**row, "unit": unit_slope if statistic == "slope" else "deg"})
        spread = float(slope.std(ddof=1)) if len(slope) > 1 else np.nan
        out.append({**about, "statistic": "slope_sd", "at": np.nan, "value": spread, "unit": unit_slope})
    return pd.DataFrame(out, columns=list(COLUMNS))


def _means(matrix: FloatArray, weight: FloatArray) -> dict[str, FloatArray]:
    mean = (weight @ matrix) / weight.sum(axis=-1, keepdims=True)
    return {str(k): mean[..., k] for k in range(matrix.shape[1])}
