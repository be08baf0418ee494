"""Are squats of unlike depth pooled in one mean of a session, or set against one another? Depth drives FPPA."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from condyle.files.limits import load_limits
from condyle.findings import Finding
from condyle.stages.beside_the_verdict import unlike_bottoms
from condyle.stages.contributions import contributions_settings_of
from condyle.trial_data import labels_along

_APART = "depth_apart_deg"


class _Squats(NamedTuple):
    """The repetitions of one bout that count: what they are pooled by, and knee flexion at their bottoms."""

    trial: str
    side: str
    pooled_by: tuple[str, str]  # task and condition
    deep: list[float]
    reached: int  # how many come to 60 degrees
    bout: int  # from 0
    told: bool  # what differs within it is a row of the stage `contributions`


def unlike_depths(movements: Sequence[xr.Dataset]) -> dict[str, list[Finding]]:
    """Trial name -> findings where a side's bouts, or the two sides, differ in their mean depth by more than may be compared.

    What differs within a bout is said by the stage ``contributions``, and here where it was not run.
    """
    out: dict[str, list[Finding]] = {}
    measured = [trial for trial in movements if "measure_value" in trial]
    limit = min((_limit(trial) for trial in measured), default=0.0)
    bouts = [bout for trial in measured for bout in _bouts(trial)]
    for key in dict.fromkeys(b.pooled_by for b in bouts):
        own = [b for b in bouts if b.pooled_by == key]
        by_side = {side: [b for b in own if b.side == side] for side in ("right", "left")}
        groups = [(side, [[b] for b in squats]) for side, squats in by_side.items()]
        groups.append(("left and right", [squats for squats in by_side.values() if squats]))
        for subject, parts in groups:
            means = [float(np.mean([d for b in part for d in b.deep])) for part in parts]
            if means and (apart := max(means) - min(means)) > limit:
                squats = [b for part in parts for b in part]
                found = Finding("depths differ", subject, apart, limit, "deg", "review", _advice(subject, squats))
                out.setdefault(squats[0].trial, []).append(found)
    for b in bouts:
        if not b.told and (
            row := unlike_bottoms(f"bout {b.bout + 1}, {b.side}", b.deep, load_limits("findings")[_APART])
        ):
            out.setdefault(b.trial, []).extend(row)
    return out


def _bouts(trial: xr.Dataset) -> list[_Squats]:
    names, value = labels_along(trial, "measure"), trial.variables["measure_value"].values
    flexion, at_60 = (value[:, names.index(f"knee_flexion_at_{n}")] for n in ("bottom", "60_knee_flexion"))
    side, bout = (trial.variables[f"repetition_{n}"].values for n in ("side", "bout"))
    counts = trial.variables["repetition_valid"].values & np.isfinite(flexion)
    pooled_by = (str(trial.attrs.get("task", "")), str(trial.attrs.get("condition", "")))
    out = []
    for b, s in dict.fromkeys(zip(bout[counts].tolist(), side[counts].tolist(), strict=True)):
        own = counts & (bout == b) & (side == s)
        reached = int(np.isfinite(at_60[own]).sum())
        told = "contribution" in trial
        out.append(
            _Squats(str(trial.attrs["trial"]), str(s), pooled_by, flexion[own].tolist(), reached, int(b) - 1, told)
        )
    return out


def _limit(trial: xr.Dataset) -> float:
    """How far apart depths may be: as the trial's contributions were judged, where they were."""
    limits = contributions_settings_of(trial).finding_limits() if "contribution" in trial else load_limits("findings")
    return float(limits[_APART].value)


def _advice(subject: str, squats: list[_Squats]) -> str:
    one = subject in ("right", "left")
    what = f"the {subject} leg's means are over squats of unlike depth" if one else "the legs squatted to unlike depths"
    deep = "; ".join(f"{b.trial}, {b.side}: {np.mean(b.deep):.0f} degrees of knee flexion" for b in squats)
    reached, count = sum(b.reached for b in squats), sum(len(b.deep) for b in squats)
    return (
        f"{what} ({deep}), and depth drives FPPA: do not compare bottoms, nor means of them, but values at 60 degrees of knee "
        f"flexion, which {reached} of {count} repetitions reach."
    )
