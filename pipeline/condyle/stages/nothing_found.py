"""Why was no repetition found? What the sentence of a trial without one says."""

from collections.abc import Callable

import numpy as np
import xarray as xr

from condyle.body_names import JOINT_ANGLES, SEGMENTS, SIDES
from condyle.findings import Finding
from condyle.mechanics.arrays import FloatArray
from condyle.mechanics.repetitions import Repetitions
from condyle.stages.body import model_of, tracking_names
from condyle.stages.feet import feet_of

_KNEE_FLEXION = JOINT_ANGLES.index("knee_flexion")


def nothing_found(
    trial: xr.Dataset, more: bool, bouts: bool, squats_of: Callable[[FloatArray], Repetitions]
) -> Finding:
    """No repetition at all: the rejecting row.

    ``more`` where other rows may say why, ``bouts`` where there was one to look at; ``squats_of`` finds squats in a course
    (time,) of knee flexion.
    """
    task = str(trial.attrs.get("task")).replace("_", " ")
    sides = _sides_meant(trial)
    blind = [s for s in sides if np.isnan(trial.variables["angle"].values[:, SIDES.index(s), _KNEE_FLEXION]).all()]
    if not bouts and not trial.variables["bout_faced"].values.all():
        advice = (
            f"no {task} is left to measure: on the leg that was declared the participant faces away from the lab axis that the "
            "pipeline calls straight ahead (see its row)."
        )
    elif len(blind) == len(sides):
        advice = f"no {task} can be looked for: {_without_a_knee(trial, blind)}; see to that, or declare task: other."
    else:
        blind_words = f"; {_without_a_knee(trial, blind)}" if blind else ""
        restless = "" if bouts else _restless(trial, [s for s in sides if s not in blind], squats_of)
        advice = (
            f"no complete {task} was found: over a foot that stays still the knee must bend, lower the pelvis and extend "
            f"again{' (see the other rows)' * more}{restless}{blind_words}; check the file, give repetitions_s, or declare task: "
            "other."
        )
    return Finding("repetitions found", "file", 0.0, 1.0, "1", "reject", advice)


def _sides_meant(trial: xr.Dataset) -> list[str]:
    declared = str(trial.attrs.get("side", "auto"))
    return [declared] if declared in SIDES else list(SIDES)


def _without_a_knee(trial: xr.Dataset, sides: list[str]) -> str:
    """Which knees have no flexion in any frame, and what is missing for it."""
    legs = f"{' and '.join(sides)} {'knee' if len(sides) == 1 else 'knees'}"
    why = [w for s in sides for n in ("thigh", "shank") if (w := _without_a_pose(trial, f"{n}_{s[0]}"))]
    return f"flexion of the {legs} cannot be had, for {', '.join(why) or 'thigh and shank are never seen together'}"


def _without_a_pose(trial: xr.Dataset, segment: str) -> str:
    """What a segment without a pose in any frame lacks; empty where it has one."""
    if not np.isnan(trial.variables["origin"].values[:, SEGMENTS.index(segment)]).all():
        return ""
    names = tracking_names(trial)[segment]
    if len(names) < 3:
        return f"{segment} has {len(names) or 'no'} tracking point{'s' * (len(names) != 1)} in the marker set (it needs three)"
    known = int((~np.isnan(model_of(trial, segment, names)).any(axis=-1)).sum())
    if known < 3:
        return f"{known} of the {len(names)} tracking points of {segment} are known from the standing trial (it needs three)"
    return f"{segment} never shows three of its {len(names)} tracking points in this trial"


def _restless(trial: xr.Dataset, sides: list[str], squats_of: Callable[[FloatArray], Repetitions]) -> str:
    """The foot that was stillest while its knee bent, where it moved too fast to be called the one that stands."""
    limit = float(trial.attrs["foot_still_mm_per_s"])
    feet = feet_of(trial, *(trial.variables[n].values for n in ("point", "pose", "origin", "joint_centre")))
    speed = feet.standing_speed(float(trial.attrs["rate_hz"]))
    found = []
    for side in sides:
        s = SIDES.index(side)
        for start, bottom, end in squats_of(trial.variables["angle"].values[:, s, _KNEE_FLEXION]).frame.tolist():
            part = speed[start : end + 1, s]
            if np.isfinite(part).any():
                found.append((float(np.nanmedian(part)), float(trial.variables["time"].values[bottom]), side))
    if not found or min(found)[0] < limit:
        return ""
    moved, when, side = min(found)
    return (
        f"; the {side} knee bends at {when:.2f} s, but over it the {side} foot moves at {moved:.0f} mm/s (median), heel and "
        f"forefoot alike, and only below {limit:g} it would count as still"
    )
