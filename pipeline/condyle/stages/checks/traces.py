"""What a page on quality is drawn from: when each marker was seen, and how well each segment kept its standing shape."""

import json
from typing import Any, NamedTuple

import numpy as np
import xarray as xr

from condyle.body_names import SEGMENTS
from condyle.files.limits import load_limits, overlaid
from condyle.mechanics.arrays import FloatArray, IntArray
from condyle.stages.checks.recorded import Recorded, recorded

SEEN, MISSING = 0, -1  # beside the codes of `filled`: how a sample was made


class Traces(NamedTuple):
    """Arrays to draw from, of a trial as read or after any stage."""

    time: FloatArray  # (T,) s
    label: list[str]  # (M,) the markers' labels
    state: IntArray  # (T, M) 0 seen, 1 to 3 filled as in `filled`, -1 missing; seen where it was never meant to be
    fit: FloatArray  # (T, S) mm distance from the standing shape, root mean square; NaN where it is not known
    unchanged: bool  # `fit` is of the recording as read, and not of what repair, filling and filter made of it
    review: FloatArray  # (S,) mm median fit that calls for a review
    reject: FloatArray  # (S,) mm median fit that rejects


def as_read(seen: Recorded) -> dict[str, Any]:
    """What later stages would hide, as variables: which samples the recording shows, and the fit of its segments."""
    return {"seen_as_read": np.isfinite(seen.point).all(axis=2), "fit_as_read": _fit_of(seen)}


def _fit_of(seen: Recorded) -> FloatArray:
    """(T, S) mm: fit of every segment to the standing trial in every frame; NaN without one."""
    if seen.rig is None:
        return np.full((len(seen.point), len(SEGMENTS)), np.nan)
    return seen.every.rms


def quality_traces(trial: xr.Dataset) -> Traces:
    """What there is to draw of a trial; a trial that was rejected on the way has the fit of its recording all the same."""
    fit, unchanged = _fit(trial)
    review, reject = _limits(trial)
    label = "label" if "label" in trial else "marker"
    return Traces(
        trial.variables["time"].values,
        [str(v) for v in trial.variables[label].values.tolist()],
        _state(trial),
        fit,
        unchanged,
        review,
        reject,
    )


def _fit(trial: xr.Dataset) -> tuple[FloatArray, bool]:
    if "fit_as_read" in trial:
        return trial.variables["fit_as_read"].values, True
    if "fit_rms" in trial:  # the pipeline has no stage check
        return trial.variables["fit_rms"].values, False
    if {"calibrated_point", "tracking", "static_only"} <= set(trial.variables):
        return _fit_of(recorded(trial)), "filled" not in trial
    return np.full((trial.sizes["time"], len(SEGMENTS)), np.nan), False


def _state(trial: xr.Dataset) -> IntArray:
    point = trial.variables["point"].values
    seen = trial.variables["seen_as_read"].values if "seen_as_read" in trial else ~np.isnan(point).any(axis=2)
    state = np.where(seen, SEEN, MISSING)
    if "filled" in trial:
        filled = trial.variables["filled"].values
        state = np.where(filled > 0, filled, state)
    if "static_only" in trial:
        state[:, trial.variables["static_only"].values & (state == MISSING).all(axis=0)] = SEEN
    return np.asarray(state, dtype=np.int64)


def _limits(trial: xr.Dataset) -> tuple[FloatArray, FloatArray]:
    """Limits of each segment's median fit, as the trial's own stage check had them."""
    steps = [step["check"] for step in history(trial) if "check" in step]
    own = (steps[0].get("limits") if steps else None) or {}
    limits = load_limits("quality")
    limits = overlaid(limits, {name: value for name, value in own.items() if name in limits})
    kinds = ["skin"] * len(SEGMENTS)
    if "segment_kind" in trial:
        kinds = [str(v) for v in trial.variables["segment_kind"].values.tolist()]
    review, reject = (np.array([limits[f"fit_{kind}_{what}"].value for kind in kinds]) for what in ("review", "reject"))
    return review, reject


def history(trial: xr.Dataset) -> list[dict[str, Any]]:
    """The stages that made the trial what it is, with their settings."""
    try:
        steps = json.loads(str(trial.attrs.get("history", "[]")))
    except ValueError:
        return []
    return [step for step in steps if isinstance(step, dict) and step]
